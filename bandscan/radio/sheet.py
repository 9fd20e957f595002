"""A count sheet: CSV text as people and spreadsheets write it, into a `Sheet`.

Header lines are `# key: value`; a `#` line without a colon is a remark and is skipped. Then one line of column names (it may be
missing where the columns stand in the contract's order) and one row per stop on the dial, in the order heard. Byte order marks,
`;` or tabs between cells, decimal commas, blank lines and quoted cells are taken; a row in which neither dial nor grade
nor lamp nor a station's name is filled in was not heard, and where it is the only one of its sweep and states an attenuator,
nothing was heard through that. Every cell that cannot be understood is named
by row and column, all in one `SheetError`.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import pandas as pd

from bandscan import tables
from bandscan.errors import SheetError
from bandscan.model import Sheet
from bandscan.plans import BANDS
from bandscan.radio.dial import ACCEPTED, read_dial
from bandscan.radio.header import KEYS, WANTED, attenuator_db, swept_bands, wrong_value
from bandscan.radio.misread import misread

COLUMNS = ("band", "dial", "grade", "lamp", "pad_db", "sweep", "name", "remark")
MOST_ROWS = 2000
_MOST_NAMED = 100
_TOLD_OFTEN = ("job", "swept")  # before a number they are no remark, though the colon lacks
_SWEEP = re.compile(r"([1-9][0-9]?)\s*(up|down)?")
# a first line by which a spreadsheet tells the sign between cells, in quotes or with empty cells behind it
_SEPARATOR = re.compile(r"\ufeff?[ \t]*\"?sep=([,;\t])\"?[,;\t ]*(?:\r\n?|\n|$)", re.IGNORECASE)
# a line under the rows in which somebody added them up
_TOTAL = re.compile(r"(?:grand ?|sub-?)?(?:total|sum)s?(?: (?:of )?(?:fm|am|stations|rows|all))?[ :.=]*[0-9]*", re.IGNORECASE)
_NUMERALS_ROWS = 3  # a slip of the pen or two are no dial with other numerals
_GRADES = {grade.lower(): grade for grade in tables.GRADES}


@dataclass
class _Gathered:
    """What is understood so far, and what is wrong."""

    header: dict[str, str] = field(default_factory=dict)
    family: Mapping[str, str] = field(default_factory=dict)
    rows: list[dict[str, object]] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    no_fm: list[str] = field(default_factory=list)  # those of `wrong` that would be readings on a dial with AM's numerals
    ungraded: int = 0
    unfilled: int = 0
    ticked_off: int = 0
    unknown_keys: list[str] = field(default_factory=list)
    blank: list[tuple[str, str, float, int]] = field(default_factory=list)  # rows of a band, sweep and attenuator and no more

    @property
    def am_numerals(self) -> bool:
        """Whether FM is read off the numerals of AM."""
        return self.told("numerals").lower() == "am"

    def told(self, key: str) -> str:
        """What is known under a key of the header; the sheet's own word comes before its family's."""
        return self.header.get(key) or self.family.get(key, "")


def read_sheet(text: str, source: str, families: Mapping[str, Mapping[str, str]] | None = None) -> Sheet:
    """The sheet that a CSV text holds; `source` is what messages call it.

    `families` are header lines that hold for radios of a family, by its name, where the sheet does not say otherwise: its rows
    are read by them. The sheet's header stays as written.

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
    own = got.header.get("family", "").casefold()
    got.family = next((facts for name, facts in (families or {}).items() if name.casefold() == own), {})
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
    _tick_off(got)
    if len(got.no_fm) >= _NUMERALS_ROWS and _read_off_am(got.rows):
        got.wrong = [one for one in got.wrong if one not in got.no_fm]
        first = got.no_fm[0].partition(" (")[0]
        got.wrong.append(
            f"band fm: {len(got.no_fm)} dial readings, first {first}, are of AM's numerals (write `# numerals: am` where FM is"
            " read off those)"
        )
    silent = _silent(got)
    got.wrong += misread(got.rows, am_numerals=got.am_numerals)
    if got.wrong:
        raise _all_wrong(got.wrong, source)
    return Sheet(got.header, _table(got.rows), source=source, cautions=_cautions(got, silent), silent=silent)


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
    delimiter, told = _delimiter(text), _SEPARATOR.match(text)
    reader = csv.reader(io.StringIO(text[told.end() :] if told else text, newline=""), delimiter=delimiter)
    before = first = 1 if told else 0
    for cells in reader:
        row, before = before + 1, first + reader.line_num
        if any(cell.strip() for cell in cells):
            yield row, cells


def _delimiter(text: str) -> str:
    """The sign between cells: what a spreadsheet's `sep=;` says, or the commonest of `,` `;` and tab in the first line that is
    no header line."""
    told = _SEPARATOR.match(text)
    if told is not None:
        return told[1]
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
    added = next((value for value in cell.values() if _TOTAL.fullmatch(value)), None)
    if added is not None and not cell.get("grade") and not cell.get("lamp"):
        got.wrong.append(f"row {row} {_shown(added)}: a total is no stop on the dial (take the line out: rows are counted)")
        return
    by_name = not any(cell.get(name) for name in ("dial", "grade", "lamp"))
    # a channel alone was prepared, whoever hears a station knows its name
    if by_name and (not cell.get("name") or any(read_dial(cell["name"], scale) for scale in ACCEPTED)):
        _read_blank(cell, got)
        return
    understood: dict[str, object] = {
        "by_name": by_name,
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
        scale = "am" if band == "am" or got.am_numerals else "fm"
        understood["dial_hz"] = read_dial(cell["dial"], scale)
        if understood["dial_hz"] is None:
            wrong("dial", ACCEPTED[scale])
            if scale == "fm" and read_dial(cell["dial"], "am") is not None:
                got.no_fm.append(got.wrong[-1])
    grade = re.sub(r"[.,]0+$", "", cell.get("grade", "")).lower()
    if not grade:
        got.ungraded += 1
    if grade and grade not in _GRADES:
        wrong("grade", "3, 2, 1, M, W or R")
    understood["grade"] = _GRADES.get(grade, "2")
    understood["lamp"] = cell.get("lamp", "").lower()
    if understood["lamp"] and understood["lamp"] not in tables.LAMPS:
        wrong("lamp", "on, off, flicker or empty")
    stated = cell.get("pad_db", "")
    understood["pad_db"] = attenuator_db(stated or got.header.get("pad_db", ""))
    if understood["pad_db"] is None and stated:
        wrong("pad_db", "0 to 120 dB or empty")
    sweep = _SWEEP.fullmatch(cell.get("sweep", "").lower() or "1")
    if sweep is None:
        wrong("sweep", "1, 2up, 2down ... or empty")
    else:
        understood["sweep"] = sweep[1] + (sweep[2] or "")
    got.rows.append(understood)


def _read_blank(cell: Mapping[str, str], got: _Gathered) -> None:
    """A row that is not filled in; one that states an attenuator may stand for a silent sweep."""
    band, pad_db = cell.get("band", "").lower(), attenuator_db(cell.get("pad_db", ""))
    sweep = _SWEEP.fullmatch(cell.get("sweep", "").lower() or "1")
    if band in BANDS and sweep is not None and pad_db:
        got.blank.append((band, sweep[1] + (sweep[2] or ""), pad_db, len(got.rows)))
    else:
        got.unfilled += 1


def _silent(got: _Gathered) -> tuple[tuple[str, str, float, int], ...]:
    """Sweeps through an attenuator on which nothing was heard.

    Several blank rows of one sweep were prepared for stops, and tell of no sweep.
    """
    rows = [(row["band"], row.get("sweep"), row["pad_db"]) for row in got.rows]
    rows += [one[:3] for one in got.blank]
    found = [one for one in got.blank if rows.count(one[:3]) == 1]
    got.unfilled += len(got.blank) - len(found)
    pad_db, told = attenuator_db(got.header.get("pad_db", "")), {band for band, _, _ in rows}
    if pad_db:
        found += [(band, "1", pad_db, len(got.rows)) for band in swept_bands(got.header) if band not in told]
    return tuple(found)


def _tick_off(got: _Gathered) -> None:
    """Take out rows with a name alone where all of the band have one and some are filled in: a list that was ticked off."""
    for band in BANDS:
        mine = [row for row in got.rows if row["band"] == band]
        alone = [row for row in mine if row["by_name"]]
        if len(alone) < len(mine) and all(row["name"] for row in mine):
            got.ticked_off += len(alone)
            got.ungraded -= len(alone)
            got.rows = [row for row in got.rows if row["band"] != band or not row["by_name"]]


def _read_off_am(rows: Sequence[Mapping[str, object]]) -> bool:
    """Whether every reading of FM would be one on a dial with AM's numerals."""
    read = [str(row["dial"]) for row in rows if row["band"] == "fm" and row["dial"]]
    return all(read_dial(one, "am") is not None for one in read)


def _shown(cell: str) -> str:
    """A cell as a message shows it."""
    return repr(cell if len(cell) <= 40 else f"{cell[:37]}...")


def _table(rows: list[dict[str, object]]) -> pd.DataFrame:
    if not rows:
        return tables.empty(tables.SHEET)
    return tables.check(pd.DataFrame(rows).reindex(columns=tables.SHEET.names), tables.SHEET)


def _cautions(got: _Gathered, silent: Sequence[tuple[str, str, float, int]]) -> tuple[str, ...]:
    cautions = []
    missing = [key for key in WANTED if not got.told(key)]
    if missing:
        cautions.append(f"the sheet does not say: {', '.join(missing)}")
    if got.header.get("seen_list", "").lower() == "yes":
        cautions.append("the station list was seen while sweeping, and seeing it makes one hear it: the count may be too high")
    if got.unknown_keys:
        cautions.append(f"header lines not known and not used: {', '.join(got.unknown_keys)} (known: {', '.join(KEYS)})")
    if got.ungraded:
        rows = "1 row without a grade is" if got.ungraded == 1 else f"{got.ungraded} rows without a grade are"
        cautions.append(f"{rows} taken as 2, every word follows")
    named = sum(bool(row["by_name"]) for row in got.rows)
    if named:
        cautions.append(f"rows with a name alone are taken as heard: {named}; empty the name of what was not")
    if got.ticked_off:
        cautions.append(
            f"rows with a name alone, where all have one, are taken as not heard: {got.ticked_off}; write a grade where one was"
        )
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
    for band, sweep, pad_db, _ in silent:
        where = f"{band.upper()}: nothing is written of sweep {sweep} through {pad_db:g} dB"
        cautions.append(f"{where}: taken as swept and silent; if it was not swept, take its row or `bands` out")
    if got.unfilled:
        cautions.append(f"rows that are not filled in are taken as not heard: {got.unfilled}")
    return tuple(cautions)


def _all_wrong(wrong: list[str], source: str) -> SheetError:
    more = f"; and {len(wrong) - _MOST_NAMED} more" if len(wrong) > _MOST_NAMED else ""
    count = "1 place" if len(wrong) == 1 else f"{len(wrong)} places"
    return SheetError(
        f"{count} cannot be understood: {'; '.join(wrong[:_MOST_NAMED])}{more}", where=source, do="correct and check again"
    )
