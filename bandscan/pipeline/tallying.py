"""`bandscan tally`: the sheet that is to be filled in, and what the bench knows, at the terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import count
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd

from bandscan import tables
from bandscan.errors import BaselineError, LogError, UsageError
from bandscan.model import Baseline, Sheet
from bandscan.pipeline.files import read_text, write_files
from bandscan.pipeline.known import families_told
from bandscan.pipeline.listing import SHEET, latest_lists, newest_sheet
from bandscan.plans import BANDS
from bandscan.radio.bench import bench_of, plain
from bandscan.shop import Shop, read_names
from bandscan.store import Log
from bandscan.tally import STANDS, Desk, Kept, Known, State, Station, asked, read_state, sheet_text, standing
from bandscan.units import channel_text

_AS_FOUND = ".as-found"


@dataclass
class Tally:
    """A sheet at the terminal, and what to say before it is opened there."""

    desk: Desk
    kept: Kept
    notes: list[str] = field(default_factory=list)

    @property
    def path(self) -> Path:
        """The sheet's file; after the end, the one that holds all of it."""
        return self.kept.path


def left_tally(shop: Shop) -> tuple[Path, str] | None:
    """The newest sheet in the shop's reports and a word on it, where its tally was left in the middle."""
    path = newest_sheet(shop)
    if path is None or STANDS not in (text := read_text(path, "count sheet")):
        return None
    state = read_state(text, str(path), families_told(shop))
    stations = "1 row" if len(state.stops) == 1 else f"{len(state.stops)} rows"
    return path, f"job {state.header['job']}, {stations}" if state.header.get("job") else stations


def unfinished(text: str, sheet: Sheet) -> tuple[Sheet, dict[str, tuple[str, str]]]:
    """The sheet with a caution where its tally was left in the middle, and the band that is not swept to its end.

    For the band it is said why it cannot be judged, and what to do. A sweep that was begun without a row takes nothing from
    those that were finished before it.
    """
    left = standing(text)
    if left is None:
        return sheet, {}
    band, sweep, pad_db = left
    name = Path(sheet.source).name
    do = f'`bandscan tally "{name}"`' if " " in name else f"`bandscan tally {name}`"
    sheet = replace(sheet, cautions=(f"this tally was left in the middle: {do} goes on", *sheet.cautions))
    mine = sheet.ticks[sheet.ticks["band"] == band]
    if len(mine) and not ((mine["sweep"] == sweep) & (mine["pad_db"] == pad_db)).any():
        return sheet, {}
    why = f"the tally was left in the middle of {band.upper()}, sweep {sweep}: the rest is not swept yet"
    return sheet, {band: (why, f"finish the tally, {do}, then check again")}


def tally(sheet: Path | None, *, shop: Shop | None) -> Tally:
    """Open a count sheet to fill it in at the terminal: `desk.run()`.

    A sheet that no tally has written is kept as it was found, beside the one that goes on, where it holds rows.

    Args:
        sheet: the sheet, new, with nothing in it or begun; None means a new one in the shop's reports, named by the day.
        shop: whose list gives the names that are offered and whose clock the sheet bears; None means no list.

    Raises:
        UsageError: there is neither a sheet nor a shop.
        InputError: the sheet is read-only.
        SheetError: the sheet cannot be understood.
    """
    zone = ZoneInfo(shop.time_zone) if shop is not None else None
    if sheet is None:
        if shop is None:
            raise UsageError("there is no shop here to keep a sheet in", do="name one as SHEET.csv, or a shop with --shop DIR")
        sheet = _new(shop.reports, datetime.now(zone))
    notes: list[str] = []
    text = read_text(sheet, "count sheet") if sheet.exists() else None
    kept = Kept(sheet)
    lists = _lists(shop, notes)
    # a file with nothing in it was made for a new sheet, or was emptied for one
    if text is None or not text.strip('\ufeff \t\r\n,;"'):
        state = asked(State(_header(shop, lists)))
    else:
        state = read_state(text, str(sheet), families_told(shop))
        notes += _as_found(sheet, text, state)
    return Tally(Desk(state, known(shop, lists), kept, lambda: f"{datetime.now(zone):%Y-%m-%d %H:%M}"), kept, notes)


def _new(folder: Path, moment: datetime) -> Path:
    stem = f"{SHEET}-{moment:%Y-%m-%d}"
    names = (folder / (f"{stem}.csv" if number == 1 else f"{stem}-{number}.csv") for number in count(1))
    return next(path for path in names if not path.exists())


def _lists(shop: Shop | None, notes: list[str]) -> dict[str, Baseline]:
    """The shop's reference lists; a tally goes on without them."""
    if shop is None or not shop.log_path.is_file():
        return {}
    try:
        with Log(shop.log_path) as log:
            return latest_lists(log, shop, None)
    except (BaselineError, LogError) as error:
        notes.append(f"no names are offered from a reference list: {error}")
        return {}


def _header(shop: Shop | None, lists: Mapping[str, Baseline]) -> dict[str, str]:
    """What the shop knows for the header of a new sheet."""
    rig = next((one.rig for one in lists.values()), "")
    antenna = shop.rigs[rig].antenna if shop is not None and rig in shop.rigs else ""
    return {key: value for key, value in (("antenna", antenna), ("rig", rig)) if value}


def known(shop: Shop | None, lists: Mapping[str, Baseline]) -> Known:
    """What the bench knows: the lists' stations, the shop's own names, and its families."""
    names = read_names(shop.names_path, shop.region) if shop is not None else tables.empty(tables.NAMES)
    offers = {"dial": ("pointer", "digits"), "family": tuple(shop.families) if shop is not None else ()}
    return Known({band: _stations(band, lists.get(band), names) for band in BANDS}, offers, families_told(shop))


def _stations(band: str, listed: Baseline | None, names: pd.DataFrame) -> tuple[Station, ...]:
    mine = names[names["band"] == band]
    own = {int(hz): str(name) for hz, name in zip(mine["channel_hz"], mine["name"], strict=True)}
    bench = bench_of(listed) if listed is not None else None
    channels = [int(hz) for hz in bench.channel_hz] if bench is not None else []
    shown = dict(zip(channels, bench.shown, strict=True)) if bench is not None else {}
    calls = dict(zip(channels, bench.names, strict=True)) if bench is not None else {}
    labels = {hz: own.get(hz) or shown.get(hz) or channel_text(band, hz) for hz in sorted({*own, *shown})}
    often = Counter(labels.values())
    found = []
    for hz, label in labels.items():
        channel = channel_text(band, hz)
        # the judge takes a name for an anchor where one station of the list bears it; the channel always is one
        pins = [place for place, called in calls.items() if plain(label) in called] == [hz]
        written = label if pins or hz not in calls else channel
        offered = f"{label} {channel}" if often[label] > 1 else label
        found.append(Station(hz, offered, written, calls.get(hz, frozenset()), hz in calls))
    return tuple(found)


def _as_found(sheet: Path, text: str, state: State) -> list[str]:
    """Keep a sheet that no tally has written as it was found; gives the line that says so."""
    if not state.stops or _rows(sheet_text(state)) == _rows(text):
        return []
    copy = sheet.with_name(f"{sheet.name}{_AS_FOUND}")
    if copy.exists():
        return []
    write_files(copy.parent, {copy.name: text})
    return [f"{sheet.name} was not written by a tally: it is kept as it was found in {copy.name}"]


def _rows(text: str) -> list[str]:
    return [line for line in text.splitlines() if line and not line.startswith("#")]
