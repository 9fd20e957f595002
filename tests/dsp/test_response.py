"""The receiver's response: bandscan/dsp/response.py."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from numpy.polynomial import Polynomial

from bandscan.dsp.response import FLAT, beyond, curve, response
from bandscan.units import db

NOISE_DB = -110.0
CHANNELS_HZ = np.arange(-9, 10, 2) * 100e3


def unseen(at_hz: npt.NDArray[np.float64], level_db: npt.NDArray[np.float64], sd_db: npt.NDArray[np.float64]) -> Polynomial:
    """The response where no place shows the floor itself."""
    return response(at_hz, level_db, sd_db, np.full(len(at_hz), np.nan), np.full(len(at_hz), np.nan))


def test_the_lean_of_a_floor_is_the_straight_lines_and_its_scatter_decides() -> None:
    """A weighted least squares line and its standard error (textbook): 4 dB per MHz with places of very different certainty is
    found as such; scatter of 2 dB that happens to lean is none; two places tell none."""
    at_hz = np.arange(8) * 200e3
    sd_db = np.where(np.arange(8) % 2, 1.0, 0.1)
    error_db = np.where(np.arange(8) % 2, 2.0, 0.05) * np.random.default_rng(2).standard_normal(8)
    steep = NOISE_DB + 4e-6 * at_hz + error_db
    found = unseen(at_hz, steep, sd_db)
    assert found.degree() == 1
    assert found.deriv()(0.0) == pytest.approx(4e-6, abs=0.5e-6)
    shaken = NOISE_DB + 2.0 * np.array([-1.0, 1, -1, -1, 1, 1, -1, 1])
    assert unseen(at_hz, shaken, np.full(8, 0.1)) == FLAT
    assert unseen(at_hz[:2], steep[:2], sd_db[:2]) == FLAT


@pytest.mark.parametrize("power", [2, 4, 6])
def test_a_droop_is_told_by_places_that_show_the_floor_and_by_no_others(power: int) -> None:
    """1.5 dB at the outermost channels, read to 0.01 dB next to each: within 0.05 dB; by lines drawn from further away,
    uncertain by 0.1 dB, none is sure."""
    droop = -1.5 * (np.abs(CHANNELS_HZ) / 900e3) ** power
    drawn = NOISE_DB + 0.7 * droop
    seen = NOISE_DB + droop + 0.01 * np.random.default_rng(power).standard_normal(10)
    found = response(CHANNELS_HZ, drawn, np.full(10, 0.15), seen, np.full(10, 0.01))
    shape = found(CHANNELS_HZ) - found(CHANNELS_HZ).mean()
    assert shape == pytest.approx(droop - droop.mean(), abs=0.05)
    assert unseen(CHANNELS_HZ, drawn, np.full(10, 0.15)).degree() <= 1
    # three places of ten bend nothing either
    few = np.where(np.arange(10) % 4 == 0, seen, np.nan)
    assert response(CHANNELS_HZ, drawn, np.full(10, 0.15), few, np.full(10, 0.01)).degree() <= 1


def test_what_is_seen_far_from_the_floor_is_not_it() -> None:
    """A flat emission 1 dB over a floor known to 0.1 dB bends no response."""
    seen = NOISE_DB + np.where(np.arange(10) > 6, 1.0, 0.0)
    level, sd = np.full(10, NOISE_DB), np.full(10, 0.1)
    assert response(CHANNELS_HZ, level, sd, seen, np.full(10, 0.01)).degree() == 0


def test_between_the_channels_the_noise_is_interpolated_and_beyond_them_it_goes_on_along_the_slope() -> None:
    """Straight lines in dB: 1 dB up over 400 kHz, with a slope of 5 dB/MHz beyond (arithmetic)."""
    at_hz = np.array([-200e3, 200e3])
    slope = Polynomial([0.0, 1.0], domain=[-200e3, 200e3])  # 1 dB up over 200 kHz
    found = db(curve(10 ** (np.array([-110.0, -109.0]) / 10), at_hz, np.array([-400e3, -200e3, 0.0, 200e3, 300e3]), slope))
    assert found == pytest.approx([-111.0, -110.0, -109.5, -109.0, -108.5])
    bent = Polynomial([0.0, 0.0, 1.0], domain=[-200e3, 200e3])
    assert beyond(bent, np.array([-300e3, 100e3, 400e3])) == pytest.approx([2.0, 0.25, 3.0])
    assert (beyond(FLAT, at_hz) == 0.0).all()
