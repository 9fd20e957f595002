"""Third-order products are told from stations of their own by their phase."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from bandscan.dsp.products import ProductSum

RATE_HZ, LENGTH, ROWS = 240_000.0, 2_340, 13
CHANNELS_HZ = (97_100_000, 97_500_000, 97_900_000, 98_300_000, 98_700_000)
FIRST, SECOND = 1, 2  # the strong ones: 97.5 and 97.9, products at 97.1 and 98.3
Wave = npt.NDArray[np.complex128]


def fm(seed: int, level: float, rows: int = ROWS) -> Wave:
    """Rows of an FM emission: a random walk of phase."""
    rng = np.random.default_rng(seed)
    return level * np.exp(1j * np.cumsum(rng.normal(0, 0.7, (rows, LENGTH)), axis=1))


def noise(seed: int, power: float, rows: int = ROWS) -> Wave:
    """Rows of white noise."""
    parts = np.random.default_rng(seed).standard_normal((2, rows, LENGTH)) * np.sqrt(power / 2)
    return parts[0] + 1j * parts[1]


def band(seed: int, suspect: Wave, residues_hz: tuple[float, ...] = (0.0,) * 5) -> ProductSum:
    """Two strong stations, a suspect at 98.3 and noise on the others."""
    strong = {FIRST: fm(seed, 0.2), SECOND: fm(seed + 1, 0.25)}
    found = ProductSum(CHANNELS_HZ, list(residues_hz), RATE_HZ, LENGTH)
    for row in range(ROWS):
        samples = np.stack([noise(seed + 10 * channel + row, 1e-8, 1)[0] for channel in range(5)])
        for channel, wave in strong.items():
            samples[channel] += wave[row]
        samples[3] += suspect[row]
        turns = np.exp(2j * np.pi * np.array(residues_hz)[:, None] * np.arange(LENGTH) / RATE_HZ)
        found.add((samples * turns).astype(np.complex64))
    return found


@pytest.mark.parametrize("residues_hz", [(0.0,) * 5, (-40.0, 30.0, 10.0, -20.0, 50.0)])
def test_a_product_is_told_with_its_makers(residues_hz: tuple[float, ...]) -> None:
    """y = x - a x |x|^2 puts a x2 x2 x1* at 2 f2 - f1 (textbook): nearly all of the suspect, made of 97.9 twice and 97.5.

    Residues are what the channeliser leaves of each carrier.
    """
    made = -0.05 * fm(2, 0.25) ** 2 * np.conj(fm(1, 0.2))
    product = band(1, made, residues_hz).product(3)
    assert product is not None
    assert (product.first, product.second, product.third) == (SECOND, SECOND, FIRST)
    assert product.share > 0.95


def test_a_station_of_its_own_is_no_product() -> None:
    """An independent station on a product's frequency: a share of no more than chance leaves, 1 / sqrt(30,420)."""
    product = band(3, fm(50, 0.01)).product(3)
    assert product is None or product.share < 0.02


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
def test_a_product_over_a_station_has_its_share(share: float) -> None:
    """Both on the channel: the share is the product's power over all."""
    made = -(fm(6, 0.25) ** 2) * np.conj(fm(5, 0.2))
    made *= np.sqrt(share * 1e-4 / np.mean(np.abs(made) ** 2))
    product = band(5, made + fm(51, np.sqrt((1 - share) * 1e-4))).product(3)
    assert product is not None
    assert product.share == pytest.approx(share, abs=0.05)


def test_channels_where_no_product_can_stand_have_none() -> None:
    """98.7 is no sum and difference of the two strong ones, and a strong channel itself is no suspect."""
    found = band(7, fm(52, 0.01))
    strong = found.product(FIRST)
    assert strong is None or strong.share < 0.05


def test_nothing_added_is_no_product() -> None:
    """No rows, no answer."""
    assert ProductSum(CHANNELS_HZ, [0.0] * 5, RATE_HZ, LENGTH).product(3) is None
