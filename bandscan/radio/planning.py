"""What a bench can tell today: how often a set that is so many dB deaf would be told from a good one, and through which pad.

The chances are estimates, right within about 15 of 100: at most 16 off over 12 kinds of benches and pads, 40 made sweeps each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from bandscan.model import Baseline, Reference
from bandscan.radio.bench import Bench, bench_of
from bandscan.radio.expected import reference_for
from bandscan.radio.hearing import followed_chance
from bandscan.radio.limits import Limits

FloatArray = npt.NDArray[np.float64]

PADS_DB = (0.0, 10.0, 20.0, 30.0)
ABLE = 0.8
TOLD = "telling is not condemning: it mostly reads `look closer`"
WITHIN = 15  # of 100 sweeps
_WORTH = 0.1
# measured over made benches: half widths are about this much over what the levels alone allow
_LOSS = 1.15


@dataclass(frozen=True)
class Tells:
    """What a sweep through an attenuator tells: chances to tell a set `look_db` and one `fail_db` deaf from a good one."""

    pad_db: float
    look: float
    fail: float


@dataclass(frozen=True)
class Plan:
    """What the bench tells without an attenuator, and the attenuator that tells most; `reference` is what it rests on."""

    band: str
    stations: int
    reference: Reference
    now: Tells
    best: Tells


def plan_bench(baseline: Baseline, given: Reference | None, limits: Limits) -> Plan | None:
    """The plan of a band; None where the list has no levels or there is no reference threshold."""
    bench = bench_of(baseline)
    reference = reference_for(bench, given)
    if reference.threshold_db is None or not bench.has_levels:
        return None
    # AM goes through none: 50 ohm across its lead take about 30 dB by themselves (trade practice)
    pads_db = PADS_DB if bench.band == "fm" else PADS_DB[:1]
    tells = [tells_through(bench, reference, pad_db, limits) for pad_db in pads_db]
    # an attenuator has to be worth the trouble
    best = max(tells, key=lambda one: one.fail + one.look - 0.02 * (one.pad_db > 0.0))
    return Plan(bench.band, len(bench), reference, tells[0], best)


def plan_words(plan: Plan, limits: Limits) -> str:
    """Whether a sweep tells the contract's two deaf sets from a good one, in words, and through which attenuator it would."""
    told = f"this bench {_tells(plan.now, limits)}, ticks alone, each figure within about {WITHIN}; {TOLD}"
    if plan.best.pad_db and plan.best.fail + plan.best.look > plan.now.fail + plan.now.look + _WORTH:
        told += f"; through a {plan.best.pad_db:g} dB attenuator it {_tells(plan.best, limits)}"
    elif plan.now.look < ABLE:
        better = "no attenuator makes it better" if plan.band == "fm" else "an AM set takes no attenuator"
        told += f"; {better}; grades 3, 2 and 1, a second sweep and more known-good sets do"
    if plan.reference.basis == "assumed":
        told += "; the threshold of a good set is assumed here: sweep a known-good radio first (check --known-good)"
    return told


def _tells(one: Tells, limits: Limits) -> str:
    can, also = "can" if one.look >= ABLE else "cannot surely", "nor"
    if one.fail >= ABLE:
        also = "and" if one.look >= ABLE else "but"
    look = f"{can} tell a set {limits.look_db:g} dB deaf from a good one (about {_of_100(one.look)} of 100 sweeps do)"
    return f"{look}, {also} one {limits.fail_db:g} dB deaf ({_of_100(one.fail)} of 100)"


def _of_100(chance: float) -> str:
    return "over 99" if chance > 0.99 else f"{100 * chance:.0f}"


def tells_through(bench: Bench, reference: Reference, pad_db: float, limits: Limits) -> Tells:
    """Chances that the one-sided 95 % bound of `against_reference_db` lies over zero, normal approximation."""
    look, fail = (_power(bench, reference, pad_db, limits, deaf_db) for deaf_db in (limits.look_db, limits.fail_db))
    return Tells(pad_db, look, fail)


def _power(bench: Bench, reference: Reference, pad_db: float, limits: Limits, deaf_db: float) -> float:
    threshold_db = (reference.threshold_db or 0.0) + deaf_db
    around = followed_chance(bench, threshold_db + np.array([-0.5, 0.0, 0.5]), pad_db)[np.isfinite(bench.level_db)]
    slope, chance = around[:, 2] - around[:, 0], np.clip(around[:, 1], 1e-6, 1.0 - 1e-6)
    information = float((slope**2 / (chance * (1.0 - chance))).sum()) / _LOSS**2
    if information < 1e-6:
        return 0.05
    sd_db = np.sqrt(1.0 / information + (reference.sd_db or 0.0) ** 2 + limits.doubt_db**2)
    return float(ndtr(deaf_db / sd_db - 1.644854))
