"""How often each station was there, by the hour of the day: baseline/hours.py."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

import onair
import pandas as pd

from bandscan import tables
from bandscan.baseline.hours import by_hour
from bandscan.model import Survey

UTC, WEST = ZoneInfo("UTC"), ZoneInfo("America/Denver")
HEARD, SILENT, NEVER = 88_500_000, 91_300_000, 101_100_000


def survey(started: str, *stations_hz: int, overload: float = 0.0) -> Survey:
    channels = (HEARD, SILENT, NEVER)
    held = ["station" if channel in stations_hz else "empty" for channel in channels]
    frame = tables.empty(tables.STATIONS).reindex(range(len(channels)))
    frame = frame.assign(band="fm", channel_hz=channels, holds=held, recordings=1)
    checked = tables.check(frame, tables.STATIONS)
    return Survey(started or "undated", "fm", "us", "whip", started, started, None, False, overload, checked, checked)


def rows(hours: pd.DataFrame) -> list[tuple[int, ...]]:
    return list(hours[["channel_hz", "from_hour", "to_hour", "seen", "surveys"]].itertuples(index=False, name=None))


def test_stations_are_counted_by_the_part_of_the_day() -> None:
    """Two surveys before nine and one in the evening: each station's count of each part; a channel never held has no row."""
    surveys = [
        survey("2031-05-03T06:00:00Z", HEARD),
        survey("2031-05-04T08:59:59Z", HEARD, SILENT),
        survey("2031-05-04T21:00:00Z", HEARD),
    ]
    assert rows(by_hour(surveys, UTC)) == [
        (HEARD, 6, 9, 2, 2),
        (HEARD, 21, 24, 1, 1),
        (SILENT, 6, 9, 1, 2),
        (SILENT, 21, 24, 0, 1),
    ]


def test_hours_are_those_of_the_bench_summer_time_in_it() -> None:
    """Noon in UTC is five in the morning in Denver's winter and six in its summer (tz database: UTC-7 and UTC-6)."""
    winter, summer = survey("2031-01-10T12:00:00Z", HEARD), survey("2031-07-10T12:00:00Z", HEARD)
    assert rows(by_hour([winter, summer], WEST)) == [(HEARD, 3, 6, 1, 1), (HEARD, 6, 9, 1, 1)]


def test_undated_and_overloaded_surveys_tell_no_hour() -> None:
    """Neither is counted; where nothing is left the table is empty, with its columns."""
    none = by_hour([survey("", HEARD), survey("2031-05-03T06:00:00Z", HEARD, overload=0.01)], UTC)
    assert list(none.columns) == tables.HOURS.names
    assert len(none) == 0


def test_a_channel_that_a_survey_did_not_cover_is_not_counted_for_it() -> None:
    """Of two surveys in one part of the day one covered the second station."""
    part = survey("2031-05-03T07:00:00Z", HEARD)
    part = replace(part, stations=part.stations[part.stations["channel_hz"] == HEARD])
    assert rows(by_hour([part, survey("2031-05-03T08:00:00Z", HEARD, SILENT)], UTC)) == [
        (HEARD, 6, 9, 2, 2),
        (SILENT, 6, 9, 1, 1),
    ]


def test_a_recording_that_tells_nothing_is_not_counted() -> None:
    """A dead receiver is no survey without the station."""
    dead = survey("2031-05-03T07:00:00Z")
    dead = replace(dead, stations=dead.stations.assign(remarks="no-signal"))
    assert rows(by_hour([dead, survey("2031-05-03T08:00:00Z", HEARD)], UTC)) == [(HEARD, 6, 9, 1, 1)]


def test_a_deaf_survey_is_not_counted() -> None:
    """An antenna that was off is no survey without the stations."""
    levels = dict.fromkeys(range(88_100_000, 96_100_000, 800_000), -40.0)
    surveys = [onair.survey("fm", f"2031-05-0{day}T07:00:00Z", levels if day != 2 else {}) for day in (1, 2, 3)]
    hours = by_hour(surveys, UTC)
    assert set(zip(hours["seen"], hours["surveys"], strict=True)) == {(2, 2)}


def test_a_survey_in_doubt_is_not_counted() -> None:
    """Held twice and once in doubt: two of two."""
    surveys = [survey(f"2031-05-0{day}T07:00:00Z", HEARD) for day in (1, 2, 3)]
    doubtful = surveys[1].stations.assign(holds=["unsure", "empty", "empty"])
    assert rows(by_hour([surveys[0], replace(surveys[1], stations=doubtful), surveys[2]], UTC)) == [(HEARD, 6, 9, 2, 2)]
