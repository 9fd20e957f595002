"""What a key does: a state and a key to the next state. Knows no terminal and no file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from bandscan.plans import BANDS
from bandscan.radio.sheet import MOST_ROWS
from bandscan.tally.entries import NONE_YET, begin, finish, may_be_silent, noted, type_key, with_band
from bandscan.tally.state import ASKED, SEEN, Entry, Known, State, Stop, done, next_sweep, place_in_list, taken_back

# key -> grade and lamp
_TICKS = {
    **{grade: (grade, "") for grade in ("3", "2", "1")},
    **{key: (grade, "off") for key, grade in zip("654", "321", strict=True)},
    **{key: (grade, "on") for key, grade in zip("987", "321", strict=True)},
    **{letter: (letter.upper(), "") for letter in ("m", "w", "r")},
    **dict.fromkeys((" ", "enter"), ("2", "")),
}
# the lamp of the station noted last, from press to press
_LAMP_AFTER = {"": "on", "on": "flicker", "flicker": "off", "off": ""}


def press(state: State, key: str, known: Known, now: str) -> State:
    """The state after a key.

    Args:
        state: before it.
        key: a printed sign, or `enter`, `escape`, `backspace`, `tab`, `up`, `down`, `left`, `right`.
        known: what the bench knows.
        now: local time of the shop, as the sheet's `swept` wants it.
    """
    state = replace(state, said="")
    if state.entry is not None:
        after = type_key(state, key, known)
        # a sweep that is left once it is known whether it was silent
        leave = _LEAVES.get(state.entry.text) if state.entry.what == "silent fm" and key in ("y", "Y", "n", "N") else None
        return leave(after) if leave is not None else after
    key = key.lower()
    if key in _TICKS:
        return _tick(state, *_TICKS[key], now)
    act = _ACTS.get(key)
    if act is None:
        return replace(state, said=f"{key} is no key of this card" if len(key) == 1 else "")
    return act(state, known)


def _tick(state: State, grade: str, lamp: str, now: str) -> State:
    if len(state.stops) >= MOST_ROWS:
        return replace(state, said=f"{MOST_ROWS} rows are more than any dial holds: begin another sheet")
    remark = SEEN if state.shown else ""
    stop = Stop(state.band, grade, lamp=lamp, pad_db=state.pad_db, sweep=state.sweep, remark=remark)
    header = {**state.header, "swept": state.header.get("swept") or now}
    # a sweep with a station is silent no more
    kept = tuple(one for one in state.stops if one.grade or one not in state.block)
    return done(state, header=header, stops=(*kept, stop))


def _lamp(state: State, known: Known) -> State:
    return noted(state, lamp=_LAMP_AFTER[state.last.lamp]) if state.last is not None else replace(state, said=NONE_YET)


def _sweep(state: State, known: Known) -> State:
    turned = done(state, sweep=next_sweep(state), skip=0, visited=with_band(state))
    if state.block:
        return turned
    return replace(turned, said=f"nothing is noted in this sweep: it now goes {'down' if turned.step < 0 else 'up'} the dial")


def _band(state: State) -> State:
    """The other band, where its sweep was left. AM without an attenuator: 50 ohm across the lead make any set deaf."""
    band = BANDS[(BANDS.index(state.band) + 1) % len(BANDS)]
    last = next((stop for stop in reversed(state.stops) if stop.band == band), Stop(band, ""))
    pad_db = last.pad_db if band == "fm" else ""
    visited = tuple(dict.fromkeys((*state.visited, band)))
    other = done(state, band=band, sweep=last.sweep, pad_db=pad_db, skip=0, visited=visited)
    if pad_db == state.pad_db:
        return other
    now = f"goes on through {pad_db} dB, as it was left" if pad_db else f"is swept without the {state.pad_db} dB: take them out"
    return replace(other, said=f"{band.upper()} {now} (P changes it)")


def _list(state: State, known: Known) -> State:
    if not known.listed(state.band):
        return replace(state, said=f"there is no reference list of {state.band.upper()} here to show")
    if state.shown:
        return replace(state, shown=False, said="the list is hidden; the sheet keeps saying that it was seen")
    said = "the list is shown: the sheet now says so, since seeing it makes one hear it"
    return replace(state, shown=True, header={**state.header, "seen_list": "yes"}, said=said)


def _move(state: State, by: int, known: Known) -> State:
    """What is next in the list moved by hand, never beyond its ends."""
    last = len(known.listed(state.band)) - 1
    if not state.shown or last < 0:
        return replace(state, said="the list is hidden: E shows it")
    place = place_in_list(state, known)
    return replace(state, skip=state.skip + min(max(place + by, 0), last) - place)


def _leave(key: str, state: State, known: Known) -> State:
    return replace(state, entry=Entry("silent fm", key)) if may_be_silent(state) else _LEAVES[key](state)


def _about(state: State, known: Known) -> State:
    return replace(state, entry=Entry(f"about {ASKED[0]}"), asking=ASKED[1:])


_LEAVES: dict[str, Callable[[State], State]] = {"b": _band, "p": lambda state: begin(state, "pad")}
"""Keys that leave a sweep: whether an empty one through an attenuator was silent is asked first. N only turns it round."""
_ACTS: dict[str, Callable[[State, Known], State]] = {
    "l": _lamp,
    **dict.fromkeys(("u", "-", "backspace"), lambda state, known: taken_back(state)),
    "n": _sweep,
    **{key: partial(_leave, key) for key in _LEAVES},
    "e": _list,
    "i": _about,
    "left": lambda state, known: _move(state, -1, known),
    "right": lambda state, known: _move(state, 1, known),
    **dict.fromkeys(("d", ".", ","), lambda state, known: begin(state, "dial")),
    "a": lambda state, known: begin(state, "name"),
    "t": lambda state, known: begin(state, "remark"),
    "q": lambda state, known: finish(state),
}
