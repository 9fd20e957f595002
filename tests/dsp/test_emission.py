"""Shape of an emission: closed forms of rectangles, normal humps and lines, in noise that must cost nothing on average."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from bandscan.dsp.emission import Shape, shape

Real = npt.NDArray[np.float64]
BIN_HZ = 100.0
OFFSET_HZ = np.arange(-600e3, 600e3, BIN_HZ)
HALF_HZ, CORE_HZ = 100e3, 50e3
NOISE = 1e-10


def shaped(emission: Real, noise: float = NOISE, scatter: np.random.Generator | None = None) -> Shape:
    """Shape of an emission over flat noise, with averaging scatter of 67 averages where a generator is given."""
    density = emission + noise
    if scatter is not None:
        density = density * scatter.gamma(67, 1 / 67, len(density))
    return shape(density, OFFSET_HZ, noise, HALF_HZ, CORE_HZ)


def hump(power: float, deviation_hz: float, at_hz: float = 0.0) -> Real:
    """Normal spectrum of a given power."""
    values = np.exp(-(((OFFSET_HZ - at_hz) / deviation_hz) ** 2) / 2)
    return np.asarray(power * values / (values.sum() * BIN_HZ))


def block(power: float, low_hz: float, high_hz: float) -> Real:
    """Flat spectrum between two offsets."""
    inside = (low_hz <= OFFSET_HZ) & (high_hz > OFFSET_HZ)
    return np.where(inside, power / (inside.sum() * BIN_HZ), 0.0)


def test_a_rectangles_power_width_and_place() -> None:
    """Flat over 80 kHz around +5 kHz: its power, 90 % of its width and its middle, to the 2 kHz that widths are read in."""
    form = shaped(block(1e-3, -35e3, 45e3))
    assert form.power == pytest.approx(1e-3, rel=1e-6)
    assert form.core == pytest.approx(1e-3, rel=1e-6)
    assert form.width_hz == pytest.approx(72e3, abs=2e3)
    assert form.centroid_hz == pytest.approx(5e3, abs=100)


@pytest.mark.parametrize("deviation_hz", [10e3, 20e3, 30e3])
def test_a_normal_humps_width_is_that_of_the_tables(deviation_hz: float) -> None:
    """90 % of a normal distribution lies within +-1.645 standard deviations (tables)."""
    form = shaped(hump(1e-3, deviation_hz))
    assert form.width_hz == pytest.approx(2 * 1.645 * deviation_hz, abs=2e3)
    assert form.centroid_hz == pytest.approx(0.0, abs=100)


def test_the_core_is_the_middle_100_khz() -> None:
    """Of a flat emission over the whole channel half stands in the core; of a normal one of 25 kHz 95.4 % (tables)."""
    assert shaped(block(1e-3, -100e3, 100e3)).core == pytest.approx(0.5e-3, rel=0.01)
    assert shaped(hump(1e-3, 25e3)).core == pytest.approx(0.9545e-3, rel=0.002)


@pytest.mark.parametrize("at_hz", [0.0, 37.0, -60e3])
def test_a_lone_line_is_one(at_hz: float) -> None:
    """A Hann line's three bins (1/6, 2/3, 1/6 of its power: textbook) count as one line, wherever it stands."""
    nearest = int(np.argmin(np.abs(OFFSET_HZ - at_hz)))
    emission = np.zeros(len(OFFSET_HZ))
    emission[nearest - 1 : nearest + 2] = np.array([1, 4, 1]) / 6 * 1e-4 / BIN_HZ
    form = shaped(emission)
    assert form.line_share == pytest.approx(1.0, abs=1e-6)
    assert form.power == pytest.approx(1e-4, rel=1e-6)
    assert form.centroid_hz == pytest.approx(at_hz, abs=2e3)
    assert form.width_hz < 4e3


@pytest.mark.parametrize(
    ("lines", "share"), [((-40e3, 20e3), 1.0), ((-60e3, -2e3, 50e3), 1.0), ((-60e3, -20e3, 20e3, 60e3), 0.75)]
)
def test_up_to_three_lines_are_all_of_a_channel_of_spurs(lines: tuple[float, ...], share: float) -> None:
    """Equal lines: two or three are the whole power; of four a quarter is left, as of a modulation's many lines most is."""
    emission = np.zeros(len(OFFSET_HZ))
    for at_hz in lines:
        nearest = int(np.argmin(np.abs(OFFSET_HZ - at_hz)))
        emission[nearest - 1 : nearest + 2] += np.array([1, 4, 1]) / 6 * 1e-4 / BIN_HZ
    assert shaped(emission).line_share == pytest.approx(share, abs=1e-6)


def test_a_line_beside_a_programme_has_its_share() -> None:
    """A third of the power in a line, two thirds in a normal hump, which adds 300 Hz of its top three times.

    Its top is 1 / (20 kHz sqrt(2 pi)) of its power in a hertz: 1/3 + 3 x 2/3 x 300 / 50,133 = 0.345.
    """
    emission = hump(2e-4, 20e3)
    emission[len(OFFSET_HZ) // 2] += 1e-4 / BIN_HZ
    assert shaped(emission).line_share == pytest.approx(0.345, abs=0.001)


def test_noise_alone_has_no_power_on_average() -> None:
    """Bins under the floor count as much as bins over it: 200 spectra of noise leave zero, within four standard errors.

    2001 bins of 67 averages: 1 / sqrt(2001 x 67 x 200) of the noise in the channel.
    """
    rng = np.random.default_rng(1)
    powers = [shaped(np.zeros(len(OFFSET_HZ)), scatter=rng).power for _ in range(200)]
    in_channel = NOISE * 200e3
    assert np.mean(powers) == pytest.approx(0.0, abs=4 * in_channel / math.sqrt(2001 * 67 * 200))


@pytest.mark.parametrize("snr_db", [0.0, 3.0, 10.0])
def test_an_emission_in_noise_keeps_its_power(snr_db: float) -> None:
    """Noise is taken off without bias down to 0 dB: mean over 40 spectra within four standard errors."""
    rng = np.random.default_rng(2)
    power = 10 ** (snr_db / 10) * NOISE * 200e3
    emission = hump(power, 18e3)
    found = np.array([shaped(emission, scatter=rng).power for _ in range(40)])
    scatter = math.sqrt(float(np.sum(((emission + NOISE) * BIN_HZ)[np.abs(OFFSET_HZ) <= HALF_HZ] ** 2)) / 67 / 40)
    assert np.mean(found) == pytest.approx(power, abs=4 * scatter)


def test_a_floor_set_too_high_leaves_nothing() -> None:
    """Where all stands under the floor there is no shape: power not positive, the rest NaN."""
    form = shape(np.full(len(OFFSET_HZ), 0.5 * NOISE), OFFSET_HZ, NOISE, HALF_HZ, CORE_HZ)
    assert form.power < 0
    assert all(math.isnan(value) for value in (form.width_hz, form.centroid_hz, form.line_share))


def test_a_piece_of_a_neighbour_leans_towards_it() -> None:
    """A station 200 kHz up leaves its skirt in the channel: the centre of gravity lies far on that side."""
    form = shaped(hump(1e-2, 35e3, at_hz=200e3))
    assert form.centroid_hz > 60e3
