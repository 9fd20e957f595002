"""Unit phasors for turning a signal in frequency."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

ComplexArray = npt.NDArray[np.complex64]

_BLOCK = 256


def phasor(length: int, turns_per_sample: float, start_rad: float = 0.0) -> ComplexArray:
    """exp(i (start + 2 pi turns n)) for n = 0 ... length - 1.

    The outer product of two short rows, so that few exponentials are taken.
    """
    step = 2j * np.pi * turns_per_sample
    fine = np.exp(step * np.arange(_BLOCK)).astype(np.complex64)
    coarse = np.exp(step * _BLOCK * np.arange(-(-length // _BLOCK)) + 1j * start_rad).astype(np.complex64)
    turned: ComplexArray = coarse[:, None] * fine
    return turned.ravel()[:length]
