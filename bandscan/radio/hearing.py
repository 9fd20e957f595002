"""How a listener at a radio hears a station: an ordered probit in the station's level.

A station of level L is followed when L plus its own spread plus the listener's jitter stands over the threshold T:
P(followed) = Phi((L - T) / s), s^2 = listener^2 + spread^2. A trace needs less, a clean programme more; where a sheet uses
these grades, their steps are unknown too. What is not known beside T is summed over, with these priors:

    listener  4 dB, times or divided by 1.4 (two listeners differ by 2-6 dB: trade practice, computed)
    steps     trace 5 dB below, clean 5 dB above (AM 6), times or divided by 1.4 (AM moves 10-15 dB from 1 to 3: from memory)
    extras    0.3, 1.5 or 6 ticks a band that are no station of the list
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from bandscan.radio.bench import Bench

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# grade classes: 0 followed and no more is known, 1 trace, 2 every word, 3 clean, 4 two at once
CLASSES = 5
FOLLOWED, TRACE, WORDS, CLEAN, MIXED = range(CLASSES)

LISTENER_DB = 4.0
_LISTENER_LOG_SD = 0.35
_STEP_DB = {"fm": 5.0, "am": 6.0}
_STEP_LOG_SD = 0.35
_EXTRAS = ((0.3, 0.3), (1.5, 0.4), (6.0, 0.3))
# share of audible stations that a listener marks as two at once: only has to be the same for all levels
_MIXED_SHARE = 0.05
# chance that a station without a level is followed: any, where others have one; on a list without levels a good set heard it
_FOLLOWED_UNKNOWN = (0.5, 0.8)
# shares of followed, trace, every word, clean and two at once that go with it
_UNKNOWN = np.array([1.0, 0.2, 0.4, 0.6, 0.1])
# a neighbour within one channel and this much stronger may hide a station on a sound radio too (from memory)
_HIDES_DB = 30.0


@dataclass(frozen=True, eq=False)
class Grading:
    """Which grades a sheet tells apart; classes (I,) of its ticks."""

    traces: bool
    clean: bool

    def classes(self, grades: Sequence[str]) -> IntArray:
        """Grade class of every tick."""
        words = {"1": TRACE, "M": MIXED, "2": WORDS if self.clean else FOLLOWED, "3": CLEAN if self.clean else FOLLOWED}
        return np.array([words[grade] for grade in grades], dtype=np.int64)


def grading_of(grades: Sequence[str]) -> Grading:
    """Traces tell something where the listener noted any; clean and not clean only where both are used."""
    used = set(grades)
    return Grading(traces=bool(used & {"1", "M"}), clean={"2", "3"} <= used)


@dataclass(frozen=True, eq=False)
class Hearings:
    """K settings of what is unknown about hearing, arrays (K,). `log_prior` does not hold the threshold's.

    `loss_db` and `keeps` (J, K) are what a suspected fault does to each station: loss of level, factor on its chance.
    """

    threshold_db: FloatArray
    listener_db: FloatArray
    trace_db: FloatArray
    clean_db: FloatArray
    extra: FloatArray
    log_prior: FloatArray
    loss_db: FloatArray | None = None
    keeps: FloatArray | None = None

    def __len__(self) -> int:
        return len(self.threshold_db)

    def pick(self, index: IntArray) -> Hearings:
        """Some of the settings."""
        return Hearings(
            self.threshold_db[index],
            self.listener_db[index],
            self.trace_db[index],
            self.clean_db[index],
            self.extra[index],
            self.log_prior[index],
            None if self.loss_db is None else self.loss_db[:, index],
            None if self.keeps is None else self.keeps[:, index],
        )


def settings(threshold_db: FloatArray, band: str, grading: Grading, *, fine: bool) -> Hearings:
    """Every threshold with every value of the rest, or (not `fine`) with the middle of the rest; threshold slowest."""
    count = 5 if fine else 1
    listener = _log_normal(LISTENER_DB, _LISTENER_LOG_SD, count)
    trace = _log_normal(_STEP_DB[band], _STEP_LOG_SD, 3 if fine and grading.traces else 1)
    clean = _log_normal(_STEP_DB[band], _STEP_LOG_SD, 3 if fine and grading.clean else 1)
    extra = _EXTRAS if fine else ((1.5, 1.0),)
    table = np.array(
        [
            (level, s[0], lower[0], upper[0], more[0], np.log(s[1] * lower[1] * upper[1] * more[1]))
            for level, s, lower, upper, more in itertools.product(threshold_db, listener, trace, clean, extra)
        ]
    )
    return Hearings(*table.T)


def chances(bench: Bench, pad_db: float, grading: Grading, hearings: Hearings) -> tuple[FloatArray, FloatArray]:
    """Chance that a station gives a tick of each class, (5, J, K), and that it gives none, (J, K)."""
    level_db = np.nan_to_num(bench.level_db)[:, None] - pad_db
    if hearings.loss_db is not None:
        level_db = level_db - hearings.loss_db
    spread_db = np.hypot(bench.spread_db[:, None], hearings.listener_db)
    over = (level_db - hearings.threshold_db) / spread_db
    followed = ndtr(over)
    none = np.zeros_like(followed)
    clean = ndtr(over - hearings.clean_db / spread_db) if grading.clean else none
    audible = ndtr(over + hearings.trace_db / spread_db) if grading.traces else followed
    heard = np.stack([followed, audible - followed, followed - clean, clean, _MIXED_SHARE * audible])
    unknown = ~np.isfinite(bench.level_db)
    if unknown.any():
        chance = _FOLLOWED_UNKNOWN[not bench.has_levels]
        heard[:, unknown] = chance * _UNKNOWN[:, None, None]
        audible[unknown] = chance * (1.2 if grading.traces else 1.0)
    air = bench.air[:, None] * _not_hidden(bench)[:, None]
    if hearings.keeps is not None:
        air = air * hearings.keeps
    return heard * air, 1.0 - audible * air


def followed_chance(
    bench: Bench, threshold_db: FloatArray, pad_db: float = 0.0, listener_db: float = LISTENER_DB
) -> FloatArray:
    """Chance that each station is followed at each threshold, (J, K)."""
    nothing = np.zeros_like(threshold_db)
    hearings = Hearings(threshold_db, np.full_like(threshold_db, listener_db), nothing, nothing, nothing, nothing)
    heard, _ = chances(bench, pad_db, Grading(False, False), hearings)
    return np.asarray(heard[FOLLOWED], dtype=np.float64)


def _log_normal(median: float, log_sd: float, count: int) -> list[tuple[float, float]]:
    """Values and weights of a Gauss-Hermite rule for a log-normal quantity."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(count)
    return [
        (float(value), float(weight))
        for value, weight in zip(median * np.exp(log_sd * nodes), weights / weights.sum(), strict=True)
    ]


def _not_hidden(bench: Bench) -> FloatArray:
    """One half for a station beside a far stronger one, else one."""
    near = np.abs(np.subtract.outer(bench.channel_hz, bench.channel_hz)) <= bench.plan.step_hz
    stronger = np.nan_to_num(np.subtract.outer(bench.level_db, bench.level_db), nan=0.0).T >= _HIDES_DB
    return np.asarray(np.where((near & stronger).any(axis=1), 0.5, 1.0), dtype=np.float64)
