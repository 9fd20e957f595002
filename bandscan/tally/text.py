"""A tally as the text of its count sheet, and back.

Beside what any count sheet holds, a sheet that is not finished has one remark line that says where the tally stands, so that a
sweep that was begun or a reading that was half typed outlives a kill. A finished sheet has none.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import replace
from urllib.parse import quote, unquote

from bandscan.plans import BANDS
from bandscan.radio.header import KEYS, attenuator_db
from bandscan.radio.sheet import COLUMNS, read_sheet
from bandscan.tables import disarmed
from bandscan.tally.state import ASKED, FIRST_BAND, FIRST_SWEEP, Entry, State, Stop

STANDS = "# tally stands at "
_STANDS = re.compile(
    STANDS + r"(?P<band>fm|am) (?P<sweep>[0-9]{1,2}(?:up|down)?) pad (?P<pad>[0-9.]+)"
    r" bands (?P<visited>[a-z+]+|-) list (?P<list>shown|hidden) skip (?P<skip>-?[0-9]{1,4})"
    r"(?: asks (?P<asks>[a-z_+]+))?(?: types (?P<what>[\w+]+)=(?P<typed>\S*))?"
)

# a spreadsheet adds its commas to the line
_STANDING = re.compile(rf'^"?{STANDS}(fm|am) ([0-9]{{1,2}}(?:up|down)?) pad ([0-9.]+)\b', re.MULTILINE)


def standing(text: str) -> tuple[str, str, float] | None:
    """Band, sweep and attenuator [dB] at which the tally of a sheet was left in the middle; None where it was not."""
    found = _STANDING.search(text)
    if found is None:
        return None
    try:
        return found[1], found[2], float(found[3])
    except ValueError:  # dots and no number: nobody knows through which, as without one
        return found[1], found[2], 0.0


def sheet_text(state: State) -> str:
    """The sheet as CSV, which `read_sheet` takes."""
    lines = io.StringIO(newline="")
    for key in (one for one in KEYS if one != "pad_db"):  # each row says it
        # a quotation mark after a comma would open a quoted cell
        value = state.header.get(key, "").replace('"', "'")
        lines.write(f"# {key}: {value}".rstrip() + "\n")
    for remark in state.remarks:
        lines.write(remark + "\n")
    if not state.over:
        lines.write(_stands(state) + "\n")
    writer = csv.DictWriter(lines, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for stop in state.stops:
        cells = {column: getattr(stop, column) for column in COLUMNS}
        writer.writerow({column: disarmed(cell) for column, cell in cells.items()})
    return lines.getvalue()


def _stands(state: State) -> str:
    visited = "+".join(state.visited) or "-"  # a band told to be silent on is visited no more
    line = f"{STANDS}{state.band} {state.sweep} pad {state.pad_db or 0} bands {visited}"
    line += f" list {'shown' if state.shown else 'hidden'} skip {state.skip}"
    if state.asking:
        line += f" asks {'+'.join(state.asking)}"
    if state.entry is not None:
        # percent signs in place of blanks, commas, colons and quotation marks, which mean something in a sheet
        line += f" types {state.entry.what.replace(' ', '+')}={quote(state.entry.text, safe='')}"
    return line


def read_state(text: str, source: str, families: Mapping[str, Mapping[str, str]] | None = None) -> State:
    """The tally that a sheet holds, at its end or where it was left. Rows that are not filled in are not kept.

    `families`: see `read_sheet`.

    Raises:
        SheetError: the sheet cannot be understood.
    """
    sheet = read_sheet(text, source, families)
    ticks = sheet.ticks
    stops = tuple(
        Stop(
            band=band,
            grade=grade,
            dial=dial,
            lamp=lamp,
            pad_db=f"{pad_db:g}" if pad_db else "",
            sweep=sweep,
            name=name,
            remark=remark,
        )
        for band, grade, dial, lamp, pad_db, sweep, name, remark in zip(
            ticks["band"],
            ticks["grade"],
            ticks["dial"].fillna(""),
            ticks["lamp"].fillna(""),
            ticks["pad_db"],
            ticks["sweep"],
            ticks["name"].fillna(""),
            ticks["remark"].fillna(""),
            strict=True,
        )
    )
    for band, sweep, pad_db, place in reversed(sheet.silent):
        stops = (*stops[:place], Stop(band, "", pad_db=f"{pad_db:g}", sweep=sweep), *stops[place:])
    header = {key: value for key, value in sheet.header.items() if key != "pad_db"}
    marks = [line.strip() for line in text.removeprefix("\ufeff").splitlines() if line.startswith("#") and '"' not in line]
    stands = next((found for line in marks if (found := _STANDS.fullmatch(line))), None)
    remarks = tuple(line for line in marks if not _known(line) and not line.startswith(STANDS))
    whole_db = attenuator_db(sheet.header.get("pad_db", ""))
    last = stops[-1] if stops else Stop(FIRST_BAND, "", pad_db=f"{whole_db:g}" if whole_db else "")
    state = State(header, stops, remarks, last.band, last.sweep if stops else FIRST_SWEEP, last.pad_db, visited=(last.band,))
    if stands is not None:
        return _left(state, stands)
    return asked(state) if not stops else state


def asked(state: State) -> State:
    """The state with the questions about the radio that the sheet does not answer."""
    open_keys = tuple(key for key in ASKED if not state.header.get(key))
    return replace(state, asking=open_keys[1:], entry=Entry(f"about {open_keys[0]}")) if open_keys else state


def _known(line: str) -> bool:
    """Whether a header line has its place in the sheet already."""
    key, colon, _ = line.lstrip("#").partition(":")
    return bool(colon) and re.sub(r"[\s-]+", "_", key.strip().lower()) in KEYS


def _left(state: State, stands: re.Match[str]) -> State:
    """The state where an unfinished tally was left.

    A sweep, band or attenuator that was chosen after the last row is what undo takes back first.
    """
    pad_db = "" if stands["pad"] == "0" else stands["pad"]
    visited = tuple(band for band in stands["visited"].split("+") if band in BANDS)
    moved = (stands["band"], stands["sweep"], pad_db) != (state.band, state.sweep, state.pad_db)
    return replace(
        state,
        band=stands["band"],
        sweep=stands["sweep"],
        pad_db=pad_db,
        visited=visited,
        shown=stands["list"] == "shown",
        skip=int(stands["skip"]),
        asking=tuple(key for key in (stands["asks"] or "").split("+") if key in KEYS),
        entry=Entry(stands["what"].replace("+", " "), unquote(stands["typed"])) if stands["what"] else None,
        before=replace(state, visited=visited) if moved else None,
    )
