"""A look at the dongle: what is plugged in, and what it can and cannot do."""

from __future__ import annotations

from bandscan.errors import DeviceError
from bandscan.source.dongle_plan import RATE_HZ
from bandscan.source.dongle_take import CONVERTS, TUNERS, Dongle, Setting


def look_lines(serial: str = "") -> tuple[str, ...]:
    """What the dongle is and can do, a line for each; one line that says why where there is none to look at."""
    with Dongle(Setting(RATE_HZ, serial)) as dongle:
        try:
            dongle.open()
        except DeviceError as error:
            return (str(error),)
        _, lowest_hz = TUNERS.get(dongle.tuner, ("", 0.0))
        gains = dongle.gains_db
        return (
            f"dongle: {dongle.name}; {len(gains)} gains from {min(gains):.1f} to {max(gains):.1f} dB",
            _fm(lowest_hz),
            _am(dongle.tuner, lowest_hz),
        )


def _fm(lowest_hz: float) -> str:
    if lowest_hz > 88e6:
        return f"FM: cannot: its tuner starts at {lowest_hz / 1e6:.0f} MHz"
    return "FM: can, from the antenna alone: bandscan capture --band fm"


def _am(tuner: int, lowest_hz: float) -> str:
    ways = "by direct sampling if the dongle has an input for it (--direct q, or i), or by an upconverter (--upconverter 125M)"
    if tuner == CONVERTS:
        return f"AM: can if it has a converter of its own, else {ways}"
    return f"AM: its tuner starts at {lowest_hz / 1e6:.0f} MHz; only {ways}"


def plugged_in(serial: str = "") -> bool:
    """Whether the dongle can be opened now."""
    with Dongle(Setting(RATE_HZ, serial)) as dongle:
        try:
            dongle.open()
        except DeviceError:
            return False
        return True
