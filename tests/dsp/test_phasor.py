"""Unit phasors against numpy's exponential in double precision."""

from __future__ import annotations

import numpy as np
import pytest

from bandscan.dsp.phasor import phasor


@pytest.mark.parametrize("length", [1, 255, 256, 257, 24_000])
@pytest.mark.parametrize("turns", [0.0, 1e-6, 0.25, -0.4999, 3.7])
def test_a_phasor_is_numpys_exponential(length: int, turns: float) -> None:
    """Every sample within single precision, at lengths that are no whole number of blocks too."""
    got = phasor(length, turns, 0.3)
    want = np.exp(1j * (0.3 + 2 * np.pi * np.mod(turns * np.arange(length), 1.0)))
    assert got.shape == (length,)
    assert got.dtype == np.complex64
    np.testing.assert_allclose(got, want, atol=1e-6)
