"""What the shop gave out: reference lists, checks as issued, and the sets known to be good that later checks rest on."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from typing import Any

from bandscan.store.connection import Connection


@dataclass(frozen=True)
class KnownGood:
    """The threshold of a radio known to be good, in the unit of its rig's levels; a bound is None where there is none."""

    family: str
    radio: str
    band: str
    rig: str
    unit: str
    threshold_db: float
    low_db: float | None
    high_db: float | None
    made_utc: str


@dataclass(frozen=True)
class Issued:
    """A check as issued.

    `json` is its check.json and `sheet` the sheet, both to the letter; `lists` are the files of the lists that it rests on, by
    band and file name.
    """

    job: str
    radio: str
    family: str
    made_utc: str
    version: str
    json: str
    sheet: str
    lists: dict[str, dict[str, str]]


class IssuedLog(Connection):
    """Reference lists, checks and known-good sets."""

    def keep_list(self, band: str, region: str, rig: str, made_utc: str, csv: str, about: str) -> tuple[str, str]:
        """Keep a reference list as its two files; the latest one stays if nothing but its time differs. Gives what is kept."""
        with self.transaction():
            latest = self.latest_list(band, rig)
            if latest is not None and latest[0] == csv and _timeless(latest[1]) == _timeless(about):
                return latest
            self.insert(
                "baselines", {"band": band, "region": region, "rig": rig, "made_utc": made_utc, "csv": csv, "json": about}
            )
        return csv, about

    def latest_list(self, band: str, rig: str) -> tuple[str, str] | None:
        """The two files of the latest reference list of a band and rig; None where there is none."""
        found = self.rows("SELECT csv, json FROM baselines WHERE band = ? AND rig = ? ORDER BY id DESC LIMIT 1", band, rig)
        return (found[0][0], found[0][1]) if found else None

    def keep_check(self, issued: Issued, known_good: Sequence[KnownGood] = ()) -> None:
        """Keep a check as issued, and what it tells of a set known to be good.

        A known-good sheet that comes again replaces what it told before.
        """
        with self.transaction():
            number = self.insert("checks", {**asdict(issued), "lists": json.dumps(issued.lists)})
            for one in known_good:
                self.db.execute(
                    "DELETE FROM known_good WHERE band = ? AND rig = ? AND unit = ?"
                    " AND checked IN (SELECT id FROM checks WHERE sheet = ?)",
                    (one.band, one.rig, one.unit, issued.sheet),
                )
                self.insert("known_good", {**asdict(one), "checked": number})

    def known_good(self, band: str, rig: str, unit: str) -> list[KnownGood]:
        """Sets known to be good, in the order in which they were recorded."""
        names = ", ".join(field.name for field in fields(KnownGood))
        found = self.rows(
            f"SELECT {names} FROM known_good WHERE band = ? AND rig = ? AND unit = ? ORDER BY id", band, rig, unit
        )
        return [KnownGood(*row) for row in found]

    def checks(self, job: str) -> list[Issued]:
        """Checks of a job as issued, oldest first."""
        names = [field.name for field in fields(Issued)]
        found = self.rows(f"SELECT {', '.join(names)} FROM checks WHERE job = ? ORDER BY id", job)
        kept = [dict(zip(names, row, strict=True)) for row in found]
        return [Issued(**{**row, "lists": json.loads(row["lists"])}) for row in kept]


def _timeless(about: str) -> dict[str, Any]:
    return {name: value for name, value in json.loads(about).items() if name != "made_utc"}
