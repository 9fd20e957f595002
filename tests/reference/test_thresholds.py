"""Decisions in noise against the chi-square distribution; the figures come from scipy.stats.gamma.isf."""

from __future__ import annotations

import numpy as np
import pytest

from bandscan.dsp.line import threshold
from bandscan.dsp.noise import AM_FLOOR, FM_FLOOR, noise_floor
from bandscan.units import db


@pytest.mark.parametrize(
    ("false_rate", "averages", "over_noise_db"), [(1e-2, 1, 6.63), (1e-3, 10, 3.55), (1e-3, 100, 1.26), (1e-6, 1000, 0.64)]
)
def test_detection_threshold_over_the_mean_noise(false_rate: float, averages: int, over_noise_db: float) -> None:
    """An energy detector of K averages passes noise at the stated rate when set this many dB over it."""
    assert db(threshold(averages, 1.0, false_rate)) == pytest.approx(over_noise_db, abs=0.005)


def test_searching_more_places_asks_for_more() -> None:
    """Ten places at 1e-2 in all are one place at 1e-3 (Bonferroni): 3.55 dB for ten averages."""
    assert db(threshold(10, 10.0, 1e-2)) == pytest.approx(3.55, abs=0.005)


@pytest.mark.parametrize(("false_rate", "averages", "around", "over_noise_db"), [(1e-3, 10, 50, 3.611), (1e-4, 1, 30, 10.326)])
def test_surroundings_that_are_estimated_ask_for_more(
    false_rate: float, averages: int, around: float, over_noise_db: float
) -> None:
    """Over the mean of so many bins of surroundings the ratio is Fisher's F: scipy.stats.f.isf(rate, 2 K, 2 K bins)."""
    assert db(threshold(averages, 1.0, false_rate, around)) == pytest.approx(over_noise_db, abs=0.005)


@pytest.mark.parametrize(("scale", "span_hz", "bin_hz"), [(FM_FLOOR, 2.4e6, 100.0), (AM_FLOOR, 1.2e6, 20.0)])
@pytest.mark.parametrize("averages", [8, 100])
def test_the_noise_floor_of_noise_is_its_level(scale: object, span_hz: float, bin_hz: float, averages: int) -> None:
    """On pure noise of -106 dBFS/Hz, drawn from the gamma distribution, the floor reads it within 0.15 dB on average.

    A mean of the lowest fifth would read 2.2 dB low at ten averages (computed).
    """
    rng = np.random.default_rng(averages)
    frequency_hz = np.arange(-span_hz / 2, span_hz / 2, bin_hz)
    density = 10 ** (-106 / 10) * rng.gamma(averages, 1 / averages, len(frequency_hz))
    at_hz = np.linspace(-0.4, 0.4, 9) * span_hz
    floor = noise_floor(density, frequency_hz, float(averages), at_hz, 0.45 * span_hz, scale)  # type: ignore[arg-type]
    assert np.mean(db(floor.density)) == pytest.approx(-106, abs=0.15)
    assert np.max(np.abs(db(floor.density) + 106)) < 0.5
