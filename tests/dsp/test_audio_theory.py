"""Audio figures against published and recomputed values; scipy.integrate and scipy.signal are the second opinion."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.integrate
import scipy.signal

from bandscan.dsp.audio import AudioSum, am_audio_snr_db, click_density, noise_integrals, noise_powers, snr_for

TONE = 75_000.0**2 / 2  # mean square of a tone of full deviation, before de-emphasis


def db(ratio: float) -> float:
    return 10 * math.log10(ratio)


@pytest.mark.parametrize("deemphasis_s", [0.0, 50e-6, 75e-6])
def test_integrals_are_those_of_numeric_integration(deemphasis_s: float) -> None:
    """The closed forms against scipy.integrate.quad of 1 / (1 + (2 pi f tau)^2), by itself and times f^2, to 15 kHz."""
    flat, square = noise_integrals(deemphasis_s)

    def response(f: float) -> float:
        return 1 / (1 + (2 * math.pi * f * deemphasis_s) ** 2)

    assert flat == pytest.approx(scipy.integrate.quad(response, 0, 15e3)[0], rel=1e-9)
    assert square == pytest.approx(scipy.integrate.quad(lambda f: f * f * response(f), 0, 15e3)[0], rel=1e-9)


# textbook: (B/f1)^3 / (3 (B/f1 - atan(B/f1))), B = 15 kHz
@pytest.mark.parametrize(("deemphasis_s", "gain_db"), [(50e-6, 10.17), (75e-6, 13.20)])
def test_deemphasis_gains_what_textbooks_say(deemphasis_s: float, gain_db: float) -> None:
    """Noise without over noise with the network."""
    assert db(noise_integrals(0.0)[1] / noise_integrals(deemphasis_s)[1]) == pytest.approx(gain_db, abs=0.005)


# 23.0 dB: published with a program, 20 Hz-15 kHz, 9 % pilot, 75 us; the others recomputed by the same formula with scipy
@pytest.mark.parametrize(
    ("deemphasis_s", "pilot", "penalty_db"),
    [(75e-6, 0.09, 22.98), (50e-6, 0.09, 21.55), (0.0, 0.09, 17.00), (75e-6, 0.0, 22.17)],
)
def test_stereo_costs_what_was_published(deemphasis_s: float, pilot: float, penalty_db: float) -> None:
    """Noise of M and S over that of M, and what the pilot takes; theirs begins at 20 Hz, which is 0.03 dB less."""
    mono, side = noise_powers(1e-7, 1e-7, 0.0, deemphasis_s)
    assert db((mono + side) / mono / (1 - pilot) ** 2) == pytest.approx(
        penalty_db + (0.0 if deemphasis_s == 0 else 0.02), abs=0.012
    )


# textbook: 3 beta^2 (beta + 1) over the carrier-to-noise ratio in Carson's 2 (beta + 1) 15 kHz
@pytest.mark.parametrize(("beta", "gain_db"), [(1.0, 7.78), (2.0, 15.56), (5.0, 26.53)])
def test_fm_improves_what_textbooks_say(beta: float, gain_db: float) -> None:
    """A tone of deviation beta times 15 kHz, no de-emphasis, 20 dB in Carson's band."""
    k = 1 / (100 * 2 * (beta + 1) * 15e3)
    noise, _ = noise_powers(k, k, 0.0, 0.0)
    assert db((beta * 15e3) ** 2 / 2 / noise) - 20 == pytest.approx(gain_db, abs=0.01)


def test_fifty_decibels_of_quieting_fall_near_the_threshold() -> None:
    """10 dB in 180 kHz: 10 + 26.5 + 13.2 = 49.7 dB for a mono tone at 75 kHz and 75 us (textbook figures added up)."""
    k = 1 / (10 * 180e3)
    noise, _ = noise_powers(k, k, 0.0, 75e-6)
    assert db(TONE / noise) == pytest.approx(49.7, abs=0.05)


def test_clicks_begin_at_the_threshold() -> None:
    """Rice's rate, 200 kHz / (2 sqrt 3) erfc(sqrt(10)) at 10 dB, twice: 0.894 Hz^2/Hz; a millionth of it at 14 dB."""
    assert click_density(1 / (10 * 200e3), 0.0) == pytest.approx(2 * 57_735 * 7.744e-6, rel=1e-3)
    assert click_density(1 / (10**1.4 * 200e3), 0.0) < 1e-6
    assert click_density(0.0, 0.0) == 0.0


def test_a_programme_makes_more_clicks() -> None:
    """Rice: the mean deviation times exp(-ratio) more of them: 20 kHz at 10 dB, 2 x 20,000 x 4.540e-5 = 1.816 Hz^2/Hz."""
    k = 1 / (10 * 200e3)
    assert click_density(k, 20_000.0) - click_density(k, 0.0) == pytest.approx(1.816, abs=0.001)


def test_the_level_for_thirty_decibels_is_where_the_law_gives_them() -> None:
    """Above the threshold the level follows the programme decibel for decibel; no programme has no such level."""
    quiet, loud = (snr_for(60.0, programme, 0.0, 75e-6) for programme in (1e7, 1e8))
    assert quiet - loud == pytest.approx(10.0, abs=0.02)
    k = 1 / (10 ** (loud / 10) * 200e3)
    assert db(1e8 / noise_powers(k, k, 0.0, 75e-6)[0]) == pytest.approx(60.0, abs=0.02)
    assert math.isnan(snr_for(30.0, 0.0, 0.0, 75e-6))


# textbook: S/N = m^2 CNR in twice the audio's width
@pytest.mark.parametrize(("depth", "over_cnr_db"), [(0.3, -10.46), (0.8, -1.94), (1.0, 0.0)])
def test_am_audio_is_the_depth_squared_times_the_carrier_to_noise_ratio(depth: float, over_cnr_db: float) -> None:
    """For a tone, whose in-phase sidebands are m^2 / 2 of the carrier."""
    assert am_audio_snr_db(db(depth**2 / 2), 30.0) == pytest.approx(30.0 + over_cnr_db, abs=0.005)


def test_am_audio_agrees_with_a_synchronous_detector() -> None:
    """A tone at 50 % in made noise, 25 dB in 10 kHz: the detected audio's own ratio, within four sigmas of 100,000 values."""
    rng = np.random.default_rng(1)
    rate_hz, samples = 10_000.0, 100_000
    tone = 0.5 * np.cos(2 * np.pi * 400 * np.arange(samples) / rate_hz)
    noise = rng.standard_normal(samples) * math.sqrt(10**-2.5 / 2)  # its in-phase half, over a carrier of 1
    assert am_audio_snr_db(db(np.mean(tone**2)), 25.0) == pytest.approx(db(np.mean(tone**2) / np.mean(noise**2)), abs=0.08)


def test_the_window_and_its_density_are_scipys() -> None:
    """White noise of 1 Hz^2/Hz reads as scipy.signal.welch with its Blackman-Harris window says, but for the droop put back."""
    rate_hz = 240_000.0
    noise = (np.random.default_rng(2).standard_normal(960_000) * math.sqrt(rate_hz / 2)).astype(np.float32)
    audio = AudioSum(1, rate_hz, 75e-6)
    audio.add(noise[None])
    read = audio._sum[0] * audio._scale / audio.frames
    theirs = scipy.signal.get_window("blackmanharris", audio.frame)
    np.testing.assert_allclose(audio._window, theirs, atol=1e-6)
    _, wanted = scipy.signal.welch(noise, rate_hz, theirs, noverlap=0, detrend=False)
    inner = slice(40, 140)  # 4.4 to 15.6 kHz, where the droop is below 0.02 dB
    values = 100 * audio.frames / 2.0
    assert read[inner].mean() / wanted[inner].mean() == pytest.approx(1.0, abs=4 / math.sqrt(values))
