"""A line over its surroundings: periodograms against scipy.signal, its size between bins, and how often noise passes."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
import scipy.signal
import scipy.stats

from bandscan.dsp.line import LineSum, slow_noise, strongest_line, threshold

RATE_HZ, LENGTH = 400.0, 400  # bins of 1 Hz
Wave = npt.NDArray[np.complex64]


def tone(frequency_hz: float, amplitude: float = 1.0, length: int = LENGTH) -> Wave:
    """A complex tone."""
    return (amplitude * np.exp(2j * np.pi * (frequency_hz / RATE_HZ * np.arange(length) + 0.2))).astype(np.complex64)


def white(power: float, rng: np.random.Generator, length: int = LENGTH) -> Wave:
    """Complex white noise."""
    return ((rng.standard_normal(length) + 1j * rng.standard_normal(length)) * math.sqrt(power / 2)).astype(np.complex64)


def lines(*segments: Wave) -> LineSum:
    """The sum over some segments."""
    found = LineSum(len(segments[0]), RATE_HZ)
    for segment in segments:
        found.add(segment)
    return found


def strongest(found: LineSum) -> tuple[float, float, float]:
    """Offset, power and ratio of the strongest line within 5 Hz, its surroundings 12 to 180 Hz away."""
    frequency_hz, power = found.spectrum()
    line = strongest_line(frequency_hz, power, search_hz=5.0, clear_hz=12.0, reach_hz=180.0)
    return line.offset_hz, line.power, line.ratio


def test_the_spectrum_is_scipys_periodogram() -> None:
    """scipy.signal.periodogram with a periodic Hann window, zero-padded fourfold, scaled so that a tone reads its power."""
    segment = tone(3.3, 0.7) + white(0.1, np.random.default_rng(1))
    frequency_hz, power = lines(segment).spectrum()
    at_hz, want = scipy.signal.periodogram(
        segment, RATE_HZ, "hann", nfft=4 * LENGTH, detrend=False, return_onesided=False, scaling="spectrum"
    )
    np.testing.assert_allclose(frequency_hz, np.fft.fftshift(at_hz))
    np.testing.assert_allclose(power, np.fft.fftshift(want), rtol=2e-4, atol=1e-9)


@pytest.mark.parametrize("frequency_hz", [-4.87, -0.5, 0.0, 0.11, 0.25, 1.375, 4.6])
def test_a_line_between_bins_is_read_whole(frequency_hz: float) -> None:
    """Unpadded, a Hann line half-way between bins loses 1.42 dB (window table); padded and refined it is within 0.3 %."""
    offset_hz, power, _ = strongest(lines(tone(frequency_hz, 0.5)))
    assert power == pytest.approx(0.25, rel=0.003)
    assert offset_hz == pytest.approx(frequency_hz, abs=0.01)


def test_segments_of_any_phase_add_up() -> None:
    """Powers are averaged, not amplitudes: turned segments keep the line's power."""
    _, power, _ = strongest(lines(*[tone(1.0) * np.complex64(1j**k) for k in range(4)]))
    assert power == pytest.approx(1.0, rel=0.003)


def test_the_ratio_is_the_lines_power_over_one_bin_of_noise() -> None:
    """Hann's noise bandwidth is 1.5 bins (window table): power 1 in 400 Hz gives 1.5/400 in each bin of 1 Hz.

    A tone of 0.5 over that is 21.25 dB. The line and its bin's noise of 64 averages scatter together by 2 %, the
    surroundings by 0.5 %.
    """
    rng = np.random.default_rng(2)
    _, power, ratio = strongest(lines(*[tone(0.5, math.sqrt(0.5)) + white(1.0, rng) for _ in range(64)]))
    assert power == pytest.approx(0.5, rel=0.08)
    assert 10 * math.log10(ratio) == pytest.approx(21.25, abs=0.4)


@pytest.mark.parametrize("segments", [1, 4])
def test_noise_passes_one_place_as_often_as_the_threshold_says(segments: int) -> None:
    """With the mean of the noise known, one bin of K averages passes `threshold` at 2 % within what the binomial allows."""
    rng = np.random.default_rng(3)
    noise_in_bin = 1.5 / LENGTH
    trials, passed = 6000, 0
    for _ in range(trials // 100):
        frames = np.stack([white(1.0, rng) for _ in range(segments)])
        power = lines(*frames).spectrum()[1] / noise_in_bin
        # every third bin of 1 Hz: Hann's neighbours two bins off share 1/36 of their power, three bins off nothing
        passed += int(np.count_nonzero(power[:: 4 * 4][:100] >= threshold(segments, 1.0, 0.02)))
    low, high = scipy.stats.binom.interval(0.9999, trials, 0.02)
    assert low <= passed <= high


def test_noise_moves_a_line_as_far_as_stated() -> None:
    """The uncertainty's constant is that of scipy's Hann window; 400 lines 20 dB over their bin scatter by it within 10 %."""
    time = (np.arange(4000) + 0.5) / 4000 - 0.5
    window = scipy.signal.windows.hann(4000, sym=False)
    bin_noise = (window**2).mean() / window.mean() ** 2
    assert 0.5 * (window**2 * time**2).mean() / (window * time**2).mean() ** 2 / bin_noise == pytest.approx(9.37, abs=0.02)
    rng = np.random.default_rng(7)
    over = []
    for _ in range(400):
        offset_hz = float(rng.uniform(-4.0, 4.0))
        found = lines(tone(offset_hz) + white(RATE_HZ / 100 / 1.5, rng))
        line = strongest_line(*found.spectrum(), search_hz=5.0, clear_hz=12.0, reach_hz=180.0)
        over.append((line.offset_hz - offset_hz) / (line.offset_sd * found.resolution_hz))
    assert float(np.std(over)) == pytest.approx(1.0, abs=0.1)


def test_a_line_outside_the_search_is_not_taken() -> None:
    """The strongest within the search is given, however strong another stands outside it."""
    offset_hz, power, _ = strongest(lines(tone(2.0, 0.1) + tone(60.0, 1.0)))
    assert offset_hz == pytest.approx(2.0, abs=0.02)
    assert power < 0.0101


def test_nothing_is_no_line() -> None:
    """Zeros, and no segment at all, give power 0 and finite figures."""
    for found in (lines(np.zeros(LENGTH, np.complex64)), LineSum(LENGTH, RATE_HZ), LineSum(2, RATE_HZ), LineSum(1, RATE_HZ)):
        offset_hz, power, ratio = strongest(found)
        assert power == 0
        assert math.isfinite(ratio)
        assert math.isfinite(offset_hz)


def test_noise_slowed_by_overlapping_hann_frames_falls_as_said() -> None:
    """White noise at 12 kS/s through Hann frames of 60 samples, every 30: its spectrum is `slow_noise`, by numpy's transform.

    3000 segments of 64 values: each bin scatters by 1/sqrt(3000) = 1.8 %, the largest of 64 by less than four of that.
    """
    rng = np.random.default_rng(9)
    noise = rng.standard_normal((3000, 66 * 30)) + 1j * rng.standard_normal((3000, 66 * 30))
    taper = np.hanning(61)[:-1]
    slow = np.stack([noise[:, 30 * k : 30 * k + 60] @ taper for k in range(64)], axis=1)
    power = np.fft.fftshift((np.abs(np.fft.fft(slow * np.hanning(65)[:-1], axis=1)) ** 2).mean(axis=0))
    share = power / power[28:37].mean() / slow_noise(64)
    assert np.abs(share / share.mean() - 1).max() < 0.08
    assert slow_noise(64)[0] == pytest.approx(0.5)
