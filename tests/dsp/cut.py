"""A channel cut out of samples by the grid and the channeliser, in frames and batches as a pass over a recording does."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import scipy.fft

from bandscan.dsp.channeliser import Channeliser, channel_filter
from bandscan.dsp.grid import Grid, make_grid

Wave = npt.NDArray[np.complexfloating]

# the dongle's slow range and usual rate, sound cards' and other receivers' rates
RATES_HZ = (225e3, 256e3, 300e3, 2.048e6, 2.4e6, 3.2e6, 10e6, 20e6)


def fm_grid(rate_hz: float) -> Grid:
    """The sizes that the FM pass asks for."""
    return make_grid(rate_hz, bin_hz=100.0, out_size=2400, out_trim=30, step=40)


def am_grid(rate_hz: float) -> Grid:
    """The sizes that the AM pass asks for."""
    return make_grid(rate_hz, bin_hz=25.0, out_size=512, out_trim=25, step=256, primes=(2, 3))


def cut(samples: Wave, grid: Grid, half_width_hz: float, offset_hz: float, batch: int = 3) -> tuple[Wave, Channeliser]:
    """The channel's samples, joined over all whole frames, and the channeliser that cut it.

    Sample n of the result belongs to the time (out_trim + n) / out_rate of the recording.
    """
    cutter = Channeliser(grid, channel_filter(grid, half_width_hz), offset_hz)
    frames = np.lib.stride_tricks.sliding_window_view(samples.astype(np.complex64), grid.size)[:: grid.hop]
    parts = []
    for first in range(0, len(frames), batch):
        spectra = scipy.fft.fft(frames[first : first + batch], axis=-1)
        out = np.empty((len(spectra), grid.out_size), np.complex64)
        parts.append(cutter.cut(spectra, first, out).copy().ravel())
    return np.concatenate(parts), cutter


def tone(samples: int, rate_hz: float, frequency_hz: float, amplitude: float = 1.0) -> Wave:
    """A complex tone whose phase is 0 at the first sample."""
    return amplitude * np.exp(2j * np.pi * np.mod(frequency_hz / rate_hz * np.arange(samples), 1.0))


def noise(samples: int, power: float, seed: int) -> Wave:
    """Complex white noise of a given mean power."""
    white = np.random.default_rng(seed).standard_normal((2, samples)) * np.sqrt(power / 2)
    return white[0] + 1j * white[1]
