"""Lone lines, combs of them and a raster's common offset, on lines put where they are known to be."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from bandscan.dsp.comb import find_comb, lone_lines, raster_offset

Real = npt.NDArray[np.float64]
BIN_HZ = 100.0
FREQUENCY_HZ = np.arange(-1e6, 1e6, BIN_HZ)


def spectrum(lines: dict[float, float], seed: int = 1, hump_hz: float | None = None, sd_hz: float = 12e3) -> Real:
    """Noise of 67 averages with lines {Hz: ratio to the noise in a bin}, and perhaps a station's hump."""
    density = np.ones(len(FREQUENCY_HZ))
    if hump_hz is not None:
        density += 300 * np.exp(-(((FREQUENCY_HZ - hump_hz) / sd_hz) ** 2) / 2)
    for at_hz, ratio in lines.items():
        density[int(np.argmin(np.abs(FREQUENCY_HZ - at_hz)))] += ratio
    return density * np.random.default_rng(seed).gamma(67, 1 / 67, len(density))


def test_lone_lines_are_found_where_they_stand() -> None:
    """Lines 15 dB and more over the noise in their bin, wherever they stand in a window; nothing else."""
    at_hz = [-730_000.0, -12_300.0, 99_900.0, 512_400.0]
    found, over = lone_lines(spectrum(dict.fromkeys(at_hz, 40.0)), FREQUENCY_HZ, 4e3, 16.0, quiet_hz=200e3)
    assert list(found) == pytest.approx(at_hz, abs=1.0)
    assert over == pytest.approx(np.full(4, 41.0), rel=0.5)  # one bin of 67 averages scatters by 12 %


def test_noise_has_no_lone_lines() -> None:
    """20,000 bins of 67 averages never stand 16 times over their median (gamma distribution: beyond 1e-100)."""
    found, _ = lone_lines(spectrum({}), FREQUENCY_HZ, 4e3, 16.0, quiet_hz=200e3)
    assert len(found) == 0


@pytest.mark.parametrize("sd_hz", [12e3, 30e3])
def test_lines_of_a_stations_own_programme_are_left_out(sd_hz: float) -> None:
    """A line within the hump of a voice or of a wide, heavily processed programme is the station's, outside it stays."""
    density = spectrum({0.0: 30_000.0, 400_000.0: 40.0}, hump_hz=0.0, sd_hz=sd_hz)
    found, _ = lone_lines(density, FREQUENCY_HZ, 4e3, 16.0, quiet_hz=200e3)
    assert list(found) == pytest.approx([400_000.0], abs=1.0)


def test_a_line_on_the_edge_of_two_windows_is_one() -> None:
    """Two neighbouring bins in different windows count as one line."""
    density = spectrum({})
    density[40 * 100 - 1 : 40 * 100 + 1] = 100.0
    found, _ = lone_lines(density, FREQUENCY_HZ, 4e3, 16.0, quiet_hz=200e3)
    assert len(found) == 1


@pytest.mark.parametrize("spacing_hz", [61_440.0, 100_333.0, 130_000.0])
def test_a_combs_spacing_is_found(spacing_hz: float) -> None:
    """Eight harmonics, one missing, two strangers between them: spacing within its stated 95 % interval or 20 Hz."""
    rng = np.random.default_rng(2)
    lines = 88_012_345.0 + spacing_hz * np.array([0, 1, 2, 4, 5, 6, 7]) + rng.uniform(-40, 40, 7)
    found = find_comb(np.concatenate([lines, [88_100_000.7, 88_321_000.3]]), 150.0, 25e3)
    assert found is not None
    assert found.lines == 7
    assert found.spacing_hz == pytest.approx(spacing_hz, abs=max(1.96 * found.sd_hz, 20.0))
    assert found.away_hz(lines) == pytest.approx(np.zeros(7), abs=60.0)
    assert found.away_hz(lines[:1] + 3.5 * spacing_hz) == pytest.approx(spacing_hz / 2, abs=60.0)
    assert found.leaves(10_000.0) == (spacing_hz != 130_000.0)


def test_three_lines_are_no_comb() -> None:
    """Any three lines are nearly evenly spaced somewhere; four must be."""
    assert find_comb(np.array([0.0, 100e3, 200e3]), 150.0, 25e3) is None


def test_lines_without_order_are_no_comb() -> None:
    """Of 200 draws of six lines in 2 MHz, at tolerance 150 Hz, four in a row of spacing by chance: under 2 %."""
    rng = np.random.default_rng(3)
    combs = [find_comb(np.sort(rng.uniform(0, 2e6, 6)), 150.0, 25e3) for _ in range(200)]
    assert sum(comb is not None for comb in combs) <= 4


@pytest.mark.parametrize("offset_hz", [-3_210.0, 0.0, 77.0, 4_900.0])
def test_a_rasters_common_offset_is_found(offset_hz: float) -> None:
    """Carriers on multiples of 10 kHz, all moved by as much, each off by up to 20 Hz: the offset within 10 Hz."""
    rng = np.random.default_rng(4)
    lines = 10_000.0 * rng.permutation(np.arange(54, 171))[:30] + offset_hz + rng.uniform(-20, 20, 30)
    found, share, _ = raster_offset(lines, np.ones(30), 10_000.0, 250.0)
    assert found == pytest.approx(offset_hz, abs=10.0)
    assert share > 0.99
    # two of them have programme up to 4 kHz away, stronger than other carriers
    programme = np.concatenate([lines[:2] + at_hz for at_hz in (-4_000.0, -400.0, 400.0, 4_000.0)])
    over = np.concatenate([np.full(2, 900.0), np.full(28, 300.0), np.full(8, 400.0)])
    found, share, carriers = raster_offset(np.concatenate([lines, programme]), over, 10_000.0, 250.0)
    assert found == pytest.approx(offset_hz, abs=10.0)
    assert share > 0.99
    assert carriers == 30


def test_lines_anywhere_agree_on_no_offset() -> None:
    """Lines off any raster: of those of a hundred steps 5 % lie within a twentieth of a step of any one (arithmetic)."""
    rng = np.random.default_rng(5)
    _, share, _ = raster_offset(rng.uniform(0, 1e6, 100), rng.uniform(30, 300, 100), 10_000.0, 250.0)
    assert share < 0.3
    assert raster_offset(np.empty(0), np.empty(0), 10_000.0, 250.0) == (0.0, 0.0, 0)


@pytest.mark.parametrize("spacing_hz", [9_944.0, 9_985.0, 19_979.0, 20_040.0, 29_970.0])
@pytest.mark.parametrize("span_hz", [360e3, 1e6])
def test_a_comb_a_little_off_the_raster_is_no_raster(spacing_hz: float, span_hz: float) -> None:
    """Each tooth stands further off than the last: 560 ppm and more of its distance, where a receiver's clock is within 100."""
    lines = 810_070.0 + spacing_hz * np.arange(int(span_hz / spacing_hz)) + np.random.default_rng(6).uniform(-12.5, 12.5)
    _, share, _ = raster_offset(lines, np.ones(len(lines)), 10_000.0, 250.0)
    assert share < 0.6


@pytest.mark.parametrize("ppm", [-100.0, 60.0])
@pytest.mark.parametrize("count", [4, 12])
def test_stations_seen_by_a_receiver_of_a_poor_clock_agree(ppm: float, count: int) -> None:
    """The clock moves each carrier by its share of the distance (100 ppm, common practice); its own 20 Hz (47 CFR 73.1545) and
    a bin of 25 Hz come on top; of 200 dials all are found, their offset within 60 Hz of the middle station's."""
    for seed in range(200):
        rng = np.random.default_rng(seed)
        carriers = 10_000.0 * np.sort(rng.permutation(np.arange(54, 161))[:count]) + rng.uniform(-20, 20, count)
        lines = 25.0 * np.round((carriers * (1 + 1e-6 * ppm) + 1_500.0) / 25.0)
        found, share, _ = raster_offset(lines, np.ones(count), 10_000.0, 250.0)
        assert share > 0.6
        assert found == pytest.approx(1_500.0 + 1e-6 * ppm * float(np.median(carriers)), abs=60.0)
