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
HANN_SHARE = 18 / 35  # of the samples of a Hann frame count as independent in a mean power: (mean w^2)^2 / mean w^4


class SpectrumSum:
    """Running mean of Hann-windowed periodograms of frames of `size` samples at `rate_hz`."""

    def __init__(self, size: int, rate_hz: float) -> None:
        self.size, self.rate_hz, self.frames = size, rate_hz, 0
        self._sum: RealArray = np.zeros(size)
        self._work = np.empty((0, 2 * size), np.float32)

    def add(self, transforms: ComplexArray) -> None:
        """Adds unscaled transforms of boxcar frames; shape (frames, size)."""
        rows = len(transforms)
        if len(self._work) < rows:
            self._work = np.empty((rows, 2 * self.size), np.float32)
        flat, work = transforms.view(np.float32), self._work[:rows]
        np.add(flat[:, :-4], flat[:, 4:], out=work[:, 2:-2])
        work[:, :2] = flat[:, -2:] + flat[:, 2:4]
        work[:, -2:] = flat[:, -4:-2] + flat[:, :2]
        work *= np.float32(-0.5)
        work += flat
        power = np.einsum("ij,ij->j", work, work)
        self._sum += power[0::2].astype(np.float64) + power[1::2]
        self.frames += rows

    def density(self) -> RealArray:
        """Power density, bins in ascending frequency from -rate/2; shape (size,). [1/Hz]"""
        scale = self.frames * HANN_POWER * self.size * self.rate_hz
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
