"""Recordings as measured and the surveys made of them.

A recording is known by its content (`digest`) and the settings with which it was measured. What is kept of it are figures, so
that a survey can be gathered anew when a recording joins it later, even when the recording itself is long gone.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import pandas as pd

from bandscan import tables
from bandscan.model import Measured, Survey, parse_utc, utc_text
from bandscan.store.cells import about, record, to_frames
from bandscan.store.connection import Connection

_LONGEST_S = 86400.0  # no survey is longer than a day: a chain of recordings that goes on and on is the only one that could be
# what a station's history tells of each survey -> where it stands
HISTORY = {
    "survey": "surveys.survey",
    "rig": "surveys.rig",
    "started_utc": "surveys.started_utc",
    **{
        name: f"stations.{name}"
        for name in (
            *("band", "channel_hz", "holds", "level_dbfs", "level_sd_db", "noise_dbfs", "snr_db", "level_dbuv"),
            *("pilot", "pilot_dev_hz", "rds_pi", "rds_ps", "recordings", "remarks"),
        )
    },
}
_HISTORY = HISTORY.values()
_PLACE = ("band", "region", "rig", "forged", "survey_id")


class SurveyLog(Connection):
    """Recordings and surveys."""

    def measured(self, digest: str, settings: str) -> list[Measured] | None:
        """What was measured of a recording with these settings; None if it was not, or not all of it."""
        found = self.rows(
            "SELECT id, complete FROM recordings WHERE digest = ? AND settings = ? ORDER BY segment", digest, settings
        )
        if not found or not all(complete for _, complete in found):
            return None
        return [self._measured(number) for number, _ in found]

    def keep_measured(
        self, digest: str, settings: str, path: Path, measured: Sequence[Measured], *, complete: bool, now_utc: str
    ) -> None:
        """Keep what was measured of one recording. It enters a survey later, see `fresh`.

        What is there already, from another program that was quicker, stays as it is.
        """
        with self.transaction():
            if self.measured(digest, settings) is not None:
                return
            self.db.execute("DELETE FROM recordings WHERE digest = ? AND settings = ?", (digest, settings))
            for segment, one in enumerate(measured):
                number = self.insert(
                    "recordings",
                    {
                        **dict(zip(_PLACE, _place(one), strict=True)),
                        "digest": digest,
                        "settings": settings,
                        "segment": segment,
                        "complete": int(complete),
                        "name": one.recording,
                        "path": str(path),
                        "started_utc": _whole_second(one.started_utc),
                        "about": about(one),
                        "logged_utc": now_utc,
                    },
                )
                self.insert_frame("readings", one.readings, number)

    def has_survey_id(self, band: str, survey_id: str) -> bool:
        """Whether a recording of the band carries this survey id."""
        return bool(self.rows("SELECT 1 FROM recordings WHERE band = ? AND survey_id = ? LIMIT 1", band, survey_id))

    def fresh(self, digests: Collection[str]) -> list[Measured]:
        """Recordings that are in no survey yet: the named ones, and any whose program was stopped before it got so far.

        Where one was measured with several settings, the latest count.
        """
        found = self.rows(
            "SELECT id FROM recordings AS r WHERE NOT EXISTS (SELECT 1 FROM survey_recordings WHERE recording = r.id)"
            " AND settings = (SELECT settings FROM recordings WHERE digest = r.digest ORDER BY id DESC LIMIT 1) ORDER BY id"
        )
        # an undated recording joins those of its own call only: one left over from another call would change their survey
        return [
            one
            for one in (self._measured(number) for (number,) in found)
            if one.digest in digests or one.survey_id or parse_utc(one.started_utc) is not None
        ]

    def fellows(self, fresh: Sequence[Measured], gap_s: float) -> list[Measured]:
        """Recordings of the log whose survey changes when `fresh` ones come in.

        Those are the members of surveys that held an older measurement of a fresh one, those with the same survey id, and
        dated ones that start within `gap_s` of one another up to a fresh one.
        """
        digests = {one.digest for one in fresh}
        own = {number for digest in digests for (number,) in self.rows("SELECT id FROM recordings WHERE digest = ?", digest)}
        found: dict[int, Measured] = {}
        frontier = list(fresh)
        numbers = {number for digest in digests for number in self._once_beside(digest)}
        while frontier or numbers:
            # those of one survey id have the same fellows: an hour's capture is more than a thousand of them
            marked = {_place(one): one for one in frontier if one.survey_id}
            for one in (*marked.values(), *(one for one in frontier if not one.survey_id)):
                numbers.update(self._beside(one, gap_s))
            reached = {number: self._measured(number) for number in numbers - set(found) - own}
            found |= reached
            frontier, numbers = list(reached.values()), set()
        return list(found.values())

    def _once_beside(self, digest: str) -> list[int]:
        found = self.rows(
            "SELECT DISTINCT other.recording FROM recordings AS r JOIN survey_recordings AS own ON own.recording = r.id"
            " JOIN survey_recordings AS other ON other.survey = own.survey WHERE r.digest = ?",
            digest,
        )
        return [number for (number,) in found]

    def _beside(self, one: Measured, gap_s: float) -> list[int]:
        query = f"SELECT id FROM recordings WHERE {' AND '.join(f'{name} = ?' for name in _PLACE)}"
        start = parse_utc(one.started_utc)
        if one.survey_id:
            found = self.rows(query, *_place(one))
        elif start is not None:
            # the log keeps whole seconds
            low, high = (utc_text(start + timedelta(seconds=sign * (gap_s + 1))) for sign in (-1, 1))
            found = self.rows(f"{query} AND started_utc BETWEEN ? AND ?", *_place(one), low, high)
        else:
            found = []
        return [number for (number,) in found]

    def _measured(self, number: int) -> Measured:
        ((text,),) = self.rows("SELECT about FROM recordings WHERE id = ?", number)
        return record(Measured, text, readings=self.frame("readings", number))

    def put_survey(self, survey: Survey, members: Sequence[Measured], version: str, now_utc: str) -> None:
        """Keep a survey of these recordings in place of any that holds one of them. Call it within a `transaction`."""
        numbers = []
        for one in members:
            ((number, settings),) = self.rows(
                "SELECT id, settings FROM recordings WHERE digest = ? AND name = ? ORDER BY id DESC LIMIT 1",
                *(one.digest, one.recording),
            )
            numbers.append(number)
            older = "SELECT id FROM recordings WHERE digest = ? AND settings != ?"
            self.db.execute(
                "DELETE FROM surveys WHERE id IN"
                f" (SELECT survey FROM survey_recordings WHERE recording = ? OR recording IN ({older}))",
                (number, one.digest, settings),
            )
            self.db.execute(f"DELETE FROM recordings WHERE id IN ({older})", (one.digest, settings))
        self.db.execute("DELETE FROM surveys WHERE survey = ?", (survey.id,))
        owner = self.insert(
            "surveys",
            {
                "survey": survey.id,
                "band": survey.band,
                "region": survey.region,
                "rig": survey.rig,
                "started_utc": survey.started_utc,
                "version": version,
                "about": about(survey),
                "logged_utc": now_utc,
            },
        )
        self.db.executemany("INSERT INTO survey_recordings VALUES (?, ?)", [(owner, number) for number in numbers])
        self.insert_frame("survey_rows", survey.rows, owner)
        self.insert_frame("stations", survey.stations, owner)

    def surveys_of(self, digests: Collection[str]) -> list[Survey]:
        """Surveys that hold these recordings, oldest first, whole."""
        owners = {
            owner
            for digest in digests
            for (owner,) in self.rows(
                "SELECT survey FROM survey_recordings AS s JOIN recordings AS r ON r.id = s.recording WHERE r.digest = ?",
                digest,
            )
        }
        found = [self._survey(owner, self.frame("survey_rows", owner)) for owner in owners]
        return sorted(found, key=lambda survey: (survey.started_utc, survey.band, survey.id))

    def surveys(self, band: str, rig: str, region: str, days: float | None = None) -> list[Survey]:
        """Surveys of a band and rig, oldest first, without their rows per recording.

        `days` leaves out those that started so many days before the newest; undated ones stay.
        """
        place = "band = ? AND rig = ? AND region = ?"
        if days is None:
            return self._without_rows(place, band, rig, region)
        ((newest,),) = self.rows(f"SELECT coalesce(max(started_utc), '') FROM surveys WHERE {place}", band, rig, region)
        since_utc = _earlier(newest, days * 86400.0)
        return self._without_rows(f"{place} AND (started_utc = '' OR started_utc >= ?)", band, rig, region, since_utc)

    def survey_count(self, band: str, rig: str, region: str) -> int:
        """How many surveys of a band and rig there are."""
        ((count,),) = self.rows("SELECT count(*) FROM surveys WHERE band = ? AND rig = ? AND region = ?", band, rig, region)
        return int(count)

    def surveys_between(self, band: str, rig: str, region: str, low_utc: str, high_utc: str) -> list[Survey]:
        """Surveys of a band and rig that were under way between two moments, oldest first, without their rows per recording."""
        surveys = self._without_rows(
            "band = ? AND rig = ? AND region = ? AND started_utc BETWEEN ? AND ?",
            *(band, rig, region, _earlier(low_utc, _LONGEST_S), high_utc),
        )
        return [one for one in surveys if one.ended_utc >= low_utc]

    def rigs(self, band: str) -> list[str]:
        """Rigs of which there are surveys of this band, by name."""
        return [rig for (rig,) in self.rows("SELECT DISTINCT rig FROM surveys WHERE band = ? ORDER BY rig", band)]

    def _survey(self, owner: int, rows: pd.DataFrame) -> Survey:
        ((text,),) = self.rows("SELECT about FROM surveys WHERE id = ?", owner)
        return record(Survey, text, rows=rows, stations=self.frame("stations", owner))

    def _without_rows(self, where: str, *values: object) -> list[Survey]:
        """Surveys with their stations, in two queries."""
        found = self.rows(f"SELECT id, about FROM surveys WHERE {where} ORDER BY started_utc, id", *values)
        rows = self.rows(
            f"SELECT owner, {', '.join(tables.STATIONS.names)} FROM stations"
            f" WHERE owner IN (SELECT id FROM surveys WHERE {where}) ORDER BY rowid",
            *values,
        )
        stations, nothing = to_frames(rows, tables.STATIONS), tables.empty(tables.SURVEY)
        none = tables.empty(tables.STATIONS)
        return [record(Survey, text, rows=nothing, stations=stations.get(owner, none)) for owner, text in found]

    def history(self, band: str, channel_hz: int, rig: str | None = None) -> pd.DataFrame:
        """What every survey held in one channel, oldest first, of one rig or of all: columns HISTORY."""
        found = self.rows(
            f"SELECT {', '.join(_HISTORY)} FROM stations JOIN surveys ON surveys.id = owner"
            " WHERE stations.band = ? AND channel_hz = ? AND (? IS NULL OR rig = ?) ORDER BY rig, started_utc, surveys.id",
            *(band, channel_hz, rig, rig),
        )
        return pd.DataFrame(found, columns=list(HISTORY))

    def survey_facts(self) -> Iterator[dict[str, Any]]:
        """What is known of each survey besides its tables, oldest first; `recordings` and `stations` are how many."""
        for *counts, text in self._cursor(
            "SELECT version, logged_utc, (SELECT count(*) FROM survey_recordings WHERE survey = s.id),"
            " (SELECT count(*) FROM stations WHERE owner = s.id AND holds = 'station'), about"
            " FROM surveys AS s ORDER BY started_utc, id"
        ):
            yield {**json.loads(text), **dict(zip(("version", "logged_utc", "recordings", "stations"), counts, strict=True))}

    def station_rows(self) -> Iterator[tuple[Any, ...]]:
        """Every survey's STATIONS, oldest survey first: its id, rig and start, then the table's columns."""
        columns = ", ".join(f"stations.{name}" for name in tables.STATIONS.names)
        yield from self._cursor(
            f"SELECT surveys.survey, surveys.rig, surveys.started_utc, {columns} FROM surveys"
            " JOIN stations ON owner = surveys.id ORDER BY surveys.started_utc, surveys.id, stations.rowid"
        )

    def survey_ids(self, *, before_utc: str | None = None) -> list[str]:
        """Ids of all surveys, or of those that started before a moment (never an undated one), oldest first."""
        found = self.rows(
            "SELECT survey FROM surveys WHERE ? IS NULL OR (started_utc != '' AND started_utc < ?) ORDER BY started_utc, id",
            *(before_utc, before_utc),
        )
        return [survey for (survey,) in found]

    def surveys_of_time(self, band: str, rig: str, first_utc: str, last_utc: str) -> list[str]:
        """Ids of a band's and rig's surveys that started between two moments, both with it, and of its undated ones."""
        found = self.rows(
            "SELECT survey FROM surveys WHERE band = ? AND rig = ? AND (started_utc = '' OR started_utc BETWEEN ? AND ?)",
            *(band, rig, first_utc, last_utc),
        )
        return [survey for (survey,) in found]

    def forget_surveys(self, ids: Collection[str]) -> None:
        """Take surveys out of the log, and those of their recordings that are in no other. Call it within a `transaction`."""
        for survey in ids:
            for (owner,) in self.rows("SELECT id FROM surveys WHERE survey = ?", survey):
                # a recording that stayed without a survey would be gathered into a new one
                self.db.execute(
                    "DELETE FROM recordings WHERE id IN (SELECT recording FROM survey_recordings WHERE survey = ?)"
                    " AND NOT EXISTS (SELECT 1 FROM survey_recordings AS o WHERE o.recording = recordings.id AND survey != ?)",
                    (owner, owner),
                )
                self.db.execute("DELETE FROM surveys WHERE id = ?", (owner,))


def _place(one: Measured) -> tuple[object, ...]:
    return (one.band, one.region, one.rig, int(one.forged), one.survey_id)


def _earlier(moment_utc: str, seconds: float) -> str:
    moment = parse_utc(moment_utc)
    return "" if moment is None else utc_text(moment - timedelta(seconds=seconds))


def _whole_second(started_utc: str) -> str:
    start = parse_utc(started_utc)
    return utc_text(start) if start is not None else ""
