"""bandscan's power spectrum against scipy.signal.welch, liquid-dsp and the textbook's constants of the Hann window."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
import scipy.signal

from bandscan.dsp.spectrum import SpectrumSum
from bandscan.units import db

SIZE = 1024
RATE_HZ = 240_000.0
BIN_HZ = RATE_HZ / SIZE


def spectrum_of(samples: npt.NDArray[np.complex64], hop: int, size: int = SIZE) -> SpectrumSum:
    """bandscan's spectrum of samples in frames `hop` apart, fed in uneven batches as a recording is."""
    frames = np.lib.stride_tricks.sliding_window_view(samples, size)[::hop]
    spectrum = SpectrumSum(size, RATE_HZ)
    for start in range(0, len(frames), 7):
        spectrum.add(np.fft.fft(frames[start : start + 7], axis=-1).astype(np.complex64))
    return spectrum


def noise(samples: int, power: float, seed: int) -> npt.NDArray[np.complex64]:
    """Complex white noise of a given mean power."""
    rng = np.random.default_rng(seed)
    white = rng.standard_normal(samples) + 1j * rng.standard_normal(samples)
    return (white * math.sqrt(power / 2)).astype(np.complex64)


def tone(samples: int, frequency_hz: float, amplitude: float = 1.0) -> npt.NDArray[np.complex64]:
    """A complex tone."""
    return (amplitude * np.exp(2j * np.pi * frequency_hz / RATE_HZ * np.arange(samples))).astype(np.complex64)


# A tone of -26 dBFS, 128 bins from the centre, in noise of -30 dBFS: declared, not measured.
TONE_BIN = 128
SCENE = tone(400 * SIZE, TONE_BIN * BIN_HZ, 10 ** (-26 / 20)) + noise(400 * SIZE, 10 ** (-30 / 10), 1)


@pytest.mark.parametrize("hop", [SIZE // 2, SIZE])
def test_density_is_that_of_scipys_welch(hop: int) -> None:
    """Every bin agrees with scipy.signal.welch (periodic Hann, no detrend, two-sided density) to single precision."""
    frequency_hz, density = scipy.signal.welch(
        SCENE, RATE_HZ, window="hann", nperseg=SIZE, noverlap=SIZE - hop, detrend=False, return_onesided=False
    )
    spectrum = spectrum_of(SCENE, hop)
    np.testing.assert_allclose(spectrum.frequencies(), np.fft.fftshift(frequency_hz))
    np.testing.assert_allclose(spectrum.density(), np.fft.fftshift(density), rtol=1e-5)


def test_regions_of_the_spectrum_agree_with_liquid_dsp() -> None:
    """liquid-dsp's periodogram (spgram, Hann) sees the same floor and the same tone, region by region.

    Its figure is the density times the rate, in dB. It starts on a half-filled buffer: one frame of 800, 0.005 dB; its
    window is the symmetric one, which moves the tone by 0.01 dB. Hence 0.02 dB.
    """
    liquid = pytest.importorskip("liquid", reason="liquid-dsp has wheels for Linux only")
    second = liquid.spgram(SIZE, SIZE, SIZE // 2, "hann")
    second.execute(SCENE)
    theirs_db, their_hz = second.get_psd(RATE_HZ)
    spectrum = spectrum_of(SCENE, SIZE // 2)
    ours_db = db(spectrum.density() * RATE_HZ)
    np.testing.assert_allclose(their_hz, spectrum.frequencies(), atol=0.1)
    peak = SIZE // 2 + TONE_BIN
    for region in (slice(0, 200), slice(200, 500), slice(500, peak - 8), slice(peak + 8, SIZE)):
        assert np.mean(ours_db[region]) == pytest.approx(np.mean(np.asarray(theirs_db)[region]), abs=0.02)
        assert np.mean(ours_db[region]) == pytest.approx(-30.0, abs=0.1)  # the declared floor
    assert ours_db[peak] == pytest.approx(theirs_db[peak], abs=0.02)


def test_density_integrates_to_the_power() -> None:
    """Powers add: a tone of -26 dBFS in noise of -30 dBFS is -24.545 dBFS; scatter 4.343 / sqrt(400 x 1024) = 0.007 dB."""
    total = float(np.sum(spectrum_of(SCENE, SIZE).density()) * BIN_HZ)
    assert db(total) == pytest.approx(-24.545, abs=0.03)


def test_hann_noise_bandwidth_is_a_bin_and_a_half() -> None:
    """Window table (scipy's periodic Hann): equivalent noise bandwidth 1.5 bins = 1.761 dB, seen at a tone on a bin."""
    density = spectrum_of(tone(4 * SIZE, 100 * BIN_HZ), SIZE).density()
    assert -db(float(density.max()) * BIN_HZ) == pytest.approx(1.761, abs=0.001)


def test_hann_loses_1p424_db_between_two_bins() -> None:
    """Window table: scalloping of the Hann window -1.424 dB half-way between two bins."""
    on_bin = spectrum_of(tone(4 * SIZE, 100 * BIN_HZ), SIZE).density().max()
    between = spectrum_of(tone(4 * SIZE, 100.5 * BIN_HZ), SIZE).density().max()
    assert db(float(between / on_bin)) == pytest.approx(-1.424, abs=0.002)


# Chi-square with 2K degrees of freedom: exact scatter of the logarithm (10/ln 10) sqrt(psi1(K)) and bias of averaged dB
# (10/ln 10)(psi(K) - ln K). The plain rule 4.343/sqrt(K) is within 3 % of the scatter from K = 10 up.
@pytest.mark.parametrize(
    ("averages", "scatter_db", "bias_db"), [(1, 5.570, -2.507), (4, None, -0.565), (10, 1.408, -0.221), (100, 0.435, -0.022)]
)
def test_averages_scatter_and_lean_as_the_chi_square_says(averages: int, scatter_db: float | None, bias_db: float) -> None:
    """The dB of K averaged periodograms of noise scatter 4.343/sqrt(K) and read low by the published bias."""
    size, trials = 256, 240
    samples = noise(size * averages * trials, 1.0, averages)
    densities = [spectrum_of(part, size, size).density() * RATE_HZ for part in samples.reshape(trials, size * averages)]
    decibels = db(np.concatenate(densities))
    # neighbouring Hann bins are correlated (2/3): about half of the values are independent
    independent = decibels.size / 2
    sigma = scatter_db if scatter_db is not None else 4.343 / math.sqrt(averages)
    assert np.mean(decibels) == pytest.approx(bias_db, abs=4 * sigma / math.sqrt(independent))
    if scatter_db is not None:
        assert np.std(decibels) == pytest.approx(
            scatter_db, rel=4 * 1.05 / math.sqrt(independent)
        )  # its kurtosis is 5.4 at most


def test_the_median_of_one_periodogram_reads_1p592_db_low() -> None:
    """Exponential distribution: the median bin is ln 2 of the mean, -1.592 dB; four standard errors of the median allowed."""
    size, trials = 256, 240
    samples = noise(size * trials, 1.0, 3)
    values = np.concatenate([spectrum_of(part, size, size).density() * RATE_HZ for part in samples.reshape(trials, size)])
    assert db(float(np.median(values))) == pytest.approx(-1.592, abs=4 * 4.343 / math.log(2) / math.sqrt(values.size / 2))
