"""Averaged power spectrum from the channeliser's own transform.

The Hann window is applied as three taps in the frequency domain, X[k] - (X[k-1] + X[k+1]) / 2, so that one transform serves
the spectrum and all channels. Checked against scipy.signal.welch and liquid-dsp in tests/reference.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

ComplexArray = npt.NDArray[np.complex64]
RealArray = npt.NDArray[np.float64]

HANN_POWER = 1.5  # mean square of the window 1 - cos, whose mean is 1
HANN_NOISE_BINS = 1.5  # equivalent noise bandwidth in bins
BURST = 4.0
_BLOCK = 1 << 16
HANN_SHARE = 18 / 35  # of the samples of a Hann frame count as independent in a mean power: (mean w^2)^2 / mean w^4


class SpectrumSum:
    """Running mean of Hann-windowed periodograms of frames of `size` samples at `rate_hz`."""

    def __init__(self, size: int, rate_hz: float) -> None:
        self.size, self.rate_hz, self.frames = size, rate_hz, 0
        self._sum: RealArray = np.zeros(size)
        self._step, self._bend = np.empty(_BLOCK + 2, np.float32), np.empty(_BLOCK, np.float32)
        self._batch = np.empty(2 * size, np.float32)  # real and imaginary parts in turn

    def add(self, transforms: ComplexArray) -> int:
        """Adds unscaled transforms of boxcar frames; shape (frames, size). Returns how many a burst has spoilt.

        A frame of more than `BURST` times the median power of three or more is a click or a start-up transient, not the band,
        and is left out.
        """
        power = self._add(transforms)
        spoilt = power > BURST * np.median(power) if len(power) >= 3 else np.zeros(len(power), bool)
        if spoilt.any():
            self._add(transforms[~spoilt])
        self._sum += self._batch[0::2].astype(np.float64) + self._batch[1::2]
        self.frames += len(transforms) - int(spoilt.sum())
        return int(spoilt.sum())

    def _add(self, transforms: ComplexArray) -> RealArray:
        """Fills `_batch` with the sum of the frames' windowed power, and returns the power of each; shape (frames,)."""
        batch, power = self._batch, np.zeros(len(transforms))
        batch.fill(0.0)
        # row by row in blocks that stay in the processor's cache
        for number, row in enumerate(transforms.view(np.float32)):
            for first in range(2, len(batch) - 2, _BLOCK):
                count = min(_BLOCK, len(batch) - 2 - first)
                step, bend = self._step[: count + 2], self._bend[:count]
                # X[k] - (X[k-1] + X[k+1]) / 2 is half of what the steps to its left and right differ by
                np.subtract(row[first : first + count + 2], row[first - 2 : first + count], out=step)
                np.subtract(step[2:], step[:-2], out=bend)
                power[number] += np.dot(bend, bend)
                np.multiply(bend, bend, out=bend)
                batch[first : first + count] += bend
        # the bins at the ends have their neighbours at the other end
        bend = np.ascontiguousarray(np.diff(transforms[:, [-2, -1, 0, 1]], n=2, axis=1)).view(np.float32)
        batch[-2:], batch[:2] = np.square(bend).sum(axis=0).reshape(2, 2)
        return power

    def density(self) -> RealArray:
        """Power density, bins in ascending frequency from -rate/2; shape (size,). [1/Hz]"""
        scale = 4.0 * self.frames * HANN_POWER * self.size * self.rate_hz  # the sum is of twice the window
        mean: RealArray = np.divide(self._sum, scale or 1.0)
        return np.roll(mean, self.size // 2)

    def frequencies(self) -> RealArray:
        """Offsets of `density`'s bins from the centre; shape (size,). [Hz]"""
        return np.linspace(-(self.size // 2), (self.size - 1) // 2, self.size) * (self.rate_hz / self.size)


def bridge(density: RealArray, frequency_hz: RealArray, at_hz: float, half_width_hz: float) -> RealArray:
    """A copy in which the bins within `half_width_hz` of `at_hz` are replaced by the mean of as many bins on either side.

    Takes the receiver's own DC line out of a spectrum: it is no emission, whatever channel it falls into.
    """
    spoilt = np.abs(frequency_hz - at_hz) <= half_width_hz
    beside = (np.abs(frequency_hz - at_hz) <= 3 * half_width_hz) & ~spoilt
    bridged = density.copy()
    if spoilt.any() and beside.any():
        bridged[spoilt] = density[beside].mean()
    return bridged
