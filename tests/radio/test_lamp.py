"""The stereo lamp as a second threshold."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, Station, bench, listener, reference_list, sweep

from bandscan.model import BandCheck, Reference
from bandscan.radio import Limits, judge, read_sheet
from bandscan.radio.lamp import _doubted, _log_value
from bandscan.report.curve import lamp_words

GOOD = Reference(GOOD_DB, 1.5, "known-good", "dBFS", 5)


def _check(text: str, stations: list[Station], stereo: list[float] | None = None) -> BandCheck:
    baseline = reference_list(stations)
    if stereo is not None:
        baseline = replace(baseline, stations=baseline.stations.assign(stereo=stereo))
    return judge(read_sheet(text, "s.csv"), {"fm": baseline}, {"fm": GOOD}, Limits(), "2026-03-14T12:00:00Z", "0").bands["fm"]


def _rows(stations: list[Station], lamps: list[str]) -> str:
    rows = zip(stations, lamps, strict=True)
    return "# dial: digits\nband,dial,grade,lamp\n" + "".join(f"fm,{one.channel_hz / 1e6:.1f},3,{lamp}\n" for one, lamp in rows)


STRONG = [Station(89_100_000 + 1_000_000 * place, GOOD_DB + 35.0, 0.0) for place in range(12)]


def test_a_sound_lamp_is_counted_and_no_fault() -> None:
    """Eight of eight strong stereo stations lit, mono ones not: expected 8, lit 8, no lamp finding."""
    got = _check(_rows(STRONG, ["on"] * 8 + ["off"] * 4), STRONG, [1.0] * 8 + [0.0] * 4)
    assert (got.lamp_expected, got.lamp_lit) == (8, 8)
    assert not [finding for finding in got.findings if finding.fault.startswith("lamp")]


@pytest.mark.parametrize(("strong", "verdict"), [(3, "look closer"), (4, "falls short"), (8, "falls short")])
def test_a_lamp_that_never_lights_on_four_strong_pilots_falls_short(strong: int, verdict: str) -> None:
    """The contract's rule: four or more strong pilots in the dark. With three it is a finding only."""
    stations = STRONG[:strong] + [replace(one, channel_hz=one.channel_hz + 400_000) for one in STRONG[strong:]]
    stations += [Station(105_100_000 + 400_000 * k, GOOD_DB - 10.0 + 4.0 * k, 0.0) for k in range(6)]
    stations.sort(key=lambda one: one.channel_hz)
    pilot = {one.channel_hz for one in STRONG[:strong]}
    heard = [one for one in stations if one.level_db > GOOD_DB]
    stereo = [1.0 if one.channel_hz in pilot else 0.0 for one in stations]
    got = _check(_rows(heard, ["off"] * len(heard)), stations, stereo)
    never = next(finding for finding in got.findings if finding.fault == "lamp-never")
    assert (never.against_nothing or 0.0) > 2.0
    # that it lights on far stronger stations only cannot be excluded where none lit it
    assert 0.0 < never.weight < 2.0
    assert got.verdict == verdict
    if verdict == "falls short":
        assert got.why == f"the lamp never lit on {strong} strong stereo stations"


def test_a_lamp_that_flickers_on_strong_pilots_too_is_a_fault() -> None:
    """On the weakest one it is none: there a sound lamp does the same."""
    loud = [replace(one, level_db=GOOD_DB + 22.0 + 3.0 * place) for place, one in enumerate(STRONG)]
    got = _check(_rows(loud, ["flicker"] * 10 + ["on"] * 2), loud, [1.0] * 12)
    assert (got.lamp_expected, got.lamp_lit) == (12, 12)
    assert lamp_words(got).startswith("was lit on 12 (10 of them by fits) of 12 stations")
    assert got.findings[0].fault == "lamp-late"
    assert "flickers on 10 of 12" in got.findings[0].text
    assert got.lamp_threshold_db is None
    weak = [replace(STRONG[0], level_db=GOOD_DB + 15.0), *STRONG[1:]]
    sound = _check(_rows(weak, ["flicker"] + ["on"] * 11), weak, [1.0] * 12)
    assert not [finding for finding in sound.findings if finding.fault.startswith("lamp")]


def test_a_lamp_lit_on_mono_is_free_running() -> None:
    """Lamp on where the list never saw a pilot: lamp-always, with those stations as evidence."""
    got = _check(_rows(STRONG, ["on"] * 12), STRONG, [1.0] * 6 + [0.0] * 6)
    always = got.findings[0]
    assert always.fault == "lamp-always"
    assert always.evidence == tuple(one.channel_hz for one in STRONG[6:])


def test_the_lamps_threshold_is_told() -> None:
    """A lamp that needs 18 dB more than following: its threshold lies within 5 dB of that."""
    dice = random.Random(3)
    stations = bench(dice, 50)
    sheet = sweep(dice, stations, Radio(lamp_over_db=18.0), Listener(), reading_hz=0.15e6)
    got = _check(sheet.text, stations)
    assert got.lamp_threshold_db is not None
    assert got.lamp_threshold_db.value is not None
    assert abs(got.lamp_threshold_db.value - (GOOD_DB + 18.0)) < 5.0


def test_the_lamps_interval_holds_the_truth_and_no_more_than_it_must() -> None:
    """24 made sweeps of 40 stations: 95 % intervals hold the lamp's threshold in 21 at least, within 9 dB either way."""
    held, wide = 0, []
    for seed in range(24):
        dice = random.Random(f"lamp interval {seed}")
        stations = bench(dice, 40)
        over_db = dice.uniform(10.0, 20.0)
        sheet = sweep(dice, stations, Radio(lamp_over_db=over_db), listener(dice), reading_hz=0.15e6)
        got = _check(sheet.text, stations).lamp_threshold_db
        assert got is not None
        assert got.low is not None
        assert got.high is not None
        held += got.low <= GOOD_DB + over_db <= got.high
        wide.append(got.high - got.low)
    assert held >= 21
    assert 4.0 < sum(wide) / len(wide) < 18.0


def test_a_late_lamp_is_told_from_a_dead_one() -> None:
    """Dark up to 35 dB over following and lit above: late, not never."""
    stations = [Station(88_500_000 + 600_000 * k, GOOD_DB + 5.0 + 2.0 * k, 0.0) for k in range(30)]
    lamps = ["on" if one.level_db > GOOD_DB + 37.0 else "off" for one in stations]
    got = _check(_rows(stations, lamps), stations)
    assert got.findings[0].fault == "lamp-late"
    assert got.verdict != "falls short"


def test_who_marks_only_the_lit_ones_leaves_the_rest_dark() -> None:
    """Nothing between rows with `on` reads as off; before and behind them nobody looked; no lamp cell at all tells nothing."""
    marked = _check(_rows(STRONG, ["on"] * 4 + [""] * 4 + ["on"] * 4), STRONG)
    assert (marked.lamp_expected, marked.lamp_lit) == (12, 8)
    begun = _check(_rows(STRONG, ["on"] * 5 + [""] * 7), STRONG)
    assert (begun.lamp_expected, begun.lamp_lit) == (5, 5)
    assert not [one for one in begun.findings if one.fault.startswith("lamp")]
    silent = _check(_rows(STRONG, [""] * 12), STRONG)
    assert (silent.lamp_expected, silent.lamp_lit, silent.lamp_threshold_db) == (None, None, None)


def test_a_tick_that_may_be_another_station_tells_less_of_the_lamp() -> None:
    """Lit on five mono stations: odds of (0.9 / 0.02)^5 where each tick is surely that station (values of the model); where it
    is so by 0.7 only, any may have lit it, and each tick's 45 becomes 0.9 / (0.7 * 0.02 + 0.3 * 0.5) = 5.5."""
    lit = np.full(5, 0.02)
    assert np.log(0.9 / _doubted(lit, np.ones(5))).sum() == pytest.approx(5 * np.log(45.0))
    assert np.log(0.9 / _doubted(lit, np.full(5, 0.7))).sum() == pytest.approx(5 * np.log(0.9 / 0.164))
    grid, level, dark = np.arange(-90.0, -20.0), np.full(5, -40.0), np.zeros(5)
    sure, unsure = (_log_value(level, dark, np.full(5, share), grid) for share in (1.0, 0.6))
    assert np.ptp(unsure) < 0.4 * np.ptp(sure)
