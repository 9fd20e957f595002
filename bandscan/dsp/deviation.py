"""Peak deviation of a discriminated channel as a percentile of its instantaneous frequency."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

RealArray = npt.NDArray[np.float32]

PERCENTILE = 99.9
LOW_PASS_HZ = 62e3  # keeps the data subcarrier at 57 kHz, drops the noise that rises above it
_TAPS = 64
_STEP = 7  # a percentile needs no neighbouring samples; an odd step meets every phase of a test tone
_BIN_HZ = 100.0
_REACH_HZ = 130e3


class DeviationCount:
    """Histogram of the low-passed instantaneous frequency; a recording of any length takes the same memory."""

    def __init__(self, rate_hz: float) -> None:
        time = np.arange(_TAPS) - (_TAPS - 1) / 2
        taps = np.sinc(2 * LOW_PASS_HZ / rate_hz * time) * np.kaiser(_TAPS, 6.0)
        self._taps = (taps / taps.sum()).astype(np.float32)
        self._counts = np.zeros(round(2 * _REACH_HZ / _BIN_HZ), np.int64)

    def add(self, frequency_hz: RealArray) -> None:
        """Adds instantaneous frequencies; shape (frames, samples), each frame by itself. [Hz]"""
        windows = np.lib.stride_tricks.sliding_window_view(frequency_hz, _TAPS, axis=1)[:, ::_STEP]
        values = np.einsum("ijk,k->ij", windows, self._taps)
        index = ((values + np.float32(_REACH_HZ)) * np.float32(1 / _BIN_HZ)).astype(np.int64)
        np.clip(index, 0, len(self._counts) - 1, out=index)
        self._counts += np.bincount(index.ravel(), minlength=len(self._counts))

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
