"""One channel out of the shared transform: a slice of bins, a filter, a small inverse transform."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import scipy.fft

from bandscan.dsp.grid import Grid

ComplexArray = npt.NDArray[np.complex64]
RealArray = npt.NDArray[np.float32]


def channel_filter(grid: Grid, half_width_hz: float, *, kaiser_beta: float = 6.0) -> RealArray:
    """Zero-phase low-pass, half amplitude at `half_width_hz`, in the order of a channel's transform; shape (out_size,).

    Its impulse response is windowed (Kaiser) to the samples that overlap-save drops, so that no frame wraps into itself.
    """
    size, trim = grid.out_size, grid.out_trim
    time = np.arange(-trim, trim + 1)
    cutoff = half_width_hz / grid.out_rate_hz
    taps = 2 * cutoff * np.sinc(2 * cutoff * time) * np.kaiser(2 * trim + 1, kaiser_beta)
    taps /= taps.sum()
    response = np.zeros(size)
    response[time % size] = taps
    return np.asarray(np.real(scipy.fft.fft(response)), np.float32)


class Channeliser:
    """Cuts channels out of batches of transforms.

    A channel's nominal carrier falls on `centre_bin`; what is left over is `residue_hz`, so a carrier at offset f from the
    channel appears at f + residue_hz. From one frame to the next a channel's samples turn by `turn`, because the hop is no
    whole number of periods of the bin: `cut` takes that out.
    """

    def __init__(self, grid: Grid, response: RealArray, offset_hz: float) -> None:
        self.grid = grid
        self.centre_bin = grid.bin_of(offset_hz)
        self.residue_hz = offset_hz - self.centre_bin * grid.bin_hz
        half = grid.out_size // 2
        # bins below the channel's carrier go to the upper half of the small transform; either half may run over the large
        # one's end. Each piece: where it lies, where it goes, and the filter, all over real and imaginary parts in turn
        scale = np.repeat(response / np.float32(grid.size) * np.float32(grid.out_size), 2)
        self._pieces = []
        for first, place in ((self.centre_bin - half, half), (self.centre_bin, 0)):
            begin = first % grid.size
            before_end = min(half, grid.size - begin)
            for start, at, count in ((begin, place, before_end), (0, place + before_end, half - before_end)):
                to = slice(2 * at, 2 * (at + count))
                self._pieces.append((slice(2 * start, 2 * (start + count)), to, scale[to].astype(np.float32)))
        self._turn = -2 * np.pi * ((self.centre_bin * grid.hop) % grid.size) / grid.size

    def cut(self, transforms: ComplexArray, first_frame: int, out: ComplexArray) -> ComplexArray:
        """Samples of the channel in frames `first_frame` ...; fills out (frames, out_size), returns a view (frames, out_hop).

        `transforms` has shape (frames, size) and is unscaled. A complex tone keeps its amplitude.
        """
        self._pick(transforms, first_frame, out)
        return _samples(out, self.grid)

    def cut_twice(self, transforms: ComplexArray, first_frame: int, out: ComplexArray) -> ComplexArray:
        """The same at twice the rate: fills out (frames, 2 out_size), returns a view (frames, 2 out_hop)."""
        size, half = self.grid.out_size, self.grid.out_size // 2
        narrow = out[:, size:]
        self._pick(transforms, first_frame, narrow)
        np.multiply(narrow[:, :half], np.float32(2.0), out=out[:, :half])
        narrow[:, half:] *= np.float32(2.0)
        out[:, half : size + half] = 0
        samples: ComplexArray = scipy.fft.ifft(out, axis=-1, overwrite_x=True)
        return samples[:, 2 * self.grid.out_trim : 2 * (size - self.grid.out_trim)]

    def _pick(self, transforms: ComplexArray, first_frame: int, out: ComplexArray) -> None:
        """The channel's bins, filtered and turned, in the order of its own transform."""
        # a complex number times a real filter is a product of floats
        wide, narrow = transforms.view(np.float32), out.view(np.float32)
        for lies, goes, scale in self._pieces:
            if len(scale):
                np.multiply(wide[:, lies], scale, out=narrow[:, goes])
        if self._turn:
            frames = first_frame + np.arange(len(transforms))
            out *= np.exp(1j * self._turn * frames).astype(np.complex64)[:, None]


def cut_all(cutters: Sequence[Channeliser], transforms: ComplexArray, first_frame: int, out: ComplexArray) -> ComplexArray:
    """What `cut` gives of several narrow channels of one grid, by one transform of many rows: it costs less than many of few.

    Fills out (channels, frames, out_size), returns a view (channels, frames, out_hop).
    """
    for cutter, rows in zip(cutters, out, strict=True):
        cutter._pick(transforms, first_frame, rows)
    return _samples(out, cutters[0].grid)


def _samples(transforms: ComplexArray, grid: Grid) -> ComplexArray:
    samples: ComplexArray = scipy.fft.ifft(transforms, axis=-1, overwrite_x=True)
    return samples[..., grid.out_trim : grid.out_size - grid.out_trim]
