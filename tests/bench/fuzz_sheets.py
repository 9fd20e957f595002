"""Coverage-guided fuzzing of count sheets: a sheet or a refusal may come of any text, and nothing else.

Not part of the test run. In an environment with bandscan and `pip install atheris`:

    python tests/bench/fuzz_sheets.py [-runs=200000] [options of libFuzzer]

It stops at the first finding and leaves the input that led to it in the current folder as `crash-...`.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["bandscan.radio", "csv"]):
    from bandscan.errors import SheetError
    from bandscan.radio import read_sheet

GOOD = (
    "# job: 7\n# dial: pointer\nband,dial,grade,lamp,pad_db,sweep,name,remark\n"
    "fm,96 1/2,3,on,,1,Velmarrow,\nam,140,2,,10,2down,,x\n",
    "# raster_khz: 9\nband;dial;grade\r\nfm;96,5;M\r\nam;1400;W\r\n",
)


def one(data: bytes) -> None:
    """One text, whatever its encoding."""
    try:
        read_sheet(data.decode("utf-8", errors="replace"), "sheet.csv")
    except SheetError as refusal:
        if "\n" in str(refusal):
            raise ValueError("a refusal is more than one line") from refusal


def main() -> None:
    """Fuzz the sheet's reader, starting from two good sheets."""
    with tempfile.TemporaryDirectory() as folder:
        for number, text in enumerate(GOOD):
            Path(folder, str(number)).write_text(text, encoding="utf-8", newline="")
        atheris.Setup([*sys.argv, folder], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
