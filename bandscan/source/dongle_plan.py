"""Where the dongle is tuned to, and for how long: steps that cover a band, in several passes.

Every channel lies in the flat part of some step (0.36 of the rate to either side of the centre) and off that step's own DC
line. Passes alternate between two sets of centres: what stands where it stood is on the air, what moved with the centre is the
receiver's own (its DC line, its mirror images).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bandscan.errors import UsageError
from bandscan.model import FLAT_SHARE
from bandscan.plans import BandPlan

RATE_HZ = 2_400_000  # the highest rate that comes without losses on most computers (common practice)
RATES_HZ = ((225_001, 300_000), (900_001, 3_200_000))
SECOND_GAIN_DB = 8.0  # under the first: more than 6 dB part a product from a station (common practice)
LEAST_SECOND_DB = 5.0

PASSES = 3
# a dwell: FM at the gain of the levels, FM at the second gain, which only has to show how emissions fall, AM
_DWELL_S = {"fm": (3.0, 1.0), "am": (10.0, 3.0)}
_QUICK_S = {"fm": 2.0, "am": 4.0}
_PAUSE_S = {"fm": 0.0, "am": 30.0}  # between the starts of passes: FM's own steps spread them already
# besides its samples a dwell takes tuning and what stands in the driver's queue; measuring takes a part of its length
# (0.1 to 0.3 s for each second on the machines tried)
_TUNE_S = 0.15
_MEASURE_SHARE = 0.25
_START_S = 4.0


@dataclass(frozen=True)
class Dwell:
    """One stay at one centre. `turn` counts passes from 1, `step` the places of that pass from 1 to `of`. [Hz, dB, s]"""

    number: int
    turn: int
    step: int
    of: int
    centre_hz: int
    gain_db: float | None
    seconds: float


@dataclass(frozen=True)
class Route:
    """Everything that is tuned to in one survey of a band."""

    band: str
    rate_hz: int
    settle_s: float
    pause_s: float
    turns: int
    dwells: tuple[Dwell, ...]

    @property
    def seconds(self) -> float:
        """How long it takes, about. [s]"""
        begun = {one.turn: 0.0 for one in self.dwells}
        for one in self.dwells:
            begun[one.turn] += one.seconds * (1 + _MEASURE_SHARE) + self.settle_s + _TUNE_S
        turns = list(begun.values())
        return _START_S + sum(max(own, self.pause_s) for own in turns[:-1]) + sum(turns[-1:])

    @property
    def bytes(self) -> int:
        """Size of all samples. [B]"""
        return sum(2 * samples_of(one.seconds, self.rate_hz) for one in self.dwells)


def samples_of(seconds: float, rate_hz: float) -> int:
    """Samples of a dwell: whole USB packets of 256."""
    return max(round(seconds * rate_hz / 256), 1) * 256


def centres_hz(plan: BandPlan, rate_hz: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Two sets of centres, each of which has every channel in its flat part; the second is shifted against the first. [Hz]

    Centres lie half-way between two channels of the raster, so that no carrier stands on the DC line.

    Raises:
        UsageError: the rate is too low to hold two channels.
    """
    channels, step = plan.channels_hz, plan.step_hz
    half = round(FLAT_SHARE * rate_hz)
    # channels at odd halves of the raster from the centre: as many to either side as fit
    beside = (half + step // 2) // step
    if beside < 1:
        raise UsageError(f"a rate of {rate_hz} S/s holds no two channels", accepted="1.2M or more", do="leave --rate out")
    low, high = channels[0], channels[-1]
    reach = beside * step - step // 2
    every = 2 * beside * step
    if high - low <= 2 * reach:  # all at one go: as far to either side as the flat part allows, at most a quarter of it
        slack = min(reach - (high - low) // 2, half // 4) // step * step
        middle = low + (high - low) // step // 2 * step + step // 2
        first, second = middle - slack, middle + slack
        return (_fit(first, low, high, half, step),), (_fit(second, low, high, half, step),)
    count = -(-((high - low) // step + 1) // (2 * beside))
    first_set = tuple(low + reach + number * every for number in range(count))
    shift = beside * step
    second_set = tuple(low + reach - shift + number * every for number in range(count + 1))
    return first_set, tuple(centre for centre in second_set if centre - half <= high)


def _fit(centre_hz: int, low_hz: int, high_hz: int, half_hz: int, step_hz: int) -> int:
    """The centre, moved by whole channels until both ends of the band are within its flat part."""
    while high_hz - centre_hz > half_hz:
        centre_hz += step_hz
    while centre_hz - low_hz > half_hz:
        centre_hz -= step_hz
    return centre_hz


def second_gain(gains_db: Sequence[float], gain_db: float) -> float | None:
    """The tuner's gain nearest to 8 dB under the first; None where it has none that is at least 5 dB lower. [dB]"""
    lower = [gain for gain in gains_db if gain <= gain_db - LEAST_SECOND_DB]
    return min(lower, key=lambda gain: abs(gain - (gain_db - SECOND_GAIN_DB))) if lower else None


def route(
    plan: BandPlan,
    gains_db: Sequence[float | None],
    *,
    turns: int = PASSES,
    quick: bool = False,
    rate_hz: int = RATE_HZ,
    settle_s: float = 0.1,
    dwell_s: float | None = None,
    pause_s: float | None = None,
) -> Route:
    """The route over a band.

    Args:
        plan: the band.
        gains_db: the gain that levels are meant at, and the second one if there is one. [dB]
        turns: passes.
        quick: one pass at the first gain, short dwells.
        rate_hz: samples a second.
        settle_s: what is thrown away after each retune. [s]
        dwell_s: stay at each centre at the first gain; a third of it at the second. [s]
        pause_s: least time from one pass's start to the next one's. [s]

    Raises:
        UsageError: the rate is none of the driver's.
    """
    if not any(low <= rate_hz <= high for low, high in RATES_HZ):
        spans = " or ".join(f"{low} to {high}" for low, high in RATES_HZ)
        raise UsageError(f"a rate of {rate_hz} S/s", accepted=f"{spans} S/s; 2.4M comes without losses on most computers")
    first_s, second_s = _DWELL_S[plan.band]
    if quick:
        gains_db, turns, first_s = gains_db[:1], 1, _QUICK_S[plan.band]
    if dwell_s is not None:
        first_s, second_s = dwell_s, dwell_s / 3
    sets = centres_hz(plan, rate_hz)
    dwells: list[Dwell] = []
    for turn in range(turns):
        centres = sets[turn % 2]
        for step, centre in enumerate(centres, 1):
            for place, gain in enumerate(gains_db):
                seconds = second_s if place else first_s
                dwells.append(Dwell(len(dwells) + 1, turn + 1, step, len(centres), centre, gain, seconds))
    return Route(plan.band, rate_hz, settle_s, _PAUSE_S[plan.band] if pause_s is None else pause_s, turns, tuple(dwells))
