"""What the header of a count sheet may say, and in which words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime

from bandscan.plans import BANDS

# key: what is accepted; empty accepts any text
KEYS: dict[str, str] = {
    "job": "",
    "radio": "",
    "family": "",
    "swept": "local time as 2026-03-14 11:20",
    "by": "",
    "antenna": "",
    "rig": "",
    "bands": "the bands that were swept: fm, am or both",
    "seen_list": "yes where the station list was seen before or during the sweep, else no",
    "warm_up_min": "a number of minutes",
    "supply_v": "a number of volts",
    "ground": "neg or pos",
    "dial": "pointer or digits",
    "numerals": "am or fm",
    "raster_khz": "a number of kHz",
    "if_khz": "a number of kHz",
    "pad_db": "0 to 120 dB, where a row or a silent band states none",
}
# what a judgement leans on: missing, it is named under the cautions
WANTED = ("swept", "antenna", "family", "dial")

_WORDS = {"ground": ("neg", "pos"), "dial": ("pointer", "digits"), "numerals": ("am", "fm"), "seen_list": ("yes", "no")}
_NUMBERS = ("warm_up_min", "supply_v", "raster_khz", "if_khz")
MOST_PAD_DB = 120.0
_NUMBER = re.compile(r"[0-9]{1,6}(?:[.,][0-9]{1,6})?")


def wrong_value(key: str, value: str) -> str:
    """What is accepted, where the value of a known key is not; else empty."""
    if key in _WORDS:
        right = value.lower() in _WORDS[key]
    elif key in _NUMBERS:
        right = _NUMBER.fullmatch(value) is not None
    elif key == "pad_db":
        right = attenuator_db(value) is not None
    elif key == "swept":
        if swept_time({"swept": value}) is None:
            return KEYS[key]
        # the rest of the house takes it for the shop's own time
        return "" if datetime.fromisoformat(value).tzinfo is None else f"{KEYS[key]}, without Z or an offset"
    elif key == "bands":
        right = bool(swept_bands({"bands": value}))
    else:
        right = True
    return "" if right else KEYS[key]


def attenuator_db(told: str) -> float | None:
    """The attenuator in line, none where nothing is told; None where it is no attenuator. [dB]"""
    found = re.fullmatch(r"([0-9]{1,3}(?:[.,][0-9]{1,3})?)(?:\s*dB)?", told or "0", re.IGNORECASE)
    pad_db = None if found is None else float(found[1].replace(",", "."))
    return pad_db if pad_db is not None and pad_db <= MOST_PAD_DB else None


def number(header: Mapping[str, str], key: str) -> float | None:
    """A number of the header in the key's unit, None where it is not given."""
    value = header.get(key, "")
    return float(value.replace(",", ".")) if value else None


def swept_bands(header: Mapping[str, str]) -> tuple[str, ...]:
    """The bands that the header says were swept; a band without a row was then silent."""
    words = re.split(r"[\s,;+/]+", header.get("bands", "").lower().strip())
    words = [word for word in words if word and word != "and"]
    return tuple(dict.fromkeys(words)) if words and set(words) <= set(BANDS) else ()


def swept_time(header: Mapping[str, str]) -> datetime | None:
    """Local time of the sweep without a zone; None where the header does not tell."""
    try:
        return datetime.fromisoformat(header.get("swept", "").strip()).replace(tzinfo=None)
    except ValueError:
        return None


def swept_hour(header: Mapping[str, str]) -> float | None:
    """Local hour of the sweep, 0 to 24; None where no hour is given. [h]"""
    when = swept_time(header)
    if when is None or re.fullmatch(r"[0-9W-]*", header["swept"].strip()):
        return None
    return when.hour + when.minute / 60.0


def ground_caution(header: Mapping[str, str]) -> str:
    """What a set with its positive side at the case asks for; empty for any other. Common practice, no code or standard."""
    if header.get("ground", "").lower() != "pos":
        return ""
    return (
        "the set is positive ground: its case may stand at +12 V against a negative-ground supply, and a lead to a computer,"
        " receiver, splitter or earthed generator can short the supply: float the supply, isolate the computer; if unsure"
        " stop and ask"
    )
