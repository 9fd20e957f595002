"""Plain instruments for forged recordings; nothing of bandscan's own measuring is used in this folder."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import scipy.signal


@pytest.fixture(scope="session")
def line_dbfs() -> Callable[..., float]:
    """Level of a spectral line at `f_hz` from the centre, through a flat-top window."""

    def measure(samples: np.ndarray, rate_hz: float, f_hz: float) -> float:
        window = scipy.signal.get_window("flattop", len(samples))
        turn = np.exp(-2j * np.pi * f_hz / rate_hz * np.arange(len(samples)))
        return float(20 * np.log10(abs(np.sum(samples * window * turn)) / window.sum()))

    return measure


@pytest.fixture(scope="session")
def band_dbfs() -> Callable[..., float]:
    """Power between two frequencies from the centre, by scipy's Welch estimate."""

    def measure(samples: np.ndarray, rate_hz: float, low_hz: float, high_hz: float) -> float:
        f_hz, density = scipy.signal.welch(samples, rate_hz, nperseg=16384, return_onesided=False, detrend=False)
        inside = (f_hz >= low_hz) & (f_hz < high_hz)
        return float(10 * np.log10(density[inside].sum() * (f_hz[1] - f_hz[0])))

    return measure


@pytest.fixture(scope="session")
def frequency_hz() -> Callable[..., np.ndarray]:
    """Instantaneous frequency from sample to sample."""

    def measure(samples: np.ndarray, rate_hz: float) -> np.ndarray:
        wide = samples.astype(np.complex128)
        return np.angle(wide[1:] * wide[:-1].conj()) * rate_hz / (2 * np.pi)

    return measure
