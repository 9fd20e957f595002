"""The shop's log as one thing: recordings and surveys, reference lists and checks as issued."""

from __future__ import annotations

from typing import Any

from bandscan.store.issued import IssuedLog
from bandscan.store.surveys import SurveyLog


class Log(SurveyLog, IssuedLog):
    """One open log; use it in a `with` statement.

    Every method raises LogError, with one line, where the file cannot be read or written.
    """

    def contents(self) -> dict[str, list[tuple[Any, ...]]]:
        """What the log holds, oldest first.

        `surveys`: id, band, rig, start, number of recordings, number of stations. `lists`: band, rig, time made.
        `checks`: job, radio, family, time made, check.json.
        """
        return {
            "surveys": self.rows(
                "SELECT survey, band, rig, started_utc, (SELECT count(*) FROM survey_recordings WHERE survey = s.id),"
                " (SELECT count(*) FROM stations WHERE owner = s.id AND holds = 'station')"
                " FROM surveys AS s ORDER BY started_utc, id"
            ),
            "lists": self.rows("SELECT band, rig, made_utc FROM baselines ORDER BY id"),
            "checks": self.rows("SELECT job, radio, family, made_utc, json FROM checks ORDER BY id"),
        }
