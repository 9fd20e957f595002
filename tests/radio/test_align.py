"""Ticks find their stations: by order, level and reading together, never by the nearest channel alone."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, Sheet, Station, bench, listener, reference_list, sweep

from bandscan.model import BandCheck, Reference
from bandscan.radio import Limits, judge, read_sheet
from bandscan.radio.align import Sweeps
from bandscan.radio.bench import bench_of, blocks_of
from bandscan.radio.hearing import grading_of
from bandscan.radio.pointer import dial_of
from bandscan.radio.threshold import fit

GOOD = Reference(GOOD_DB, 1.5, "known-good", "dBFS", 5)


def _check(text: str, stations: list[Station], band: str = "fm") -> BandCheck:
    return judge(
        read_sheet(text, "made.csv"),
        {band: reference_list(stations, band)},
        {band: GOOD},
        Limits(),
        "2026-03-14T12:00:00Z",
        "0",
    ).bands[band]


def _right(sheet: Sheet, stations: list[Station], got: BandCheck) -> tuple[int, int]:
    """Ticks whose station is the true one, by what the check shows, of how many."""
    rows = read_sheet(sheet.text, "made.csv").ticks
    shown = {station.channel_hz: station.dial for station in got.stations}
    true = [(rows["dial"][row], stations[meant].channel_hz) for row, meant in enumerate(sheet.meant) if meant is not None]
    return sum(shown[hz] == dial for dial, hz in true), len(true)


@pytest.mark.parametrize(
    ("band", "count", "reading_hz", "least"),
    [
        ("fm", 40, 0.25e6, 0.93),
        ("fm", 25, 0.25e6, 0.95),
        ("fm", 40, 0.15e6, 0.95),
        ("am", 25, 10e3, 0.96),
        ("am", 25, 25e3, 0.88),
    ],
)
def test_ticks_find_their_stations(band: str, count: int, reading_hz: float, least: float) -> None:
    """Pointer off to 1 MHz or 20 kHz and 3 %: shares over 200 benches (tests/bench/radio_table.py) less what 8 may scatter."""
    right = total = 0
    for seed in range(8):
        dice = random.Random(f"align{seed}{band}{count}")
        offset = 1e6 if band == "fm" else 20e3
        radio = Radio(offset_hz=dice.uniform(-offset, offset), slope=dice.uniform(-0.03, 0.03))
        stations = bench(dice, count, band=band)
        sheet = sweep(dice, stations, radio, listener(dice), band=band, reading_hz=reading_hz)
        hit, ticks = _right(sheet, stations, _check(sheet.text, stations, band))
        right, total = right + hit, total + ticks
    assert right / total >= least


def test_a_pointer_one_channel_off_is_not_a_list_of_wrong_stations() -> None:
    """Every reading 0.4 MHz high: nearest channel alone would name other stations; here all are right and the dial is told."""
    channels = [88_100_000 + 400_000 * place for place in (0, 1, 3, 6, 7, 10, 14, 15, 19, 22, 26, 27, 33, 38, 40, 44)]
    stations = [Station(hz, -40.0, 0.0) for hz in channels]
    text = "# dial: pointer\nband,dial,grade\n" + "".join(f"fm,{(hz + 400_000) / 1e6:.1f},3\n" for hz in channels)
    got = _check(text, stations)
    assert [station.dial for station in got.stations] == [f"{(hz + 400_000) / 1e6:.1f}" for hz in channels]
    assert all(station.heard for station in got.stations)
    assert [point.at_hz for point in got.dial_points] == [90_000_000, 98_000_000, 106_000_000]
    for point in got.dial_points:
        assert point.low < 400_000 < point.high
        assert abs(point.error_hz - 400_000) < 200_000


def test_am_points_are_where_the_trade_adjusts() -> None:
    """Common practice: AM is set at 600, 1000 and 1400 kHz; a slope is told with its interval at each."""
    dice = random.Random(3)
    stations = bench(dice, 30, lowest_db=5.0, band="am")
    sheet = sweep(dice, stations, Radio(offset_hz=10e3, slope=0.05), Listener(), band="am", reading_hz=6e3)
    got = _check(sheet.text, stations, "am")
    assert [point.at_hz for point in got.dial_points] == [600_000, 1_000_000, 1_400_000]
    for point in got.dial_points:
        truth = 10e3 + 0.05 * (point.at_hz - 1_120_000)
        assert point.low - 4e3 < truth < point.high + 4e3
        assert 2e3 < point.high - point.low < 40e3


def test_rows_stay_in_the_order_of_the_sweep() -> None:
    """Readings out of order by noise are not sorted: sorting them would swap the strong and the weak one's grades."""
    stations = [Station(hz, level, 0.0) for hz, level in ((95_100_000, -30.0), (95_500_000, -72.0), (99_000_000, -35.0))]
    stations += [Station(89_100_000 + 200_000 * k, -35.0, 0.0) for k in range(0, 20, 4)]
    stations.sort(key=lambda one: one.channel_hz)
    rows = [(one.channel_hz / 1e6, "3" if one.level_db > -50 else "1") for one in stations]
    text = "# dial: pointer\nband,dial,grade\n"
    for mhz, grade in rows:
        # the strong one at 95.1 was read high, the weak one at 95.5 low
        shown = {95.1: 95.4, 95.5: 95.2}.get(mhz, mhz)
        text += f"fm,{shown:.1f},{grade}\n"
    shown_at = {station.channel_hz: (station.dial, station.grade) for station in _check(text, stations).stations}
    assert shown_at[95_100_000] == ("95.4", "3")
    assert shown_at[95_500_000] == ("95.2", "1")


@pytest.mark.parametrize("direction", ["2down", "1"])
def test_a_sweep_down_the_dial_is_turned_round(direction: str) -> None:
    """`2down`, and a sweep without a direction whose readings fall, run from the top of the dial."""
    dice = random.Random(8)
    stations = bench(dice, 25, lowest_db=5.0)
    up = sweep(dice, stations, Radio(offset_hz=3e5), Listener(), reading_hz=0.1e6)
    head, body = up.text.split("sweep,name\n")
    rows = [row.replace(",1,", f",{direction},") for row in reversed(body.splitlines())]
    got = _check(f"{head}sweep,name\n" + "\n".join(rows) + "\n", stations)
    assert sum(station.heard is True for station in got.stations) >= 22


def test_anchors_pin_the_alignment() -> None:
    """Order alone cannot say which of two stations was heard; a name identified by ear can."""
    stations = [Station(90_100_000 + 1_000_000 * place, -68.0, 0.0) for place in range(8)]
    rows = ["fm,,2,"] * 4
    blind = _check("band,dial,grade,name\n" + "\n".join(rows), stations)
    assert all(station.heard is None for station in blind.stations)
    rows = ["fm,,2,90.1", "fm,,2,91.1", "fm,,2,94.1", "fm,,2,97.1"]
    named = _check("band,dial,grade,name\n" + "\n".join(rows), stations)
    heard = [station.channel_hz for station in named.stations if station.heard]
    assert heard == [90_100_000, 91_100_000, 94_100_000, 97_100_000]


def test_a_digital_dial_is_taken_at_its_word() -> None:
    """Readings on the raster are the stations themselves; what stands elsewhere is extra, with the channel it stands on."""
    stations = bench(random.Random(5), 20, lowest_db=5.0)
    free = next(
        hz for hz in range(88_100_000, 108_000_000, 200_000) if all(abs(hz - one.channel_hz) > 500_000 for one in stations)
    )
    heard = sorted([*(one.channel_hz for one in stations), free])
    got = _check("# dial: digits\nband,dial,grade\n" + "".join(f"fm,{hz / 1e6:.1f},3\n" for hz in heard), stations)
    assert got.dial_model == "digits"
    assert got.dial_points == ()
    assert all(station.heard for station in got.stations)
    assert [(extra.channel_hz, extra.explained_by) for extra in got.extras] == [
        (free, "could be a real station under the reference's own floor")
    ]


def test_a_second_tick_at_a_listed_station_may_be_that_station() -> None:
    """Two stops on one channel of the list: one is the station, the other is not called unlisted there."""
    stations = bench(random.Random(5), 20, lowest_db=5.0)
    heard = sorted([*(one.channel_hz for one in stations), stations[7].channel_hz])
    got = _check("# dial: digits\nband,dial,grade\n" + "".join(f"fm,{hz / 1e6:.1f},3\n" for hz in heard), stations)
    said = "could be a real station under the reference's own floor, or the station of the list that stands there"
    assert [(extra.channel_hz, extra.explained_by) for extra in got.extras] == [(stations[7].channel_hz, said)]


def test_a_reading_clear_of_the_band_is_no_station_at_its_end() -> None:
    """110.9 MHz on a dial that reads right: a slip of the pen, not 107.9; 108.1 may be the last channel."""
    dice = random.Random(13)
    stations = [one for one in bench(dice, 40, lowest_db=5.0) if one.channel_hz < 107_000_000]
    text = sweep(dice, stations, Radio(), Listener(), reading_hz=0.15e6).text + "fm,108.1,2,,0,1,\nfm,110.9,2,,0,1,\n"
    extras = {one.dial: one for one in _check(text, stations).extras}
    assert extras["110.9"].channel_hz is None
    assert "slip of the pen" in extras["110.9"].explained_by
    assert extras["108.1"].channel_hz == 107_900_000


def test_an_fm_dial_with_am_numerals_is_fitted() -> None:
    """A conversion's FM dial wears AM numerals, compressed and bent: order and a curve still find the stations."""
    dice = random.Random(12)
    stations = bench(dice, 22, lowest_db=10.0)
    text = "# numerals: am\n# dial: pointer\nband,dial,grade\n"
    for one in stations:
        share = (one.channel_hz - 88.1e6) / 19.8e6
        text += f"fm,{5 * round((560 + 940 * share**1.1 + dice.gauss(0, 8)) / 5)},3\n"
    got = _check(text, stations)
    assert sum(station.heard is True for station in got.stations) >= 20


def test_blocks_may_come_in_any_order() -> None:
    """Sweeps written one after the other in any order give the same judgement."""
    dice = random.Random(4)
    stations = bench(dice, 20)
    sheet = sweep(dice, stations, Radio(), Listener(), reading_hz=0.2e6, pads_db=(0.0, 10.0), directions=("2up", "2down"))
    head, body = sheet.text.split("sweep,name\n")
    rows = body.splitlines()
    keys = sorted({tuple(row.split(",")[4:6]) for row in rows}, reverse=True)
    turned = [row for key in keys for row in rows if tuple(row.split(",")[4:6]) == key]
    assert turned != rows
    first = _check(sheet.text, stations)
    second = _check(f"{head}sweep,name\n" + "\n".join(turned) + "\n", stations)
    assert replace(first) == second


def test_backlash_between_up_and_down_is_solved_for() -> None:
    """Up reads 0.4 MHz higher than down: both find their stations, and the error told is that between, no less sharply."""
    stations = bench(random.Random(6), 30, lowest_db=10.0)
    head = "# dial: pointer\nband,dial,grade,sweep\n"

    def both(up_hz: int, down_hz: int) -> BandCheck:
        rows = [f"fm,{(one.channel_hz + up_hz) / 1e6:.1f},3,2up" for one in stations]
        rows += [f"fm,{(one.channel_hz + down_hz) / 1e6:.1f},3,2down" for one in reversed(stations)]
        return _check(head + "\n".join(rows), stations)

    got, without = both(400_000, 0), both(200_000, 200_000)
    assert all(station.heard for station in got.stations)
    assert abs(got.dial_points[1].error_hz - 200_000) < 60_000
    widths = [check.dial_points[1].high - check.dial_points[1].low for check in (got, without)]
    assert widths[0] < 1.6 * widths[1]
    assert "backlash of 0.4 MHz (95 %: 0." in got.dial_model
    assert "backlash" not in without.dial_model


def test_a_pointer_is_more_likely_a_little_off_than_much() -> None:
    """Stations 2 MHz apart, nine of ten heard: the last one is missing, not the first with the pointer 2 MHz off."""
    stations = [Station(89_100_000 + 2_000_000 * place, -45.0, 0.0) for place in range(10)]
    text = "# dial: pointer\nband,dial,grade\n" + "".join(f"fm,{89.1 + 2.0 * place:.1f},3\n" for place in range(9))
    got = _check(text, stations)
    assert got.stations[0].probability > 0.9
    assert got.stations[9].probability < 0.1


def test_order_and_levels_alone_find_the_stations() -> None:
    """No reading at all: as many ticks as there are strong stations are those, whichever weak ones stand between."""
    dice = random.Random(15)
    channels = sorted(dice.sample(range(88_100_000, 108_000_000, 200_000), 24))
    strong = set(dice.sample(channels, 11))
    stations = [Station(hz, -35.0 if hz in strong else -100.0, 0.0) for hz in channels]
    got = _check("band,dial,grade\n" + "fm,,2\n" * 11, stations)
    assert {station.channel_hz for station in got.stations if station.heard} == strong
    assert {station.channel_hz for station in got.stations if station.heard is False} == set(channels) - strong
    assert got.dial_points == ()


@pytest.mark.parametrize("raster", ["# raster_khz: 9\n", "# raster_khz: 10\n", ""])
def test_a_nine_khz_set_on_ten_khz_channels(raster: str) -> None:
    """A digital set of the other raster shows its own steps: each is laid to the station that it can only be, whatever raster
    the sheet says."""
    stations = bench(random.Random(16), 25, lowest_db=10.0, band="am")
    shown = [9 * round(one.channel_hz / 9000) for one in stations]
    text = f"# dial: digits\n{raster}band,dial,grade\n" + "".join(f"am,{khz},3\n" for khz in shown)
    got = _check(text, stations, "am")
    assert [station.dial for station in got.stations] == [str(khz) for khz in shown]
    assert all(station.heard for station in got.stations)


def test_a_set_that_steps_by_100_khz() -> None:
    """A digital FM set that also stops beside a channel: a reading 0.1 MHz off is still that station and no other."""
    stations = [Station(hz, -40.0, 0.0) for hz in (88_100_000, 90_500_000, 93_300_000, 96_100_000, 101_900_000, 106_700_000)]
    shown = ("88.1", "90.6", "93.3", "96.0", "101.9", "106.8")
    text = "# dial: digits\n# raster_khz: 100\nband,dial,grade\n" + "".join(f"fm,{dial},3\n" for dial in shown)
    got = _check(text, stations)
    assert [station.dial for station in got.stations] == list(shown)
    assert got.extras == ()


@pytest.mark.parametrize(("low_hz", "high_hz", "sign"), [(4e3, 40e3, 1.0), (30e3, 12e3, -1.0)])
def test_where_on_the_dial_readings_are_poor_is_learnt(low_hz: float, high_hz: float, sign: float) -> None:
    """Usual AM readings are 2.4 times as rough at the upper end as at the lower; a sheet that says otherwise is believed."""
    dice = random.Random(21)
    stations = bench(dice, 45, lowest_db=10.0, band="am")
    rows = []
    for one in stations:
        sd_hz = low_hz + (high_hz - low_hz) * (one.channel_hz - 540e3) / 1160e3
        rows.append(f"am,{round((one.channel_hz + dice.gauss(0.0, sd_hz)) / 1e3)},3")
    sheet = read_sheet("# dial: pointer\nband,dial,grade\n" + "\n".join(rows), "made.csv")
    found = bench_of(reference_list(stations, "am"))
    blocks, _ = blocks_of(sheet.ticks, found, sheet.header)
    fitted = fit(Sweeps(found, tuple(blocks), grading_of("3"), dial_of(found, blocks, sheet.header), np.ones(1)))
    tilt, weight = fitted.draws.pointers.tilt, fitted.weight
    mean = float(weight @ tilt)
    assert sign * mean > float(np.sqrt(weight @ (tilt - mean) ** 2))
