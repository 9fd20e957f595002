"""Sweeps that begin somewhere on the dial and go round, that are swept in pieces, and rows that follow no order."""

from __future__ import annotations

import random
from collections.abc import Callable

import numpy as np
import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, Station, bench, reference_list, sweep

from bandscan.errors import SheetError
from bandscan.model import RadioCheck, Reference
from bandscan.radio import Limits, judge, read_sheet
from bandscan.radio.order import order_of

GOOD = Reference(GOOD_DB, 1.5, "known-good", "dBFS", 5)
WHO = Listener(jitter_db=3.0)
HEAD = "band,dial,grade,lamp,pad_db,sweep,name\n"


def _check(text: str, stations: list[Station], band: str = "fm") -> RadioCheck:
    lists = {band: reference_list(stations, band)}
    return judge(read_sheet(text, "s.csv"), lists, {band: GOOD}, Limits(), "2026-03-14T12:00:00Z", "0")


def _swept(
    seed: int, band: str = "fm", radio: Radio | None = None, *, reading_hz: float | None = None, anchors: int = 3
) -> tuple[list[Station], str, list[str]]:
    dice = random.Random(f"order{seed}{band}")
    stations = bench(dice, 40 if band == "fm" else 25, band=band)
    read = reading_hz or (0.2e6 if band == "fm" else 12e3)
    made = sweep(dice, stations, radio or Radio(), WHO, band=band, reading_hz=read, anchors=anchors)
    head, _, rows = made.text.partition(HEAD)
    return stations, head + HEAD, rows.splitlines(keepends=True)


def _round(share: float) -> Callable[[list[str]], list[str]]:
    return lambda rows: rows[round(share * len(rows)) :] + rows[: round(share * len(rows))]


OTHERWISE: dict[str, Callable[[list[str]], list[str]]] = {
    "a quarter last": _round(0.25),
    "half last": _round(0.5),
    "three quarters last": _round(0.75),
    "two highest first": lambda rows: rows[-2:] + rows[:-2],
    "five lowest last": lambda rows: rows[5:] + rows[:5],
    "down and round": lambda rows: _round(0.4)(rows)[::-1],
    "from the middle down, then up": lambda rows: rows[: len(rows) // 2][::-1] + rows[len(rows) // 2 :],
    "up to the middle, then from the top": lambda rows: rows[: len(rows) // 2] + rows[len(rows) // 2 :][::-1],
    "sorted as texts": lambda rows: sorted(rows, key=lambda row: row.split(",")[1]),
}


@pytest.mark.parametrize("band", ["fm", "am"])
@pytest.mark.parametrize("way", OTHERWISE)
def test_a_sweep_in_two_pieces_is_judged_as_the_same_rows_from_end_to_end(way: str, band: str) -> None:
    """A healthy set's, whose high half would be taken for dead, and one that is dead there."""
    for radio, verdict in (
        (Radio(), "in line"),
        (Radio(hears=lambda one: one.channel_hz < (100e6 if band == "fm" else 1.1e6)), "falls short"),
    ):
        stations, head, rows = _swept(1, band, radio)
        along = _check(head + "".join(rows), stations, band)
        pieces = _check(head + "".join(OTHERWISE[way](rows)), stations, band)
        assert along.bands[band].verdict == verdict
        assert pieces.bands[band].verdict == verdict
        ours, theirs = pieces.bands[band].threshold_db, along.bands[band].threshold_db
        if way != "sorted as texts":  # which puts rows in order, too, that noise turned round
            for one, other in ((ours.value, theirs.value), (ours.low, theirs.low), (ours.high, theirs.high)):
                assert one == pytest.approx(other, abs=1.5)
        if verdict == "in line":
            assert len([caution for caution in pieces.cautions if "begins again" in caution]) == 1


def test_stations_named_without_a_reading_may_begin_anywhere() -> None:
    """Their order on the dial is known."""
    stations, head, rows = _swept(2, anchors=99)
    named = [",".join(["fm", "", *row.split(",")[2:]]) for row in rows]
    along = _check(head + "".join(named), stations).bands["fm"]
    pieces = _check(head + "".join(_round(0.6)(named)), stations).bands["fm"]
    assert along.verdict == pieces.verdict == "in line"
    assert pieces.threshold_db == along.threshold_db


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
@pytest.mark.parametrize("band", ["fm", "am"])
def test_two_sweeps_that_part_the_dial_between_them_are_one(band: str, share: float) -> None:
    """Neither is left in the middle, nor is the other's part dead."""
    stations, head, rows = _swept(3, band)
    cut = round(share * len(rows))
    second = [row.replace(",0,1,", ",0,2,") for row in rows[cut:]]
    whole = _check(head + "".join(rows), stations, band).bands[band]
    for parts in ([*rows[:cut], *second], [*second, *rows[:cut]]):
        both = _check(head + "".join(parts), stations, band)
        assert both.bands[band].verdict == whole.verdict == "in line"
        assert both.bands[band].counted == whole.counted
        assert both.bands[band].threshold_db == whole.threshold_db
        assert len([caution for caution in both.cautions if "each cover a part of the dial" in caution]) == 1


def test_a_second_whole_sweep_stays_a_second_sweep() -> None:
    """Two sweeps of one dial overlap."""
    stations, head, rows = _swept(4)
    again = [row.replace(",0,1,", ",0,2,") for row in rows]
    both = _check(head + "".join([*rows, *again]), stations)
    assert not [caution for caution in both.cautions if "part of the dial" in caution]


@pytest.mark.parametrize("how", ["random", "two passes", "three passes"])
@pytest.mark.parametrize("band", ["fm", "am"])
def test_rows_in_no_order_of_the_dial_are_sent_back(band: str, how: str) -> None:
    """At random, or in passes of two or three."""
    stations, head, rows = _swept(5, band)
    dice = random.Random(5)
    turned = {
        "random": dice.sample(rows, len(rows)),
        "three passes": rows[::3] + rows[1::3] + rows[2::3],
        "two passes": rows[::2] + rows[1::2],
    }
    with pytest.raises(SheetError, match=f"band {band}, sweep 1: the (rows follow no order of|readings go along) the dial"):
        _check(head + "".join(turned[how]), stations, band)


def test_rows_that_reading_noise_turned_round_stay_where_they_are() -> None:
    """About one in ten, and a slip of the pen or three: none is moved, and none is sent back."""
    rng = np.random.default_rng(6)
    turned = 0
    for _ in range(200):
        along = np.sort(rng.uniform(88e6, 108e6, rng.integers(8, 60)))
        read = along + rng.normal(0.0, 0.25e6, len(along))
        turned += int((np.diff(read) < 0).sum())
        if len(read) >= 30:
            read[rng.choice(np.arange(2, len(read) - 2), 3, replace=False)] = rng.uniform(88e6, 108e6, 3)
        for one in (read, read[::-1]):
            found = order_of(one)
            assert found.rows is None
            assert not found.disordered
    assert turned > 500


def test_a_row_without_a_reading_keeps_its_place_in_its_piece() -> None:
    """NaN moves with the row before it."""
    read = np.array([101e6, 103e6, np.nan, 106e6, 108e6, 88e6, 90e6, np.nan, 93e6, 95e6, 99e6])
    found = order_of(read)
    assert found.rows is not None
    assert found.rows.tolist() == [5, 6, 7, 8, 9, 10, 0, 1, 2, 3, 4]
    assert (found.direction, found.begins) == (1, 5)
