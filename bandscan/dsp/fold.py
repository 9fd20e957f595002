"""FM emissions within the AM band: what an unfiltered converter folds there from the FM band.

An AM station's power stands in its carrier, two thirds of it and more (100 % modulation by a tone), and carriers stand on the
raster; an FM emission's is spread over 150 kHz whose sum has a steady envelope, where noise and hash of that width have the
scatter of a normal process (variance of the power over its mean squared: 0 a carrier, 1 noise).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.fft

ComplexArray = npt.NDArray[np.complex64]
RealArray = npt.NDArray[np.float64]

HALF_WIDTH_HZ = 90e3  # 75 kHz of deviation and most of what goes beyond it
_STEP_HZ = 30e3
_RASTER_HALF_HZ = 150.0  # a carrier's own error, the receiver's, and a bin
_LEAST_CHANNELS = 4.0  # that its power is spread over; a note of an AM station stands in two
_LEAST_OVER = 3.0  # over the quietest stretch of the band
_MOST_SCATTER = 0.75  # a station of the same power beside the emission makes 0.5
_LEAST_FRAMES = 2
_LEAST_SHARE = 0.04  # of the frames looked at: programmes pause


@dataclass(frozen=True)
class Folded:
    """One FM emission: its middle, from the recording's centre [Hz], and its power while it is modulated, linear."""

    offset_hz: float
    power: float


class FoldSum:
    """Looks at single frames of a recording; `found` says what stood in several of them."""

    def __init__(self, frequency_hz: RealArray, raster_hz: RealArray, usable_hz: float) -> None:
        """Ascending bins of a frame's transform and the raster's carriers, two at least, from the centre. [Hz]"""
        edge_hz = [max(raster_hz[0] - HALF_WIDTH_HZ, -usable_hz), min(raster_hz[-1] + HALF_WIDTH_HZ, usable_hz)]
        self._inside = slice(*np.searchsorted(frequency_hz, edge_hz))
        self._frequency = frequency_hz = frequency_hz[self._inside]
        after = np.clip(np.searchsorted(raster_hz, frequency_hz), 1, len(raster_hz) - 1)
        below, above = np.abs(frequency_hz - raster_hz[after - 1]), np.abs(frequency_hz - raster_hz[after])
        self._channel = after - (below <= above)
        # each channel's bins lie together
        self._starts = np.flatnonzero(np.diff(self._channel, prepend=-1))
        self._bins = np.diff(np.append(self._starts, len(frequency_hz)))
        self._off_raster = np.minimum(below, above) > _RASTER_HALF_HZ
        low, high = edge_hz[0] + HALF_WIDTH_HZ, edge_hz[1] - HALF_WIDTH_HZ
        self._places = np.arange(low, high + 1.0, _STEP_HZ)
        self._from, self._to = (np.searchsorted(frequency_hz, self._places + side * HALF_WIDTH_HZ) for side in (-1.0, 1.0))
        self._seen = np.zeros(len(self._places), np.int64)
        self._power, self._moment = np.zeros((2, len(self._places)))
        self._frames = 0

    def add(self, spectrum: ComplexArray) -> None:
        """One frame's unscaled transform; shape (bins,)."""
        if not len(self._places):
            return
        self._frames += 1
        shifted = np.fft.fftshift(spectrum)[self._inside]
        power = (shifted.real**2 + shifted.imag**2) / len(spectrum) ** 2
        beside = power * self._off_raster
        # channels that look like AM stations are left out: they would hide an emission of their own power
        all_of, rest = (np.add.reduceat(part, self._starts) for part in (power, beside))
        beside *= np.repeat(all_of < 2.0 * rest, self._bins)
        running = np.concatenate([[0.0], np.cumsum(beside, dtype=np.float64)])
        both = running[self._to] - running[self._from]
        quiet = float(both.min())
        for place in np.flatnonzero((both >= _LEAST_OVER * quiet) & (both > 0.0)):
            inside = slice(self._from[place], self._to[place])
            each = np.bincount(self._channel[inside], beside[inside])
            envelope = scipy.fft.ifft(np.where(beside[inside] > 0.0, shifted[inside], 0.0))
            size = envelope.real.astype(np.float64) ** 2 + envelope.imag.astype(np.float64) ** 2
            spread = each.sum() ** 2 >= _LEAST_CHANNELS * (each**2).sum()
            if spread and size.var() <= _MOST_SCATTER * size.mean() ** 2:
                self._seen[place] += 1
                self._power[place] += both[place]
                self._moment[place] += float(beside[inside] @ self._frequency[inside]) / both[place]

    def found(self) -> list[Folded]:
        """Emissions that stood in several frames, one for each stretch of the band."""
        least = max(_LEAST_FRAMES, _LEAST_SHARE * self._frames)
        left = np.where(self._seen >= least, self._power, 0.0)
        found = []
        while left.any():
            best = int(np.argmax(left))
            found.append(Folded(self._moment[best] / self._seen[best], self._power[best] / self._seen[best]))
            left[np.abs(self._places - self._places[best]) < 2.0 * HALF_WIDTH_HZ] = 0.0
        return found
