"""One channel out of the shared transform: a slice of bins, a filter, a small inverse transform."""

from __future__ import annotations

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
        self._low = (self.centre_bin - half) % grid.size
        self._scale = (response / np.float32(grid.size) * np.float32(grid.out_size)).astype(np.float32)
        self._turn = -2 * np.pi * ((self.centre_bin * grid.hop) % grid.size) / grid.size

    def cut(self, transforms: ComplexArray, first_frame: int, out: ComplexArray) -> ComplexArray:
        """Samples of the channel in frames `first_frame` ...; fills out (frames, out_size), returns a view (frames, out_hop).

        `transforms` has shape (frames, size) and is unscaled. A complex tone keeps its amplitude.
        """
        size, half, low = self.grid.out_size, self.grid.out_size // 2, self._low
        first = min(half, self.grid.size - low)
        # bins from -half to -1 go to the upper half of the small transform, bins 0 ... to the lower half
        np.multiply(transforms[:, low : low + first], self._scale[half : half + first], out=out[:, half : half + first])
        if first < half:
            np.multiply(transforms[:, : half - first], self._scale[half + first :], out=out[:, half + first :])
        middle = (low + half) % self.grid.size
        first = min(half, self.grid.size - middle)
        np.multiply(transforms[:, middle : middle + first], self._scale[:first], out=out[:, :first])
        if first < half:
            np.multiply(transforms[:, : half - first], self._scale[first:half], out=out[:, first:half])
        if self._turn:
            frames = first_frame + np.arange(len(transforms))
            out *= np.exp(1j * self._turn * frames).astype(np.complex64)[:, None]
        samples: ComplexArray = scipy.fft.ifft(out, axis=-1, overwrite_x=True)
        return samples[:, self.grid.out_trim : size - self.grid.out_trim]
