"""A spectral line over its surroundings: the decision, and the line's frequency and power."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.fft
import scipy.special

ComplexArray = npt.NDArray[np.complex64]
RealArray = npt.NDArray[np.float64]

PADDING = 4  # zero-padding, so that the peak of a Hann line is read within 0.3 % of its power


def threshold(averages: int, places: float, false_rate: float) -> float:
    """Line power over the mean of its surroundings that noise passes with probability `false_rate`.

    averages: periodograms averaged. places: independent bins searched.
    Source: a mean of K periodogram bins is a gamma variate of shape K (chi-square, 2K degrees of freedom).
    """
    return float(scipy.special.gammainccinv(averages, false_rate / max(places, 1.0)) / averages)


class LineSum:
    """Running mean of zero-padded Hann periodograms of a slow complex signal; for lines near its zero frequency."""

    def __init__(self, length: int, rate_hz: float) -> None:
        self.length, self.rate_hz, self.segments = length, rate_hz, 0
        self._window = np.hanning(length + 1)[:-1] if length > 3 else np.ones(length)
        self._sum = np.zeros(PADDING * length)

    @property
    def resolution_hz(self) -> float:
        """Width of one independent bin. [Hz]"""
        return self.rate_hz / self.length

    def add(self, segment: ComplexArray) -> None:
        """Adds one segment; shape (length,)."""
        transform = scipy.fft.fft(segment * self._window, n=PADDING * self.length)
        self._sum += np.abs(transform) ** 2
        self.segments += 1

    def merge(self, other: LineSum) -> None:
        """Adds the segments of another sum of the same layout."""
        self._sum += other._sum
        self.segments += other.segments

    def spectrum(self) -> tuple[RealArray, RealArray]:
        """Frequencies [Hz] and power as a line at that frequency would have it (a tone of amplitude a reads a^2)."""
        scale = max(self.segments, 1) * self._window.sum() ** 2
        frequency = scipy.fft.fftfreq(PADDING * self.length, 1.0 / self.rate_hz)
        return scipy.fft.fftshift(frequency), scipy.fft.fftshift(self._sum / scale)


@dataclass(frozen=True)
class Line:
    """A line: offset [Hz], its power without its surroundings, and its ratio to the mean of the surroundings in one bin."""

    offset_hz: float
    power: float
    ratio: float
    surroundings: float


def strongest_line(frequency_hz: RealArray, power: RealArray, *, search_hz: float, clear_hz: float, reach_hz: float) -> Line:
    """The strongest line within `search_hz` of zero against the mean between `clear_hz` and `reach_hz` on both sides. [Hz]

    The peak is refined by a parabola through the logarithms of three padded bins.
    """
    searched = np.flatnonzero(np.abs(frequency_hz) <= max(search_hz, float(frequency_hz[1] - frequency_hz[0])))
    peak = int(searched[np.argmax(power[searched])])
    around = (np.abs(frequency_hz) >= clear_hz) & (np.abs(frequency_hz) <= reach_hz)
    surroundings = float(power[around].mean()) if around.any() else float(np.mean(power))
    height, shift = float(power[peak]), 0.0
    if 0 < peak < len(power) - 1 and power[peak] > 0:
        left, middle, right = (float(np.log(max(power[peak + i], 1e-300))) for i in (-1, 0, 1))
        curve = left - 2 * middle + right
        if curve < 0:
            shift = 0.5 * (left - right) / curve
            shift = max(-0.5, min(0.5, shift))
            height = float(np.exp(middle - 0.25 * (left - right) * shift))
    step = float(frequency_hz[1] - frequency_hz[0])
    offset = float(frequency_hz[peak]) + shift * step
    tiny = np.finfo(np.float64).tiny
    return Line(offset, max(height - surroundings, 0.0), height / max(surroundings, tiny), surroundings)
