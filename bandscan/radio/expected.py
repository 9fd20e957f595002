"""The reference threshold, and how many stations it lets a good set give on this bench."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy.stats import norm

from bandscan.model import BandCheck, Expected, Reference
from bandscan.radio.bench import Bench
from bandscan.radio.hearing import followed_chance

FloatArray = npt.NDArray[np.float64]

# FM threshold of a broadcast receiver, 10 dB over the noise in its channel (textbook), and how far that may be from this bench
ASSUMED_SNR_DB = 10.0
ASSUMED_SD_DB = 6.0
# sets of one family differ by this much until more of them are known (one sweep counts with 3 dB)
FAMILY_SD_DB = 3.0
OTHER_FAMILY_SD_DB = 4.0
# how many sets that first guess weighs as much as
_GUESS_SETS = 2.0


def reference_for(bench: Bench, given: Reference | None) -> Reference:
    """The reference that was given, else an assumed one on FM, else none."""
    if given is not None and given.threshold_db is not None and given.unit == bench.unit:
        return given
    noise_db = bench.level_db - bench.snr_db
    known = noise_db[np.isfinite(noise_db)]
    if bench.band != "fm" or not bench.has_levels or not len(known):
        return Reference(None, None, "none", bench.unit)
    return Reference(float(np.median(known)) + ASSUMED_SNR_DB, ASSUMED_SD_DB, "assumed", bench.unit)


def reference_from(checks: Sequence[BandCheck], made_utc: str, basis: str = "known-good") -> Reference | None:
    """What known-good sets say together: one check per set, of one band and one unit; None where no threshold was two-sided.

    `sd_db` is the uncertainty of their mean: each set's own interval and the spread between sets, which is taken as 3 dB until
    the sets themselves say otherwise. `basis` "other family" adds 4 dB.
    """
    sound = [check for check in checks if check.bound == "two-sided" and check.threshold_db.value is not None]
    sound = [check for check in sound if check.unit == sound[0].unit]
    if not sound:
        return None
    values = np.array([check.threshold_db.value for check in sound], dtype=np.float64)
    own = np.array([(check.threshold_db.high or 0.0) - (check.threshold_db.low or 0.0) for check in sound]) / (2.0 * 1.96)
    scatter = ((values - values.mean()) ** 2).sum() - (own**2).sum() * (1.0 - 1.0 / len(values))
    between = np.sqrt(max(_GUESS_SETS * FAMILY_SD_DB**2 + scatter, 1.0) / (_GUESS_SETS + len(values) - 1.0))
    weight = 1.0 / (own**2 + between**2)
    mean, sd = float((weight * values).sum() / weight.sum()), float(1.0 / np.sqrt(weight.sum()))
    if basis == "other family":
        sd = float(np.hypot(sd, OTHER_FAMILY_SD_DB))
    return Reference(mean, sd, basis, sound[0].unit, len(sound), made_utc)


def count_distribution(chance: FloatArray) -> FloatArray:
    """Chances of every count of independent stations, (J,) to (J+1,) or (J, K) to (J+1, K): the Poisson-binomial."""
    counts = np.zeros((len(chance) + 1, *chance.shape[1:]))
    counts[0] = 1.0
    for place, p in enumerate(chance):
        counts[1 : place + 2] = counts[1 : place + 2] * (1.0 - p) + counts[: place + 1] * p
        counts[0] *= 1.0 - p
    return counts


def expected_count(bench: Bench, reference: Reference, pad_db: float, doubt_db: float) -> Expected | None:
    """The count that a set at the reference threshold gives here: mean and 95 % band.

    `doubt_db` is what day and listener add to the reference's own uncertainty.
    """
    if reference.threshold_db is None or not bench.has_levels:
        return None
    sd_db = float(np.hypot(reference.sd_db or 0.0, doubt_db))
    share = (np.arange(41) + 0.5) / 41
    thresholds = reference.threshold_db + sd_db * norm.ppf(share)
    counts = count_distribution(followed_chance(bench, thresholds, pad_db)).mean(axis=1)
    ladder = np.cumsum(counts)
    low, high = np.searchsorted(ladder, [0.025, 0.975])
    return Expected(int(low), float((np.arange(len(counts)) * counts).sum()), int(high))
