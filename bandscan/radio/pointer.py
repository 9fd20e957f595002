"""What a pointer does to a frequency: reading = frequency + offset + slope + curve + backlash + reading noise.

Priors (trade practice, partly from memory): car dials are 70-90 mm long, one reads 0.5-1 mm, that is 0.2-0.4 MHz on FM, 5-10
kHz at the low and 15-30 kHz at the high end of AM; a slipped pointer of 6 mm is 1.4-1.8 MHz or 75-95 kHz; backlash is 0.5-2 mm.
A digital dial stands on its raster.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from bandscan.plans import BandPlan
from bandscan.radio.bench import Bench, Block
from bandscan.radio.header import number

FloatArray = npt.NDArray[np.float64]

COLUMNS = ("offset", "slope", "curve", "backlash")
# readings that fit nowhere: slips of the pen
_SLIP = 0.01
# what is read off a display that is right: most stops by a channel of the list, within this part of the raster. A display may
# be off by so many steps (a counter with the wrong intermediate frequency)
_SHARE_BY, _BY_CHANNEL, _BESIDE, _MOST_STEPS, _LEAST_READ = 0.6, 0.45, 0.9, 5, 6
# an anchor named by ear may be the wrong station, or none of the list
_MISNAMED = 1e-4


@dataclass(frozen=True, eq=False)
class Dial:
    """The kind of dial: prior standard deviation of each of COLUMNS and reading noise at both ends of the band. [Hz]

    `kind` is pointer, digits or none (nothing was read); `slope` is the deviation at the band's end. `noise_log` is how far
    this dial and this eye may be from the usual noise, `tilt` how it may grow otherwise from the band's middle to its end:
    deviations of the noise's logarithm. Digits stand on their raster: of them there is nothing to learn. `slips` is the
    share of such dials whose pointer is off by three times the prior's deviations.
    """

    kind: str
    prior_hz: FloatArray
    noise_low_hz: float
    noise_high_hz: float
    noise_log: float = 0.45
    tilt: float = 0.15
    slips: float = 0.14

    def noise_hz(self, bench: Bench, at_hz: FloatArray) -> FloatArray:
        """Usual standard deviation of a reading. [Hz]"""
        share = (at_hz - bench.plan.first_hz) / (bench.plan.last_hz - bench.plan.first_hz)
        return self.noise_low_hz + np.clip(share, 0.0, 1.0) * (self.noise_high_hz - self.noise_low_hz)


@dataclass(frozen=True, eq=False)
class Pointers:
    """M possible pointers: coefficients of COLUMNS (M, 4) [Hz], reading noise as a factor (M,), and its logarithm at the
    band's upper end less that in its middle (M,)."""

    coefficients: FloatArray
    noise: FloatArray
    tilt: FloatArray

    def noise_at(self, across: FloatArray) -> FloatArray:
        """The factor on the reading noise at places from -1, the band's lower end, to 1, shape (J, M)."""
        return self.noise * np.exp(across[:, None] * self.tilt)

    def __len__(self) -> int:
        return len(self.noise)

    def pick(self, index: npt.NDArray[np.int64]) -> Pointers:
        """Some of them."""
        return Pointers(self.coefficients[index], self.noise[index], self.tilt[index])


def dial_of(bench: Bench, blocks: list[Block], header: Mapping[str, str]) -> Dial:
    """The kind of dial from the header, else from how the readings look."""
    readings = np.concatenate([block.reading_hz for block in blocks]) if blocks else np.array([])
    readings = readings[np.isfinite(readings)]
    half_hz = (bench.plan.last_hz - bench.plan.first_hz) / 2.0
    if not len(readings):
        return Dial("none", np.ones(4), half_hz, half_hz, 0.0, 0.0)
    fm = bench.band == "fm"
    kind = header.get("dial", "").lower() or ("digits" if _stands_on_stations(bench, readings) else "pointer")
    # a set of another raster than the band's stops up to half a step beside a channel
    raster_hz = (number(header, "raster_khz") or 0.0) * 1e3
    # one header serves both bands: a raster far over the band's step is the other band's, as the word may be the other dial's
    apart_hz = max(raster_hz if raster_hz <= 2.0 * bench.plan.step_hz else 0.0, bench.plan.step_hz)
    if kind == "digits" and _stops_by_channel(bench, readings, apart_hz):
        return Dial("digits", np.ones(4), apart_hz / 4.0, apart_hz / 4.0, 0.0, 0.0)
    if fm and header.get("numerals", "").lower() == "am":
        # whoever laid the band over another's numerals laid it anywhere: no slip makes that worse, and nothing there is amiss
        return Dial("pointer", np.array([1.5e6, 0.1 * half_hz, 0.8e6, 0.3e6]), 0.35e6, 0.35e6, slips=0.0)
    if fm:
        return Dial("pointer", np.array([0.7e6, 0.03 * half_hz, 0.1e6, 0.3e6]), 0.25e6, 0.25e6)
    return Dial("pointer", np.array([17.5e3, 0.03 * half_hz, 6e3, 20e3]), 10e3, 24e3, tilt=0.3)


def adjusted_at(plan: BandPlan) -> tuple[int, int, int]:
    """Where the trade adjusts a dial: near both ends and in the middle (common practice; for 76 to 95 MHz alike). [Hz]"""
    if plan.band == "am":
        return 600_000, 1_000_000, 1_400_000
    return (90_000_000, 98_000_000, 106_000_000) if plan.last_hz > 100_000_000 else (78_000_000, 85_000_000, 92_000_000)


def _stands_on_stations(bench: Bench, readings_hz: FloatArray) -> bool:
    """Whether readings are exactly stations of the list, too often for an eye on a scale."""
    if len(readings_hz) < 6:
        return False
    nearest = np.abs(np.subtract.outer(readings_hz, bench.channel_hz)).min(axis=1)
    return bool((nearest < 1.0).mean() >= 0.8)


def _stops_by_channel(bench: Bench, readings_hz: FloatArray, apart_hz: float) -> bool:
    """Whether readings stand by the list's stations as a right display's do. One that is off by some steps has more of them by
    stations some steps away, and a pointer's stand anywhere."""
    shifts_hz = bench.plan.step_hz * np.arange(-_MOST_STEPS, _MOST_STEPS + 1)
    apart = np.abs(readings_hz[:, None, None] - shifts_hz[:, None] - bench.channel_hz).min(axis=2)
    by = (apart <= _BY_CHANNEL * apart_hz).sum(axis=0)
    own, count = by[_MOST_STEPS], len(readings_hz)
    right = own >= _SHARE_BY * count and by.max() - own < max(3.0, 0.2 * count)
    # a set of another region stops half a step beside every channel
    step_hz = bench.plan.step_hz
    beside = np.abs((readings_hz - bench.plan.first_hz + step_hz / 2.0) % step_hz - step_hz / 2.0) > _BY_CHANNEL * step_hz
    return bool(count < _LEAST_READ or right or beside.mean() >= _BESIDE)


def across(bench: Bench, at_hz: FloatArray) -> FloatArray:
    """Places on the dial, from -1 at the band's lower end to 1."""
    half_hz = (bench.plan.last_hz - bench.plan.first_hz) / 2.0
    return (np.asarray(at_hz, dtype=np.float64) - bench.plan.first_hz) / half_hz - 1.0


def design(bench: Bench, at_hz: FloatArray, direction: int) -> FloatArray:
    """The four columns at frequencies, shape (..., 4)."""
    x = across(bench, at_hz)
    return np.stack([np.ones_like(x), x, (3.0 * x * x - 1.0) / 2.0, np.full_like(x, direction / 2.0)], axis=-1)


def reading_factors(bench: Bench, block: Block, dial: Dial, pointers: Pointers) -> tuple[FloatArray, FloatArray]:
    """`place` (I, J, M) and `beside` (I, J+1, M) of the chain, as multiples of an even spread over the dial.

    `share_of_dial` says how much of the dial each gap between stations is.
    """
    pointer_count = len(pointers)
    columns = design(bench, bench.channel_hz, block.direction)
    centre_hz = bench.channel_hz[:, None] + columns @ pointers.coefficients.T
    sd_hz = dial.noise_hz(bench, bench.channel_hz)[:, None] * pointers.noise_at(across(bench, bench.channel_hz))
    width_hz = float(bench.plan.last_hz - bench.plan.first_hz)
    read = np.isfinite(block.reading_hz)
    z = (np.nan_to_num(block.reading_hz)[:, None, None] - centre_hz) / sd_hz
    place = (1.0 - _SLIP) * width_hz / (np.sqrt(2.0 * np.pi) * sd_hz) * np.exp(-0.5 * z * z) + _SLIP
    below = np.concatenate([np.ones((len(block), 1, pointer_count)), ndtr(z), np.zeros((len(block), 1, pointer_count))], axis=1)
    # a pointer that crowds the scale could put a later station before an earlier one: no negative chances
    inside = np.clip(below[:, :-1] - below[:, 1:], 0.0, 1.0)
    beside = (1.0 - _SLIP) * inside / share_of_dial(bench)[:, None] + _SLIP
    place[~read] = 1.0
    beside[~read] = 1.0
    named = block.anchor >= 0
    if named.any():
        allowed = np.full((int(named.sum()), len(bench)), _MISNAMED)
        allowed[np.arange(len(allowed)), block.anchor[named]] = 1.0
        place[named] *= allowed[:, :, None]
        beside[named] *= _MISNAMED
    return place, beside


def share_of_dial(bench: Bench) -> FloatArray:
    """The dial between neighbouring stations, and beyond the first and the last one, as shares of the whole, (J+1,)."""
    edges = np.concatenate([[bench.plan.first_hz], bench.channel_hz, [bench.plan.last_hz]])
    return np.asarray(np.maximum(np.diff(edges), bench.plan.step_hz / 2.0) / (bench.plan.last_hz - bench.plan.first_hz))


def error_at(bench: Bench, pointers: Pointers, weight: FloatArray, at_hz: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation of the pointer's error over weighted pointers, both directions together. [Hz]"""
    error_hz = design(bench, at_hz, 0) @ pointers.coefficients.T
    mean = error_hz @ weight
    return mean, np.sqrt(((error_hz - mean[:, None]) ** 2) @ weight)
