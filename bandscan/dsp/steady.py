"""The steady part of a frequency that a programme swings about, and how well it is told."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import scipy.fft

RealArray = npt.NDArray[np.float64]

MOST_CELLS = 1024
LEAST_CELLS = 20  # a fifth of a second of frames of 10 ms
TAPERED = 0.5  # share of the time over which the weights rise and fall
# bins of the weighted spectrum that show what scatters the mean: clear of the weights' own lobe, below what one hears
FIRST_BIN, END_BIN = 2, 9


class SteadySum:
    """Weighted means of several channels' frequencies over a whole recording, from their means over short frames.

    A plain mean over a time holds what the programme's last swing was cut off at, tens of hertz; weights that rise and fall
    leave that out (a tapered window, textbook) and cost a tenth in noise.
    """

    def __init__(self, channels: int, frames: int) -> None:
        """`frames` is how many frames each channel will bring in all."""
        self._per_cell = max(1, -(-frames // MOST_CELLS))
        self._cells = np.zeros((channels, max(frames // self._per_cell, 1)))
        self._missing: dict[int, int] = {}  # frames of a cell that are not there
        self._frames = 0

    def add(self, means_hz: npt.NDArray[np.float32], whole: npt.NDArray[np.bool_] | None = None) -> None:
        """Adds frames' mean frequencies, shape (channels, frames); those that are not `whole` have none. [Hz]"""
        whole = np.ones(means_hz.shape[1], bool) if whole is None else whole
        cells = (self._frames + np.arange(means_hz.shape[1])) // self._per_cell
        for cell, mean_hz, there in zip(cells, means_hz.T, whole, strict=True):
            if not there:
                self._missing[int(cell)] = self._missing.get(int(cell), 0) + 1
            elif cell < self._cells.shape[1]:
                self._cells[:, cell] += mean_hz
        self._frames += means_hz.shape[1]

    def mean(self, channel: int) -> tuple[float, float]:
        """The steady frequency and its standard uncertainty, infinite where the time is too short to tell. [Hz]

        What scatters a mean is the power near zero frequency: read from the bins next to it (spectral estimate of the variance
        of a mean, textbook).
        """
        filled = np.full(self._cells.shape[1], self._per_cell)
        for cell, missing in self._missing.items():
            filled[cell : cell + 1] -= missing
        values = self._cells[channel] / np.maximum(filled, 1)
        weights = _tapered(len(values)) * filled / self._per_cell
        if not weights.any():
            return float("nan"), float("inf")
        mean = float(weights @ values / weights.sum())
        if len(values) < LEAST_CELLS:
            return mean, float("inf")
        spectrum = scipy.fft.rfft(weights * (values - mean))[FIRST_BIN:END_BIN]
        return mean, float(np.sqrt(np.mean(np.abs(spectrum) ** 2)) / weights.sum())


def _tapered(count: int) -> RealArray:
    """Ones that rise and fall over half of `TAPERED` at either end as a Hann window does (Tukey window, textbook).

    scipy.signal has it as well, and takes 49 MiB of memory and 0.4 s to import (measured).
    """
    ramp = round(count * TAPERED / 2)
    slope = np.hanning(2 * ramp + 1)[:ramp] if ramp else np.ones(0)
    return np.concatenate([slope, np.ones(count - 2 * ramp), slope[::-1]])
