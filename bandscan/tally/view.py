"""What the screen shows, as lines of text: to be read at arm's length, without colours, in whatever signs the terminal has."""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import set_cell_size

from bandscan.tally.card import CARD
from bandscan.tally.entries import chosen, offers
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
        found = _too_small(screen, state.said)
    else:
        rule = ("", ("─" if screen.can("─") else "-") * screen.columns)
        foot = [rule, *(("", f" {line}") for line in CARD), ("reverse" if saved.startswith(NOT_SAVED) else "", f" {saved}")]
        head = [
            ("reverse", _title(state, file, screen.columns)),
            ("bold", _standing(state)),
            rule,
            *_large(state, known, screen),
            rule,
        ]
        room = screen.rows - len(head) - len(foot) - 1
        found = [*head, *_middle(state, known, room), _prompt(state, known), *foot]
    return [(style, _fitting(text, screen, fill=style == "reverse")) for style, text in found[: screen.rows]]


def _fitting(text: str, screen: Screen, *, fill: bool) -> str:
    """A line that fits and steers nothing: what cannot be printed, or not in this terminal, is a question mark."""
    text = "".join(sign if sign.isprintable() else "?" for sign in text)
    text = text.encode(screen.encoding, "replace").decode(screen.encoding, "replace")
    text = set_cell_size(text, screen.columns)
    return text if fill else text.rstrip()


def _too_small(screen: Screen, said: str) -> list[Line]:
    found = [
        ("bold", "this window is too small"),
        ("", f"it has {screen.columns} columns, {screen.rows} rows"),
        ("", f"needed: {COLUMNS} and {ROWS}"),
        ("", "keys wait till it is larger"),
        ("", "CTRL-C leaves; all is saved"),
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
    aside = len(state.block) - counted
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
        found = [("", " about the radio: ENTER goes on to the next, typed or not; ESC leaves the rest open")]
        found += [("", f"   {_ASKS[key]:<26}{state.header.get(key, '')}") for key in ASKED]
        found = found[-room:]
    elif entry is not None and (offered := offers(state, known)):
        found = [
            ("reverse" if number == chosen(entry) else "", f"   {label}{'' if label != entry.text else '   (as typed)'}")
            for number, (label, _) in enumerate(offered)
        ][:room]
    else:
        found = [("", _row(state, place)) for place in range(len(state.stops))[-room:]]
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


def _prompt(state: State, known: Known) -> Line:
    """The line in which something is typed or said."""
    entry = state.entry
    if entry is None:
        return ("reverse" if state.said else ""), f" {state.said}"
    said = f"   {state.said}" if state.said else ""
    return "reverse", f" {_question(state, entry)}{said}"


def _question(state: State, entry: Entry) -> str:
    if entry.what == "quit":
        return "finish? Q or ENTER finishes, any other key goes on"
    if entry.what.startswith("silent "):
        band = entry.what.removeprefix("silent ").upper()
        return f"no {band} station is noted: was {band} swept and silent? Y or N"
    key = entry.what.removeprefix("about ")
    asks = _ASKS["dial reading" if entry.what == "dial" else key]
    kept = state.header.get(key, "") if entry.what.startswith("about ") else ""
    return f"{asks}{f' [{kept}]' if kept else ''}: {entry.text}_"
