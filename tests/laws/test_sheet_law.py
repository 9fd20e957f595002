"""Whatever the text, a count sheet is read or refused."""

from __future__ import annotations

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from bandscan import tables
from bandscan.errors import SheetError
from bandscan.radio import read_sheet

CELLS = [
    "fm",
    "am",
    "FM",
    "",
    "96.5",
    "96,5",
    "965",
    "140",
    "3",
    "1",
    "M",
    "W",
    "on",
    "off",
    "10",
    "-3",
    "2up",
    "x",
    '"',
    "½",
    "#",
    "# job: 1",
    "band",
]
SIGNS = [",", ";", "\t", "\n", "\r\n", " ", '"', "\x00", "\ufeff"]


def _read_or_refuse(text: str) -> None:
    try:
        sheet = read_sheet(text, "s.csv")
    except SheetError as error:
        line = str(error)
        assert line.startswith("s.csv: ")
        assert "\n" not in line
    else:
        tables.check(sheet.ticks, tables.SHEET)
        band_hz = {"fm": (70e6, 115e6), "am": (440e3, 1850e3)}
        for band, hz in zip(sheet.ticks["band"], sheet.ticks["dial_hz"], strict=True):
            low, high = (440e3, 115e6) if sheet.header.get("numerals") else band_hz[band]
            assert math.isnan(hz) or low <= hz <= high


@given(st.text(max_size=300))
@settings(deadline=None, max_examples=300)
def test_any_text(text: str) -> None:
    """Any text gives a sheet or a SheetError."""
    _read_or_refuse(text)


@given(st.lists(st.sampled_from(CELLS + SIGNS), max_size=80))
@settings(deadline=None, max_examples=600)
def test_any_cells(parts: list[str]) -> None:
    """Any order of things that stand on sheets gives a sheet or a SheetError."""
    _read_or_refuse("".join(parts))


@given(st.lists(st.lists(st.sampled_from(CELLS), min_size=1, max_size=9), max_size=12), st.sampled_from([",", ";", "\t"]))
@settings(deadline=None, max_examples=300)
def test_any_rows(rows: list[list[str]], sign: str) -> None:
    """Any rows below a right line of column names give a sheet or a SheetError."""
    head = sign.join(("band", "dial", "grade", "lamp", "pad_db", "sweep", "name", "remark"))
    _read_or_refuse("\n".join([head, *(sign.join(row) for row in rows)]))
