"""Recordings that swing over hardly a step of their samples: their levels are not linear, and how far they are off."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import scipy.special

MOST_VALUES = 16  # different values; a swing that takes more of them is linear
TOLD_DB, MOST_DB = 0.1, 6.0


def swing(numbers: npt.NDArray[np.float32]) -> float:
    """Standard deviation of what was rounded, in steps between the values that samples of I (or Q) take.

    Infinite where the values are many, zero where they are too few to tell. By the normal distribution whose shares below the
    steps' ends are those counted (probit, textbook): the samples' own deviation holds the rounding as well.
    """
    values, counts = np.unique(numbers, return_counts=True)
    if len(values) > MOST_VALUES:
        return float("inf")
    if len(values) < 3:
        return 0.0
    step = float(np.diff(values).min())
    below = np.cumsum(counts)[:-1] / counts.sum()
    ends = (values[:-1] / step + 0.5).astype(np.float64)
    slope = np.polyfit(ends, scipy.special.ndtri(below), 1, w=np.sqrt(below * (1.0 - below)))[0]
    return float(1.0 / max(slope, 1e-3))


def doubt_db(steps: float) -> float:
    """Standard uncertainty of levels in a recording of normally distributed samples whose deviation is so many steps. [dB]

    Rounding turns the gain for a weak signal into 1 + 2 exp(-2 pi^2 s^2) cos(2 pi m), with the mean m anywhere between two
    steps (statistical theory of quantisation, B. Widrow 1956).
    """
    return float(min(8.686 * np.sqrt(2.0) * np.exp(-2.0 * np.pi**2 * steps**2), MOST_DB))


def coarse_note(steps: float) -> list[str]:
    """What to do about a recording of too little gain."""
    if doubt_db(steps) < TOLD_DB:
        return []
    doubt = f"{doubt_db(steps):.1f} dB" + (" or more" if doubt_db(steps) >= MOST_DB else "")
    return [
        f"the samples swing over {steps:.2g} of one step only (standard deviation): levels are uncertain by {doubt}; "
        "record again with more gain"
    ]
