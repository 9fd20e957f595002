"""Readings of a count sheet that contradict what the sheet says of them: another band's, another order's, two sweeps as one."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from bandscan.radio.order import order_of

_SWEEP_ROWS = 8  # a few stations may lie close together, a whole sweep's do not
_ORDERED = 0.9  # correlation of readings with their order

_FM_NUMBER = re.compile(r"(8[7-9]|9[0-9]|10[0-8])(?![0-9]).*")  # megahertz of FM, which AM's dial has as tenths
# one that no pointer on AM's tenths is read to: a decimal that is neither nought nor a half
_FM_DECIMAL = re.compile(r"[0-9]+[.,][1-46-9].*")
_FEW_ROWS = 4
_NEARLY_ALL = 0.9

Row = dict[str, object]


def misread(rows: Sequence[Row], *, am_numerals: bool) -> list[str]:
    """What is wrong with the readings as a whole, and what to do about each. `am_numerals`: FM is read off AM's numerals."""
    wrong = [*_other_order(rows), *_pad_once(rows)]
    if _reads_like_fm(rows, "am", 1.0):
        wrong.append("band am: every dial reading is one of FM in MHz (band fm; if they are tenths of AM, write kHz, as 890)")
    if am_numerals and _reads_like_fm(rows, "fm", _NEARLY_ALL):
        wrong.append(
            "band fm: the dial readings are FM's own in MHz, and by `numerals` AM's numerals are read (write `# numerals: fm`,"
            " or read the stops off AM's numerals; if they are tenths of those, write kHz, as 890)"
        )
    return wrong


def _reads_like_fm(rows: Sequence[Row], band: str, share: float) -> bool:
    """Whether a sweep off AM's numerals is more likely read in FM's: else `share` of its readings keep to a fifth of the dial.

    A few do where most of them have decimals of FM's channels.
    """
    read = [str(row["dial"]).strip() for row in rows if row["band"] == band and row.get("dial_hz") is not None]
    like = [one for one in read if _FM_NUMBER.fullmatch(one)]
    decimals = sum(_FM_DECIMAL.fullmatch(one) is not None for one in like)
    enough = len(like) >= _SWEEP_ROWS or (len(like) >= _FEW_ROWS and 2 * decimals > len(like))
    return enough and len(like) >= share * len(read)


def _pad_once(rows: Sequence[Row]) -> list[str]:
    """An attenuator in the first of many rows and in no other: written once for them all, or for none."""
    found = []
    for band in dict.fromkeys(row["band"] for row in rows):
        mine = [row for row in rows if row["band"] == band]
        if len(mine) >= _FEW_ROWS and mine[0]["pad_db"] and not any(row["pad_db"] or row["pad_stated"] for row in mine[1:]):
            found.append(
                f"band {band}: pad_db stands in the first row only (write it in each row that went through it, or in none)"
            )
    return found


def _other_order(rows: Sequence[Row]) -> list[str]:
    """Sweeps whose readings go the other way than their name says, or along the dial twice: two sweeps under one name; or in no
    order. What to do about each."""
    sweeps: dict[tuple[object, ...], list[float]] = {}
    for row in rows:
        if isinstance(hz := row.get("dial_hz"), float) and row["grade"] in ("3", "2", "1"):
            sweeps.setdefault((row["band"], row.get("sweep"), row["pad_db"]), []).append(hz)
    found = []
    for (band, sweep, _), reading_hz in sweeps.items():
        where, turned = f"band {band}, sweep {sweep}", _turned(str(sweep), reading_hz)
        if turned is not None:
            found.append(f"{where}: the readings {turned}")
        if (twice := _twice(reading_hz)) is not None:
            found.append(f"{where}: {twice}")
        elif order_of(np.array(reading_hz)).disordered:
            found.append(
                f"{where}: the rows follow no order of the dial (put them in its order; stops found in a second pass too, or"
                " all of that pass in a sweep of its own)"
            )
    return found


def _twice(reading_hz: list[float]) -> str | None:
    """What to write where one sweep is two."""
    middle = len(reading_hz) // 2
    if middle < _SWEEP_ROWS:
        return None
    if reading_hz[0::2] == reading_hz[1::2] and len(set(reading_hz)) == middle:
        return "every row stands there twice (take one of each two out)"
    halves = (reading_hz[:middle], reading_hz[middle:])
    whole = max(reading_hz) - min(reading_hz)
    if not all(max(half) - min(half) > 0.7 * whole > 0.0 for half in halves):
        return None
    if min(abs(np.corrcoef(np.arange(len(half)), half)[0, 1]) for half in halves) <= _ORDERED:
        return None
    own = "give the second sweep a name of its own in `sweep`: 2, or 2down for one from the top"
    return f"the readings go along the dial twice ({own})"


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
