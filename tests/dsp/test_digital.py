"""Digital sidebands: blocks 129-198 kHz from a carrier (common practice), told from skirts and shared with a neighbour."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from bandscan.dsp.digital import block, shared_power

Real = npt.NDArray[np.float64]
OFFSET_HZ = np.arange(-400e3, 400e3, 100.0)
FLOOR = 1e-10
SIDES = [-1, 1]


def spectrum(blocks: dict[int, float], averages: float = 67.0, seed: int = 1) -> Real:
    """Noise, and on each side {-1, +1: power} a flat block, with averaging scatter."""
    density = np.full(len(OFFSET_HZ), FLOOR)
    for side, power in blocks.items():
        inside = (side * OFFSET_HZ >= 129e3) & (side * OFFSET_HZ < 198e3)
        density[inside] += power / 69e3
    return density * np.random.default_rng(seed).gamma(averages, 1 / averages, len(density))


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("over_noise_db", [-3.0, 0.0, 10.0, 25.0])
def test_a_block_is_read_with_its_density(side: int, over_noise_db: float) -> None:
    """Flat from -3 dB over the noise up; its density within 3 %: 650 bins of 67 averages, their windows' median 0.4 %.

    The floor counts in the scatter: at -3 dB three times its share.
    """
    density = FLOOR * 10 ** (over_noise_db / 10)
    found, flat = block(spectrum({side: density * 69e3}), OFFSET_HZ, FLOOR, side)
    assert flat
    assert found == pytest.approx(density, rel=0.03)


@pytest.mark.parametrize("side", SIDES)
def test_the_other_side_is_not_looked_at(side: int) -> None:
    """A block on one side leaves the other at zero density, to the scatter of the noise."""
    found, _ = block(spectrum({side: 1e-3}), OFFSET_HZ, FLOOR, -side)
    assert abs(found) < 0.03 * FLOOR


@pytest.mark.parametrize("side", SIDES)
def test_a_stations_skirt_is_not_flat(side: int) -> None:
    """A station's own spectrum, a normal hump of 35 kHz, falls by 100 dB over the block: no block."""
    density = np.exp(-((OFFSET_HZ / 35e3) ** 2) / 2) * 1e-6 + FLOOR * 1e-9
    assert not block(density, OFFSET_HZ, 0.0, side)[1]


@pytest.mark.parametrize("side", SIDES)
def test_a_station_on_the_block_is_not_flat(side: int) -> None:
    """A neighbour 200 kHz away on the block's place makes it a hump."""
    density = spectrum({}) + np.exp(-(((OFFSET_HZ - side * 200e3) / 20e3) ** 2) / 2) * 1e-8
    assert not block(density, OFFSET_HZ, FLOOR, side)[1]


def test_a_block_past_the_recordings_end_is_not_told() -> None:
    """Where the spectrum ends within the block there is no figure and no claim."""
    inside = OFFSET_HZ < 150e3
    found, flat = block(spectrum({1: 1e-3})[inside], OFFSET_HZ[inside], FLOOR, 1)
    assert math.isnan(found)
    assert not flat


def test_the_mirror_block_tells_what_a_neighbour_shares() -> None:
    """Both blocks of a station carry the same power: the smaller, over 69 kHz, lies under the neighbour's emission."""
    assert shared_power((5e-8, False), (1e-8, True), FLOOR) == pytest.approx(69e3 * 1e-8)
    assert shared_power((1e-8, True), (3e-8, True), FLOOR) == pytest.approx(69e3 * 1e-8)


@pytest.mark.parametrize(
    ("here", "mirror"),
    [
        ((5e-8, True), (1e-8, False)),  # a mirror that is no block says nothing
        ((5e-8, True), (math.nan, False)),  # or lies past the end
        ((5e-8, True), (-1e-12, True)),  # or under the floor
        ((5e-8, True), (1e-11, True)),  # or hardly over it
        ((-1e-12, False), (1e-8, True)),  # nothing here to share
    ],
)
def test_without_a_block_nothing_is_shared(here: tuple[float, bool], mirror: tuple[float, bool]) -> None:
    """No power is taken off a channel on a doubtful ground."""
    assert shared_power(here, mirror, FLOOR) == 0
