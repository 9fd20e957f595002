"""A spectral line over its surroundings: the decision, and the line's frequency and power."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.fft
import scipy.special

ComplexArray = npt.NDArray[np.complex64]
RealArray = npt.NDArray[np.float64]

PADDED_PLACES = 2.0  # a peak between the bins of a padded spectrum is as likely again (checked by simulation in the tests)
PADDING = 4  # zero-padding at least, so that the peak of a Hann line is read within 0.3 % of its power


@functools.lru_cache(maxsize=256)
def threshold(averages: int, places: float, false_rate: float, around: float = float("inf")) -> float:
    """Line power over the mean of its surroundings that noise passes with probability `false_rate`.

    averages: periodograms averaged. places: independent places searched (`places_within`). around: independent bins in the mean
    of the surroundings (`bins_around`).
    Source: a mean of K periodogram bins is a gamma variate of shape K, the ratio of two such means an F variate of 2 K and 2 M
    degrees of freedom (textbook).
    """
    rate = false_rate / max(places, 1.0)
    if not np.isfinite(around):
        return float(scipy.special.gammainccinv(averages, rate) / averages)
    return float(scipy.special.fdtri(2 * averages, 2 * max(around, 1.0) * averages, 1.0 - rate))


@functools.lru_cache(maxsize=32)
def _window(length: int) -> tuple[npt.NDArray[np.float32], float]:
    """Window of a segment, and the power that a tone of amplitude 1 has in its spectrum."""
    window = (np.hanning(length + 1)[:-1] if length > 3 else np.ones(length)).astype(np.float32)
    return window, float(window.sum(dtype=np.float64)) ** 2


@functools.lru_cache(maxsize=32)
def _frequencies(bins: int, rate_hz: float) -> RealArray:
    frequency: RealArray = scipy.fft.fftshift(scipy.fft.fftfreq(bins, 1.0 / rate_hz))
    frequency.setflags(write=False)
    return frequency


class LineSum:
    """Running mean of zero-padded Hann periodograms of a slow complex signal; for lines near its zero frequency."""

    def __init__(self, length: int, rate_hz: float) -> None:
        self.length, self.rate_hz, self.segments = length, rate_hz, 0
        self._window, self._gain = _window(length)
        self._sum = np.zeros(scipy.fft.next_fast_len(PADDING * length))

    @property
    def resolution_hz(self) -> float:
        """Width of one independent bin. [Hz]"""
        return self.rate_hz / self.length

    @property
    def padding(self) -> float:
        """Bins of the spectrum to one independent bin."""
        return len(self._sum) / self.length

    def add(self, segment: ComplexArray) -> None:
        """Adds one segment; shape (length,)."""
        transform = scipy.fft.fft(segment * self._window, n=len(self._sum))
        self._sum += np.square(transform.real, dtype=np.float64) + np.square(transform.imag, dtype=np.float64)
        self.segments += 1

    def merge(self, other: LineSum) -> None:
        """Adds the segments of another sum of the same layout."""
        self._sum += other._sum
        self.segments += other.segments

    def spectrum(self) -> tuple[RealArray, RealArray]:
        """Frequencies [Hz] and power as a line at that frequency would have it (a tone of amplitude a reads a^2)."""
        scaled = self._sum * (1.0 / (max(self.segments, 1) * self._gain))
        half = (len(scaled) + 1) // 2
        # fftshift, which costs several times as much
        return _frequencies(len(scaled), self.rate_hz), np.concatenate([scaled[half:], scaled[:half]])


@dataclass(frozen=True)
class Line:
    """A line: offset [Hz], its power without its surroundings, and its ratio to the mean of the surroundings in one bin."""

    offset_hz: float
    power: float
    ratio: float
    surroundings: float
    averages: int = 1

    @property
    def amplitude_sd(self) -> float:
        """Standard uncertainty of the line's amplitude: noise of power n in its bin moves it by sqrt(n / 2) in phase."""
        return float(np.sqrt(self.surroundings / 2.0 / max(self.averages, 1)))

    @property
    def offset_sd(self) -> float:
        """Standard uncertainty of the line's offset in resolution widths: sqrt(9.37 n / P) / (2 pi).

        Noise moves the peak of a windowed spectrum by its part across the line, weighted with the time: a variance of half of
        sum(w^2 t^2) / sum(w t^2)^2, which is 14.06 for the Hann window (6, the Cramer-Rao bound, without one); its bin holds
        1.5 times the noise (F. J. Harris 1978, table I).
        """
        ratio = self.surroundings / max(self.power * max(self.averages, 1), 1e-300)
        return float(min(np.sqrt(9.37 * ratio) / (2.0 * np.pi), 1.0))


def places_within(search_hz: float, resolution_hz: float) -> float:
    """Independent places within `search_hz` of zero; zero-padding also looks between the bins, worth as many again."""
    return PADDED_PLACES * (1.0 + 2.0 * search_hz / resolution_hz)


def bins_around(clear_hz: float, reach_hz: float, resolution_hz: float) -> float:
    """Independent bins between `clear_hz` and `reach_hz` on both sides; a Hann window makes 1.5 of them one."""
    return max(2.0 * (reach_hz - clear_hz) / resolution_hz / 1.5, 1.0)


def strongest_line(frequency_hz: RealArray, power: RealArray, *, search_hz: float, clear_hz: float, reach_hz: float) -> Line:
    """The strongest line within `search_hz` of zero against the mean between `clear_hz` and `reach_hz` on both sides. [Hz]

    The searched bins lie in one stretch.
    """
    step = float(frequency_hz[1] - frequency_hz[0])
    searched = np.flatnonzero(np.abs(frequency_hz) <= max(search_hz, step) + 0.5 * step)
    offset, height = peak_among(frequency_hz, power, int(searched[0]), int(searched[-1]) + 1)
    around = (np.abs(frequency_hz) >= clear_hz) & (np.abs(frequency_hz) <= reach_hz)
    surroundings = float(power[around].mean()) if around.any() else float(np.mean(power))
    tiny = np.finfo(np.float64).tiny
    return Line(offset, max(height - surroundings, 0.0), height / max(surroundings, tiny), surroundings)


def peak_among(frequency_hz: RealArray, power: RealArray, first: int, end: int) -> tuple[float, float]:
    """Frequency [Hz] and height of the highest of the bins `first` ... `end` - 1 of a padded spectrum.

    Refined by a parabola through the logarithms of three bins.
    """
    peak = first + int(np.argmax(power[first:end]))
    height, shift = float(power[peak]), 0.0
    if 0 < peak < len(power) - 1 and power[peak] > 0:
        left, middle, right = (math.log(max(float(power[peak + i]), 1e-300)) for i in (-1, 0, 1))
        curve = left - 2 * middle + right
        if curve < 0:
            shift = 0.5 * (left - right) / curve
            shift = max(-0.5, min(0.5, shift))
            height = math.exp(middle - 0.25 * (left - right) * shift)
    return float(frequency_hz[peak]) + shift * float(frequency_hz[1] - frequency_hz[0]), height


@functools.lru_cache(maxsize=32)
def slow_response(frame: int, bins: int) -> RealArray:
    """Power response, 0.05 or more, of slowing a signal by `frame` with Hann frames twice as long; shape (bins,).

    Its offsets are those of a spectrum of the slowed signal with its zero in the middle. The frames are symmetric, so their
    response is a sum of cosines; a few hundred points serve for all offsets.
    """
    taper = np.hanning(2 * frame + 1)[:-1]
    time = np.arange(2 * frame) - frame
    points = np.linspace(0.0, 0.5 / frame, 257)
    response = (np.cos(2 * np.pi * points[:, None] * time) @ taper / taper.sum()) ** 2
    offset = np.abs(scipy.fft.fftshift(scipy.fft.fftfreq(bins, float(frame))))
    at_offset: RealArray = np.maximum(np.interp(offset, points, response), 0.05)
    at_offset.setflags(write=False)
    return at_offset


@functools.lru_cache(maxsize=32)
def slow_noise(bins: int) -> RealArray:
    """Power density of white noise after the same slowing, over that at zero; shape (bins,), its zero in the middle.

    What lies beyond the slower rate's half folds in, so noise falls less than a line does. Hann frames that overlap by half
    share a sixth of their noise (window table): (1 + cos(2 pi f / rate) / 3) / (1 + 1/3).
    """
    folded: RealArray = 0.75 + 0.25 * np.cos(2 * np.pi * scipy.fft.fftshift(scipy.fft.fftfreq(bins)))
    folded.setflags(write=False)
    return folded
