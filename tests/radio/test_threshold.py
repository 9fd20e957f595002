"""The threshold with its interval: against made truth, against the bare count, and where one side only is bounded."""

from __future__ import annotations

import random

import numpy as np
import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, Station, bench, listener, reference_list, sweep

from bandscan.model import BandCheck, Reference, Sheet
from bandscan.radio import Limits, judge, read_sheet, totals_sheet
from bandscan.radio.align import Sweeps
from bandscan.radio.bench import bench_of, blocks_of
from bandscan.radio.hearing import grading_of
from bandscan.radio.pointer import dial_of
from bandscan.radio.threshold import fit

GOOD = Reference(GOOD_DB, 1.5, "known-good", "dBFS", 5)


def _check(sheet: Sheet, stations: list[Station], reference: Reference | None = GOOD, band: str = "fm") -> BandCheck:
    references = {} if reference is None else {band: reference}
    return judge(sheet, {band: reference_list(stations, band)}, references, Limits(), "2026-03-14T12:00:00Z", "0").bands[band]


@pytest.mark.parametrize(("count", "grades", "widest_db"), [(25, False, 6.5), (40, True, 4.0), (60, False, 4.5)])
def test_intervals_hold_the_truth(count: int, grades: bool, widest_db: float) -> None:
    """95 % intervals hold the threshold of at least 8 of 10 radios, and are no wider than 1.3 times the bound's median."""
    held, halves = 0, []
    for seed in range(10):
        dice = random.Random(f"threshold{seed}{count}{grades}")
        stations, who = bench(dice, count), listener(dice, grades=grades)
        radio = Radio(deaf_db=dice.uniform(-3.0, 15.0), offset_hz=dice.uniform(-1e6, 1e6), slope=dice.uniform(-0.03, 0.03))
        sheet = read_sheet(sweep(dice, stations, radio, who, reading_hz=0.25e6).text, "made.csv")
        got = _check(sheet, stations, None)
        assert got.bound == "two-sided"
        assert got.threshold_db.low is not None
        assert got.threshold_db.high is not None
        held += got.threshold_db.low < GOOD_DB + radio.deaf_db + who.bias_db < got.threshold_db.high
        halves.append((got.threshold_db.high - got.threshold_db.low) / 2.0)
    assert held >= 8
    assert sorted(halves)[5] < widest_db


@pytest.mark.parametrize(("reading_hz", "raster_hz", "least"), [(None, 0, 15.0), (0.2e6, 100_000, 15.0), (0.25e6, 0, 8.0)])
def test_the_interval_hangs_on_many_draws(reading_hz: float | None, raster_hz: int, least: float) -> None:
    """Kish's effective number of the weighted draws (Survey Sampling, 1965), for no readings, digits and a pointer: an interval
    that hangs on one or two of them is too narrow."""
    numbers = []
    for seed in range(6):
        dice = random.Random(f"draws{seed}")
        stations = bench(dice, 40)
        made = sweep(dice, stations, Radio(raster_hz=raster_hz), listener(dice, grades=True), reading_hz=reading_hz)
        sheet, listed = read_sheet(made.text, "made.csv"), bench_of(reference_list(stations))
        blocks, _ = blocks_of(sheet.ticks, listed, sheet.header)
        grading = grading_of([grade for block in blocks for grade in block.grade])
        dial = dial_of(listed, blocks, sheet.header)
        weight = fit(Sweeps(listed, tuple(blocks), grading, dial, np.ones(len(blocks)))).weight
        numbers.append(1.0 / (weight**2).sum())
    assert np.median(numbers) >= least


def test_the_raster_of_the_other_band_is_not_taken() -> None:
    """`# raster_khz: 200` is of FM: AM's digits are read to a quarter of 10 kHz all the same."""
    for band, raster, noise_hz in (("am", "200", 2_500.0), ("am", "9", 2_500.0), ("fm", "200", 50e3), ("fm", "100", 50e3)):
        stations = bench(random.Random(1), 20, band=band)
        listed = bench_of(reference_list(stations, band))
        made = sweep(random.Random(2), stations, Radio(), Listener(), band=band, reading_hz=1.0)
        head = {"dial": "digits", "raster_khz": raster}
        blocks, _ = blocks_of(read_sheet(made.text, "s").ticks, listed, head)
        assert dial_of(listed, blocks, head).noise_low_hz == noise_hz


def test_a_set_that_hears_everything_bounds_one_side() -> None:
    """All followed: the threshold lies under the weakest stations, how far is not known: low is null."""
    stations = bench(random.Random(1), 25, lowest_db=15.0)
    got = _check(
        read_sheet(sweep(random.Random(2), stations, Radio(), Listener(slip=0.0), reading_hz=0.2e6).text, "s"), stations
    )
    assert got.bound == "upper"
    assert got.threshold_db.value is None
    assert got.threshold_db.low is None
    assert got.threshold_db.high is not None
    assert GOOD_DB < got.threshold_db.high < GOOD_DB + 25.0


def test_a_silent_band_bounds_the_other_side() -> None:
    """Nothing followed: the threshold lies over the strongest stations: high is null, and the set falls short."""
    stations = bench(random.Random(1), 12)
    got = _check(read_sheet("# bands: fm\n", "s"), stations)
    assert got.counted == 0
    assert got.bound == "lower"
    assert got.threshold_db.high is None
    assert got.threshold_db.low is not None
    assert got.threshold_db.low > GOOD_DB + 15.0
    assert got.verdict == "falls short"


def test_a_stone_dead_set_falls_short_wherever_a_good_one_hears_much() -> None:
    """On benches with eight stations or more over 50 dB, silence is no chance."""
    for seed in range(20):
        stations = bench(random.Random(seed), 8)
        assert _check(read_sheet("# bands: fm\n", "s"), stations).verdict == "falls short"


def test_a_band_with_two_stops_is_not_said_to_be_silent() -> None:
    """Two of forty stations heard: deaf, and the verdict's reason says no more than that is so."""
    stations = bench(random.Random(4), 40)
    strong = sorted(stations, key=lambda one: -one.level_db)[:2]
    rows = "".join(f"fm,{one.channel_hz / 1e6:.1f},2\n" for one in sorted(strong, key=lambda one: one.channel_hz))
    got = _check(read_sheet("# dial: pointer\nband,dial,grade\n" + rows, "s"), stations)
    assert (got.verdict, got.counted) == ("falls short", 2)
    assert got.findings[0].fault == "deaf"
    assert "nothing is heard" not in got.why


def test_grades_narrow_the_interval() -> None:
    """The same sweep with grades 3, 2 and 1 tells more than with ticks alone."""
    wide, narrow = [], []
    for seed in range(4):
        dice = random.Random(f"grades{seed}")
        stations = bench(dice, 30)
        for grades, halves in ((False, wide), (True, narrow)):
            sheet = sweep(random.Random(seed), stations, Radio(deaf_db=5.0), Listener(grades=grades), reading_hz=0.2e6)
            got = _check(read_sheet(sheet.text, "s"), stations).threshold_db
            assert got.low is not None
            assert got.high is not None
            halves.append(got.high - got.low)
    assert sum(narrow) < 0.85 * sum(wide)


@pytest.mark.parametrize("used", ["23", "12"])
def test_each_step_of_the_grades_tells_something(used: str) -> None:
    """Clean against not clean, and traces against nothing, each narrow the interval on their own."""
    wide, narrow = 0.0, 0.0
    for seed in range(4):
        stations = bench(random.Random(seed), 30)
        sheet = sweep(random.Random(seed), stations, Radio(deaf_db=5.0), Listener(grades=True), reading_hz=0.1e6).text
        heard = sheet if used == "12" else "".join(row for row in sheet.splitlines(True) if row.split(",")[2:3] != ["1"])
        graded = heard.replace(",3,", ",2,") if used == "12" else heard
        ticks = "".join(row for row in graded.splitlines(True) if row.split(",")[2:3] != ["1"]).replace(",3,", ",2,")
        for text, plain in ((graded, False), (ticks, True)):
            got = _check(read_sheet(text, "s"), stations).threshold_db
            assert got.low is not None
            assert got.high is not None
            wide, narrow = wide + (got.high - got.low) * plain, narrow + (got.high - got.low) * (not plain)
    assert narrow < 0.95 * wide


def test_a_pad_tells_on_a_strong_bench() -> None:
    """Common practice: 25 dB over the threshold no count sees a set 20 dB deaf; through a pad it does."""
    stations = bench(random.Random(3), 30, lowest_db=25.0)
    deaf = Radio(deaf_db=20.0)
    without = _check(read_sheet(sweep(random.Random(4), stations, deaf, Listener(), reading_hz=0.2e6).text, "s"), stations)
    through = sweep(random.Random(4), stations, deaf, Listener(), reading_hz=0.2e6, pads_db=(0.0, 20.0))
    both = _check(read_sheet(through.text, "s"), stations)
    assert without.verdict != "falls short"
    assert both.verdict == "falls short"
    assert both.against_reference_db is not None
    assert both.against_reference_db.low is not None
    assert 6.0 < both.against_reference_db.low < 20.0


def test_the_same_sweep_twice_is_not_twice_the_evidence() -> None:
    """Repeats share each station's own spread: two sweeps narrow the interval, but by less than the square root of two."""
    one, two, four = [], [], []
    for seed in range(4):
        stations = bench(random.Random(seed), 30)
        for names, halves in ((("1",), one), (("1", "2"), two), (("1", "2", "3", "4"), four)):
            sheet = sweep(random.Random(seed), stations, Radio(deaf_db=5.0), Listener(), reading_hz=0.1e6, directions=names)
            got = _check(read_sheet(sheet.text, "s"), stations).threshold_db
            assert got.low is not None
            assert got.high is not None
            halves.append(got.high - got.low)
    assert sum(two) < sum(one)
    assert sum(four) > 0.6 * sum(one)  # independent sweeps would halve it


def test_bare_totals_are_told_honestly_wide() -> None:
    """A total bounds the threshold, more widely than the same sweep with its readings."""
    dice = random.Random(11)
    stations = bench(dice, 40)
    sheet = sweep(dice, stations, Radio(deaf_db=5.0), Listener(), reading_hz=0.2e6)
    full = _check(read_sheet(sheet.text, "s"), stations).threshold_db
    bare = _check(totals_sheet({"fm": len(sheet.meant)}), stations).threshold_db
    assert full.low is not None
    assert full.high is not None
    assert bare.low is not None
    assert bare.high is not None
    assert bare.high - bare.low > 1.15 * (full.high - full.low)
    assert bare.low < GOOD_DB + 5.0 < bare.high


def test_a_count_above_the_habit_neither_condemns_nor_proves() -> None:
    """Common practice: about 28 expected, 34 counted, bare totals. No fault is claimed, nothing is proved."""
    stations = bench(random.Random(27), 36, lowest_db=-10.0)
    got = _check(totals_sheet({"fm": 34}), stations)
    assert got.expected is not None
    assert 26.0 < got.expected.mid < 30.0
    assert got.verdict in ("in line", "look closer", "cannot tell")
    assert got.findings == ()
    assert got.against_reference_db is not None
    assert got.against_reference_db.high is not None
    assert got.against_reference_db.high > -3.0  # what 34 shows is not that the set is much better


def test_a_list_without_levels_tells_missed_and_extra_but_no_decibels() -> None:
    """A list made from sweeps of known-good sets has no levels: stations are matched, the threshold stays null."""
    stations = bench(random.Random(1), 20, lowest_db=10.0)
    baseline = reference_list(stations)
    bare = baseline.stations.assign(level_db=float("nan"), level_unit="", snr_db=float("nan"))
    sheet = read_sheet(sweep(random.Random(2), stations, Radio(), Listener(), reading_hz=0.1e6).text, "s")
    without = type(baseline)(**{**vars(baseline), "stations": bare})
    got = judge(sheet, {"fm": without}, {"fm": GOOD}, Limits(), "2026-03-14T12:00:00Z", "0").bands["fm"]
    assert (got.threshold_db.value, got.threshold_db.low, got.threshold_db.high) == (None, None, None)
    assert got.expected is None
    assert got.against_reference_db is None
    assert got.verdict == "cannot tell"
    assert "no levels" in got.why
    assert sum(station.heard is True for station in got.stations) >= 17


def test_the_doubt_of_the_reference_is_carried() -> None:
    """The same sweep against a reference known to 1 dB and to 6 dB: the second interval is wider, about the same middle."""
    stations = bench(random.Random(1), 40)
    sheet = read_sheet(sweep(random.Random(2), stations, Radio(deaf_db=8.0), Listener(), reading_hz=0.2e6).text, "s")
    sharp = _check(sheet, stations, Reference(GOOD_DB, 1.0, "known-good", "dBFS", 5)).against_reference_db
    vague = _check(sheet, stations, Reference(GOOD_DB, 6.0, "other family", "dBFS", 1)).against_reference_db
    for one in (sharp, vague):
        assert one is not None
        assert one.low is not None
        assert one.high is not None
        assert one.low < 8.0 < one.high
    assert sharp is not None
    assert vague is not None
    assert (vague.high or 0) - (vague.low or 0) > 1.8 * ((sharp.high or 0) - (sharp.low or 0))
    assert vague.value == pytest.approx(sharp.value, abs=1.0)
