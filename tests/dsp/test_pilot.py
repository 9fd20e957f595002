"""The stereo pilot: its deviation and frequency, what is no pilot, and how often noise is taken for one."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from bandscan.dsp import pilot
from bandscan.dsp.pilot import PilotSum

RATE_HZ = 240_000.0
Real = npt.NDArray[np.floating]


def tone_hz(deviation_hz: float, frequency_hz: float, seconds: float, phase: float = 0.4, rate_hz: float = RATE_HZ) -> Real:
    """A tone as a discriminator gives it: the frequency's mean over one sample, sinc(f / rate) less."""
    at_s = (np.arange(round(seconds * rate_hz)) - 0.5) / rate_hz
    return deviation_hz * np.sinc(frequency_hz / rate_hz) * np.sin(2 * np.pi * frequency_hz * at_s + phase)


def noise_hz(rms_hz: float, seconds: float, seed: int) -> Real:
    """White noise of a given standard deviation."""
    return rms_hz * np.random.default_rng(seed).standard_normal(round(seconds * RATE_HZ))


def summed(frequency_hz: Real, rate_hz: float = RATE_HZ, block: int = 18_720) -> PilotSum:
    """All channels of the signal, shape (channels, samples) or (samples,), added in blocks of a batch's length."""
    rows = np.atleast_2d(frequency_hz).astype(np.float32)
    found = PilotSum(len(rows), rate_hz, rows.shape[1])
    for first in range(0, rows.shape[1], block):
        found.add(rows[:, first : first + block])
    return found


@pytest.mark.parametrize("seconds", [0.0427, 0.5, 1.0, 2.3])
@pytest.mark.parametrize("deviation_hz", [2_000.0, 6_000.0, 6_750.0, 7_500.0])
def test_the_pilots_deviation_is_read(deviation_hz: float, seconds: float) -> None:
    """8 to 10 % of 75 kHz (47 CFR 73.322, BS.450) and a weak one, in recordings of 43 ms up, within 0.3 %.

    A line between two bins of a Hann spectrum padded fourfold, refined by a parabola, is read within 0.3 % of its power.
    """
    found = summed(tone_hz(deviation_hz, 19_000.0, seconds))
    line = found.line(0)
    assert math.sqrt(line.power) == pytest.approx(deviation_hz, rel=0.003)
    assert line.offset_hz == pytest.approx(0.0, abs=0.02 / seconds)
    assert found.is_pilot(line)


# 47 CFR 73.322: within 2 Hz, one more for measuring; 100 ppm of a cheap clock are 1.9 Hz of 19 kHz on top
@pytest.mark.parametrize("error_hz", [-4.9, -3.0, -2.0, -0.37, 2.0, 3.0, 4.9])
def test_a_pilot_off_its_frequency_is_found_where_it_is(error_hz: float) -> None:
    """Transmitter and receiver off by as much as either may: still the pilot, with its deviation and its frequency."""
    found = summed(tone_hz(6_750.0, 19_000.0 + error_hz, 1.0))
    line = found.line(0)
    assert found.is_pilot(line)
    assert line.offset_hz == pytest.approx(error_hz, abs=0.02)
    assert math.sqrt(line.power) == pytest.approx(6_750.0, rel=0.003)


@pytest.mark.parametrize("rate_hz", [225_000.0, 239_616.0, 256_000.0])
def test_channels_of_other_rates_are_read_alike(rate_hz: float) -> None:
    """Rates at which a channel leaves that are no multiple of 19 kHz or of the slow rate: the same deviation, no drift."""
    line = summed(tone_hz(6_750.0, 19_000.0, 1.0, rate_hz=rate_hz), rate_hz).line(0)
    assert math.sqrt(line.power) == pytest.approx(6_750.0, rel=0.003)
    assert line.offset_hz == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("block", [100, 599, 600, 7_777, 240_000])
def test_blocks_of_any_size_give_the_same_line(block: int) -> None:
    """However the samples arrive, frames run on over the seams: the same figure to single precision."""
    wave = tone_hz(6_750.0, 19_001.0, 1.0) + noise_hz(5e3, 1.0, 1)
    whole, line = summed(wave).line(0), summed(wave, block=block).line(0)
    assert line.power == pytest.approx(whole.power, rel=1e-4)
    assert line.ratio == pytest.approx(whole.ratio, rel=1e-3)


def test_channels_are_told_apart() -> None:
    """Each channel's line is its own."""
    found = summed(np.stack([tone_hz(6_000.0, 19_000.0, 0.5), noise_hz(20e3, 0.5, 2), tone_hz(7_500.0, 19_001.0, 0.5)]))
    lines = [found.line(channel) for channel in range(3)]
    assert [found.is_pilot(line) for line in lines] == [True, False, True]
    assert math.sqrt(lines[2].power) == pytest.approx(7_500.0, rel=0.003)


def test_noise_leans_the_pilot_by_no_more_than_its_share() -> None:
    """In white noise of 30 kHz rms the pilot's deviation is right on average and scatters as a line in noise must.

    Density 2 x 30e3^2 / 240e3 Hz^2/Hz, seen through a Hann window of 1.5 bins of 1 Hz: 106 Hz rms in quadrature and in
    phase each; over 24 trials the mean is known to 106 / sqrt(24) = 22 Hz.
    """
    wave = np.stack([tone_hz(6_750.0, 19_000.0, 1.0) + noise_hz(30e3, 1.0, 100 + seed) for seed in range(24)])
    found = summed(wave)
    read = np.sqrt([found.line(channel).power for channel in range(24)])
    assert np.mean(read) == pytest.approx(6_750.0, abs=4 * 22)
    # chi-square of 23 degrees of freedom, 99.99 %: 58 and 5.1 (scipy.stats.chi2)
    assert 106 * math.sqrt(5.1 / 23) < np.std(read, ddof=1) < 106 * math.sqrt(58 / 23)


def test_amplitude_alone_makes_no_pilot() -> None:
    """In 43 ms of noise of 69 kHz rms (angles of any size, evenly: textbook) most "pilots" pass 1 kHz: none of 500 is taken.

    At the stated 1e-4 more than 2 have a probability of 2e-5.
    """
    wave = np.random.default_rng(9).standard_normal((500, round(0.043 * RATE_HZ)), dtype=np.float32) * np.float32(69e3)
    found = summed(wave)
    lines = [found.line(channel) for channel in range(500)]
    assert sum(line.power > 1e6 for line in lines) > 100  # or the case asks nothing
    assert sum(found.is_pilot(line) for line in lines) <= 2


@pytest.mark.parametrize(("seconds", "trials"), [(0.0427, 4000), (0.3, 600), (1.0, 300)])
def test_noise_passes_for_a_pilot_as_often_as_stated(seconds: float, trials: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """At a stated rate of 1 % no more of the noise-only channels are taken for stereo than the binomial allows (1e-3)."""
    monkeypatch.setattr(pilot, "FALSE_RATE", 0.01)
    monkeypatch.setattr(pilot, "DEVIATION_RANGE_HZ", (0.0, math.inf))
    rng = np.random.default_rng(10)
    false = 0
    for _ in range(trials // 100):
        found = summed(rng.standard_normal((100, round(seconds * RATE_HZ)), dtype=np.float32) * np.float32(30e3))
        false += sum(found.is_pilot(found.line(channel)) for channel in range(100))
    assert false <= scipy.stats.binom.isf(1e-3, trials, 0.01)


def test_a_test_tone_and_its_harmonics_are_no_pilot() -> None:
    """1 kHz at 75 kHz deviation, its harmonics to 15 kHz from limiting, in some noise: none stands at 19 kHz."""
    wave = noise_hz(2e3, 1.0, 3)
    for harmonic in range(1, 16):
        wave = wave + tone_hz(75e3 / harmonic**1.5, 1_000.0 * harmonic, 1.0, phase=0.3 * harmonic)
    found = summed(wave)
    assert not found.is_pilot(found.line(0))


@pytest.mark.parametrize("deviation_hz", [300.0, 12_000.0])
def test_a_line_of_no_pilots_deviation_is_no_pilot(deviation_hz: float) -> None:
    """A 19th harmonic of 300 Hz deviation, or a 12 kHz tone at 19 kHz, is a clear line, yet no pilot by its size."""
    found = summed(tone_hz(deviation_hz, 19_000.0, 1.0) + noise_hz(2e3, 1.0, 4))
    line = found.line(0)
    assert line.ratio > 100
    assert not found.is_pilot(line)


@pytest.mark.parametrize("away_hz", [-40.0, -12.0, 12.0, 20.0, 60.0])
def test_a_line_beside_the_pilots_place_is_none(away_hz: float) -> None:
    """47 CFR 73.322 keeps 20 Hz to either side of 19 kHz free: a line there is something else, seen from 12 Hz away."""
    found = summed(tone_hz(6_750.0, 19_000.0 + away_hz, 1.0) + noise_hz(5e3, 1.0, 5))
    assert not found.is_pilot(found.line(0))


def test_silence_and_next_to_no_samples_are_no_pilot() -> None:
    """Zeros, and fewer samples than one slow frame, have no line and no number that is none."""
    for samples in (240, 1_200, 60_000):
        found = summed(np.zeros(samples))
        line = found.line(0)
        assert not found.is_pilot(line)
        assert math.isfinite(line.power)
        assert math.isfinite(line.ratio)
