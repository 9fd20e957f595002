"""shop.toml: what it may say, and a shop as it says. A wrong setting is named with its line and what is accepted."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from bandscan.errors import ShopError
from bandscan.plans import REGIONS

SETTINGS = "shop.toml"
LOOK_DB, FAIL_DB = 6.0, 10.0
AM_FEEDS = ("none", "direct", "upconverter")
_LARGEST_BYTES = 1_000_000


@dataclass(frozen=True)
class Rig:
    """What levels depend on. `gain_db` is None where the recordings are to tell it. [dB]"""

    name: str
    antenna: str = ""
    lead: str = ""
    splitter: str = ""
    receiver: str = ""
    gain_db: float | None = None
    am_feed: str = "none"


@dataclass(frozen=True)
class Family:
    """Radios of one kind; None and empty where nobody told. [kHz]"""

    name: str
    if_khz: float | None = None
    dial: str = ""
    numerals: str = ""
    raster_khz: float | None = None
    converted: bool = False


@dataclass(frozen=True)
class Shop:
    """A shop folder and its settings. `rig` is the rig that is meant where none is named, or empty. [dB]

    `keep_gb` is how much IQ of its own captures it keeps; None means all. [GB] `latitude` and `longitude` are degrees,
    north and east positive, both or neither: by them AM knows day from night.
    """

    folder: Path
    name: str = ""
    place: str = ""
    time_zone: str = "UTC"
    region: str = "us"
    rig: str = ""
    look_db: float = LOOK_DB
    fail_db: float = FAIL_DB
    demo: bool = False
    keep_gb: float | None = None
    latitude: float | None = None
    longitude: float | None = None
    rigs: Mapping[str, Rig] = field(default_factory=dict)
    families: Mapping[str, Family] = field(default_factory=dict)

    @property
    def log_path(self) -> Path:
        """The shop's log."""
        return self.folder / "log.sqlite"

    @property
    def names_path(self) -> Path:
        """The shop's own names of stations."""
        return self.folder / "names.csv"

    @property
    def captures(self) -> Path:
        """Where recordings are looked for when none is named."""
        return self.folder / "captures"

    @property
    def reports(self) -> Path:
        """Where pages and tables go when no other place is named."""
        return self.folder / "reports"


@dataclass(frozen=True)
class _Key:
    """One setting: what is accepted, in words, and whether a value is."""

    accepted: str
    right: Callable[[Any], bool]


def _text() -> _Key:
    return _Key("a text in quotes", lambda value: isinstance(value, str))


def _words(*words: str) -> _Key:
    return _Key(" or ".join(f'"{word}"' for word in words), lambda value: isinstance(value, str) and value in words)


def _number(low: float, high: float, unit: str) -> _Key:
    return _Key(
        f"a number of {unit} from {low:g} to {high:g}",
        lambda value: isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high,
    )


def _yes_no() -> _Key:
    return _Key("true or false", lambda value: isinstance(value, bool))


def _zone(value: Any) -> bool:
    if not isinstance(value, str):
        return False
    try:
        ZoneInfo(value)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


_SHOP = {
    "name": _text(),
    "place": _text(),
    "time_zone": _Key('a time zone as "America/Denver", "Europe/Berlin" or "UTC"', _zone),
    "region": _words(*REGIONS),
    "rig": _text(),
    "demo": _yes_no(),
    "keep_gb": _number(0, 1_000_000, "GB"),
    "latitude": _number(-90, 90, "degrees, north positive,"),
    "longitude": _number(-180, 180, "degrees, east positive,"),
}
_LIMITS = {"look_db": _number(0, 60, "dB"), "fail_db": _number(0, 60, "dB")}
_RIG = {
    **dict.fromkeys(("antenna", "lead", "splitter", "receiver"), _text()),
    "gain_db": _number(-20, 120, "dB"),
    "am_feed": _words(*AM_FEEDS),
}
_FAMILY = {
    "if_khz": _number(50, 20_000, "kHz"),
    "dial": _words("pointer", "digits"),
    "numerals": _words("am", "fm"),
    "raster_khz": _number(1, 1000, "kHz"),
    "converted": _yes_no(),
}
_TABLES = ("limits", "rigs", "families")


def load(folder: Path) -> Shop:
    """The shop in `folder`.

    Raises:
        ShopError: there is no shop.toml, it cannot be read, or settings are wrong; all of them are named, with their lines.
    """
    return parse(_read(folder / SETTINGS), folder)


def parse(text: str, folder: Path) -> Shop:
    """The shop in `folder` whose shop.toml is `text`.

    Raises:
        ShopError: settings are wrong; all of them are named, with their lines.
    """
    path = folder / SETTINGS
    try:
        told = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(str(error), text, path) from error
    except RecursionError as error:
        raise ShopError("not TOML: nested too deeply", where=path) from error
    wrong = _Wrong(text)
    shop = _shop(folder, told, wrong)
    if wrong.said:
        raise ShopError(
            "; ".join(text for _, text in sorted(wrong.said)), where=path, do="correct it and run the command again"
        )
    return shop


def _read(path: Path) -> str:
    try:
        content = path.read_bytes()
    except FileNotFoundError as error:
        raise ShopError(
            "is no shop: it has no shop.toml", where=path.parent, do=f"run `bandscan setup {path.parent}`"
        ) from error
    except OSError as error:
        raise ShopError(f"cannot be read: {error.strerror}", where=path) from error
    if len(content) > _LARGEST_BYTES:
        raise ShopError(f"{len(content)} bytes are no settings", where=path, accepted=f"at most {_LARGEST_BYTES}")
    try:
        return content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise ShopError(f"line {line}: not UTF-8", where=path, do="save the file as UTF-8") from error


def _not_toml(said: str, text: str, path: Path) -> ShopError:
    found = re.search(r"\s*\(at line (\d+), column (\d+)\)$", said)
    line = int(found[1]) if found else text.count("\n") + 1
    column = f", column {found[2]}" if found else ""
    what = re.sub(r"\s*\(at .*\)$", "", said)
    return ShopError(
        f"line {line}{column}: not TOML: {what[:1].lower()}{what[1:]}",
        where=path,
        accepted='name = "text in quotes", look_db = 6.0, [rigs.bench]',
        do="correct it and run the command again",
    )


class _Wrong:
    """Wrong settings, each with its line."""

    def __init__(self, text: str) -> None:
        self._lines = _lines(text)
        self.said: list[tuple[int, str]] = []

    def add(self, at: tuple[str, ...], what: str) -> None:
        """Note what is wrong with the setting or table at this place."""
        line = next((self._lines[at[:end]] for end in range(len(at), 0, -1) if at[:end] in self._lines), 1)
        self.said.append((line, f"line {line}: {what}"))

    def keys(
        self, at: tuple[str, ...], told: Mapping[str, Any], known: Mapping[str, _Key], tables: tuple[str, ...] = ()
    ) -> None:
        """Note every unknown key and every value that is not accepted."""
        for name, value in told.items():
            here = (*at, name)
            if name in tables:
                continue
            if name not in known:
                self.add(here, f"no setting {name!r}{_in(at)} (accepted: {', '.join([*known, *tables])})")
            elif not known[name].right(value):
                self.add(here, f"{name} = {_shown(value)}{_in(at)} (accepted: {known[name].accepted})")


def _shop(folder: Path, told: Mapping[str, Any], wrong: _Wrong) -> Shop:
    wrong.keys((), told, _SHOP, _TABLES)
    limits = _table(told, "limits", wrong)
    wrong.keys(("limits",), limits, _LIMITS)
    parts: dict[str, dict[str, Any]] = {}
    for name, known in (("rigs", _RIG), ("families", _FAMILY)):
        parts[name] = {}
        for entry, settings in _table(told, name, wrong).items():
            if isinstance(settings, dict):
                wrong.keys((name, entry), settings, known)
                parts[name][entry] = settings
            else:
                wrong.add((name, entry), f"{entry} = {_shown(settings)} in [{name}] (accepted: a table [{name}.NAME])")
    if told.get("rig") and parts["rigs"] and told["rig"] not in parts["rigs"]:
        wrong.add(("rig",), f"rig = {_shown(told['rig'])} (accepted: a rig that has its table: {', '.join(parts['rigs'])})")
    if not wrong.said and limits.get("look_db", LOOK_DB) >= limits.get("fail_db", FAIL_DB):
        given = next(name for name in ("fail_db", "look_db") if name in limits)
        wrong.add(("limits", given), "look_db is not below fail_db (accepted: look_db = 6.0 and fail_db = 10.0, for instance)")
    alone = [name for name in ("latitude", "longitude") if name in told]
    if len(alone) == 1:
        wrong.add((alone[0],), f"{alone[0]} stands alone (accepted: latitude and longitude together, or neither)")
    if wrong.said:
        return Shop(folder)
    return Shop(
        folder,
        **{name: told[name] for name in _SHOP if name in told},
        look_db=float(limits.get("look_db", LOOK_DB)),
        fail_db=float(limits.get("fail_db", FAIL_DB)),
        rigs={name: Rig(name, **settings) for name, settings in parts["rigs"].items()},
        families={name: Family(name, **settings) for name, settings in parts["families"].items()},
    )


def _table(told: Mapping[str, Any], name: str, wrong: _Wrong) -> Mapping[str, Any]:
    found = told.get(name, {})
    if not isinstance(found, dict):
        wrong.add((name,), f"{name} = {_shown(found)} (accepted: a table [{name}{'' if name == 'limits' else '.NAME'}])")
        return {}
    return found


def _in(at: tuple[str, ...]) -> str:
    return f" in [{'.'.join(at)}]" if at else ""


def _shown(value: object) -> str:
    text = f'"{value}"' if isinstance(value, str) else repr(value).lower() if isinstance(value, bool) else repr(value)
    return text if len(text) <= 40 else f"{text[:37]}..."


def _lines(text: str) -> dict[tuple[str, ...], int]:
    """Line of each table and key, as far as a look at the line's beginning tells."""
    found: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    for number, line in enumerate(text.split("\n"), 1):
        head = re.match(r"\s*\[\[?(.+?)\]\]?\s*(#.*)?$", line)
        key = None if head else re.match(r"\s*([^=#]+?)\s*=", line)
        name = _dotted(head[1]) if head else _dotted(key[1]) if key else ()
        if not name:
            continue
        if head:
            table = name
        at = name if head else (*table, *name)
        for end in range(1, len(at) + 1):
            found.setdefault(at[:end], number)
    return found


def _dotted(text: str) -> tuple[str, ...]:
    """`rigs."my bench".lead` in its parts; empty where it is no key."""
    try:
        told: Any = tomllib.loads(f"{text} = 0")
    except tomllib.TOMLDecodeError:
        return ()
    parts = []
    while isinstance(told, dict):
        ((name, told),) = told.items()
        parts.append(name)
    return tuple(parts)
