"""What every reader asks of the figures that a recording, or the caller, gives: ranges, times, names."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from bandscan.errors import BandscanError, RecordingError

# Wider than any receiver of these bands; what lies outside is a slip of the pen, not a recording.
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 1e3, 1e9
HIGHEST_CENTRE_HZ = 1e11


def shown(value: object) -> str:
    """A wrong value for a message: short, whatever it is."""
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:37]}..."


def in_range(
    value: object,
    low: float,
    high: float,
    unit: str,
    what: str,
    where: object = "",
    error: type[BandscanError] = RecordingError,
) -> float:
    """The value as a float.

    Raises:
        error: it is no number, or none within low ... high.
    """
    # a whole number may be too long for a float, so it is compared before it is converted
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise error(f"{what} is {shown(value)}", where=where, accepted=f"a number from {low:g} to {high:g} {unit}".rstrip())
    return float(value)


def rate(value: object, what: str, where: object = "", error: type[BandscanError] = RecordingError) -> float:
    """A sample rate. [Hz]"""
    return in_range(value, LOWEST_RATE_HZ, HIGHEST_RATE_HZ, "Hz", what, where, error)


def centre(value: object, what: str, where: object = "", error: type[BandscanError] = RecordingError) -> float:
    """A centre frequency. [Hz]"""
    return in_range(value, 0.0, HIGHEST_CENTRE_HZ, "Hz", what, where, error)


def utc(text: str) -> datetime | None:
    """The moment that an ISO 8601 date and time names, in UTC; None where it names none. Without an offset it is UTC."""
    if len(text) > 64 or not ("T" in text or " " in text):
        return None  # a date alone is no start
    try:
        moment = datetime.fromisoformat(text)
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def utc_text(moment: datetime) -> str:
    """ISO 8601 with a trailing `Z`."""
    return moment.astimezone(UTC).replace(tzinfo=None).isoformat() + "Z"


def plain(text: str) -> str:
    """A text from outside, fit to be printed and written as UTF-8: no line ends, control signs or halves of a code."""
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def recording_name(path: Path) -> str:
    """The file's name without its ending."""
    return plain(path.stem)


def mega(size_bytes: float) -> str:
    """A size for a message."""
    return f"{size_bytes / 1e6:.1f} MB"


def cut_note(path: Path, rest_bytes: int) -> str:
    """The line for samples that end within one."""
    return f"{plain(path.name)}: ends within a sample; its last {rest_bytes} bytes are left out"


def short_note(path: Path, missing_bytes: int) -> str:
    """The line for a file that ends before what its header promises."""
    return f"{plain(path.name)}: cut short, {mega(missing_bytes)} of its samples are missing"
