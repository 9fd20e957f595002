"""names.csv: the shop's own names of stations, and which of them count."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pandas as pd

from bandscan import tables
from bandscan.errors import ShopError
from bandscan.plans import BANDS, plan_for

COLUMNS = tables.NAMES.names
_NEEDED = ("band", "channel_hz", "name")


def read_names(path: Path, region: str) -> pd.DataFrame:
    """The table NAMES; empty where there is no such file. A `count` that is left empty means yes.

    Spreadsheet habits are taken: a byte order mark, `;` or tabs between cells, blank lines, short rows.

    Args:
        path: the file.
        region: whose band plan the channels must be of.

    Raises:
        ShopError: cells are wrong; all of them are named by row and column.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return tables.empty(tables.NAMES)
    except UnicodeDecodeError as error:
        raise ShopError("not UTF-8", where=path, do="save the file as UTF-8") from error
    except OSError as error:
        raise ShopError(f"cannot be read: {error.strerror}", where=path) from error
    wrong: list[str] = []
    rows = _rows(text, region, wrong, path)
    if wrong:
        raise ShopError("; ".join(wrong), where=path, do="correct it and run the command again")
    return tables.check(pd.DataFrame(rows, columns=COLUMNS), tables.NAMES)


def _rows(text: str, region: str, wrong: list[str], path: Path) -> list[dict[str, object]]:
    first = text.lstrip().split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    try:
        lines = list(csv.reader(io.StringIO(text), delimiter=delimiter))
    except csv.Error as error:
        raise ShopError(f"not a table of cells: {error}", where=path, accepted="CSV text") from error
    numbered = [
        (number, [cell.strip() for cell in cells]) for number, cells in enumerate(lines, 1) if any(c.strip() for c in cells)
    ]
    if not numbered:
        return []
    at, header = numbered[0]
    names = [name.lower() for name in header]
    while names and not names[-1]:
        names.pop()
    missing = [name for name in _NEEDED if name not in names]
    unknown = [name for name in names if name not in COLUMNS]
    if missing or unknown or len(set(names)) < len(names):
        wrong.append(f"row {at}: the line of column names is {delimiter.join(header)!r} (accepted: {','.join(COLUMNS)})")
        return []
    seen: dict[tuple[str, int], int] = {}
    rows = []
    for number, cells in numbered[1:]:
        if any(cells[len(names) :]):
            wrong.append(
                f"row {number}: {len(cells)} cells for {len(names)} columns (put a name that holds {delimiter!r} in quotes)"
            )
            continue
        cell = dict.fromkeys(COLUMNS, "") | dict(zip(names, cells, strict=False))
        rows.append(_row(cell, number, region, wrong, seen))
    return rows


def _row(
    cell: dict[str, str], number: int, region: str, wrong: list[str], seen: dict[tuple[str, int], int]
) -> dict[str, object]:
    band = cell["band"].lower()
    channel = int(cell["channel_hz"]) if cell["channel_hz"].isascii() and cell["channel_hz"].isdigit() else 0
    count = cell["count"].lower() or "yes"
    if band not in BANDS:
        wrong.append(f"row {number} band {cell['band']!r} (accepted: fm or am)")
    elif channel not in plan_for(region, band).channels_hz:
        plan = plan_for(region, band)
        wrong.append(
            f"row {number} channel_hz {cell['channel_hz']!r} (accepted: a channel of {band} in region {region} in whole hertz,"
            f" {plan.channels_hz[0]} to {plan.channels_hz[-1]})"
        )
    elif (band, channel) in seen:
        wrong.append(f"row {number} channel_hz {channel}: named in row {seen[band, channel]} already (accepted: one row each)")
    seen.setdefault((band, channel), number)
    if not cell["name"]:
        wrong.append(f"row {number} name is empty (accepted: a text)")
    if count not in ("yes", "no"):
        wrong.append(f"row {number} count {cell['count']!r} (accepted: yes or no)")
    return {**cell, "band": band, "channel_hz": channel, "count": count}


def with_names(stations: pd.DataFrame, names: pd.DataFrame) -> pd.DataFrame:
    """STATIONS with the shop's own names."""
    own = {(row.band, row.channel_hz): row.name_ for row in names.rename(columns={"name": "name_"}).itertuples()}
    called = [own.get(place) for place in zip(stations["band"], stations["channel_hz"], strict=True)]
    return tables.check(stations.assign(name=pd.Series(called, index=stations.index, dtype="string")), tables.STATIONS)
