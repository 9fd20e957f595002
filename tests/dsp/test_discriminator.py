"""The discriminator against numpy's arctangent in double precision. Bessel's lines stand in tests/reference/test_fm.py."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from bandscan.dsp.discriminator import Discriminator

RATE_HZ = 240_000.0
# 1.22e-4 rad for half of the angle, as the module says: 2 x 1.22e-4 x 240000 / 2 pi
BOUND_HZ = 9.4
LARGEST_RAD = 2 * np.arctan(3.0)  # 143 degrees, 95.4 kHz


def discriminated(samples: npt.NDArray[np.complexfloating], rows: int, batch: int = 8) -> npt.NDArray[np.float64]:
    """Frequencies of samples laid out in frames and handed over in batches."""
    frames = samples.astype(np.complex64).reshape(rows, -1)
    discriminator = Discriminator(batch, frames.shape[1], RATE_HZ)
    before, parts = complex(frames[0, 0]), []
    for first in range(0, rows, batch):
        part = frames[first : first + batch]
        parts.append(discriminator.run(part, before, np.empty(part.shape, np.float32)).ravel().copy())
        before = complex(part[-1, -1])
    return np.concatenate(parts).astype(np.float64)


def by_numpy(samples: npt.NDArray[np.complexfloating]) -> npt.NDArray[np.float64]:
    """numpy.angle in double precision of each sample against the one before."""
    exact = samples.astype(np.complex64).astype(np.complex128)
    turn = np.angle(exact[1:] * np.conj(exact[:-1]))
    return np.concatenate([[0.0], turn]) * RATE_HZ / (2 * np.pi)


@pytest.mark.parametrize("amplitude", [1e-9, 1e-3, 1.0, 1e5])
def test_frequencies_are_numpys_within_the_stated_bound(amplitude: float) -> None:
    """Every angle up to 143 degrees, at any amplitude that a recording can have, is read within 9.4 Hz."""
    rng = np.random.default_rng(2)
    turns = np.cumsum(rng.uniform(-LARGEST_RAD, LARGEST_RAD, 48_000))
    samples = amplitude * np.exp(1j * turns)
    error = np.abs(discriminated(samples, 12) - by_numpy(samples))
    assert error.max() < BOUND_HZ
    assert error.max() > 5.0  # the bound is the approximation's, not a wide guess


def test_larger_turns_are_held_at_the_limit() -> None:
    """A click turns by up to half a circle: it reads 95.4 kHz with its sign, never more and never no number."""
    angles = np.array([150.0, 170.0, 179.9, -150.0, -179.9]) * np.pi / 180
    for angle in angles:
        got = discriminated(np.exp(1j * np.array([0.0, angle])), 1)[1]
        assert got == pytest.approx(np.sign(angle) * 95_420, abs=20)


def test_silence_and_opposite_samples_have_a_number() -> None:
    """Zeros (a gap in a recording) read 0 Hz; samples that turn by exactly half a circle read something finite."""
    assert np.all(discriminated(np.zeros(64), 2) == 0)
    assert np.all(np.isfinite(discriminated(np.tile([1.0, -1.0], 32), 2)))


def test_frames_and_batches_join_without_a_seam() -> None:
    """However samples are laid out in frames and batches, each is held against the one before it."""
    rng = np.random.default_rng(3)
    samples = np.exp(1j * np.cumsum(rng.uniform(-1, 1, 2400)))
    whole = discriminated(samples, 1)
    for rows, batch in ((24, 8), (24, 24), (24, 7), (2400 // 2, 5)):
        np.testing.assert_array_equal(discriminated(samples, rows, batch), whole)


def test_noise_of_a_weak_channel_is_read_as_numpy_reads_it() -> None:
    """In pure noise, where angles past 143 degrees are held, all others stay within the bound."""
    rng = np.random.default_rng(4)
    samples = rng.standard_normal(24_000) + 1j * rng.standard_normal(24_000)
    exact = by_numpy(samples)
    held = np.clip(exact, -95_400, 95_400)
    assert np.abs(discriminated(samples, 10) - held)[1:].max() < BOUND_HZ + 20
