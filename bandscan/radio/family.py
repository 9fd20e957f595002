"""What sets known to be good say together: the reference threshold of a family, and its spread between sets and days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp

from bandscan.model import BandCheck, Reference

# one sweep of one set counts with 3 dB (the contract's figure), until the sets themselves say otherwise: 2 dB of it are day,
# listener and placing (two sweeps differ by that much: common practice), the rest is from set to set
FAMILY_SD_DB = 3.0
SWEEP_SD_DB = 2.0
SET_SD_DB = float(np.sqrt(FAMILY_SD_DB**2 - SWEEP_SD_DB**2))
OTHER_FAMILY_SD_DB = 4.0
# how many sets, or sweeps, those first guesses weigh as much as
_GUESS = 2.0
_LEAST_DB2 = 1.0
# the chance that a set which is called good is not, and the deviation of where it then stands (from memory); of two sets
# that differ nobody can say which one
_STRAY, _STRAY_DB = 0.1, 14.0
_LEAST_SETS = 3
_ROUNDS, _REACH_DB = 20, 15.0

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class GoodSweep:
    """One band of one sweep of a set known to be good: which set, of which job, and when it was judged.

    `lost_low_db` and `lost_high_db` are the least and the most that the day of the sweep took from a good set, and that a list
    of other levels since then has put on it; 0 and 0 where all was ordinary or is not known.
    """

    set_name: str
    job: str
    made_utc: str
    judged: BandCheck
    lost_low_db: float = 0.0
    lost_high_db: float = 0.0

    @property
    def threshold_db(self) -> float:
        """The threshold as it would be on an ordinary day: what the day took is taken off, the middle of what it may be."""
        return (self.judged.threshold_db.value or 0.0) - (self.lost_low_db + self.lost_high_db) / 2.0

    @property
    def sd_db(self) -> float:
        """Its standard uncertainty: of the 95 % interval, and an even doubt over all that the day may have taken. [dB]"""
        own = self.judged.threshold_db
        return float(
            np.hypot(
                ((own.high or 0.0) - (own.low or 0.0)) / (2.0 * 1.96), (self.lost_high_db - self.lost_low_db) / np.sqrt(12.0)
            )
        )


def reference_from(sweeps: Sequence[GoodSweep], basis: str = "known-good") -> Reference | None:
    """The threshold of a family by sweeps of its good sets, of one band; None where no sweep bounded it on both sides.

    Of three sets and more a stray one counts for little.

    `sd_db` is the uncertainty of the mean over sets: each sweep's own interval, the spread from day to day and from set to set.
    Where fewer than half of the sweeps did there is none either. Both spreads are the first guesses above until the sweeps
    themselves say otherwise. `basis` "other family" adds 4 dB. Of sweeps in different units the newest one's unit counts.
    """
    sound = _sound(sweeps)
    if not sound:
        return None
    names, mean, of_set2, day2 = _by_set(sound)
    centre_db, sd, set2, _ = _centre(mean, of_set2)
    return Reference(
        centre_db,
        float(np.hypot(sd, OTHER_FAMILY_SD_DB)) if basis == "other family" else sd,
        basis,
        sound[0].judged.unit,
        len(names),
        max(one.made_utc for one in sound),
        len(sound),
        float(np.sqrt(set2 + day2)),
        tuple(dict.fromkeys(one.job for one in sound)),
    )


def stray_sets(sweeps: Sequence[GoodSweep]) -> list[tuple[str, tuple[str, ...], str]]:
    """Sets of three and more that are likelier strays than not: name, jobs, and how far they stand from what the others say."""
    sound = _sound(sweeps)
    if not sound:
        return []
    names, mean, of_set2, _ = _by_set(sound)
    found = []
    for name, chance in zip(names, _centre(mean, of_set2)[3], strict=True):
        mine = [one for one in sound if one.set_name == name]
        if chance < 0.5 and (apart := apart_from(mine, reference_from([one for one in sound if one.set_name != name]))):
            found.append((name, tuple(dict.fromkeys(one.job for one in mine)), apart))
    return found


def _sound(sweeps: Sequence[GoodSweep]) -> list[GoodSweep]:
    """Those that bound the threshold on both sides, in the newest one's unit; none where they are the fewer."""
    sound = [one for one in sweeps if one.judged.bound == "two-sided" and one.judged.threshold_db.value is not None]
    # where most heard all there was, those few that a slip or a fade bounds tell the slip
    if 2 * len(sound) < len(sweeps) or not sound:
        return []
    unit = max(sound, key=lambda one: one.made_utc).judged.unit
    return [one for one in sound if one.judged.unit == unit]


def _by_set(sound: Sequence[GoodSweep]) -> tuple[list[str], FloatArray, FloatArray, float]:
    """The sets' names, mean thresholds [dB] and their variances [dB^2], and the variance from day to day [dB^2]."""
    names = list(dict.fromkeys(one.set_name for one in sound))
    belongs = np.array([names.index(one.set_name) for one in sound])
    value = np.array([one.threshold_db for one in sound])
    own2 = np.array([one.sd_db**2 for one in sound])
    times = np.bincount(belongs).astype(np.float64)
    mean = np.bincount(belongs, value) / times
    # method of moments, the guess as so many more sweeps
    within = ((value - mean[belongs]) ** 2).sum() - (own2 * (1.0 - 1.0 / times[belongs])).sum()
    day2 = max(_GUESS * SWEEP_SD_DB**2 + within, _LEAST_DB2) / (_GUESS + (times - 1.0).sum())
    return names, mean, np.bincount(belongs, own2) / times**2 + day2 / times, float(day2)


def _centre(mean: FloatArray, of_set2: FloatArray) -> tuple[float, float, float, FloatArray]:
    """Centre of the sets, its uncertainty [dB], the variance from set to set [dB^2], and how likely each set is sound, (S,).

    The spread is normal, but for a share of strays, which most can outvote: expectation-maximisation for the variance,
    and for the centre mean and deviation of all that is left, so that a stray that may be none stays a doubt.
    """
    sound, set2, centre_db = np.ones(len(mean)), SET_SD_DB**2, float(np.median(mean))
    if len(mean) < _LEAST_SETS:
        set2 = _set2(mean, of_set2, sound)
        weight = 1.0 / (of_set2 + set2)
        return float(weight @ mean / weight.sum()), float(1.0 / np.sqrt(weight.sum())), set2, sound
    for _ in range(_ROUNDS):
        # by the guess: a spread that a stray widens would take it in
        sound = _sound_and_log(mean, of_set2 + SET_SD_DB**2, np.array([centre_db]))[0][:, 0]
        set2 = _set2(mean, of_set2, sound)
        weight = sound / (of_set2 + set2)
        centre_db = float(weight @ mean / weight.sum())
    at_db = np.linspace(mean.min() - _REACH_DB, mean.max() + _REACH_DB, 401)
    each, log_all = _sound_and_log(mean, of_set2 + set2, at_db)
    share = np.exp(log_all - logsumexp(log_all))
    centre_db = float(share @ at_db)
    return centre_db, float(np.sqrt(share @ (at_db - centre_db) ** 2)), set2, each @ share


def _set2(mean: FloatArray, of_set2: FloatArray, sound: FloatArray) -> float:
    """The variance from set to set by the method of moments, the guess as so many more sets; `sound` are weights. [dB^2]"""
    count = sound.sum()
    scatter = (sound * (mean - sound @ mean / count) ** 2).sum() - (sound * of_set2).sum() * (1.0 - 1.0 / count)
    return float(max(_GUESS * SET_SD_DB**2 + scatter, _LEAST_DB2) / (_GUESS + count - 1.0))


def _sound_and_log(mean: FloatArray, variance: FloatArray, at_db: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Of every centre: the chance that each set is sound, (S, C), and the log likelihood of all sets, (C,)."""
    square = (mean[:, None] - at_db) ** 2
    sound = np.log(1.0 - _STRAY) + _log_normal(square, variance[:, None])
    either = np.logaddexp(sound, np.log(_STRAY) + _log_normal(square, variance[:, None] + _STRAY_DB**2))
    return np.exp(sound - either), either.sum(axis=0)


def _log_normal(square: FloatArray, variance: FloatArray) -> FloatArray:
    """Log density of a normal, but for a constant."""
    return np.asarray(-0.5 * (square / variance + np.log(variance)), dtype=np.float64)


def apart_from(sweeps: Sequence[GoodSweep], usual: Reference | None) -> str:
    """How far good sets of one family stood from what others say, as `10 dB (95 %: 4 to 16) deafer`.

    Empty where that is within both doubts, or cannot be told.
    """
    found = reference_from(sweeps)
    if found is None or usual is None or found.unit != usual.unit:
        return ""
    deafer_db = (found.threshold_db or 0.0) - (usual.threshold_db or 0.0)
    doubt_db = 1.96 * float(np.hypot(found.sd_db or 0.0, usual.sd_db or 0.0))
    if abs(deafer_db) <= doubt_db:
        return ""
    size, how = abs(deafer_db), "deafer" if deafer_db > 0 else "more sensitive"
    return f"{size:.0f} dB (95 %: {size - doubt_db:.0f} to {size + doubt_db:.0f}) {how}"
