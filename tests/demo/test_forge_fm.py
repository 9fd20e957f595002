"""One FM station against closed forms and the published multiplex."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
from scipy.special import jv

from bandscan.demo import FmStation, Receiver, forge

QUIET = Receiver(noise_dbfs_hz=-190.0)
RATE_HZ = 480_000.0


def station(**changes: object) -> FmStation:
    return FmStation(**{"channel_hz": 98_100_000, "level_dbfs": -12.0, "programme": "silence"} | changes)


def test_pilot_lines_stand_where_bessel_puts_them(line_dbfs):
    """A silent station's 6.75 kHz pilot gives lines 14.87 dB under the carrier at +-19 kHz and its error (Bessel)."""
    made = forge([station(pilot_error_hz=1.5, carrier_error_hz=-1234.5)], QUIET, 98e6, 2.4e6, 0.4, seed=1)
    carrier = line_dbfs(made.samples, 2.4e6, 100_000 - 1234.5)
    assert 20 * np.log10(jv(1, 6.75 / 19) / jv(0, 6.75 / 19)) == pytest.approx(-14.87, abs=0.005)
    for side in (-19_001.5, 19_001.5):
        assert line_dbfs(made.samples, 2.4e6, 100_000 - 1234.5 + side) - carrier == pytest.approx(-14.87, abs=0.01)


@pytest.mark.parametrize("tone_hz", [13_587.0, 8_667.0])  # second and third zero of J0: 75 kHz / 5.52008, 8.65373
def test_carrier_vanishes_at_a_bessel_null(line_dbfs, tone_hz):
    """A tone of 75 kHz deviation takes all power out of the carrier where J0 is zero: the deviation is what it says."""
    made = forge([station(programme="tone", tone_hz=tone_hz, pilot_dev_hz=0.0)], QUIET, 98e6, 2.4e6, 0.4, seed=2)
    assert line_dbfs(made.samples, 2.4e6, 100_000) < -12 - 55
    wrong = station(programme="tone", tone_hz=tone_hz, pilot_dev_hz=0.0, deviation_hz=73_000.0)
    made = forge([wrong], QUIET, 98e6, 2.4e6, 0.4, seed=2)
    assert line_dbfs(made.samples, 2.4e6, 100_000) > -12 - 35


def test_width_of_a_fully_modulated_tone(band_dbfs):
    """75 kHz at 15 kHz: the lines to +-90 kHz hold 99.356 % of the power (sum of squared Bessel functions)."""
    made = forge([station(programme="tone", tone_hz=15_000.0, pilot_dev_hz=0.0)], QUIET, 98.1e6, RATE_HZ, 0.4, seed=3)
    inside = band_dbfs(made.samples, RATE_HZ, -97_500, 97_500) + 12.0
    assert 10 ** (inside / 10) == pytest.approx(0.99356, abs=0.0002)


@pytest.mark.parametrize("programme", ["speech", "music"])
def test_programmes_fit_the_emission_mask(band_dbfs, programme):
    """120-240 kHz from the carrier a station is at least 25 dB down (47 CFR 73.317), and its envelope is constant."""
    made = forge([station(programme=programme, pi=0xD123, ps="A")], QUIET, 98.1e6, 2.4e6, 0.4, seed=4)
    assert band_dbfs(made.samples, 2.4e6, 120_000, 240_000) < -12 - 25
    assert np.std(np.abs(made.samples)) < 1e-4 * np.mean(np.abs(made.samples))


@pytest.mark.parametrize("programme", ["speech", "music", "tone"])
@pytest.mark.parametrize("deviation_hz", [75_000.0, 60_000.0])
def test_peak_is_limited_and_near_its_limit(frequency_hz, programme, deviation_hz):
    """Programme, pilot and data together never pass the deviation limit, and reach at least 85 % of it (73.1570)."""
    loud = station(programme=programme, deviation_hz=deviation_hz, pi=0xD123, ps="ABC")
    made = forge([loud], QUIET, 98.1e6, 2.4e6, 0.4, seed=5)
    swing = np.abs(frequency_hz(made.samples, 2.4e6))
    assert 0.85 * deviation_hz < swing.max() < 1.001 * deviation_hz
    assert np.quantile(swing, 0.999) == pytest.approx(made.truth[0].peak_dev_hz, rel=0.01)


def test_difference_channel_is_locked_to_the_pilot(frequency_hz):
    """Left alone comes out left: with 38 kHz rising at every zero of the pilot (73.322), L - R equals L + R."""
    made = forge([station(programme="music", pilot_error_hz=-1.7)], QUIET, 98.1e6, RATE_HZ, 0.4, seed=6)
    swing = frequency_hz(made.samples, RATE_HZ)
    t = (np.arange(len(swing)) + 0.5) / RATE_HZ
    spectrum = np.fft.fft(swing * np.hanning(len(swing)))
    f = np.fft.fftfreq(len(swing), 1 / RATE_HZ)
    pilot_cycles = np.angle(np.sum(swing * np.exp(-2j * np.pi * (19_000 - 1.7) * t))) / (2 * np.pi) + 0.25
    theta = 2 * np.pi * ((19_000 - 1.7) * t + pilot_cycles)
    assert 2 * np.mean(swing * np.sin(theta)) == pytest.approx(6750, rel=0.01)

    def low(x: np.ndarray) -> np.ndarray:
        return np.fft.ifft(np.fft.fft(x) * (np.abs(f) < 16_500)).real[5000:-5000]

    mid, side = low(swing), low(2 * swing * np.sin(2 * theta))
    askew = low(2 * swing * np.cos(2 * theta))
    assert np.std(side) > 0.1 * np.std(mid)
    assert np.std(askew) < 0.02 * np.std(side)
    assert np.abs(spectrum[np.abs(np.abs(f) - 17_700) < 300]).max() < 1e-3 * np.abs(spectrum).max()


def test_mono_has_no_pilot_and_no_difference_channel(frequency_hz):
    """A station with pilot deviation 0 holds nothing between 17 and 53 kHz of its multiplex."""
    made = forge([station(programme="music", pilot_dev_hz=0.0)], QUIET, 98.1e6, RATE_HZ, 0.4, seed=7)
    f, density = scipy.signal.welch(frequency_hz(made.samples, RATE_HZ), RATE_HZ, nperseg=4096)
    assert density[(f > 17_000) & (f < 53_000)].max() < 1e-7 * density.max()


def test_digital_sidebands_hold_their_power(band_dbfs):
    """Each side holds its stated power between 129 and 198 kHz from the carrier and nothing beyond."""
    made = forge([station(digital_db=-17.0)], QUIET, 98.1e6, 2.4e6, 0.4, seed=8)
    for low, high in ((128_500, 198_500), (-198_500, -128_500)):
        assert band_dbfs(made.samples, 2.4e6, low, high) == pytest.approx(-12 - 17, abs=0.05)
    assert band_dbfs(made.samples, 2.4e6, 205_000, 235_000) < -12 - 17 - 40


def test_data_subcarrier_is_locked_to_the_pilot(frequency_hz):
    """With the pilot 1.5 Hz high, the data sit 4.5 Hz above 57 kHz: their squared carrier is a line at 6 times the pilot."""
    made = forge([station(pilot_error_hz=1.5, pi=0xD456, ps="LOCKED")], QUIET, 98.1e6, RATE_HZ, 0.5, seed=9)
    swing = frequency_hz(made.samples, RATE_HZ)
    t = np.arange(len(swing)) / RATE_HZ
    base = scipy.signal.decimate(swing * np.exp(-2j * np.pi * 57_000 * t), 40, ftype="fir")
    squared = np.abs(np.fft.fft(base**2 * np.hanning(len(base)), 2**18))
    line_hz = np.fft.fftfreq(2**18, 40 / RATE_HZ)[np.argmax(squared)]
    assert line_hz == pytest.approx(9.0, abs=0.3)
    assert np.abs(2 * base[200:-200]).max() == pytest.approx(2000, rel=0.03)
