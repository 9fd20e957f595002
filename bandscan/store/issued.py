"""What the shop gave out: reference lists, checks as issued, and the sets known to be good that later checks rest on."""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any

from bandscan.store.connection import Connection


@dataclass(frozen=True)
class KnownGood:
    """A check of a radio known to be good: `json` is its check.json, which tells its thresholds, `lists` as in `Issued`."""

    family: str
    radio: str
    job: str
    made_utc: str
    json: str
    lists: dict[str, dict[str, str]]


@dataclass(frozen=True)
class Issued:
    """A check as issued.

    `json` is its check.json and `sheet` the sheet, both to the letter; `lists` are the files of the lists that it rests on, by
    band and file name; `papers` are the files that were given out, by name, none where a bandscan that kept none issued it.
    """

    job: str
    radio: str
    family: str
    made_utc: str
    version: str
    json: str
    sheet: str
    lists: dict[str, dict[str, str]]
    papers: dict[str, str] = field(default_factory=dict)


class IssuedLog(Connection):
    """Reference lists, checks and known-good sets."""

    def keep_list(self, band: str, region: str, rig: str, made_utc: str, csv: str, about: str) -> tuple[str, str]:
        """Keep a reference list as its two files; the latest of the same hours stays if nothing but its time differs.

        Gives what is kept.
        """
        with self.transaction():
            latest = self.latest_list(band, rig, json.loads(about).get("valid") or "")
            if latest is not None and latest[0] == csv and _timeless(latest[1]) == _timeless(about):
                return latest
            self.insert(
                "baselines", {"band": band, "region": region, "rig": rig, "made_utc": made_utc, "csv": csv, "json": about}
            )
        return csv, about

    def latest_list(self, band: str, rig: str, valid: str = "") -> tuple[str, str] | None:
        """The two files of the latest reference list of a band and rig; None where there is none.

        `valid` names the hours for which it is meant, `day` or `night`; a list that does not tell its hours fits any.
        """
        found = self.rows(
            "SELECT csv, json FROM baselines WHERE band = ? AND rig = ?"
            " AND (? = '' OR coalesce(json_extract(json, '$.valid'), ?) = ?) ORDER BY id DESC LIMIT 1",
            *(band, rig, valid, valid, valid),
        )
        return (found[0][0], found[0][1]) if found else None

    def listed_rigs(self, band: str) -> list[str]:
        """Rigs of which there are reference lists of this band, by name."""
        return [rig for (rig,) in self.rows("SELECT DISTINCT rig FROM baselines WHERE band = ? ORDER BY rig", band)]

    def keep_check(self, issued: Issued, rigs: Mapping[str, str] | None = None) -> None:
        """Keep a check as issued.

        Args:
            issued: the check.
            rigs: the rig of each band, where the radio is known to be good; a sheet that comes again then takes its own place.
        """
        with self.transaction():
            packed = zlib.compress(json.dumps(issued.papers).encode())
            number = self.insert("checks", {**asdict(issued), "lists": json.dumps(issued.lists), "papers": packed})
            for band, rig in (rigs or {}).items():
                self.db.execute(
                    "DELETE FROM known_good WHERE band = ? AND rig = ? AND checked IN (SELECT id FROM checks WHERE sheet = ?)",
                    (band, rig, issued.sheet),
                )
                self.insert("known_good", {"checked": number, "band": band, "rig": rig})

    def known_good(self, band: str, rig: str) -> list[KnownGood]:
        """Sets known to be good, in the order in which they were recorded."""
        names = [one.name for one in fields(KnownGood)]
        found = self.rows(
            f"SELECT {', '.join(names)} FROM known_good JOIN checks ON checks.id = checked"
            " WHERE band = ? AND rig = ? ORDER BY known_good.id",
            *(band, rig),
        )
        kept = (dict(zip(names, row, strict=True)) for row in found)
        return [KnownGood(**{**one, "lists": json.loads(one["lists"])}) for one in kept]

    def checks(self, job: str) -> list[Issued]:
        """Checks of a job as issued, oldest first."""
        found = self.rows(f"SELECT {', '.join(_ISSUED)} FROM checks WHERE job = ? ORDER BY id", job)
        return [_issued(row) for row in found]

    def every_check(self) -> Iterator[Issued]:
        """All checks as issued, oldest first, without their papers, one after the other: all at once would be too much."""
        names = [name for name in _ISSUED if name != "papers"]
        for (number,) in self.rows("SELECT id FROM checks ORDER BY id"):
            for row in self.rows(f"SELECT {', '.join(names)}, NULL FROM checks WHERE id = ?", number):
                yield _issued(row)

    def known_good_checks(self) -> set[tuple[int, str]]:
        """Which checks are kept as known-good sets: place in `every_check`, and band."""
        places = {number: place for place, (number,) in enumerate(self.rows("SELECT id FROM checks ORDER BY id"))}
        return {(places[number], band) for number, band in self.rows("SELECT checked, band FROM known_good")}

    def forget_checks(self, job: str) -> int:
        """Take the checks of a job out of the log, as known-good sets too; how many. Call it within a `transaction`."""
        self.db.execute("DELETE FROM known_good WHERE checked IN (SELECT id FROM checks WHERE job = ?)", (job,))
        return self.db.execute("DELETE FROM checks WHERE job = ?", (job,)).rowcount


_ISSUED = [one.name for one in fields(Issued)]


def _issued(row: tuple[Any, ...]) -> Issued:
    kept = dict(zip(_ISSUED, row, strict=True))
    papers = json.loads(zlib.decompress(kept["papers"])) if kept["papers"] is not None else {}
    return Issued(**{**kept, "lists": json.loads(kept["lists"]), "papers": papers})


def _timeless(about: str) -> dict[str, Any]:
    return {name: value for name, value in json.loads(about).items() if name != "made_utc"}
