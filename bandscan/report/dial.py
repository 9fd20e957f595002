"""The dial as it is printed on a set: numerals, graduations, and where along it a frequency lies.

Numerals FM 88 92 96 100 104 108 and AM 55 60 70 80 100 120 140 160 (x10 kHz): common practice. An AM dial is opened up at
its low end, so its places here go with the logarithm of the frequency; an FM dial's with the frequency.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

from bandscan.plans import plan_for

_NUMERALS = {
    ("us", "fm"): (88, 92, 96, 100, 104, 108),
    ("eu", "fm"): (88, 92, 96, 100, 104, 108),
    ("jp", "fm"): (76, 80, 84, 88, 92),
}
_AM_NUMERALS = (55, 60, 70, 80, 100, 120, 140, 160)
_NUMERAL_HZ = {"fm": 1_000_000, "am": 10_000}
_GRADUATION_HZ = {"fm": 1_000_000, "am": 50_000}
_FINE_NUMERALS_HZ = {"fm": (1_000_000, 500_000, 200_000), "am": (50_000, 20_000, 10_000)}  # of a short stretch, coarsest first
_MARGIN_STEPS = 2  # channels of bare dial beyond the first and the last one
_CHANNELS_IN_A_ROW = 30  # of a folded dial, at least
_ZOOM_SHARE = 0.4  # a survey of less of the dial than this is drawn on that part alone


@dataclass(frozen=True)
class Dial:
    """A dial, or a stretch of one. `at` gives places from 0 (left end) to 1 (right end)."""

    band: str
    low_hz: float
    high_hz: float
    numerals: tuple[float, ...]
    graduation_hz: int
    step_hz: int

    def at(self, frequency_hz: float) -> float:
        """Place along the dial: 0 at its left end, 1 at its right end."""
        low, high, here = (_bend(self.band, value) for value in (self.low_hz, self.high_hz, frequency_hz))
        return (here - low) / (high - low)

    def holds(self, frequency_hz: float) -> bool:
        """Whether a frequency is on this stretch; a frequency at a fold belongs to the stretch that begins there."""
        return self.low_hz <= frequency_hz < self.high_hz

    def width(self, channel_hz: float) -> float:
        """Width of one channel, as a share of the dial."""
        return self.at(channel_hz + self.step_hz / 2) - self.at(channel_hz - self.step_hz / 2)

    @property
    def scale(self) -> str:
        """What the numerals are to be multiplied with, as printed at the dial's end."""
        return "MHz" if self.band == "fm" else "×10 kHz"

    def numerals_at(self, gap: float) -> list[tuple[float, str]]:
        """Place and text of the numerals of this stretch, none nearer than `gap` (a share of the dial) to the one before."""
        placed: list[tuple[float, str]] = []
        for numeral in self.numerals:
            frequency_hz = numeral * _NUMERAL_HZ[self.band]
            if self.holds(frequency_hz) and (not placed or self.at(frequency_hz) - placed[-1][0] >= gap):
                placed.append((self.at(frequency_hz), f"{numeral:g}"))
        return placed

    @property
    def graduations_at(self) -> list[float]:
        """Places of the fine lines between the numerals."""
        first, last = math.ceil(self.low_hz / self.graduation_hz), math.floor(self.high_hz / self.graduation_hz)
        return [self.at(count * self.graduation_hz) for count in range(first, last + 1)]

    def fold(self, stretches: int) -> list[Dial]:
        """The dial cut into stretches of equal length, at most so many: a short dial is not cut."""
        stretches = min(stretches, max(1, round((self.high_hz - self.low_hz) / self.step_hz / _CHANNELS_IN_A_ROW)))
        low, high = _bend(self.band, self.low_hz), _bend(self.band, self.high_hz)
        edges = [_unbend(self.band, low + (high - low) * cut / stretches) for cut in range(stretches + 1)]
        edges[0], edges[-1] = self.low_hz, self.high_hz
        return [replace(self, low_hz=left, high_hz=right) for left, right in pairwise(edges)]


def _bend(band: str, frequency_hz: float) -> float:
    return math.log(frequency_hz) if band == "am" else frequency_hz


def _unbend(band: str, bent: float) -> float:
    return math.exp(bent) if band == "am" else bent


def dial_for(region: str, band: str, channels_hz: Iterable[int] = ()) -> Dial:
    """The dial of a region's band; only the part that `channels_hz` cover, where that is a small part of it."""
    plan = plan_for(region, band)
    margin_hz = _MARGIN_STEPS * plan.step_hz
    low_hz, high_hz = plan.channels_hz[0] - margin_hz, plan.channels_hz[-1] + margin_hz
    numerals: tuple[float, ...] = _NUMERALS.get((region, band), _AM_NUMERALS)
    graduation_hz = _GRADUATION_HZ[band]
    covered = sorted(channels_hz)
    if covered and covered[-1] - covered[0] < _ZOOM_SHARE * (high_hz - low_hz):
        low_hz, high_hz, graduation_hz = covered[0] - margin_hz, covered[-1] + margin_hz, plan.step_hz
        unit_hz = _NUMERAL_HZ[band]
        for every_hz in _FINE_NUMERALS_HZ[band]:
            first, last = math.ceil(low_hz / every_hz), math.floor(high_hz / every_hz)
            numerals = tuple(count * every_hz / unit_hz for count in range(first, last + 1))
            if len(numerals) > 1:
                break
    return Dial(band, float(low_hz), float(high_hz), numerals, graduation_hz, plan.step_hz)
