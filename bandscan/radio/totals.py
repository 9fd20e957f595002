"""What a bare total tells of the threshold: the Poisson-binomial likelihood, and the doubt of the count itself.

Counts of one radio scatter by 3 to 4 of 60 from one day and operator to the next (trade practice, computed): more than stations
near the threshold explain. What is double, in between, passed over or no station at all cannot be seen in a total, so the count
is taken to be right within about a third of its square root, and to hold some that are no stations: how many nobody can tell.
That a set is better than a good one it shows never.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from bandscan.errors import SheetError
from bandscan.model import BandCheck, Expected, Interval
from bandscan.plans import BandPlan
from bandscan.radio.bench import Bench, Block
from bandscan.radio.expected import count_distribution, expected_count
from bandscan.radio.hearing import LISTENER_DB, LISTENER_LOG_SD, followed_chance
from bandscan.radio.limits import Limits
from bandscan.radio.threshold import Curve
from bandscan.radio.verdict import ONE_A_STOP

FloatArray = npt.NDArray[np.float64]

_COUNT_SD = 0.35
_LEAST_COUNT_SD = 1.0
# repeats, images and sidebands in a total: half a normal distribution of this width, so four on average (from memory)
_SURPLUS_SD = 5.0
# so many over the list are let pass
_OVER_LIST = 4
# log-normal jitter by a Gauss-Hermite rule of this many points
_POINTS = 5


def bare_total(count: int) -> Block:
    """So many stations in some order: what a total tells of single stations."""
    nothing, none = ("",) * count, np.full(count, -1)
    return Block("1", 0.0, 0, np.full(count, np.nan), ("2",) * count, nothing, nothing, none, none)


def more_than_listed(bench: Bench, blocks: Sequence[Block], total: int) -> tuple[str, str] | None:
    """What is wrong where more is counted than the list has stations, and what to do; None where it is not.

    A few more are let pass as repeats. Stops with readings find their places without a bound.
    """
    most, listed = len(bench) + _OVER_LIST, f"the {bench.band.upper()} list has {len(bench)} stations"
    if total > most:
        return f"{total} are counted and {listed}: several sweeps in one total, or stations that nobody surveyed", ONE_A_STOP
    for block in blocks:
        unread = zip(block.grade, np.isfinite(block.reading_hz), strict=True)
        count = sum(grade in ("2", "3") and not read for grade, read in unread)
        if not total and count > most:
            return (
                f"{count} stops of sweep {block.sweep} are counted without a reading and {listed}: two passes under one name,"
                " or stations that nobody surveyed",
                "give each pass along the dial a name of its own in `sweep` (1, 2, or 2down from the top), or read the dial at"
                " every stop",
            )
    return None


def within_band(plan: BandPlan, total: int) -> None:
    """Refuse a total that no dial of the band holds.

    Raises:
        SheetError: there are fewer channels.
    """
    if total > len(plan.channels_hz):
        raise SheetError(
            f"{total} stations of {plan.band.upper()} are counted, and the band has {len(plan.channels_hz)} channels",
            where="totals",
            do="count each station once",
        )


def total_curve(bench: Bench, count: int, at_db: FloatArray, good_db: float | None) -> Curve:
    """Likelihood of thresholds for a bare total; `good_db` is a good set's, where known. [dB]"""
    nodes, weights = np.polynomial.hermite_e.hermegauss(_POINTS)
    number = np.arange(len(bench) + 1)
    surplus = np.arange(count + 1)
    sd = np.hypot(_COUNT_SD * np.sqrt(count), _LEAST_COUNT_SD)
    miscount = np.exp(-0.5 * ((count - surplus[:, None] - number) / sd) ** 2)
    error = np.exp(-0.5 * (surplus / _SURPLUS_SD) ** 2) @ miscount
    value = np.zeros(len(at_db))
    for node, weight in zip(nodes, weights / weights.sum(), strict=True):
        jitter_db = LISTENER_DB * float(np.exp(LISTENER_LOG_SD * node))
        value += weight * (error @ count_distribution(followed_chance(bench, at_db, jitter_db=jitter_db)))
    if good_db is not None:
        # what a better set would follow besides may as well be a good one's surplus, however much that is
        better = at_db <= good_db
        value[better] = np.maximum.accumulate(value[better])
    log_value = np.log(np.maximum(value, 1e-300))
    return Curve(at_db, np.maximum(log_value - log_value.max(), -600.0))


def total_said(bench: Bench, count: int, check: BandCheck, limits: Limits) -> list[str]:
    """What this count can and cannot show on this bench, in one sentence; nothing where no count can be expected."""
    reference = check.reference
    good = expected_count(bench, reference, 0.0, limits.doubt_db)
    if good is None or reference.threshold_db is None:
        return []
    dull = replace(reference, threshold_db=reference.threshold_db + limits.fail_db)
    deaf = expected_count(bench, dull, 0.0, limits.doubt_db)
    if deaf is None:
        return []
    above = f"; more than {good.high} are no proof of a better set" if count > good.high else ""
    return [
        f"{bench.band.upper()}: {count} counted, where a good set follows {good.low} to {good.high} stations of this list and"
        f" one {limits.fail_db:g} dB deaf {deaf.low} to {deaf.high} (95 %): {_fits(count, good, deaf, check, limits)}; which"
        f" stations they were a total cannot show{above}"
    ]


def _fits(count: int, good: Expected, deaf: Expected, check: BandCheck, limits: Limits) -> str:
    """Which of the two sets a count fits; as the verdict has it, which knows that a count holds more than stations."""
    against = check.against_reference_db or Interval(None, None, None)
    as_good = against.low is None or against.low <= 0.0
    as_deaf = against.high is None or against.high >= limits.fail_db
    over = count - deaf.high
    if count > good.high:
        return "more than either follows: repeats, phantoms or stations beside the list may be among them"
    if as_good and as_deaf:
        return "this count fits both" + (f", one so deaf with {over} or more repeats or phantoms in it" if over > 0 else "")
    if over > 0:
        return f"so many one so deaf does not follow, unless {over} or more were repeats or phantoms"
    if count < good.low:
        return "fewer than a good set gives"
    return "this count fits both" if as_good else "hardly as many as a good set gives"
