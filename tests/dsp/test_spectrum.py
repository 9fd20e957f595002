"""Edges of the spectrum and the bridge over the receiver's DC line; welch and liquid-dsp stand in tests/reference."""

from __future__ import annotations

import numpy as np
import pytest
from dsp.cut import tone

from bandscan.dsp.spectrum import SpectrumSum, bridge


def density_of(frames: np.ndarray, rate_hz: float = 1000.0) -> tuple[np.ndarray, np.ndarray]:
    """Density and frequencies of frames."""
    spectrum = SpectrumSum(frames.shape[1], rate_hz)
    spectrum.add(np.fft.fft(frames, axis=-1).astype(np.complex64))
    return spectrum.density(), spectrum.frequencies()


@pytest.mark.parametrize("at_bin", [-50, -49, -1, 0, 1, 48, 49])
def test_a_tone_shows_three_hann_lines_wherever_it_stands(at_bin: int) -> None:
    """Hann on a bin: 1, 1/4, 1/4 in power (textbook), the neighbours of the outermost bins lying at the other end."""
    density, frequency_hz = density_of(tone(100, 1000.0, at_bin * 10.0)[None, :])
    peak = at_bin + 50
    assert frequency_hz[peak] == at_bin * 10.0
    shares = density / density.sum()
    assert shares[[peak, (peak - 1) % 100, (peak + 1) % 100]] == pytest.approx([2 / 3, 1 / 6, 1 / 6], rel=1e-5)


def test_an_odd_size_has_its_zero_in_the_middle() -> None:
    """numpy.fft.fftfreq, sorted, for even and odd sizes."""
    for size in (24, 25):
        np.testing.assert_allclose(SpectrumSum(size, 1000.0).frequencies(), np.sort(np.fft.fftfreq(size, 1e-3)))


def test_nothing_added_is_no_power() -> None:
    """An empty sum is zero everywhere: no division by zero."""
    assert np.all(SpectrumSum(16, 1000.0).density() == 0)


def test_batches_of_any_size_add_up_to_the_same() -> None:
    """One batch of twelve or twelve of one: the same mean, to single precision."""
    rng = np.random.default_rng(1)
    spectra = (rng.standard_normal((12, 64)) + 1j * rng.standard_normal((12, 64))).astype(np.complex64)
    whole, pieces = SpectrumSum(64, 1000.0), SpectrumSum(64, 1000.0)
    whole.add(spectra)
    for row in (spectra[:5], spectra[5:6], spectra[6:]):
        pieces.add(row)
    np.testing.assert_allclose(pieces.density(), whole.density(), rtol=1e-6)


def noise(rows: int, size: int = 100) -> np.ndarray:
    """Transforms of noise; shape (rows, size)."""
    parts = np.random.default_rng(1).standard_normal((2, rows, size))
    return np.asarray(parts[0] + 1j * parts[1], np.complex64)


def test_a_burst_is_left_out_and_counted() -> None:
    """One frame of 16 times the power among eight is left out: the sum is that of the other seven."""
    spectra = noise(8)
    spectra[5] *= 4
    found, others = SpectrumSum(100, 1000.0), SpectrumSum(100, 1000.0)
    assert found.add(spectra) == 1
    others.add(np.delete(spectra, 5, axis=0))
    assert found.frames == 7
    np.testing.assert_array_equal(found.density(), others.density())


def test_fading_by_three_decibels_is_no_burst() -> None:
    """A band that rises and falls by 3 dB from frame to frame keeps all its frames."""
    found = SpectrumSum(100, 1000.0)
    assert found.add(noise(8) * np.linspace(1, 1.41, 8, dtype=np.float32)[:, None]) == 0
    assert found.frames == 8


def test_two_frames_are_too_few_to_tell() -> None:
    """Of two frames neither is called the burst."""
    spectra = noise(2)
    spectra[1] *= 100
    found = SpectrumSum(100, 1000.0)
    assert found.add(spectra) == 0
    assert found.frames == 2


def test_the_bridge_takes_out_a_line_and_nothing_else() -> None:
    """A line at the centre is replaced by the mean of what stands beside it; all other bins and the given array stay."""
    frequency_hz = np.arange(-5000.0, 5000.0, 100.0)
    density = np.where(np.abs(frequency_hz) <= 200, 1000.0, 3.0)
    given = density.copy()
    bridged = bridge(density, frequency_hz, 0.0, 400.0)
    assert np.all(bridged == 3.0)
    assert np.array_equal(density, given)


def test_the_bridge_follows_a_slope() -> None:
    """Between two levels the bridge stands at their mean, so that a slope over the gap keeps its power."""
    frequency_hz = np.arange(-5000.0, 5000.0, 100.0)
    bridged = bridge(10.0 + frequency_hz / 1000.0, frequency_hz, 0.0, 400.0)
    assert bridged[np.abs(frequency_hz) <= 400] == pytest.approx(10.0)


def test_a_bridge_outside_the_spectrum_changes_nothing() -> None:
    """No bin there, no change."""
    frequency_hz = np.arange(-5000.0, 5000.0, 100.0)
    density = np.ones(100)
    assert np.array_equal(bridge(density, frequency_hz, 90_000.0, 400.0), density)
