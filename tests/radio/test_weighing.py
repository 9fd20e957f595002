"""Explanations weighed against each other: a claim is only as sure as its best rival lets it be."""

from __future__ import annotations

import random

import numpy as np
import pytest
from radio.bench_sim import GOOD_DB, Radio, Station, bench, listener, reference_list, sweep

from bandscan.model import BandCheck, Finding, Reference
from bandscan.radio import Limits, judge, read_sheet
from bandscan.radio.findings import listed
from bandscan.radio.weighing import against_all

GOOD = Reference(GOOD_DB, 1.5, "known-good", "dBFS", 5)


def _check(text: str, stations: list[Station]) -> BandCheck:
    made = "2026-03-14T12:00:00Z"
    return judge(read_sheet(text, "s.csv"), {"fm": reference_list(stations)}, {"fm": GOOD}, Limits(), made, "0").bands["fm"]


def test_odds_against_everything_else_are_those_of_exclusive_explanations() -> None:
    """Odds 60 and 30 against a sound set's 10 : chances .6 .3 .1, log10 odds .176 and -.368 (arithmetic)."""
    assert against_all([np.log(6.0), np.log(3.0)]) == pytest.approx([0.1761, -0.3680], abs=1e-4)
    assert against_all([np.log(100.0)]) == pytest.approx([2.0])
    assert against_all([]) == []


def _finding(fault: str, weight: float) -> Finding:
    return Finding(fault, fault, (), "", weight, weight)


def test_two_explanations_are_shown_and_never_a_tilt_to_each_end() -> None:
    """Rivals beyond two are left out, and so is the other end's tilt; lamp and pointer are no rivals of these."""
    order = ["pointer-shift", "weak-high-end", "weak-low-end", "lamp-never", "deaf", "other-antenna"]
    shown = listed(tuple(_finding(fault, 3.0 - place) for place, fault in enumerate(order)))
    assert [one.fault for one in shown] == ["pointer-shift", "weak-high-end", "lamp-never", "deaf"]


def test_a_finding_is_never_surer_than_its_rivals_let_it_be() -> None:
    """A tilt of 12 dB on 25 stations is hard to tell from a deaf set: far from sound, but neither is claimed."""
    told, sure = 0, 0
    for seed in range(8):
        dice = random.Random(f"rivals{seed}")
        stations = bench(dice, 25)
        low, high = stations[0].channel_hz, stations[-1].channel_hz
        radio = Radio(loss_db=lambda one, low=low, high=high: 6.0 + 10.0 * (one.channel_hz - low) / (high - low))  # type: ignore[misc]
        found = _check(sweep(dice, stations, radio, listener(dice, grades=True), reading_hz=0.2e6).text, stations).findings
        for one in found:
            assert one.against_nothing is None or one.weight <= one.against_nothing
            told += (one.against_nothing or 0.0) >= 1.3
            sure += one.weight >= 1.3
        assert found[0].weight + found[1].weight <= 0.0 if len(found) > 1 else True
    assert told >= 8
    assert sure <= 3


def test_what_is_less_likely_than_nothing_wrong_says_so() -> None:
    """A sound set's suspects, where the sweep speaks for any, read as less likely than nothing wrong."""
    for seed in range(6):
        dice = random.Random(f"unlikely{seed}")
        stations = bench(dice, 30)
        found = _check(sweep(dice, stations, Radio(), listener(dice), reading_hz=0.2e6).text, stations).findings
        for one in found:
            assert one.text.endswith("less likely than nothing wrong") == ((one.against_nothing or one.weight) < 0.0)


def test_a_deaf_sets_lamp_is_late_with_it_and_no_fault_of_its_own() -> None:
    """15 dB lost before the tuner shift following and lamp alike: deaf is the finding, a lamp fault is not."""
    for seed in range(4):
        dice = random.Random(f"lamp{seed}")
        stations = bench(dice, 40)
        found = _check(sweep(dice, stations, Radio(deaf_db=15.0), listener(dice), reading_hz=0.2e6).text, stations).findings
        assert found[0].fault in ("deaf", "weak-high-end", "weak-low-end")
        assert not [one for one in found if one.fault.startswith("lamp") and (one.against_nothing or 0.0) > 1.0]
