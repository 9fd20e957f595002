"""What the screen shows, as lines of text: to be read at arm's length, without colours, in whatever signs the terminal has."""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len, chop_cells, set_cell_size

from bandscan.tally.card import CARD, CARD_UNSAVED
from bandscan.tally.entries import chosen, offers, silent_through
from bandscan.tally.figures import HEIGHT, LAMPS, big
from bandscan.tally.state import ASKED, STATIONS, Entry, Known, State, place_in_list
from bandscan.units import channel_text

COLUMNS, ROWS = 80, 24
NOT_SAVED = "NOT SAVED:"
_GRADE_WORDS = {
    "3": "clean",
    "2": "every word",
    "1": "a trace",
    "M": "two at once",
    "W": "a whistle",
    "R": "a repeat",
    "": "silent",
}
_UNITS = {"fm": "MHz", "am": "kHz"}
_ASKS = {
    "job": "job number",
    "radio": "radio, make and model",
    "family": "family, as in shop.toml",
    "by": "who is listening",
    "antenna": "antenna",
    "dial": "dial: pointer or digits",
    "dial reading": "dial reads",
    "name": "name heard",
    "remark": "remark",
    "pad": "attenuator for the next ones, dB (0 for none)",
}
# lines that are kept for what is said, for what is typed, and for the file: all that the list leaves at 80 by 24
_SAID, _TYPED, _SAVED = 4, 2, 2
# columns at which the large parts begin: count (three figures are 22 wide), grade, lamp, next in the list
_PARTS = (0, 22, 33, 41)


@dataclass(frozen=True)
class Screen:
    """The terminal: its size, and the encoding that its signs must be of."""

    columns: int = COLUMNS
    rows: int = ROWS
    encoding: str = "utf-8"

    @property
    def large_enough(self) -> bool:
        """Whether all of it can be shown."""
        return self.columns >= COLUMNS and self.rows >= ROWS

    def can(self, sign: str) -> bool:
        """Whether the terminal has this sign."""
        return sign.encode(self.encoding, "replace").decode(self.encoding, "replace") == sign


Line = tuple[str, str]
"""Style (empty, `bold` or `reverse`) and text."""


def lines(state: State, known: Known, screen: Screen, file: str, saved: str) -> list[Line]:
    """The whole screen, `screen.rows` lines of `screen.columns` cells at most.

    Args:
        state: where the tally stands.
        known: what the bench knows.
        screen: the terminal.
        file: the sheet, as the user calls it.
        saved: whether and when it was saved, in words.
    """
    if not screen.large_enough:
        found = _too_small(screen, state.said, saved)
    else:
        rule = ("", ("─" if screen.can("─") else "-") * screen.columns)
        unsaved = saved.startswith(NOT_SAVED)
        card = [("", f" {line}") for line in (CARD_UNSAVED if unsaved else CARD)]
        foot = [rule, *card, *_block(saved, screen, "reverse" if unsaved else "")[:_SAVED]]
        head = [
            ("reverse", _title(state, file, screen.columns)),
            ("bold", _standing(state)),
            rule,
            *_large(state, known, screen),
            rule,
        ]
        told = _told(state, screen)
        room = screen.rows - len(head) - len(foot) - len(told)
        found = [*head, *_middle(state, known, room), *told, *foot]
    return [(style, _fitting(text, screen, fill=style == "reverse")) for style, text in found[: screen.rows]]


def _fitting(text: str, screen: Screen, *, fill: bool) -> str:
    """A line that fits and steers nothing."""
    text = set_cell_size(_plain(text, screen), screen.columns)
    return text if fill else text.rstrip()


def _plain(text: str, screen: Screen) -> str:
    """What cannot be printed, or not in this terminal, is a question mark."""
    text = "".join(sign if sign.isprintable() else "?" for sign in text)
    return text.encode(screen.encoding, "replace").decode(screen.encoding, "replace")


def _block(text: str, screen: Screen, style: str, margin: str = " ") -> list[Line]:
    """A text of any length as whole lines, broken at blanks where there are some."""
    text = _plain(text, screen)
    columns = max(screen.columns - len(margin), 2)  # no sign is wider than two
    found = [""]
    for word in text.split(" ") if cell_len(text) > columns else []:
        if cell_len(f"{found[-1]} {word}") <= columns:
            found[-1] = f"{found[-1]} {word}" if found[-1] else word
        else:
            found = [*(line for line in found if line), *chop_cells(word, columns)]
    return [(style, margin + line) for line in (found if found != [""] else [text])]


def _too_small(screen: Screen, said: str, saved: str) -> list[Line]:
    unsaved = saved.startswith(NOT_SAVED)
    found = [
        *(_block(saved, screen, "reverse", "") if unsaved else []),
        ("bold", "this window is too small"),
        ("", f"it has {screen.columns} columns, {screen.rows} rows"),
        ("", f"needed: {COLUMNS} and {ROWS}"),
        ("", "keys wait till it is larger"),
        ("", "CTRL-C tries once more, and leaves" if unsaved else "CTRL-C leaves; all is saved"),
        ("reverse" if said else "", said),
    ]
    return found[: screen.rows]


def _title(state: State, file: str, columns: int) -> str:
    words = " ".join(filter(None, (state.header.get("job"), state.header.get("radio"))))
    left, right = f" TALLY  {words}", f"{file} "
    left = set_cell_size(left, max(24, min(columns - len(right) - 2, columns)))
    return left + "  " + right[-(columns - 26) :]


def _standing(state: State) -> str:
    way = "down the dial" if state.step < 0 else "up the dial"
    number = state.sweep.removesuffix("up").removesuffix("down")
    pad = f"{state.pad_db} dB in line" if state.pad_db else "none"
    return f" {state.band.upper()}   sweep {number}, {way}   pad {pad}   list {'SHOWN' if state.shown else 'hidden'}"


def _large(state: State, known: Known, screen: Screen) -> list[Line]:
    """Count, last grade, its lamp and what is next in the list, in large figures, with a line of words under each."""
    ink = "█" if screen.can("█") else "#"
    counted = sum(stop.grade in STATIONS for stop in state.block)
    aside = sum(bool(stop.grade) for stop in state.block) - counted
    last = state.last
    figures, words = _next(state, known)
    large = (str(counted), last.grade if last else "-", LAMPS[last.lamp] if last else "", figures)
    parts = [big(text, ink) if text else [""] * HEIGHT for text in large]
    captions = (
        f"heard{f', {aside} aside' if aside else ''}",
        _GRADE_WORDS[last.grade] if last else "none yet",
        {"on": "lamp on", "off": "dark", "flicker": "flicker", "": ""}[last.lamp] if last else "",
        words,
    )
    return [*(("bold", _across(*row)) for row in zip(*parts, strict=True)), ("", _across(*captions))]


def _across(*parts: str) -> str:
    text = ""
    for start, part in zip(_PARTS, parts, strict=True):
        text = set_cell_size(text, start) + part
    return text


def _next(state: State, known: Known) -> tuple[str, str]:
    """The next station's channel for large figures, and the words under it."""
    stations = known.listed(state.band)
    if not state.shown:
        return "", "next in the list: hidden" if stations else ""
    place = place_in_list(state, known)
    if not 0 <= place < len(stations):
        return "--", "next in the list: none left"
    channel, label = channel_text(state.band, stations[place].channel_hz), stations[place].label
    return channel, f"next in the list, {_UNITS[state.band]}{f': {label}' if label != channel else ''}"


def _middle(state: State, known: Known, room: int) -> list[Line]:
    """The last rows of the sheet, or what is offered for what is being typed; exactly `room` lines."""
    entry = state.entry
    found: list[Line]
    if entry is not None and entry.what.startswith("about ") and not offers(state, known):
        found = [("", " about the radio: ENTER goes on to the next, typed or not; ESC leaves the rest")]
        others = [key for key in ASKED if entry.what != f"about {key}"]
        found += [("", f"   {_ASKS[key]:<26}{state.header.get(key, '')}") for key in others]
        found = found[:room]
    elif entry is not None and (offered := offers(state, known)):
        found = [
            ("reverse" if number == chosen(entry) else "", f"   {label}{'' if label != entry.text else '   (as typed)'}")
            for number, (label, _) in enumerate(offered)
        ]
        first = max(chosen(entry) + 1 - room, 0)  # the one that is meant is always in sight
        found = found[first : first + room]
    else:
        found = [("", _row(state, place)) for place in range(len(state.stops))[-room:]] if room else []
    return [*found, *[("", "")] * (room - len(found))]


def _row(state: State, place: int) -> str:
    stop = state.stops[place]
    number = sum(
        1 for one in state.stops[: place + 1] if (one.band, one.sweep, one.pad_db) == (stop.band, stop.sweep, stop.pad_db)
    )
    pad = f"{stop.pad_db} dB" if stop.pad_db else ""
    lamp = f"lamp {stop.lamp}" if stop.lamp else ""
    cells = f" {stop.band.upper()} {stop.sweep:<6} {pad:<7} {number:>3}   {stop.grade} {_GRADE_WORDS[stop.grade]:<12}{lamp:<13}"
    return f"{cells}{stop.dial:<10} {stop.name}  {stop.remark}"


def _told(state: State, screen: Screen) -> list[Line]:
    """What is said, in lines of its own, and below it what is typed; one empty line where there is neither."""
    said = _block(state.said, screen, "reverse")[:_SAID] if state.said else []
    if state.entry is None:
        return said or [("", "")]
    return [*said, *_block(_question(state, state.entry), screen, "reverse")[-_TYPED:]]


def _question(state: State, entry: Entry) -> str:
    if entry.what == "quit":
        return "finish? Q or ENTER finishes, any other key goes on"
    if entry.what.startswith("silent "):
        band = entry.what.removeprefix("silent ").upper()
        pad_db = silent_through(state, band.lower())
        through = f" through {pad_db} dB" if pad_db else ""
        without = "" if pad_db else ", no attenuator in line"
        return f"no {band} station is noted{through}: was {band} swept and silent{without}? Y or N"
    key = entry.what.removeprefix("about ")
    asks = _ASKS["dial reading" if entry.what == "dial" else key]
    kept = state.header.get(key, "") if entry.what.startswith("about ") else ""
    return f"{asks}{f' [{kept}]' if kept else ''}: {entry.text}_"
