"""Sweeps of known-good radios -> a list without levels: baseline/sweeps.py."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

import pandas as pd
import pytest

from bandscan import tables
from bandscan.baseline import Sweep, from_files, from_sweeps, to_files
from bandscan.errors import BaselineError
from bandscan.model import Baseline, Sheet

MADE = "2026-03-10T12:00:00Z"


def sweep(*stops: tuple[Any, ...], band: str = "am", day: int = 3, **header: str) -> Sweep:
    """A sheet of stops: reading in Hz, grade, lamp, name, attenuator."""
    usual = (None, "3", "", "", 0.0)
    rows = [(*stop, *usual[len(stop) :]) for stop in stops]
    table = pd.DataFrame(rows, columns=["dial_hz", "grade", "lamp", "name", "pad_db"])
    table = table.assign(band=band, sweep="1", dial="", remark="")
    sheet = Sheet({"dial": "digits", **header}, tables.check(table, tables.SHEET), source="good.csv")
    return Sweep(sheet, datetime(2026, 3, day, 19, tzinfo=UTC))


def listed(sweeps: Sequence[Sweep], band: str = "am", names: pd.DataFrame | None = None, hours: str | None = "day") -> Baseline:
    """The list of these sweeps."""
    own = tables.empty(tables.NAMES) if names is None else names
    return from_sweeps(sweeps, band, "us", "whip", own, MADE, "0.1.0", hours)


def test_stations_of_digital_dials_are_counted_without_levels() -> None:
    """Three sweeps: share of the sweeps, no level in any column, span of time, and what the list cannot tell."""
    one = listed([sweep((600e3,), (1010e3,), day=3), sweep((600e3,), (1010e3,), day=5), sweep((600e3,), (1400e3,), day=8)])
    rows = one.stations
    assert rows["channel_hz"].tolist() == [600_000, 1_010_000, 1_400_000]
    assert rows["seen"].tolist() == [3, 2, 1]
    assert rows["surveys"].tolist() == [3, 3, 3]
    assert rows["steadiness"].tolist() == ["steady", "fading", "fading"]
    assert rows[["level_db", "level_unit", "spread_db", "snr_db", "identity"]].isna().all(axis=None)
    assert (one.valid, one.first_utc, one.last_utc) == ("day", "2026-03-03T19:00:00Z", "2026-03-08T19:00:00Z")
    assert (one.grade, one.grade_reason) == ("B", "3 sweeps of known-good radios, without levels")
    assert one.survey_ids == ()
    assert one.cautions == ("made from 3 sweeps of known-good radios: missed and extra stations can be told, but no decibels",)
    again = from_files(*to_files(one).values())
    pd.testing.assert_frame_equal(again.stations, one.stations)


def test_only_stops_that_were_followed_make_a_list() -> None:
    """A trace, a whistle and a repeat are no stations; two programmes at once are; what only the pad let through counts not."""
    one = listed([sweep((600e3, "1"), (700e3, "W"), (800e3, "R"), (900e3, "M"), (1000e3, "2"), (1100e3, "3", "", "", 20.0))])
    assert one.stations["channel_hz"].tolist() == [900_000, 1_000_000]


def test_readings_of_pointers_that_stand_near_are_one_station() -> None:
    """1010 as 1000 and 1020 on two dials is one station; neighbours of one sheet stay two; the list says how sure it is."""
    one = listed([sweep((1000e3,), (1040e3,), dial="pointer"), sweep((1020e3,), (1060e3,), dial="pointer")])
    assert one.stations["channel_hz"].tolist() == [1_010_000, 1_050_000]
    assert one.stations["seen"].tolist() == [2, 2]
    assert set(one.stations["remarks"]) == {"read-by-pointer"}
    assert one.cautions[1].startswith("channels are as pointers read them, right to a channel or two")


def test_lamps_and_names_are_taken() -> None:
    """Stereo is the share of lamps that were on; the shop's own name comes first, else the one that was heard."""
    own = {"band": ["fm"], "channel_hz": [98_100_000], "name": ["Own"], "count": ["no"], "remark": [""]}
    names = tables.check(pd.DataFrame(own), tables.NAMES)
    sweeps = [
        sweep((98.1e6, "3", "on", "Heard"), (99.9e6, "3", "off", "Dial Nine"), band="fm"),
        sweep((98.1e6, "3", "off"), (99.9e6,), (101.3e6,), band="fm"),
    ]
    rows = listed(sweeps, "fm", names).stations
    assert rows["name"].fillna("").tolist() == ["Own", "Dial Nine", ""]
    assert rows["stereo"].fillna(-1.0).tolist() == [0.5, 0.0, -1.0]
    assert rows["remarks"].fillna("").tolist() == ["not-counted", "", ""]
    assert set(rows["valid"]) == {"any"}


def test_what_tells_no_station_is_refused_or_said() -> None:
    """No followed stop, an FM dial with AM numerals: one line; a stop without a reading: counted in a caution."""
    with pytest.raises(BaselineError, match=r"good\.csv: no AM station was followed; accepted: grades 3, 2 or M"):
        listed([sweep((600e3, "1"))])
    with pytest.raises(BaselineError, match=r"good\.csv: an FM dial with AM numerals tells no channel"):
        listed([sweep((98.1e6,), band="fm", numerals="am")], "fm")
    with pytest.raises(BaselineError, match=r"good\.csv: AM was swept through an attenuator.*; sweep AM without it, or "):
        listed([sweep((600e3,)), sweep((600e3, "3", "", "", 10.0))])
    fm = listed([sweep((98.1e6, "3", "", "", 10.0), band="fm")], "fm")
    assert (len(fm.stations), len(fm.cautions)) == (1, 1)
    one = listed([sweep((600e3,), (700e3, "3", "", "", 10.0))])
    assert one.cautions[1] == "AM rows with an attenuator: 1; left out, since 50 ohm across the lead make any set deaf"
    one = listed([sweep((600e3,), (None, "3"))], hours=None)
    assert one.cautions[1] == "1 stop without a reading is left out"
    assert one.cautions[2].startswith("taken as a daytime list")
