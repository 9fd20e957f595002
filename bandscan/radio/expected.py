"""The reference threshold, and how many stations it lets a good set give on this bench."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from bandscan.model import Expected, Reference
from bandscan.radio.bench import Bench
from bandscan.radio.hearing import followed_chance

FloatArray = npt.NDArray[np.float64]

# FM threshold of a broadcast receiver, 10 dB over the noise in its channel (textbook), and how far that may be from this bench
ASSUMED_SNR_DB = 10.0
ASSUMED_SD_DB = 6.0


def reference_for(bench: Bench, given: Reference | None) -> Reference:
    """The reference that was given, else an assumed one on FM, else none."""
    if given is not None and given.threshold_db is not None and given.unit == bench.unit:
        return given
    noise_db = bench.level_db - bench.snr_db
    known = noise_db[np.isfinite(noise_db)]
    if bench.band != "fm" or not bench.has_levels or not len(known):
        return Reference(None, None, "none", bench.unit)
    return Reference(float(np.median(known)) + ASSUMED_SNR_DB, ASSUMED_SD_DB, "assumed", bench.unit)


def count_distribution(chance: FloatArray) -> FloatArray:
    """Chances of every count of independent stations, (J,) to (J+1,) or (J, K) to (J+1, K): the Poisson-binomial."""
    counts = np.zeros((len(chance) + 1, *chance.shape[1:]))
    counts[0] = 1.0
    for place, p in enumerate(chance):
        counts[1 : place + 2] = counts[1 : place + 2] * (1.0 - p) + counts[: place + 1] * p
        counts[0] *= 1.0 - p
    return counts


def chance_of_counts(bench: Bench, reference: Reference, pad_db: float, doubt_db: float) -> FloatArray | None:
    """Chances of every count, none to all stations, that a set at the reference threshold gives here, (J+1,); None without one.

    `doubt_db` is what day and listener add to the reference's own uncertainty.
    """
    if reference.threshold_db is None or not bench.has_levels:
        return None
    sd_db = float(np.hypot(reference.sd_db or 0.0, doubt_db))
    share = (np.arange(41) + 0.5) / 41
    thresholds = reference.threshold_db + sd_db * ndtri(share)
    return np.asarray(count_distribution(followed_chance(bench, thresholds, pad_db)).mean(axis=1), dtype=np.float64)


def expected_count(bench: Bench, reference: Reference, pad_db: float, doubt_db: float) -> Expected | None:
    """The count that a set at the reference threshold gives here: mean and 95 % band."""
    counts = chance_of_counts(bench, reference, pad_db, doubt_db)
    if counts is None:
        return None
    low, high = np.searchsorted(np.cumsum(counts), [0.025, 0.975])
    return Expected(int(low), float((np.arange(len(counts)) * counts).sum()), int(high))
