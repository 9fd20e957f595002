"""Two sheets of one radio or two listeners at one: what changed, and whether that is more than chance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import binomtest

from bandscan.model import BandCheck, Interval, RadioCheck


@dataclass(frozen=True)
class Change:
    """One band of two checks: `difference_db` is the second threshold less the first (negative: more sensitive now).

    `gained` and `lost` are the stations heard in one check only, of `both` that both checks are sure of; `p_value` is the exact
    McNemar test of gained against lost.
    """

    band: str
    difference_db: Interval | None
    gained: tuple[int, ...]
    lost: tuple[int, ...]
    both: int
    p_value: float


def compare(first: RadioCheck, second: RadioCheck) -> dict[str, Change]:
    """What changed from the first check to the second, for the bands that both have."""
    return {band: _change(one, second.bands[band]) for band, one in first.bands.items() if band in second.bands}


def _change(first: BandCheck, second: BandCheck) -> Change:
    before = {station.channel_hz: station.heard for station in first.stations if station.heard is not None}
    after = {station.channel_hz: station.heard for station in second.stations if station.heard is not None}
    both = sorted(set(before) & set(after))
    gained = tuple(hz for hz in both if after[hz] and not before[hz])
    lost = tuple(hz for hz in both if before[hz] and not after[hz])
    return Change(first.band, _difference(first, second), gained, lost, len(both), mcnemar(len(gained), len(lost)))


def mcnemar(gained: int, lost: int) -> float:
    """Exact two-sided p of so many gained and lost, were either as likely."""
    return float(binomtest(gained, gained + lost, 0.5).pvalue) if gained + lost else 1.0


def _difference(first: BandCheck, second: BandCheck) -> Interval | None:
    """Difference of two-sided thresholds of one unit; the intervals' half widths add as squares. [dB]"""
    a, b = first.threshold_db, second.threshold_db
    if None in (a.value, a.low, a.high, b.value, b.low, b.high) or first.unit != second.unit:
        return None
    low = float(np.hypot((a.high or 0.0) - (a.value or 0.0), (b.value or 0.0) - (b.low or 0.0)))
    high = float(np.hypot((a.value or 0.0) - (a.low or 0.0), (b.high or 0.0) - (b.value or 0.0)))
    middle = (b.value or 0.0) - (a.value or 0.0)
    return Interval(middle, middle - low, middle + high)
