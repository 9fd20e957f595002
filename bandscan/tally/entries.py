"""What is typed: a dial reading, a name, a remark, the attenuator, words about the radio, and the two questions at the end."""

from __future__ import annotations

import re
from dataclasses import replace

from bandscan.plans import BANDS
from bandscan.radio.dial import ACCEPTED, read_dial
from bandscan.radio.header import swept_bands, wrong_value
from bandscan.tally.state import SEEN, Entry, Known, State, Stop, done

LONGEST = 60
NONE_YET = "no station is noted in this sweep yet: press a grade first"
MOST_PAD_DB = 120.0
_BLIND_FROM = 2  # letters from which names are offered where the list is hidden: one letter would show half of it
MOST_OFFERS = 6


def begin(state: State, what: str) -> State:
    """Start typing."""
    if what in ("dial", "name", "remark") and state.last is None:
        return replace(state, said=NONE_YET)
    return replace(state, entry=Entry(what))


def offers(state: State, known: Known) -> tuple[tuple[str, str], ...]:
    """What may be meant by the text so far: as shown and as written. The last is the text itself."""
    entry = state.entry
    if entry is None:
        return ()
    typed = (entry.text, entry.text)
    if entry.what == "name":
        if len(entry.text) < (1 if state.shown else _BLIND_FROM):
            return ()
        found = [
            (one.label, one.written) for one in known.stations.get(state.stops[-1].band, ()) if _like(one.label, entry.text)
        ]
    elif entry.what.startswith("about "):
        words = known.offers.get(entry.what.removeprefix("about "), ())
        found = [(word, word) for word in words if _like(word, entry.text)]
        if not found and not entry.text:
            return ()
    else:
        return ()
    return tuple(dict.fromkeys([*found[:MOST_OFFERS], *([typed] if entry.text else [])]))


def chosen(entry: Entry) -> int:
    """Which of the offers Enter takes: the first once something is typed, none (-1) before."""
    return entry.choice if entry.choice >= 0 else 0 if entry.text else -1


def type_key(state: State, key: str, known: Known) -> State:
    """One key while something is typed."""
    entry = state.entry
    if entry is None:
        return state
    if entry.what == "quit":
        return replace(state, over=True) if key in ("q", "Q", "enter", "y", "Y") else replace(state, entry=None)
    if entry.what.startswith("silent "):
        return _silent(state, entry.what.removeprefix("silent "), key)
    if key == "escape":
        return replace(state, entry=None, asking=())
    if key == "enter":
        return _entered(state, entry, known)
    if key in ("up", "down", "tab"):
        count = len(offers(state, known))
        choice = (chosen(entry) + (-1 if key == "up" else 1)) % count if count else entry.choice
        return replace(state, entry=replace(entry, choice=choice))
    if key == "backspace":
        return replace(state, entry=Entry(entry.what, entry.text[:-1]))
    if len(key) == 1 and key.isprintable() and len(entry.text) < LONGEST:
        return replace(state, entry=Entry(entry.what, entry.text + key))
    return state


def may_be_silent(state: State) -> bool:
    """Whether FM was perhaps swept through the attenuator that is in line, without a station, and that was not asked yet."""
    return bool(state.pad_db) and not state.block and state.band == "fm" and "fm" in state.visited


def finish(state: State) -> State:
    """Ask what must be known before the end: whether a band without a station was swept at all, or FM through the attenuator
    that is in line, then whether it is the end."""
    heard = {stop.band for stop in state.stops} | set(swept_bands(state.header))
    silent = [band for band in state.visited if band not in heard]
    if may_be_silent(state):
        silent = silent or ["fm"]
    return replace(state, entry=Entry(f"silent {silent[0]}" if silent else "quit"))


def _silent(state: State, band: str, key: str) -> State:
    """The answer to whether a band was swept and silent: a count of nothing condemns a radio, so only a plain yes is one."""
    if key == "escape":
        return replace(state, entry=None)
    if key not in ("y", "Y", "n", "N"):
        return replace(state, said="Y or N (ESC goes back to the sweep)")
    leaving = state.entry is not None and bool(state.entry.text)
    header = dict(state.header)
    if key in ("y", "Y") and silent_through(state, band):
        row = Stop(band, "", pad_db=state.pad_db, sweep=state.sweep)
        noted_so = done(state, stops=(*state.stops, row), entry=None)
        return noted_so if leaving else finish(noted_so)
    if leaving:
        return replace(state, entry=None)
    if key in ("y", "Y"):
        swept = {stop.band for stop in state.stops} | set(swept_bands(header)) | {band}
        header["bands"] = ", ".join(one for one in BANDS if one in swept)
    visited = tuple(one for one in state.visited if one != band)
    return finish(replace(state, header=header, visited=visited))


def silent_through(state: State, band: str) -> str:
    """The attenuator that is in line on a band that may have been silent, empty where none is [dB]."""
    return state.pad_db if band == state.band else ""


def _left(state: State) -> State:
    """The entry is over: the next question about the radio, if there is one."""
    if not state.asking:
        return replace(state, entry=None)
    return replace(state, entry=Entry(f"about {state.asking[0]}"), asking=state.asking[1:])


def _entered(state: State, entry: Entry, known: Known) -> State:
    """Enter: what was typed or chosen is taken, or what is wrong with it is said. Nothing typed changes nothing."""
    found = offers(state, known)
    number = chosen(entry)
    text = " ".join((found[number][1] if 0 <= number < len(found) else entry.text).split())
    if not text:
        return _left(state)
    if entry.what.startswith("about "):
        key = entry.what.removeprefix("about ")
        wrong = wrong_value(key, text)
        if wrong:
            return replace(state, said=f"{key} {text}? accepted: {wrong}")
        return _left(replace(state, header={**state.header, key: text}))
    if entry.what == "pad":
        return _pad(state, text)
    if entry.what == "dial":
        band = state.stops[-1].band
        family = known.families.get(state.header.get("family", ""), {})
        numerals = state.header.get("numerals") or family.get("numerals", "")
        scale = "am" if band == "am" or numerals.lower() == "am" else "fm"
        if read_dial(text, scale) is None:
            return replace(state, said=f"{text} is no reading; accepted: {ACCEPTED[scale]}")
        return noted(state, dial=text)
    if entry.what == "name":
        pins = known.anchored(state.stops[-1].band, text) is not None
        said = "" if pins else f"{text} is no station of the list here: kept, but it pins nothing"
        return replace(noted(state, name=text, skip=0 if pins else state.skip), said=said)
    return noted(state, remark=f"{SEEN}; {text}" if state.stops[-1].remark.startswith(SEEN) else text)


def noted(state: State, *, skip: int | None = None, **cells: str) -> State:
    """Cells of the station noted last, changed."""
    stops = (*state.stops[:-1], replace(state.stops[-1], **cells))
    return replace(done(state, stops=stops, skip=state.skip if skip is None else skip), entry=None)


def _pad(state: State, text: str) -> State:
    found = re.fullmatch(r"([0-9]{1,3}(?:[.,][0-9]{1,2})?)(?: ?dB)?", text, re.IGNORECASE)
    pad_db = float(found[1].replace(",", ".")) if found else -1.0
    if not 0.0 <= pad_db <= MOST_PAD_DB:
        return replace(state, said=f"{text} is no attenuator; accepted: 0 to {MOST_PAD_DB:g} dB")
    return replace(done(state, pad_db=f"{pad_db:g}" if pad_db else "", skip=0, visited=with_band(state)), entry=None)


def with_band(state: State) -> tuple[str, ...]:
    """The bands that were chosen, this one too: what was said of its silence was of another sweep."""
    return tuple(dict.fromkeys((*state.visited, state.band)))


def _like(name: str, typed: str) -> bool:
    """Whether a name, or a word in it, begins with what is typed."""
    typed = typed.casefold().strip()
    name = name.casefold()
    return name.startswith(typed) or any(word.startswith(typed) for word in re.split(r"[\s\W_]+", name))
