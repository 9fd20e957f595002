"""What sets known to be good say together: the reference threshold of a family, and its spread between sets and days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

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

    `sd_db` is the uncertainty of the mean over sets: each sweep's own interval, the spread from day to day and from set to set.
    Where fewer than half of the sweeps did there is none either. Both spreads are the first guesses above until the sweeps
    themselves say otherwise. `basis` "other family" adds 4 dB. Of sweeps in different units the newest one's unit counts.
    """
    sound = [one for one in sweeps if one.judged.bound == "two-sided" and one.judged.threshold_db.value is not None]
    # where most heard all there was, those few that a slip or a fade bounds tell the slip
    if 2 * len(sound) < len(sweeps) or not sound:
        return None
    unit = max(sound, key=lambda one: one.made_utc).judged.unit
    sound = [one for one in sound if one.judged.unit == unit]
    names = list(dict.fromkeys(one.set_name for one in sound))
    belongs = np.array([names.index(one.set_name) for one in sound])
    value = np.array([one.threshold_db for one in sound])
    own2 = np.array([one.sd_db**2 for one in sound])
    times = np.bincount(belongs).astype(np.float64)
    mean = np.bincount(belongs, value) / times
    # method of moments, the guesses as so many more sweeps and sets
    within = ((value - mean[belongs]) ** 2).sum() - (own2 * (1.0 - 1.0 / times[belongs])).sum()
    day2 = max(_GUESS * SWEEP_SD_DB**2 + within, _LEAST_DB2) / (_GUESS + (times - 1.0).sum())
    of_set2 = np.bincount(belongs, own2) / times**2 + day2 / times
    scatter = ((mean - mean.mean()) ** 2).sum() - (of_set2 * (1.0 - 1.0 / len(names))).sum()
    set2 = max(_GUESS * SET_SD_DB**2 + scatter, _LEAST_DB2) / (_GUESS + len(names) - 1.0)
    weight = 1.0 / (of_set2 + set2)
    sd = float(1.0 / np.sqrt(weight.sum()))
    return Reference(
        float((weight * mean).sum() / weight.sum()),
        float(np.hypot(sd, OTHER_FAMILY_SD_DB)) if basis == "other family" else sd,
        basis,
        unit,
        len(names),
        max(one.made_utc for one in sound),
        len(sound),
        float(np.sqrt(set2 + day2)),
        tuple(dict.fromkeys(one.job for one in sound)),
    )


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
