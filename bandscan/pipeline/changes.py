"""Before and after: which sweep of a job a new one is held against, and the files of the comparison."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import pandas as pd

from bandscan.errors import SheetError
from bandscan.model import BeforeAfter, RadioCheck
from bandscan.pipeline.files import Text, csv_text
from bandscan.radio import change_to_json, read_sheet
from bandscan.radio.header import swept_time
from bandscan.report import change_page
from bandscan.tally import standing

UNNAMED = "unnamed"  # a sheet without a job: nobody knows whether two of them are of one radio


@dataclass(frozen=True)
class Earlier:
    """A check of the same job that was made before: its sheet as written; `same_call` where it came with the new one."""

    sheet: str
    check: RadioCheck
    same_call: bool


def sweep_before(
    check: RadioCheck, sheet: str, earlier: Sequence[Earlier], families: Mapping[str, Mapping[str, str]] | None = None
) -> RadioCheck | None:
    """The latest sweep of the job before this one that has a band of it, as judged last; None where there is none.

    `families`: see `read_sheet`.

    Out of the log, the same sheet and the same time of sweep mean a correction of this sweep and no sweep before it, and so do
    the same ticks where one of them has no time: its date was written in since. The sheets of one call are different sweeps.
    One whose tally was left in the middle is none yet.
    """
    if check.job == UNNAMED or standing(sheet) is not None:
        return None
    moment = _moment(check)
    found: list[tuple[datetime, int]] = []
    for place, one in enumerate(earlier):
        if (check.bands and check.bands.keys().isdisjoint(one.check.bands)) or standing(one.sheet) is not None:
            continue
        before = _moment(one.check)
        known = moment is not None and before is not None
        if one.sheet == sheet or (known and (before > moment or (before == moment and not one.same_call))):  # type: ignore[operator]
            continue
        if not known and not one.same_call and _ticks(one.sheet, families) == _ticks(sheet, families):
            continue
        found.append((before or datetime.min, place))
    return earlier[max(found)[1]].check if found else None


def _ticks(sheet: str, families: Mapping[str, Mapping[str, str]] | None) -> str:
    """What was heard, without header and remarks; totals as they are."""
    try:
        return str(read_sheet(sheet, "", families).ticks.drop(columns="remark").to_csv())
    except SheetError:
        return sheet


def _moment(check: RadioCheck) -> datetime | None:
    return swept_time({"swept": check.swept})


def change_papers(change: BeforeAfter, region: str) -> dict[str, Text]:
    """File names and texts of a comparison, beside those of the later check."""
    return {
        "before-after.json": json.dumps(change_to_json(change), indent=2, ensure_ascii=False, allow_nan=False) + "\n",
        "before-after.csv": csv_text(_rows(change)),
        "before-after.html": lambda library: change_page(change, region=region, library=library),
    }


def _rows(change: BeforeAfter) -> pd.DataFrame:
    """One row for each station of both lists, in dial order within the band."""
    heard = {True: "yes", False: "no", None: "unsure"}
    rows = [
        {
            "band": band,
            "channel_hz": station.channel_hz,
            "name": station.name,
            "level_before_db": station.level_before_db,
            "level_after_db": station.level_after_db,
            "level_unit": one.unit,
            "heard_before": heard[station.heard_before],
            "heard_after": heard[station.heard_after],
            "off_air": "yes" if station.off_air else "no",
            "change": "gained" if station.channel_hz in one.gained else "lost" if station.channel_hz in one.lost else "",
        }
        for band, one in change.bands.items()
        for station in one.stations
    ]
    columns = ("band", "channel_hz", "name", "level_before_db", "level_after_db", "level_unit")
    return pd.DataFrame(rows, columns=[*columns, "heard_before", "heard_after", "off_air", "change"])
