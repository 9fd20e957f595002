"""Recordings that swing over hardly a step of their samples: their levels are not linear, and how far they are off."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import scipy.special

FloatArray = npt.NDArray[np.float64]

MOST_VALUES = 16  # different values; a swing that takes more of them is linear
TOLD_DB, MOST_DB = 0.1, 6.0


def step_of(numbers: npt.NDArray[np.float32]) -> float:
    """Distance between the nearest two values that samples of I (or Q) take; infinite where they are all alike."""
    values = np.unique(numbers)
    return float(np.diff(values).min()) if len(values) > 1 else float("inf")


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


def among_carriers_db(amplitudes: FloatArray, noise_steps: float) -> tuple[float, FloatArray]:
    """The same where carriers of steady envelope stand in noise: of anything weak, and of the carriers' own levels. [dB]

    amplitudes: of the carriers, in steps. noise_steps: standard deviation of the noise in I, before rounding.
    In place of the normal distribution's characteristic function at one step stands that of the sum: a Bessel function J0 for
    each carrier, for its own level 2 J1(x) / x, by their envelopes sqrt(2 / (pi x)), since no amplitude is known to a part of a
    step (B. Widrow 1956; Abramowitz and Stegun 9.2.1).
    """
    turns = 2.0 * np.pi * np.maximum(amplitudes, 1e-6)
    envelope = np.sqrt(2.0 / (np.pi * turns))
    other, own = np.minimum(envelope, 1.0), np.minimum(2.0 * envelope / turns, 1.0)
    left = 8.686 * np.sqrt(2.0) * float(np.prod(other) * np.exp(-2.0 * np.pi**2 * noise_steps**2))
    return min(left, MOST_DB), np.minimum(left * own / other, MOST_DB)


def coarse_note(steps: float, among_db: float = 0.0) -> list[str]:
    """What to do about a recording of too little gain; `among_db` is the doubt that its strong carriers leave."""
    worst_db = max(doubt_db(steps), among_db)
    if worst_db < TOLD_DB:
        return []
    doubt = f"{worst_db:.1f} dB" + (" or more" if worst_db >= MOST_DB else "")
    why = f"the samples swing over {steps:.2g} of one step only (standard deviation)"
    if among_db > doubt_db(steps):
        why = "the noise swings over a part of one step only, under strong stations"
    return [f"{why}: levels are uncertain by {doubt}; record again with more gain"]
