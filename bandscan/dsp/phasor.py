"""Unit phasors for turning a signal in frequency."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

ComplexArray = npt.NDArray[np.complex64]

BLOCK = 256


def phasor(length: int, turns_per_sample: float, start_rad: float = 0.0, out: ComplexArray | None = None) -> ComplexArray:
    """exp(i (start + 2 pi turns n)) for n = 0 ... length - 1.

    The outer product of two short rows, so that few exponentials are taken. `out` may give the memory for it: `padded(length)`
    numbers, of which the first `length` are returned.
    """
    step = 2j * np.pi * turns_per_sample
    fine = np.exp(step * np.arange(BLOCK)).astype(np.complex64)
    coarse = np.exp(step * BLOCK * np.arange(padded(length) // BLOCK) + 1j * start_rad).astype(np.complex64)
    if out is None:
        out = np.empty(padded(length), np.complex64)
    np.multiply(coarse[:, None], fine, out=out.reshape(-1, BLOCK))
    return out[:length]


def padded(length: int) -> int:
    """Numbers that `phasor` needs for `length` of its own."""
    return -(-length // BLOCK) * BLOCK


def turned_sums(samples: ComplexArray, turns_per_sample: float) -> ComplexArray:
    """Sums over stretches of `BLOCK` samples of the samples times `phasor(..., turns_per_sample)`, but for the rest."""
    count = len(samples) // BLOCK
    step = 2j * np.pi * turns_per_sample
    fine = np.exp(step * np.arange(BLOCK)).astype(np.complex64)
    coarse = np.exp(step * BLOCK * np.arange(count)).astype(np.complex64)
    return np.asarray((samples[: count * BLOCK].reshape(count, BLOCK) @ fine) * coarse, np.complex64)
