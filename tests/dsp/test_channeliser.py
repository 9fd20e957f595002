"""The channeliser against closed forms, scipy.signal and liquid-dsp."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
from dsp.cut import RATES_HZ, Wave, am_grid, cut, fm_grid, noise, tone

from bandscan.dsp.grid import Grid

HALF_HZ = 100e3
# Kaiser's formulas (textbook): beta = 0.1102 (A - 8.7) gives A = 63 dB at beta 6; (A - 7.95) / (2.285 x 60) / 2 pi of
# 240 kS/s is a transition of 15.4 kHz for 61 taps, half of it to either side of the cutoff
STOP_DB = -63.0
EDGE_HZ = 7.7e3


def check_tone(grid: Grid, half_hz: float, offset_hz: float, from_channel_hz: float) -> None:
    """A tone comes out with its amplitude and phase at every sample of every frame, to the filter's ripple of -63 dB."""
    samples = grid.size + 4 * grid.hop
    wave = tone(samples, grid.rate_hz, offset_hz + from_channel_hz, 0.5)
    got, cutter = cut(wave, grid, half_hz, offset_hz)
    assert len(got) == 5 * grid.out_hop
    # seconds since the recording began; the channel's zero is the bin nearest to its carrier
    at_s = (grid.out_trim + np.arange(len(got))) / grid.out_rate_hz
    want = 0.5 * np.exp(2j * np.pi * (from_channel_hz + cutter.residue_hz) * at_s)
    assert abs(cutter.residue_hz) <= grid.bin_hz / 2
    assert np.abs(got - want).max() < 0.5 * 10 ** (STOP_DB / 20) * 2


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("from_channel_hz", [0.0, 1_234.5, -75_000.0])
def test_a_tone_keeps_amplitude_and_phase_across_frames(rate_hz: float, from_channel_hz: float) -> None:
    """FM channels at both ends of what a recording covers, seams between frames and batches included.

    Ripple inside the pass band equals that outside it (windowed sinc): 7e-4; twice that is allowed.
    """
    reach = max(0.45 * rate_hz - HALF_HZ, 0.0)
    for offset_hz in {0.0, -np.floor(reach / 1e3) * 1e3, np.floor(reach / 1e5) * 1e5 - 37.0}:
        check_tone(fm_grid(rate_hz), HALF_HZ, float(offset_hz), from_channel_hz)


@pytest.mark.parametrize("offset_hz", [0.0, -700e3, 1_000_000.0])
def test_at_twice_the_rate_the_same_samples_come_with_others_between(offset_hz: float) -> None:
    """Every second sample is that of `cut`; those between are the tone's own there, to the filter's ripple."""
    grid = fm_grid(2.4e6)
    wave = tone(grid.size + 2 * grid.hop, 2.4e6, offset_hz + 61_234.5, 0.5)
    got, cutter = cut(wave, grid, HALF_HZ, offset_hz)
    frames = np.stack([wave[start : start + grid.size] for start in range(0, 3 * grid.hop, grid.hop)])
    spectra = np.fft.fft(frames, axis=1).astype(np.complex64)
    twice = cutter.cut_twice(spectra, 0, np.empty((3, 2 * grid.out_size), np.complex64)).reshape(-1)
    np.testing.assert_allclose(twice[::2], got, atol=1e-5)
    at_s = (2 * grid.out_trim + np.arange(len(twice))) / (2 * grid.out_rate_hz)
    want = 0.5 * np.exp(2j * np.pi * (61_234.5 + cutter.residue_hz) * at_s)
    assert np.abs(twice - want).max() < 10 ** (STOP_DB / 20)


@pytest.mark.parametrize("rate_hz", [256e3, 2.4e6, 10e6])
@pytest.mark.parametrize("offset_hz", [-90_000.0, 0.0, 63_000.0])
def test_an_am_carrier_keeps_amplitude_and_phase(rate_hz: float, offset_hz: float) -> None:
    """AM channels, whose frames last 40 ms, with a carrier 20 Hz off."""
    check_tone(am_grid(rate_hz), 5e3, offset_hz, 20.0)


@pytest.mark.parametrize("rate_hz", [300e3, 2.4e6, 3.2e6, 20e6])
def test_neighbours_are_kept_out(rate_hz: float) -> None:
    """From the edge of the Kaiser transition on a tone is 60 dB down, next to the channel and far from it, on either side."""
    grid = fm_grid(rate_hz)
    for away_hz in (HALF_HZ + EDGE_HZ + 2e3, 115e3, 131_071.0, 400e3, 0.49 * rate_hz):
        for sign in (-1, 1):
            if away_hz > 0.49 * rate_hz:
                continue
            got, _ = cut(tone(grid.size + 2 * grid.hop, rate_hz, sign * away_hz), grid, HALF_HZ, 0.0)
            assert 20 * np.log10(np.sqrt(np.mean(np.abs(got) ** 2))) < STOP_DB + 3


def test_the_edge_of_a_channel_is_half_the_amplitude() -> None:
    """A windowed sinc is at 1/2 at its cutoff (textbook): -6.02 dB at 100 kHz."""
    grid = fm_grid(2.4e6)
    got, _ = cut(tone(grid.size + 2 * grid.hop, 2.4e6, HALF_HZ), grid, HALF_HZ, 0.0)
    assert 20 * np.log10(np.abs(got).mean()) == pytest.approx(-6.02, abs=0.05)


def by_scipy(wave: Wave, grid: Grid, half_hz: float, offset_hz: float) -> Wave:
    """The same channel from the textbook chain: mixer, Kaiser-windowed FIR at the full rate, every tenth sample."""
    decimation = grid.size // grid.out_size
    mixed = wave * tone(len(wave), grid.rate_hz, -round(offset_hz / grid.bin_hz) * grid.bin_hz)
    reach = grid.out_trim * decimation
    taps = scipy.signal.firwin(2 * reach + 1, half_hz, window=("kaiser", 6.0), fs=grid.rate_hz)
    return np.asarray(scipy.signal.oaconvolve(mixed, taps, mode="valid")[::decimation])


@pytest.mark.parametrize(("make", "half_hz", "offset_hz"), [(fm_grid, 100e3, -612_345.0), (am_grid, 5e3, 333_000.0)])
def test_a_channel_of_noise_is_that_of_scipys_fir(make: object, half_hz: float, offset_hz: float) -> None:
    """Sample by sample the same as mixer, scipy.signal.firwin and decimation, to what the two filters' stop bands leave.

    White noise holds ten times the channel's power outside it, of which a -63 dB stop band lets -53 dB through in either.
    """
    grid: Grid = make(2.4e6)  # type: ignore[operator]
    wave = noise(grid.size + 3 * grid.hop, 1.0, 5)
    got, _ = cut(wave, grid, half_hz, offset_hz)
    want = by_scipy(wave, grid, half_hz, offset_hz)[: len(got)]
    error = np.mean(np.abs(got - want) ** 2) / np.mean(np.abs(want) ** 2)
    assert 10 * np.log10(error) < -50


def test_a_channel_of_noise_is_that_of_liquid_dsps_fir() -> None:
    """The same against liquid-dsp's firfilt, fed the same taps from scipy.signal.firwin."""
    liquid = pytest.importorskip("liquid", reason="liquid-dsp has wheels for Linux only")
    grid = fm_grid(2.4e6)
    wave = noise(grid.size + grid.hop, 1.0, 6)
    got, _ = cut(wave, grid, HALF_HZ, 400e3)
    taps = scipy.signal.firwin(601, HALF_HZ, window=("kaiser", 6.0), fs=2.4e6).astype(np.float32)
    filtered = np.asarray(liquid.firfilt(taps).execute((wave * tone(len(wave), 2.4e6, -400e3)).astype(np.complex64)))
    want = filtered[600::10][: len(got)]
    assert 10 * np.log10(np.mean(np.abs(got - want) ** 2) / np.mean(np.abs(want) ** 2)) < -50


def test_white_noise_keeps_its_density() -> None:
    """White noise of power 1 leaves with the sum of the squared taps of scipy.signal.firwin(601, 100 kHz, Kaiser 6): -10.87 dB.

    Scatter: 4.343 / sqrt(11,000 independent samples) = 0.04 dB; four of them.
    """
    grid = fm_grid(2.4e6)
    got, _ = cut(noise(grid.size + 5 * grid.hop, 1.0, 7), grid, HALF_HZ, 300e3)
    assert 10 * np.log10(np.mean(np.abs(got) ** 2)) == pytest.approx(-10.87, abs=0.16)
