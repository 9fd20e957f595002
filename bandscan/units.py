"""Decibels, receiver units and hertz: the only place that takes a logarithm to base ten.

Power stays linear inside and becomes decibels at the edge, since averaging decibels of noise reads 2.5 dB low.
0 dBFS is a complex tone of amplitude 1.0.

Sources: dBf is dB above 1 fW of available power (IHF-T-200 / IEEE 185-1975, second-hand); dBuV is dB above 1 uV.
"""

from __future__ import annotations

import math
import re
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from bandscan.errors import UsageError

FloatOrArray = TypeVar("FloatOrArray", float, npt.NDArray[np.float64])

_FEMTOWATT_W = 1e-15


def db(power_ratio: FloatOrArray) -> FloatOrArray:
    """Decibels of a power ratio; zero gives -inf, without a warning."""
    if isinstance(power_ratio, np.ndarray):
        with np.errstate(divide="ignore"):
            return np.asarray(10.0 * np.log10(power_ratio), dtype=np.float64)
    return 10.0 * math.log10(power_ratio) if power_ratio > 0 else -math.inf


def from_db(decibels: FloatOrArray) -> FloatOrArray:
    """Power ratio of decibels."""
    if isinstance(decibels, np.ndarray):
        return np.asarray(10.0 ** (decibels / 10.0), dtype=np.float64)
    return float(10.0 ** (decibels / 10.0))


def dbf_to_microvolt(level_dbf: float, resistance_ohm: float) -> float:
    """Matched voltage across `resistance_ohm` for an available power in dBf. [uV]"""
    return float(math.sqrt(_FEMTOWATT_W * from_db(level_dbf) * resistance_ohm) * 1e6)


def microvolt_to_dbf(voltage_uv: float, resistance_ohm: float) -> float:
    """Available power of a matched voltage across `resistance_ohm`. [dBf]"""
    return float(db((voltage_uv * 1e-6) ** 2 / resistance_ohm / _FEMTOWATT_W))


def dbf_to_dbm(level_dbf: float) -> float:
    """dBf to dBm: 1 fW is -120 dBm. [dBm]"""
    return level_dbf - 120.0


def dbuv_to_microvolt(level_dbuv: float) -> float:
    """dB above 1 uV to microvolt. [uV]"""
    return float(math.sqrt(from_db(level_dbuv)))


_HERTZ = re.compile(r"^\s*([0-9]+(?:[.,][0-9]+)?(?:e[0-9]+)?)\s*(k|M|G)?(?:Hz|S/s|sps)?\s*$", re.IGNORECASE)
_PREFIX = {"": 1.0, "k": 1e3, "m": 1e6, "g": 1e9}


def parse_hertz(text: str, *, what: str = "frequency") -> float:
    """`98.1M`, `98.1 MHz`, `2400000`, `2.4e6`, `2,4M` to hertz.

    Raises:
        UsageError: the text is no frequency.
    """
    found = _HERTZ.match(text)
    if found is None:
        raise UsageError(f"{what} {text!r} is not a number of hertz", accepted="2400000, 2.4M, 98.1 MHz")
    return float(found[1].replace(",", ".")) * _PREFIX[(found[2] or "").lower()]


def channel_text(band: str, channel_hz: float) -> str:
    """A channel as the trade writes it: FM in MHz with one decimal (two where needed), AM in kHz."""
    if band == "fm":
        mhz = channel_hz / 1e6
        return f"{mhz:.1f}" if abs(channel_hz - round(mhz, 1) * 1e6) < 1 else f"{mhz:.2f}"
    khz = channel_hz / 1e3
    return f"{khz:.0f}" if abs(channel_hz - round(khz) * 1e3) < 1 else f"{khz:.1f}"


def channel_text_unit(band: str, channel_hz: float) -> str:
    """`98.1 MHz` or `1400 kHz`."""
    return f"{channel_text(band, channel_hz)} {'MHz' if band == 'fm' else 'kHz'}"
