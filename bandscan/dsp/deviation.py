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
# A channel's filter of 200 kHz cuts off the sidebands of swings that are wide and fast at once, and the discriminator ends at
# 95 kHz: what a peak read so high has lost on average, and how much that differs between programmes, from made ones of seven
# kinds with 60 to 125 kHz (up to 75 kHz a slow tone loses nothing, so nothing is given back there)
_READ_HZ = (60e3, 66e3, 71e3, 75e3, 80e3, 85e3, 90e3, 93e3, 95e3, 97e3, 98e3)
_LOST_HZ = (0.0, 0.0, 0.0, 0.0, 2.0e3, 2.9e3, 4.3e3, 6.0e3, 8.5e3, 14e3, 20e3)
_LOST_SD_HZ = (0.0, 0.5e3, 1.1e3, 1.3e3, 1.0e3, 1.4e3, 1.9e3, 2.5e3, 4.0e3, 7e3, 10e3)


def taken_hz(peak_hz: float) -> tuple[float, float]:
    """What a peak deviation read in a channel of 200 kHz lacks, and the standard uncertainty of that. [Hz]"""
    return float(np.interp(peak_hz, _READ_HZ, _LOST_HZ)), float(np.interp(peak_hz, _READ_HZ, _LOST_SD_HZ))


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
