"""The stretch of time that all parts of one recording share, so that the bins of their spectra coincide."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import fft

FloatArray = npt.NDArray[np.float64]
ComplexArray = npt.NDArray[np.complex64]

_GUARD_S = 0.004


@dataclass(frozen=True)
class Span:
    """`kept` samples of the recording within `samples` at `rate_hz` (the receiver's true rate).

    Every part is made for the whole stretch, faded at its ends and interpolated by its Fourier transform; the recording is
    the middle, which neither the fades nor the transform's wrap-around reach.
    """

    kept: int
    samples: int
    rate_hz: float

    @classmethod
    def around(cls, kept: int, rate_hz: float) -> Span:
        """The span of a recording of `kept` samples."""
        return cls(kept, fast_length(kept + 2 * math.ceil(_GUARD_S * rate_hz)), rate_hz)

    @property
    def seconds(self) -> float:
        """Length of the whole stretch. [s]"""
        return self.samples / self.rate_hz

    @property
    def bin_hz(self) -> float:
        """Spacing of the bins of every spectrum over this stretch. [Hz]"""
        return 1.0 / self.seconds

    def points(self, rate_hz: float) -> int:
        """How many points cover the stretch at `rate_hz` or a little more."""
        return fast_length(math.ceil(rate_hz * self.seconds))

    def times_s(self, points: int) -> FloatArray:
        """Time of each of `points` points. [s]"""
        return np.arange(points, dtype=np.float64) * (self.seconds / points)

    def fade(self, points: int) -> FloatArray:
        """Weights for `points` points: 1 but for a raised cosine over the first and last 2 ms."""
        ramp = max(1, round(points * 0.5 * _GUARD_S / self.seconds))
        edge = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ramp) + 0.5) / ramp)
        weights = np.ones(points)
        weights[:ramp] = edge
        weights[-ramp:] = edge[::-1]
        return weights

    def middle(self, points: int) -> slice:
        """The part of `points` points that the recording keeps."""
        first = (self.samples - self.kept) // 2
        return slice(math.ceil(first * points / self.samples), math.floor((first + self.kept) * points / self.samples))


def fast_length(least: int) -> int:
    """The next even length that a transform takes quickly."""
    return int(2 * fft.next_fast_len(math.ceil(least / 2)))


@dataclass(frozen=True, eq=False)
class Emission:
    """One emission over a span as the transform of its wave, zero frequency in the middle; power 1 (AM: of the carrier).

    `peak_dev_hz` and `am_depth` as in Truth, where they apply.
    """

    bins: ComplexArray
    peak_dev_hz: float | None = None
    am_depth: float | None = None


def emission(wave: npt.NDArray[np.complexfloating], span: Span) -> ComplexArray:
    """The centred transform of a wave over the span, its ends faded; shape as `wave`."""
    faded = (wave * span.fade(len(wave))).astype(np.complex64)
    return np.asarray(fft.fftshift(fft.fft(faded, overwrite_x=True)))
