"""Peak deviation against numpy's percentile of the signal low-passed by scipy.signal."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
import scipy.signal

from bandscan.dsp.deviation import DeviationCount

RATE_HZ = 240_000.0
FRAME = 2_340  # as the channeliser gives them: 9.75 ms
SAMPLES = 102 * FRAME
TIME_S = np.arange(SAMPLES) / RATE_HZ


def programme_hz(seed: int, rms_hz: float = 25_000.0, offset_hz: float = 0.0) -> npt.NDArray[np.float64]:
    """Noise up to 53 kHz, soft-limited near 75 kHz as by a station's processor, with a pilot, off the channel by offset_hz."""
    rng = np.random.default_rng(seed)
    taps = scipy.signal.firwin(401, 53_000, fs=RATE_HZ)
    wave = scipy.signal.oaconvolve(rng.standard_normal(SAMPLES), taps, mode="same")
    wave *= rms_hz / wave.std()
    return np.asarray(68e3 * np.tanh(wave / 68e3) + 6750 * np.sin(2 * np.pi * 19e3 * TIME_S) + offset_hz)


def discriminated(frequency_hz: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """As a discriminator gives it: a difference of phases is the frequency's mean over one sample, sinc(f / rate) less."""
    response = np.sinc(np.fft.rfftfreq(len(frequency_hz), 1 / RATE_HZ) / RATE_HZ)
    return np.asarray(np.fft.irfft(np.fft.rfft(frequency_hz) * response, n=len(frequency_hz)))


def peak_hz(frequency_hz: npt.NDArray[np.float64], batch: int = 8) -> float:
    """bandscan's figure, fed in frames and batches as a discriminator gives them."""
    count = DeviationCount(RATE_HZ)
    frames = discriminated(frequency_hz).astype(np.float32).reshape(-1, FRAME)
    for first in range(0, len(frames), batch):
        count.add(frames[first : first + batch])
    return count.peak_hz()


def by_scipy(frequency_hz: npt.NDArray[np.float64]) -> float:
    """The definition: 99.9th percentile of abs(f - median f) after a sharp linear-phase low-pass at 62 kHz, every sample."""
    low = scipy.signal.oaconvolve(frequency_hz, scipy.signal.firwin(801, 62_000, fs=RATE_HZ), "valid")
    return float(np.percentile(np.abs(low - np.median(low)), 99.9))


@pytest.mark.parametrize("rms_hz", [12_000.0, 25_000.0, 40_000.0])
def test_peak_deviation_is_numpys_percentile(rms_hz: float) -> None:
    """Over twelve programmes the figure is the percentile of all values within 0.5 % on average and 2 % each time."""
    ratio = np.array([peak_hz(wave) / by_scipy(wave) for wave in (programme_hz(seed, rms_hz) for seed in range(12))])
    assert np.mean(ratio) == pytest.approx(1.0, abs=0.005)
    assert np.all(np.abs(ratio - 1) < 0.02)


@pytest.mark.parametrize("tone_hz", [400.0, 1_000.0, 5_000.0])
def test_test_tones_in_step_with_the_frames_are_read_at_any_phase(tone_hz: float) -> None:
    """75 kHz of a receiver sheet's tones, whatever its phase against the frames: within 3 %, as issue 4 asks.

    A tone of n samples a period has values only every 2 pi / n of its phase, and its median lies between two of them: 5 kHz
    may be off by pi / 48.
    """
    tolerance = max(0.03, 1.1 * np.pi * tone_hz / RATE_HZ)
    for phase in np.linspace(0, np.pi, 7):
        assert peak_hz(75e3 * np.sin(2 * np.pi * tone_hz * TIME_S + phase)) == pytest.approx(75e3, rel=tolerance)


@pytest.mark.parametrize("offset_hz", [-5_000.0, 1_950.0, 40_000.0])
def test_a_carrier_off_its_channel_has_the_same_deviation(offset_hz: float) -> None:
    """Deviation is taken from the median, not from the nominal carrier; a bin of the count is 100 Hz."""
    assert peak_hz(programme_hz(4, offset_hz=offset_hz)) == pytest.approx(peak_hz(programme_hz(4)), abs=60)


@pytest.mark.parametrize("tone_hz", [1_000.0, 15_000.0, 19_000.0, 53_000.0, 57_000.0, 59_000.0])
def test_what_a_station_sends_is_read_whole(tone_hz: float) -> None:
    """Mono, pilot, stereo and the data subcarrier: 30 kHz of each reads 30 kHz within a bin of the count.

    The 99.9th percentile of abs(sine) is sin(0.999 pi / 2) = 1 of its peak; 37 Hz more keep it out of step with the frames.
    """
    assert peak_hz(30_000 * np.sin(2 * np.pi * (tone_hz + 37.0) * TIME_S)) == pytest.approx(30_000, abs=110)


@pytest.mark.parametrize("tone_hz", [67_000.0, 92_000.0, 110_000.0])
def test_what_rises_above_62_khz_is_not_counted(tone_hz: float) -> None:
    """Other subcarriers and the noise that rises with frequency: gone."""
    assert peak_hz(30_000 * np.sin(2 * np.pi * (tone_hz + 37.0) * TIME_S)) < 300


def test_the_same_values_in_other_batches_are_the_same_figure() -> None:
    """Frames are taken one by one, so batches of any size give exactly the same count."""
    wave = programme_hz(5)
    assert peak_hz(wave, batch=8) == peak_hz(wave, batch=1) == peak_hz(wave, batch=100)


def test_nothing_counted_is_no_figure() -> None:
    """No frames, no deviation: NaN, not zero."""
    assert np.isnan(DeviationCount(RATE_HZ).peak_hz())


def test_an_unmodulated_carrier_has_no_deviation() -> None:
    """A steady carrier reads less than one bin of the count."""
    assert peak_hz(np.full(SAMPLES, 1234.0)) < 100


def test_clicks_beyond_the_counts_reach_are_counted_at_its_end() -> None:
    """Frequencies past 130 kHz do not fall out of the count: with half of the values there the percentile is there."""
    wave = np.full(SAMPLES, 0.0)
    wave[: SAMPLES // 4] = 1e6
    assert peak_hz(wave) == pytest.approx(130_000, abs=200)
