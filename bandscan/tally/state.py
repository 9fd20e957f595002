"""Where a tally stands: the sheet so far, what the next tick belongs to, and what is being typed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from bandscan.radio.bench import plain

# grades that are a station of its own
STATIONS = ("3", "2", "1", "M")
# what is asked at the start of a new sheet
ASKED = ("job", "radio", "family", "by", "antenna", "dial")
# where a new sheet begins: that band counts as chosen though no key chose it
FIRST_BAND = "fm"
FIRST_SWEEP = "1up"
# remark of a tick that was made with the next station of the list in sight
SEEN = "list shown"


@dataclass(frozen=True)
class Stop:
    """One row of the sheet, as it is written there. `pad_db` is empty where no attenuator is in line; `grade` is empty in the
    one row of a sweep through an attenuator that was silent."""

    band: str
    grade: str
    dial: str = ""
    lamp: str = ""
    pad_db: str = ""
    sweep: str = FIRST_SWEEP
    name: str = ""
    remark: str = ""


@dataclass(frozen=True)
class Entry:
    """What is being typed: `what` is dial, name, remark, pad, quit, a band after `silent `, a header key after `about `.

    `choice` is which of the offers is meant, -1 while none was moved to. `text` of `silent ` is the key that goes on after the
    answer, empty where that is the end.
    """

    what: str
    text: str = ""
    choice: int = -1


@dataclass(frozen=True)
class Station:
    """A station of the reference list, or with `listed` false one of the shop's own names only.

    `label` is how it is offered, `written` what the sheet then calls it, `calls` by what the judge knows it (see
    `radio.bench.plain`).
    """

    channel_hz: int
    label: str
    written: str
    calls: frozenset[str] = frozenset()
    listed: bool = True


@dataclass(frozen=True)
class Known:
    """What the bench knows: stations by band, ascending by channel, the words that are offered for header keys, and the lines
    of a header that hold for the radios of a family, by its name."""

    stations: Mapping[str, tuple[Station, ...]] = field(default_factory=dict)
    offers: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    families: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def listed(self, band: str) -> tuple[Station, ...]:
        """The reference list of a band."""
        return tuple(station for station in self.stations.get(band, ()) if station.listed)

    def anchored(self, band: str, name: str) -> int | None:
        """Index in the band's reference list of the one station of that name; None where the judge will find none, or two."""
        hits = [index for index, station in enumerate(self.listed(band)) if name and plain(name) in station.calls]
        return hits[0] if len(hits) == 1 else None


@dataclass(frozen=True)
class State:
    """All that a key can change.

    `remarks` are the sheet's other `#` lines. `band`, `sweep` and `pad_db` are those of the next tick; `visited` are the bands
    that were chosen. `shown` is whether the next station of the list is in sight, `skip` how far it was moved by hand since the
    last anchor. `asking` are header keys still to be asked. `said` is the line for the user. `before` is what undo returns to.
    """

    header: Mapping[str, str] = field(default_factory=dict)
    stops: tuple[Stop, ...] = ()
    remarks: tuple[str, ...] = ()
    band: str = FIRST_BAND
    sweep: str = FIRST_SWEEP
    pad_db: str = ""
    visited: tuple[str, ...] = (FIRST_BAND,)
    shown: bool = False
    skip: int = 0
    asking: tuple[str, ...] = ()
    entry: Entry | None = None
    said: str = ""
    over: bool = False
    before: State | None = field(default=None, repr=False, compare=False)

    @property
    def block(self) -> tuple[Stop, ...]:
        """The stops of this sweep: band, sweep and attenuator are those of the next tick."""
        return tuple(one for one in self.stops if (one.band, one.sweep, one.pad_db) == (self.band, self.sweep, self.pad_db))

    @property
    def last(self) -> Stop | None:
        """The stop noted last, where it belongs to this sweep: what L, D, A and T are about."""
        return self.stops[-1] if self.stops and self.stops[-1].grade and self.block[-1:] == self.stops[-1:] else None

    @property
    def step(self) -> int:
        """Direction of this sweep along the list."""
        return -1 if self.sweep.endswith("down") else 1


def done(state: State, **changes: Any) -> State:
    """The state after something that undo takes back as one."""
    return replace(state, **changes, before=state)


def taken_back(state: State) -> State:
    """The state before the last key that changed the sheet; before this session, without its last row.

    What is told about the radio stays, and so does that the list was seen: that cannot be unseen.
    """
    old, said = state.before, "taken back"
    if old is None:
        if not state.stops:
            return replace(state, said="nothing to take back")
        last = state.stops[-1]
        said = " ".join(f"taken back: {last.band.upper()} {last.grade} {last.dial} {last.name}".split())
        left = state.stops[:-1]
        # the hour was that of the rows: the next first one has its own
        told = {key: value for key, value in state.header.items() if key != "swept" or left}
        old = State(told, left, band=last.band, sweep=last.sweep, pad_db=last.pad_db, visited=state.visited)
    header = {key: value for key, value in state.header.items() if key != "swept" or key in old.header}
    return replace(
        state,
        header=header,
        stops=old.stops,
        band=old.band,
        sweep=old.sweep,
        pad_db=old.pad_db,
        visited=old.visited,
        skip=old.skip,
        said=said,
        before=old.before,
    )


def next_sweep(state: State) -> str:
    """The sweep after this one, the other way along the dial; one without a tick only turns round."""
    if state.block:
        number = 1 + max(_number(one.sweep) for one in state.stops if one.band == state.band)
    else:
        number = _number(state.sweep)
    return f"{min(number, 99)}{'up' if state.step < 0 else 'down'}"


def _number(sweep: str) -> int:
    return int(re.sub(r"\D", "", sweep))


def place_in_list(state: State, known: Known) -> int:
    """Index in the band's reference list of the station that is next; beyond its ends where the list is at an end.

    Counted on from the last anchor in this sweep, else from the end of the list at which the sweep began: the dial's reading is
    not used, since a pointer may be off by several stations.
    """
    place = 0 if state.step > 0 else len(known.listed(state.band)) - 1
    for one in state.block:
        anchor = known.anchored(one.band, one.name)
        if anchor is not None:
            place = anchor + state.step
        elif one.grade in STATIONS:
            place += state.step
    return place + state.skip
