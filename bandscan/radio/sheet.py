"""A count sheet: CSV text as people and spreadsheets write it, into a `Sheet`.

Header lines are `# key: value`; a `#` line without a colon is a remark and is skipped. Then one line of column names (it may be
missing where the columns stand in the contract's order) and one row per stop on the dial, in the order heard. Byte order marks,
`;` or tabs between cells, decimal commas, blank lines and quoted cells are taken; a row in which neither dial nor grade
nor lamp is filled in was not heard. Every cell that cannot be understood is named
by row and column, all in one `SheetError`.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from bandscan import tables
from bandscan.errors import SheetError
from bandscan.model import Sheet
from bandscan.plans import BANDS
from bandscan.radio.dial import ACCEPTED, read_dial
from bandscan.radio.header import KEYS, WANTED, wrong_value

COLUMNS = ("band", "dial", "grade", "lamp", "pad_db", "sweep", "name", "remark")
MOST_ROWS = 2000
_MOST_NAMED = 100
_TOLD_OFTEN = ("job", "swept")  # before a number they are no remark, though the colon lacks
_SWEEP_ROWS = 8  # a few stations may lie close together, a whole sweep's do not
_ORDERED = 0.9  # correlation of readings with their order
_SWEEP = re.compile(r"([1-9][0-9]?)\s*(up|down)?")
_GRADES = {grade.lower(): grade for grade in tables.GRADES}


@dataclass
class _Gathered:
    """What is understood so far, and what is wrong."""

    header: dict[str, str] = field(default_factory=dict)
    rows: list[dict[str, object]] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    ungraded: int = 0
    unfilled: int = 0
    unknown_keys: list[str] = field(default_factory=list)


def read_sheet(text: str, source: str) -> Sheet:
    """The sheet that a CSV text holds; `source` is what messages call it.

    Raises:
        SheetError: cells cannot be understood; all of them are named in its one line.
    """
    got = _Gathered()
    names: list[str] | None = None
    try:
        lines = list(_lines(text.removeprefix("\ufeff")))
    except csv.Error as error:
        raise SheetError(
            f"not a table of cells: {error}", where=source, accepted="CSV text", do="save it as CSV again"
        ) from error
    delimiter = _delimiter(text)
    for row, cells in lines:
        if cells[0].lstrip().startswith("#"):
            _read_header_line(delimiter.join(cells), row, got)
    for row, cells in lines:
        if cells[0].lstrip().startswith("#"):
            continue
        if any("\n" in cell or "\r" in cell for cell in cells):
            got.wrong.append(f"row {row}: a quotation mark is not closed")
        elif names is None:
            names, is_row = _column_names(cells, row, got)
            if not names:
                break
            if is_row:
                _read_row(cells, row, names, got)
        elif _named_as(cells) == names:
            continue  # the column names again, between sheets put together
        else:
            _read_row(cells, row, names, got)
    if names is None and not got.wrong and "bands" not in got.header:
        got.wrong.append("there is no row and no line of column names")
    if len(got.rows) > MOST_ROWS:
        got.wrong.append(f"{len(got.rows)} rows are more than any dial holds (at most {MOST_ROWS})")
    got.wrong += _other_order(got.rows)
    if _reads_like_fm(got.rows):
        got.wrong.append(
            "band am: every dial reading is one of FM in MHz (band fm; if they are tenths of AM, write kHz, as 890)"
        )
    if got.wrong:
        raise _all_wrong(got.wrong, source)
    return Sheet(got.header, _table(got.rows), source=source, cautions=_cautions(got))


def _reads_like_fm(rows: list[dict[str, object]]) -> bool:
    """Whether a sweep of AM is more likely one of FM: taken for AM's tenths its readings keep to a fifth of the dial."""
    read = [row for row in rows if row["band"] == "am" and row.get("dial_hz") is not None]
    short = [row for row in read if re.match(r"(8[7-9]|9\d|10[0-8])(?!\d)", str(row["dial"]))]
    return len(short) >= _SWEEP_ROWS and len(short) == len(read)


def _other_order(rows: list[dict[str, object]]) -> list[str]:
    """Sweeps whose readings go the other way than their name says, or rise and fall again, or begin again: two sweeps under one
    name. What to do about each."""
    sweeps: dict[tuple[object, ...], list[float]] = {}
    for row in rows:
        if isinstance(hz := row.get("dial_hz"), float) and row["grade"] in ("3", "2", "1"):
            sweeps.setdefault((row["band"], row.get("sweep"), row["pad_db"]), []).append(hz)
    found = []
    for (band, sweep, _), reading_hz in sweeps.items():
        if (turned := _turned(str(sweep), reading_hz)) is not None:
            found.append(f"band {band}, sweep {sweep}: the readings {turned}")
        middle = len(reading_hz) // 2
        if middle >= _SWEEP_ROWS and reading_hz[0::2] == reading_hz[1::2] and len(set(reading_hz)) == middle:
            found.append(f"band {band}, sweep {sweep}: every row stands there twice (take one of each two out)")
        if middle < _SWEEP_ROWS:
            continue
        halves = (reading_hz[:middle], reading_hz[middle:])
        whole = max(reading_hz) - min(reading_hz)
        if not all(max(half) - min(half) > 0.7 * whole > 0.0 for half in halves):
            continue
        if min(abs(np.corrcoef(np.arange(len(half)), half)[0, 1]) for half in halves) > _ORDERED:
            found.append(
                f"band {band}, sweep {sweep}: the readings go along the dial twice (give the second sweep a name of its own in "
                "`sweep`: 2, or 2down for one from the top)"
            )
    return found


def _turned(sweep: str, reading_hz: list[float]) -> str | None:
    """What to write where nearly all readings go the other way than the sweep's name: rows in a wrong order fit no radio."""
    up = sweep.endswith("up")
    if len(reading_hz) < _SWEEP_ROWS or not (up or sweep.endswith("down")) or max(reading_hz) == min(reading_hz):
        return None
    along = float(np.corrcoef(np.arange(len(reading_hz)), reading_hz)[0, 1])
    if (-along if up else along) <= _ORDERED:
        return None
    number, other = sweep.removesuffix("up").removesuffix("down"), "down" if up else "up"
    return f"go {other} the dial (write {number}{other} in `sweep`, or put the rows in the order heard)"


def totals_sheet(totals: Mapping[str, int]) -> Sheet:
    """A sheet that holds bare totals: stations followed per band, without a sweep behind them.

    Raises:
        SheetError: a band is not `fm` or `am`, or a total is no count.
    """
    wrong = [f"{band} is no band" for band in totals if band not in BANDS]
    wrong += [f"{band} counts {count}" for band, count in totals.items() if not 0 <= count <= MOST_ROWS]
    if wrong or not totals:
        raise SheetError(
            "; ".join(wrong) or "no total is given", where="totals", accepted=f"fm or am and a count of 0 to {MOST_ROWS}"
        )
    caution = "only totals are given: which stations were heard, the dial and the lamp cannot be judged"
    return Sheet({}, tables.empty(tables.SHEET), dict(totals), "totals", (caution,))


def _lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """Number in the file and cells of every line that is not blank."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text))
    before = 0
    for cells in reader:
        row, before = before + 1, reader.line_num
        if any(cell.strip() for cell in cells):
            yield row, cells


def _delimiter(text: str) -> str:
    """The sign between cells: the commonest of `,` `;` and tab in the first line that is no header line."""
    for line in text.splitlines():
        bare = line.strip().lstrip('\ufeff"')
        if bare and not bare.startswith("#"):
            return max(",;\t", key=line.count)
    return ";" if any(line.rstrip().endswith(";;") for line in text.splitlines()) else ","


def _read_header_line(line: str, row: int, got: _Gathered) -> None:
    """`# key: value`, with the empty cells that spreadsheets hang behind it."""
    text = line.strip().lstrip("#").rstrip(",;\t ")
    first, *rest = text.split() or [""]
    told = len(rest) in (1, 2) and rest[0][0].isdigit()
    if first.lower() in _TOLD_OFTEN and told:
        got.wrong.append(f"row {row}: `# {text.strip()}` has no colon (write `# {first.lower()}: {' '.join(rest)}`)")
        return
    key, colon, value = text.partition(":")
    if not colon:
        return
    key, value = re.sub(r"[\s-]+", "_", key.strip().lower()), " ".join(value.split())
    if key not in KEYS:
        got.unknown_keys.append(key)
    elif key in got.header:
        got.wrong.append(f"row {row}: `{key}` is given twice")
    elif value:
        complaint = wrong_value(key, value)
        if complaint:
            got.wrong.append(f"row {row} {key} {value!r} ({complaint})")
        got.header[key] = value


def _column_names(cells: list[str], row: int, got: _Gathered) -> tuple[list[str], bool]:
    """Column names, and whether this line is already a row; no names where it is neither."""
    found = _named_as(cells)
    if found and found[0] in BANDS:
        return list(COLUMNS), True
    complaints = [f"column {name!r} is not known" for name in found if name not in COLUMNS]
    complaints += [f"column {name} stands twice" for name in COLUMNS if found.count(name) > 1]
    if "band" not in found:
        complaints.append("column band is missing")
    if not complaints:
        return found, False
    key, colon, _ = cells[0].partition(":")
    if colon and key.strip().lower() in KEYS:
        got.wrong.append(f"row {row} {_shown(cells[0])}: a line of the header begins with # (write `# {cells[0].strip()}`)")
        return [], False
    got.wrong.append(f"row {row} as the line of column names: {', '.join(complaints)} (accepted: {','.join(COLUMNS)})")
    return [], False


def _named_as(cells: list[str]) -> list[str]:
    """The names that cells would be as columns, without empty ones at the end."""
    found = [re.sub(r"[\s-]+", "_", cell.strip().lower()) for cell in cells]
    while found and not found[-1]:
        found.pop()
    return found


def _read_row(cells: list[str], row: int, names: list[str], got: _Gathered) -> None:
    """One stop on the dial; wrong cells are noted."""
    if any(cell.strip() for cell in cells[len(names) :]):
        got.wrong.append(
            f"row {row} has {len(cells)} cells for {len(names)} columns (a decimal comma needs `;` between cells, or quotes)"
        )
        return
    cell = {name: " ".join(value.split()) for name, value in zip(names, cells, strict=False)}
    if not any(cell.get(name) for name in ("dial", "grade", "lamp")):
        got.unfilled += 1
        return
    understood: dict[str, object] = {
        "name": cell.get("name", ""),
        "remark": cell.get("remark", ""),
        "dial": cell.get("dial", ""),
    }

    def wrong(column: str, accepted: str) -> None:
        got.wrong.append(f"row {row} {column} {_shown(cell.get(column, ''))} ({accepted})")

    band = understood["band"] = cell["band"].lower() if "band" in cell else ""
    if band not in BANDS:
        wrong("band", "fm or am")
    elif cell.get("dial"):
        scale = "am" if band == "am" or got.header.get("numerals", "").lower() == "am" else "fm"
        understood["dial_hz"] = read_dial(cell["dial"], scale)
        if understood["dial_hz"] is None:
            wrong("dial", ACCEPTED[scale])
    grade = re.sub(r"[.,]0+$", "", cell.get("grade", "")).lower()
    if not grade:
        got.ungraded += 1
    if grade and grade not in _GRADES:
        wrong("grade", "3, 2, 1, M, W or R")
    understood["grade"] = _GRADES.get(grade, "2")
    understood["lamp"] = cell.get("lamp", "").lower()
    if understood["lamp"] and understood["lamp"] not in tables.LAMPS:
        wrong("lamp", "on, off, flicker or empty")
    understood["pad_db"] = _pad_db(cell.get("pad_db", ""))
    if understood["pad_db"] is None:
        wrong("pad_db", "0 to 120 dB or empty")
    sweep = _SWEEP.fullmatch(cell.get("sweep", "").lower() or "1")
    if sweep is None:
        wrong("sweep", "1, 2up, 2down ... or empty")
    else:
        understood["sweep"] = sweep[1] + (sweep[2] or "")
    got.rows.append(understood)


def _shown(cell: str) -> str:
    """A cell as a message shows it."""
    return repr(cell if len(cell) <= 40 else f"{cell[:37]}...")


def _pad_db(cell: str) -> float | None:
    """The attenuator in line, none where the cell is empty; None where it is no attenuator. [dB]"""
    found = re.fullmatch(r"-?([0-9]{1,3}(?:[.,][0-9]{1,3})?)(?:\s*dB)?", cell or "0", re.IGNORECASE)
    if found is None or cell.startswith("-"):
        return None
    pad_db = float(found[1].replace(",", "."))
    return pad_db if pad_db <= 120.0 else None


def _table(rows: list[dict[str, object]]) -> pd.DataFrame:
    if not rows:
        return tables.empty(tables.SHEET)
    return tables.check(pd.DataFrame(rows).reindex(columns=tables.SHEET.names), tables.SHEET)


def _cautions(got: _Gathered) -> tuple[str, ...]:
    cautions = []
    missing = [key for key in WANTED if not got.header.get(key)]
    if missing:
        cautions.append(f"the sheet does not say: {', '.join(missing)}")
    if got.header.get("seen_list", "").lower() == "yes":
        cautions.append("the station list was seen while sweeping, and seeing it makes one hear it: the count may be too high")
    if got.unknown_keys:
        cautions.append(f"header lines not known and not used: {', '.join(got.unknown_keys)} (known: {', '.join(KEYS)})")
    if got.ungraded:
        rows = "1 row without a grade is" if got.ungraded == 1 else f"{got.ungraded} rows without a grade are"
        cautions.append(f"{rows} taken as 2, every word follows")
    lamps = sum(row["band"] == "am" and bool(row["lamp"]) for row in got.rows)
    whistles = sum(row["band"] == "fm" and row["grade"] == "W" for row in got.rows)
    lit = [row["lamp"] for row in got.rows if row["band"] == "fm"]
    if "on" in lit and "off" not in lit and "" in lit:
        cautions.append("the lamp: empty cells between lit ones are taken as dark, others as not noted; write `off` to be sure")
    pads = [bool(row["pad_db"]) for row in got.rows if row["band"] == "am"]
    if any(pads) and not all(pads):  # where all of them have one, the verdict says so
        cautions.append(f"AM rows with an attenuator: {sum(pads)}; left out, since 50 ohm across the lead make any set deaf")
    if lamps:
        cautions.append(f"AM rows with a lamp: {lamps}; the lamp is judged on FM only")
    if whistles:
        cautions.append(
            f"FM rows marked as whistles: {whistles}; whistles are judged on AM only, where their places tell the cause"
        )
    if got.unfilled:
        cautions.append(f"rows that are not filled in are taken as not heard: {got.unfilled}")
    return tuple(cautions)


def _all_wrong(wrong: list[str], source: str) -> SheetError:
    more = f"; and {len(wrong) - _MOST_NAMED} more" if len(wrong) > _MOST_NAMED else ""
    count = "1 place" if len(wrong) == 1 else f"{len(wrong)} places"
    return SheetError(
        f"{count} cannot be understood: {'; '.join(wrong[:_MOST_NAMED])}{more}", where=source, do="correct and check again"
    )
