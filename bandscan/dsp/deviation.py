"""Peak deviation of a discriminated channel as a percentile of its instantaneous frequency."""

from __future__ import annotations

import functools
import math

import numpy as np
import numpy.typing as npt
import scipy.fft

RealArray = npt.NDArray[np.float32]

PERCENTILE = 99.9
LOW_PASS_HZ = 62e3  # keeps the data subcarrier at 57 kHz, drops the noise that rises above it
_EDGE_HZ = 6e3  # over which the low-pass falls
_SPOILT_S = 1e-3  # of a frame at either end: the low-pass wraps round there
_BIN_HZ = 100.0
_REACH_HZ = 130e3


@functools.lru_cache(maxsize=8)
def _low_pass(samples: int, rate_hz: float) -> npt.NDArray[np.float32]:
    """Response over the lowest bins of a real transform, beyond which it is 0: 1 up to the edge, times what the discriminator's
    one-sample mean loses. The number of samples that these bins make is a fast one."""
    wanted = 2 * math.ceil((LOW_PASS_HZ + _EDGE_HZ / 2) * samples / rate_hz)
    bins = min(scipy.fft.next_fast_len(wanted, real=True), samples) // 2 + 1
    frequency = np.arange(bins) * rate_hz / samples
    fall = np.clip((frequency - LOW_PASS_HZ) / _EDGE_HZ + 0.5, 0.0, 1.0)
    response = np.cos(0.5 * np.pi * fall) ** 2 / np.sinc(frequency / rate_hz)
    return np.asarray(response, np.float32)


class DeviationCount:
    """Histogram of the low-passed instantaneous frequency; a recording of any length takes the same memory."""

    def __init__(self, rate_hz: float) -> None:
        self.rate_hz = rate_hz
        self._counts = np.zeros(round(2 * _REACH_HZ / _BIN_HZ), np.int64)

    def add(self, frequency_hz: RealArray) -> None:
        """Adds instantaneous frequencies; shape (frames, samples), each frame by itself. [Hz]"""
        samples = frequency_hz.shape[1]
        response = _low_pass(samples, self.rate_hz)
        transform = scipy.fft.rfft(frequency_hz, axis=1)[:, : len(response)]
        transform *= response
        # what is left fits into fewer samples; a percentile needs no more
        fewer = 2 * (len(response) - 1)
        values = scipy.fft.irfft(transform, n=fewer, axis=1, overwrite_x=True)
        spoilt = math.ceil(_SPOILT_S * self.rate_hz * fewer / samples)
        place = values[:, spoilt : fewer - spoilt] * np.float32(fewer / samples / _BIN_HZ)
        place += np.float32(_REACH_HZ / _BIN_HZ)
        np.clip(place, 0, len(self._counts) - 1, out=place)
        self._counts += np.bincount(place.astype(np.intp).ravel(), minlength=len(self._counts))

    def peak_hz(self) -> float:
        """99.9th percentile of abs(f - median f); NaN where nothing was added. [Hz]"""
        total = int(self._counts.sum())
        if not total:
            return float("nan")
        place = (np.arange(len(self._counts)) + 0.5) * _BIN_HZ - _REACH_HZ
        median = float(np.interp(0.5 * total, np.cumsum(self._counts), place))
        distance = np.abs(place - median)
        order = np.argsort(distance)
        return float(np.interp(PERCENTILE / 100 * total, np.cumsum(self._counts[order]), distance[order]))
