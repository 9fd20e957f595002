"""A carrier that hum or wander sways, against programmes in which hum, bass or a tone prevails."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from scipy.signal import butter, sosfilt

from bandscan.dsp.audio import click_density
from bandscan.dsp.hum import only_hum

RATE_HZ = 4000.0
FloatArray = npt.NDArray[np.float64]


def noise(seconds: float, low_hz: float, high_hz: float, seed: int) -> FloatArray:
    """Of rms 1 between two frequencies."""
    wave = np.random.default_rng(seed).standard_normal(round(seconds * RATE_HZ))
    wave = sosfilt(butter(4, (low_hz, high_hz), "bandpass", fs=RATE_HZ, output="sos"), wave)
    return np.asarray(wave / wave.std())


def discriminated(sent_hz: FloatArray, snr_db: float, seed: int = 1) -> tuple[npt.NDArray[np.float32], float, float]:
    """With a discriminator's noise of density k f^2 and clicks N, both one-sided; k and N."""
    k = 1.0 / (200e3 * 10 ** (snr_db / 10))
    clicks = click_density(k, float(np.abs(sent_hz).mean()))
    dice = np.random.default_rng(seed)
    spectrum = np.fft.rfft(dice.standard_normal(len(sent_hz)))
    frequency = np.fft.rfftfreq(len(sent_hz), 1 / RATE_HZ)
    spectrum *= np.sqrt((k * frequency**2 + clicks) * RATE_HZ / 2)
    return (sent_hz + np.fft.irfft(spectrum, len(sent_hz))).astype(np.float32), k, clicks


def told(sent_hz: FloatArray, snr_db: float, seed: int = 1) -> bool:
    """Whether that is hum only."""
    audio_hz, k, clicks = discriminated(sent_hz, snr_db, seed)
    return only_hum(audio_hz, RATE_HZ, k, clicks)


def time_s(seconds: float) -> FloatArray:
    """Of its samples."""
    return np.arange(round(seconds * RATE_HZ)) / RATE_HZ


@pytest.mark.parametrize("seconds", [0.5, 1.0, 10.0])
@pytest.mark.parametrize("snr_db", [9.0, 15.0, 30.0, 45.0])
def test_hum_and_wander_alone_are_told(seconds: float, snr_db: float) -> None:
    """Sines of the mains a little off, a supply's sawtooth of small further lines, and a wander below 5 Hz."""
    at = time_s(seconds)
    assert told(3e3 * np.sin(2 * np.pi * 60.1 * at), snr_db)
    assert told(20e3 * np.sin(2 * np.pi * 49.93 * at + 1), snr_db)
    ripple = sum(np.sin(2 * np.pi * 100.05 * k * at + k) / k**2 for k in range(1, 15))
    assert told(8e3 * np.asarray(ripple), snr_db)
    slow = np.cumsum(noise(seconds + 2.0, 0.5, 5.0, 3))[round(2.0 * RATE_HZ) :]
    assert told(6e3 * (slow - slow.mean()) / slow.std(), snr_db)


@pytest.mark.parametrize("seconds", [0.5, 1.0, 10.0])
@pytest.mark.parametrize("snr_db", [12.0, 20.0, 40.0])
def test_programmes_are_not(seconds: float, snr_db: float) -> None:
    """Low talk beside hum of 0.3 and 30 %, a pause of it, bass ten times the rest, tones of 400 Hz to 1 kHz, noise alone."""
    at = time_s(seconds)
    talk = noise(seconds, 180.0, 1500.0, 5)
    hum = np.sin(2 * np.pi * 60.0 * at)
    assert not told(2e3 * talk + 22.5e3 * hum, snr_db)
    assert not told(400.0 * talk + 225.0 * hum, snr_db)
    half = np.where(at < 0.8 * seconds, 0.0, 1.0)
    assert not told(1500.0 * talk * half + 2e3 * hum, snr_db)
    assert not told(10e3 * noise(seconds, 45.0, 110.0, 6) + 1e3 * talk, snr_db)
    for tone_hz in (400.0, 440.0, 600.0, 1000.0):
        assert not told(3e3 * np.sin(2 * np.pi * tone_hz * at), snr_db)
        assert not told(3e3 * np.sin(2 * np.pi * tone_hz * at) + 225.0 * hum, snr_db)
    assert not told(0.0 * at, snr_db)


def test_too_little_time_tells_nothing() -> None:
    """A tenth of a second of hum."""
    assert not told(3e3 * np.sin(2 * np.pi * 60.0 * time_s(0.1)), 30.0)
