"""One pass over a capture: every whole frame once, batches, DC and overload counted."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from measure.made import Held

from bandscan.dsp.grid import Grid
from bandscan.measure.frames import Pass, transforms
from bandscan.model import Capture

GRID = Grid(rate_hz=1000.0, size=100, hop=90, out_size=10, out_trim=0)


def of(wave: np.ndarray, full_scale: float | None = None) -> Capture:
    """A capture of the wave."""
    return Capture("made", Path("made.cu8"), Held(wave, full_scale), 1000.0, 0.0)


def noise(samples: int) -> np.ndarray:
    """Complex noise of power 2."""
    parts = np.random.default_rng(1).standard_normal((2, samples))
    return np.asarray(parts[0] + 1j * parts[1])


@pytest.mark.parametrize("samples", [99, 100, 189, 190, 1234])
@pytest.mark.parametrize("batch", [1, 3, 8])
def test_every_whole_frame_is_transformed_once(samples: int, batch: int) -> None:
    """Frames start every 90 samples while 100 are left; each is numpy's transform of its samples, but for the batch's DC."""
    wave = noise(samples)
    got = [(first, spectra.copy()) for first, spectra in transforms(of(wave), GRID, batch, Pass())]
    starts = [start for start in range(0, samples, 90) if start + 100 <= samples]
    assert sum(len(spectra) for _, spectra in got) == len(starts)
    for first, spectra in got:
        for row, spectrum in enumerate(spectra):
            start = starts[first + row]
            want = np.fft.fft(wave[start : start + 100].astype(np.complex64))
            np.testing.assert_allclose(spectrum[1:], want[1:], atol=1e-3)


def test_a_steady_offset_is_taken_off_and_nothing_else() -> None:
    """DC of 0.3 - 0.2j leaves bin 0 with mean zero over a batch and all other bins as they were."""
    wave = noise(1000)
    with_dc, without = (next(transforms(of(one), GRID, 8, Pass()))[1].copy() for one in (wave + 0.3 - 0.2j, wave))
    np.testing.assert_allclose(with_dc, without, atol=2e-3)
    assert abs(with_dc[:, 0].mean()) < 1e-3


def test_samples_at_full_scale_are_counted_once() -> None:
    """A sample in the overlap of two frames counts once; I or Q or both at the ceiling is one sample."""
    wave = np.zeros(1000, complex)
    wave[[5, 91, 95, 300]] = [1.0, 1j, -1.0, -1.0 - 1j]
    seen = Pass()
    for _ in transforms(of(wave, full_scale=0.99), GRID, 3, seen):
        pass
    assert seen.samples == 11 * 90
    assert seen.clipped == 4
    assert seen.overload_share == pytest.approx(4 / 990)


def test_without_a_ceiling_nothing_is_overload() -> None:
    """Floats have none."""
    seen = Pass()
    for _ in transforms(of(np.full(1000, 5.0 + 5.0j)), GRID, 3, seen):
        pass
    assert seen.overload_share == 0.0
    assert Pass().overload_share == 0.0
