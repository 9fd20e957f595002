"""Sweeps that were left in the middle, dials that are not what the header says, stops known by their names alone."""

from __future__ import annotations

import random

import numpy as np
import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, Station, bench, reference_list, sweep

from bandscan.model import RadioCheck, Reference
from bandscan.radio import Limits, judge, read_sheet

GOOD = Reference(GOOD_DB, 1.5, "known-good", "dBFS", 5)
WHO = Listener(jitter_db=3.0)


def _check(text: str, stations: list[Station], band: str = "fm") -> RadioCheck:
    baselines = {band: reference_list(stations, band)}
    return judge(read_sheet(text, "s.csv"), baselines, {band: GOOD}, Limits(), "2026-03-14T12:00:00Z", "0")


def _rows(text: str) -> tuple[str, list[str]]:
    head, _, rows = text.partition("band,dial,grade,lamp,pad_db,sweep,name\n")
    return head + "band,dial,grade,lamp,pad_db,sweep,name\n", rows.splitlines(keepends=True)


def _two_sweeps(seed: int, reading_hz: float | None, radio: Radio) -> tuple[list[Station], str, list[str], list[str]]:
    dice = random.Random(f"whole{seed}")
    stations = bench(dice, 40)
    made = [sweep(dice, stations, radio, WHO, reading_hz=reading_hz, directions=(way,), anchors=3) for way in ("1up", "2up")]
    head, first = _rows(made[0].text)
    return stations, head, first, _rows(made[1].text)[1]


@pytest.mark.parametrize("reading_hz", [0.25e6, None])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_second_sweep_left_in_the_middle_takes_nothing_from_a_healthy_radio(seed: int, reading_hz: float | None) -> None:
    """Three stops, or half of them: left out and said; a whole one counts, and so it does where the first one was left."""
    stations, head, first, second = _two_sweeps(seed, reading_hz, Radio())
    alone = _check(head + "".join(first), stations).bands["fm"]
    for one, other in ((first, second[:3]), (second[:3], first), (first, second[: len(second) // 3])):
        both = _check(head + "".join([*one, *other]), stations)
        said = [caution for caution in both.cautions if "left in the middle" in caution]
        assert len(said) == 1
        assert "sweep 2up has" in said[0]
        assert both.bands["fm"].counted == max(len(one), len(other))
        assert both.bands["fm"].verdict == "in line"
    whole = _check(head + "".join([*first, *second]), stations)
    assert not [caution for caution in whole.cautions if "left in the middle" in caution]
    ours, theirs = whole.bands["fm"].threshold_db, alone.threshold_db
    assert None not in (ours.low, ours.high, theirs.low, theirs.high)
    assert ours.high - ours.low < theirs.high - theirs.low  # type: ignore[operator]


def test_a_few_rows_through_a_pad_are_no_sweep_and_a_whole_one_is() -> None:
    """Three of about fifteen stops through 10 dB say nothing; a deaf set's few, as many as its first sweep lets expect, do."""
    stations, head, first, _ = _two_sweeps(4, 0.25e6, Radio())
    padded = [row.replace(",0,1up,", ",10,1up,") for row in first if row.split(",")[2] == "2"]
    few = _check(head + "".join([*first, *padded[:3]]), stations)
    assert any("sweep 1up through 10 dB has 3 stops" in caution for caution in few.cautions)
    assert few.bands["fm"].verdict == "in line"
    for deaf_db in (0.0, 15.0):
        dice = random.Random(f"pads{deaf_db}")
        sheet = sweep(dice, stations, Radio(deaf_db=deaf_db), WHO, reading_hz=0.25e6, pads_db=(0.0, 20.0))
        assert not any("left in the middle" in caution for caution in _check(sheet.text, stations).cautions)


@pytest.mark.parametrize(("band", "off_hz"), [("am", 10_000), ("am", -20_000), ("fm", 200_000), ("fm", 400_000)])
def test_a_display_that_is_off_makes_no_radio_deaf(band: str, off_hz: int) -> None:
    """A counter with the wrong intermediate frequency: every reading some steps beside its station. Said, and the dial's errors
    tell by how much; the radio is as good as it is."""
    good = 0
    for seed in range(4):
        dice = random.Random(f"off{seed}{band}")
        stations = bench(dice, 30, band=band)
        sheet = sweep(dice, stations, Radio(raster_hz=10_000 if band == "am" else 100_000), WHO, band=band, reading_hz=1.0)
        head, rows = _rows(sheet.text)
        off = off_hz / (1e3 if band == "am" else 1e6)
        cells = [row.split(",", 2) for row in rows]
        moved = [f"{one[0]},{float(one[1]) + off:.{1 if band == 'fm' else 0}f},{one[2]}" for one in cells]
        check = _check(head + "".join(moved), stations, band)
        assert any("readings are not where a digital set stops" in caution for caution in check.cautions)
        good += check.bands[band].verdict == "in line"
        errors_hz = np.array([point.error_hz for point in check.bands[band].dial_points])
        assert np.abs(errors_hz - off_hz).max() < 0.4 * abs(off_hz)
        right = _check(sheet.text, stations, band)
        assert not any("readings are not where" in caution for caution in right.cautions)
    assert good >= 3


def test_a_pointer_under_the_other_bands_digits_is_a_pointer() -> None:
    """One header serves FM digits and an AM pointer: the AM readings stand anywhere, and are judged as a pointer's."""
    dice = random.Random(11)
    stations = bench(dice, 30, band="am")
    sheet = sweep(dice, stations, Radio(offset_hz=8e3), WHO, band="am", reading_hz=10e3)
    check = _check(sheet.text.replace("# dial: pointer", "# dial: digits"), stations, "am")
    assert any("readings are not where a digital set stops" in caution for caution in check.cautions)
    assert check.bands["am"].verdict == "in line"


def test_stations_named_by_ear_tell_which_way_a_sweep_went() -> None:
    """No reading at all, rows from the top of the dial down, five stops named: the names stay with their stations."""
    dice = random.Random(12)
    stations = bench(dice, 40)
    sheet = sweep(dice, stations, Radio(), WHO, anchors=5)
    head, rows = _rows(sheet.text)
    check = _check(head + "".join(reversed(rows)), stations)
    assert not [caution for caution in check.cautions if "likelier" in caution]
    named = {row.split(",")[6].strip() for row in rows} - {""}
    heard = {f"{one.channel_hz / 1e6:.1f}" for one in check.bands["fm"].stations if one.heard}
    assert len(named) == 5
    assert named <= heard
