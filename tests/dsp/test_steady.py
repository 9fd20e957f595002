"""The steady part of a frequency: what a programme's swing leaves of it, and how well its uncertainty holds."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import windows

from bandscan.dsp.steady import LEAST_CELLS, TAPERED, SteadySum, _tapered


def told(series_hz: np.ndarray, batch: int = 8) -> tuple[float, float]:
    """Mean and uncertainty of one channel whose frames arrive in batches."""
    total = SteadySum(1, len(series_hz))
    for first in range(0, len(series_hz), batch):
        total.add(series_hz[None, first : first + batch].astype(np.float32))
    return total.mean(0)


@pytest.mark.parametrize("tone_hz", [11.3, 24.7, 47.9])
def test_a_swing_cut_off_in_the_middle_leaves_less_than_in_a_plain_mean(tone_hz: float) -> None:
    """A tapered window (textbook) leaves of a tone far from zero frequency a tenth or less of what a plain mean holds."""
    time_s = np.arange(100) / 100.0 + 0.005
    errors, plain = [], []
    for phase in np.linspace(0, np.pi, 9):
        series = 120.0 + 5e3 * np.sin(2 * np.pi * tone_hz * time_s + phase)
        errors.append(told(series)[0] - 120.0)
        plain.append(series.mean() - 120.0)
    assert np.std(errors) < 0.1 * np.std(plain)


@pytest.mark.parametrize("frames", [40, 100, 1000, 5000])
def test_the_uncertainty_of_a_mean_in_white_noise_is_the_handbooks(frames: int) -> None:
    """sigma sqrt(sum w^2) / sum w: 1.1 sigma / sqrt(N) for a Tukey window of a half (its equivalent noise bandwidth, 1.22)."""
    dice = np.random.default_rng(frames)
    made = np.array([told(dice.normal(0.0, 300.0, frames)) for _ in range(400)])
    expected = 300.0 * np.sqrt(1.22 / frames)
    assert made[:, 0].std() == pytest.approx(expected, rel=0.12)
    assert np.sqrt(np.mean(made[:, 1] ** 2)) == pytest.approx(expected, rel=0.08)
    held = np.abs(made[:, 0]) <= 1.96 * made[:, 1]
    assert 0.87 <= held.mean() <= 0.98  # seven bins: Student's t of about ten degrees of freedom holds 92 %


def test_a_long_recording_is_kept_in_a_bounded_number_of_cells() -> None:
    """An hour's frames of 10 ms: a mean of all of them, within the memory of a thousand."""
    total = SteadySum(2, 360_000)
    for first in range(0, 360_000, 8):
        total.add(np.array([np.arange(first, first + 8), np.full(8, 7.0)], np.float32))
    assert total.mean(0)[0] == pytest.approx(180_000.0, rel=0.01)
    assert total.mean(1)[0] == pytest.approx(7.0)
    assert sum(part.nbytes for part in vars(total).values() if isinstance(part, np.ndarray)) < 20_000


def test_too_short_a_time_tells_no_uncertainty() -> None:
    """A fifth of a second of programme has a mean, and no telling how far that is off."""
    assert told(np.full(LEAST_CELLS - 1, 50.0)) == (pytest.approx(50.0), float("inf"))
    assert np.isfinite(told(np.full(LEAST_CELLS, 50.0))[1])


@pytest.mark.parametrize("count", [1, 5, 40, 101, 1024])
def test_the_weights_are_scipys_tukey_window(count: int) -> None:
    """Reference library: scipy.signal.windows.tukey, but for where its ramp ends on a fraction of a cell."""
    assert np.abs(_tapered(count) - windows.tukey(count, TAPERED)).max() < 4.0 / count
