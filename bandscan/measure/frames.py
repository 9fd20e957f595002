"""One pass over a capture: frames in, transforms out, in batches that the transform likes (8 rows at a time)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import scipy.fft

from bandscan.dsp.grid import Grid
from bandscan.errors import RecordingError
from bandscan.measure.holes import holes
from bandscan.measure.steps import step_of, swing
from bandscan.model import Capture, ComplexArray


@dataclass
class Pass:
    """Running figures of the pass itself."""

    samples: int = 0
    clipped: int = 0
    bursts: int = 0  # frames left out of the spectrum
    steps: float = 0.0  # largest standard deviation of the samples looked at, in steps of their values
    step: float = float("inf")  # between two values that the samples take
    lost: int = 0  # samples that stand still (measure.holes)
    whole: npt.NDArray[np.bool_] = field(default_factory=lambda: np.ones(0, bool))  # frames of this batch without such ones
    whole_frames: int = 0
    float_peak: float = 0.0  # largest swing of samples whose format has no ceiling
    holes_left_out: bool = True

    @property
    def overload_share(self) -> float:
        """Share of the samples seen so far that stand at full scale."""
        return self.clipped / self.samples if self.samples else 0.0


USABLE = 0.45  # of the rate to either side of the centre: beyond it the receiver's filter droops and folds
LARGEST_FLOAT = 1e6  # floats are meant to be about 1; far beyond, single precision overflows


def transforms(
    capture: Capture, grid: Grid, batch: int, seen: Pass, *, without_dc: bool = True
) -> Iterator[tuple[int, ComplexArray]]:
    """(number of the first frame, unscaled transforms of up to `batch` frames of shape (frames, size)), whole frames only.

    With `without_dc` the steady offset of the receiver is taken off each batch. The array is reused from batch to batch.
    `seen.whole` tells which of the frames lack no samples.

    Raises:
        RecordingError: floats far beyond what any receiver delivers.
    """
    total = grid.full_frames(len(capture.samples))
    buffer = np.empty((batch, grid.size), np.complex64)
    ceiling = capture.samples.full_scale
    for first in range(0, total, batch):
        rows = min(batch, total - first)
        frames = capture.samples.frames(first * grid.hop, rows, grid.size, grid.hop, out=buffer[:rows])
        flat = frames.view(np.float32)
        number = first // batch
        if number & (number - 1) == 0:  # 0, 1, 2, 4, 8, ...: a silent beginning must not speak for all of it, nor cost time
            seen.steps = max(seen.steps, swing(frames[0].real))
            seen.step = min(seen.step, step_of(frames[0].real))
        peak = max(float(flat.max()), -float(flat.min()))
        if ceiling is None:
            seen.float_peak = max(seen.float_peak, peak)
        if seen.float_peak > LARGEST_FLOAT:
            raise RecordingError(
                f"holds samples of size {peak:.2g}",
                where=capture.path.name,
                accepted=f"floats up to {LARGEST_FLOAT:.0e}, 1 being full scale",
                do="scale the recording",
            )
        spoilt, still = holes(frames, grid.hop) if seen.holes_left_out else (np.zeros(rows, bool), 0)
        seen.whole, seen.lost = ~spoilt, seen.lost + still
        seen.whole_frames += int(np.count_nonzero(seen.whole))
        if ceiling is not None and peak >= ceiling:
            fresh = frames[seen.whole, : grid.hop].view(np.float32)
            seen.clipped += int(np.count_nonzero((np.abs(fresh) >= ceiling).reshape(len(fresh), grid.hop, 2).any(axis=2)))
        seen.samples += rows * grid.hop
        spectrum = scipy.fft.fft(frames, axis=-1, overwrite_x=True)
        if without_dc:
            spectrum[:, 0] -= spectrum[seen.whole if seen.whole.any() else ~seen.whole, 0].mean()
        yield first, spectrum
