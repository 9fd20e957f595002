"""How a listener at a radio hears a station: an ordered probit in the station's level.

A station of level L is followed when L plus its own spread plus the listener's jitter stands over the threshold T:
P(followed) = Phi((L - T) / s), s^2 = listener^2 + spread^2. A trace needs less, a clean programme more; where a sheet uses
these grades, their steps are unknown too. What is not known beside T has these priors, all log-normal:

    listener  4 dB, times or divided by 1.4 (two listeners differ by 2-6 dB: trade practice, computed)
    steps     trace 5 dB below, clean 5 dB above (AM 6), times or divided by 1.4 (AM moves 10-15 dB from 1 to 3: from memory)
    extras    0.5 ticks a band that are no station of the list, times or divided by 4 (from memory)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from bandscan.radio.bench import Bench

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# grade classes: followed and no more is known, trace, every word, clean, two at once
CLASSES = 5
FOLLOWED, TRACE, WORDS, CLEAN, MIXED = range(CLASSES)

LISTENER_DB = 4.0
LISTENER_LOG_SD = 0.35
STEP_DB = {"fm": 5.0, "am": 6.0}
STEP_LOG_SD = 0.35
EXTRAS = 0.5
EXTRAS_LOG_SD = 1.4
# share of audible stations that a listener marks as two at once: only has to be the same for all levels
_MIXED_SHARE = 0.05
# chance that a station without a level is followed: any, where others have one; on a list without levels a good set heard it
_FOLLOWED_UNKNOWN = (0.5, 0.8)
# shares of followed, trace, every word, clean and two at once that go with it
_UNKNOWN = np.array([1.0, 0.2, 0.4, 0.6, 0.1])
# a neighbour within one channel and this much stronger may hide a station on a sound radio too (from memory)
_HIDES_DB = 30.0
NEIGHBOUR_HZ = {"fm": 200_000.0, "am": 10_000.0}


@dataclass(frozen=True)
class Grading:
    """Which grades a sheet tells apart."""

    traces: bool
    clean: bool

    def classes(self, grades: Sequence[str]) -> IntArray:
        """Grade class of every tick."""
        words = {"1": TRACE, "M": MIXED, "2": WORDS if self.clean else FOLLOWED, "3": CLEAN if self.clean else FOLLOWED}
        return np.array([words[grade] for grade in grades], dtype=np.int64)

    def extra_shares(self) -> FloatArray:
        """How the ticks that are no station divide over the classes (from memory: repeats and sidebands are mostly poor)."""
        audible = 0.5 if self.traces else 1.0
        return np.array([audible, 0.45, 0.6 * audible, 0.4 * audible, 0.05])


def grading_of(grades: Sequence[str]) -> Grading:
    """Traces tell something where the listener noted any; clean and not clean only where both are used."""
    used = set(grades)
    return Grading(traces=bool(used & {"1", "M"}), clean={"2", "3"} <= used)


@dataclass(frozen=True, eq=False)
class Listeners:
    """M possible listeners: jitter and steps [dB], and how many ticks that are no station they make, arrays (M,)."""

    jitter_db: FloatArray
    trace_db: FloatArray
    clean_db: FloatArray
    extra: FloatArray

    def pick(self, index: IntArray) -> Listeners:
        """Some of them."""
        return Listeners(self.jitter_db[index], self.trace_db[index], self.clean_db[index], self.extra[index])


def listeners(band: str, normal: FloatArray) -> Listeners:
    """Listeners for standard normal deviates (M, 4): zeros give the usual one."""
    return Listeners(
        LISTENER_DB * np.exp(LISTENER_LOG_SD * normal[:, 0]),
        STEP_DB[band] * np.exp(STEP_LOG_SD * normal[:, 1]),
        STEP_DB[band] * np.exp(STEP_LOG_SD * normal[:, 2]),
        EXTRAS * np.exp(EXTRAS_LOG_SD * normal[:, 3]),
    )


@dataclass(frozen=True, eq=False)
class Radios:
    """K possible radios: threshold, (K,) or (M, K), and per station a loss [dB] and a factor on its chance, (J, K) or None."""

    threshold_db: FloatArray
    loss_db: FloatArray | None = None
    keeps: FloatArray | None = None

    def pick(self, index: int) -> Radios:
        """One of them."""
        one = slice(index, index + 1)
        return Radios(
            self.threshold_db[one],
            None if self.loss_db is None else self.loss_db[:, one],
            None if self.keeps is None else self.keeps[:, one],
        )


def chances(bench: Bench, pad_db: float, grading: Grading, listener: Listeners, radio: Radios) -> tuple[FloatArray, FloatArray]:
    """Chance that a station gives a tick of each class, (5, J, M, K), and that it gives none, (J, M, K)."""
    level_db = np.nan_to_num(bench.level_db)[:, None] - pad_db
    if radio.loss_db is not None:
        level_db = level_db - radio.loss_db
    spread_db = np.hypot(bench.spread_db[:, None], listener.jitter_db)[:, :, None]
    over = (level_db[:, None, :] - radio.threshold_db) / spread_db
    followed = ndtr(over)
    none = np.zeros_like(followed)
    clean = ndtr(over - listener.clean_db[:, None] / spread_db) if grading.clean else none
    audible = ndtr(over + listener.trace_db[:, None] / spread_db) if grading.traces else followed
    heard = np.stack([followed, audible - followed, followed - clean, clean, _MIXED_SHARE * audible])
    unknown = ~np.isfinite(bench.level_db)
    if unknown.any():
        chance = _FOLLOWED_UNKNOWN[not bench.has_levels]
        heard[:, unknown] = chance * _UNKNOWN[:, None, None, None]
        audible = audible.copy()
        audible[unknown] = chance * (1.2 if grading.traces else 1.0)
    air = (bench.air * _not_hidden(bench))[:, None, None]
    if radio.keeps is not None:
        air = air * radio.keeps[:, None, :]
    return heard * air, 1.0 - audible * air


def followed_chance(bench: Bench, threshold_db: FloatArray, pad_db: float = 0.0, jitter_db: float = LISTENER_DB) -> FloatArray:
    """Chance that a listener, the usual one by default, follows each station at each threshold, (J, K)."""
    usual = replace(listeners(bench.band, np.zeros((1, 4))), jitter_db=np.array([jitter_db]))
    heard, _ = chances(bench, pad_db, Grading(False, False), usual, Radios(threshold_db))
    return np.asarray(heard[FOLLOWED, :, 0], dtype=np.float64)


def _not_hidden(bench: Bench) -> FloatArray:
    """One half for a station beside a far stronger one, else one."""
    near = np.abs(np.subtract.outer(bench.channel_hz, bench.channel_hz)) <= NEIGHBOUR_HZ[bench.band]
    stronger = np.nan_to_num(np.subtract.outer(bench.level_db, bench.level_db), nan=0.0).T >= _HIDES_DB
    return np.asarray(np.where((near & stronger).any(axis=1), 0.5, 1.0), dtype=np.float64)
