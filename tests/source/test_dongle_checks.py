"""What a dwell's bytes tell about themselves: bandscan/source/dongle_checks.py."""

from __future__ import annotations

import numpy as np
import pytest

from bandscan.source import dongle_checks as checks

RATE_HZ = 2_400_000.0
BLOCK = 262_144


def stored(samples: np.ndarray) -> bytes:
    """Complex samples as a dongle gives them."""
    parts = np.stack([samples.real, samples.imag], axis=-1).ravel()
    return np.clip(np.rint(127.5 * parts + 127.5), 0, 255).astype(np.uint8).tobytes()


def noise(rng: np.random.Generator, count: int, rms: float) -> np.ndarray:
    """Complex noise of this root mean square."""
    return (rng.standard_normal(count) + 1j * rng.standard_normal(count)) * rms / np.sqrt(2)


def tone(count: int, of_rate: float, amplitude: float) -> np.ndarray:
    """A line at a part of the rate."""
    return amplitude * np.exp(2j * np.pi * of_rate * np.arange(count))


def test_peaks_and_full_scale() -> None:
    """A tone of amplitude 0.5 peaks at -6 dBFS and clips nowhere; one of 1.2 clips for a known part of its turn."""
    quiet = checks.swing(stored(tone(100_000, 0.01234, 0.5)))
    assert quiet.peak_dbfs == pytest.approx(-6.02, abs=0.1)
    assert quiet.clipped_share == 0.0
    loud = checks.swing(stored(tone(100_000, 0.01234, 1.2)))
    assert loud.peak_dbfs == 0.0
    # abs(cos) or abs(sin) over (254.5 / 127.5 - 1) / 1.2, a quarter turn each way: 4 arccos(x) of 2 pi, twice
    limit = (254.5 / 127.5 - 1) / 1.2
    assert loud.clipped_share == pytest.approx(8 * np.arccos(limit) / (2 * np.pi), abs=0.002)


def test_noise_over_the_steps() -> None:
    """White noise of 3 steps in I and in Q stands 20.3 dB over rounding's 1/12 step squared (textbook), less the low tenth."""
    samples = stored(noise(np.random.default_rng(1), 16_384, 3 * np.sqrt(2) / 127.5))
    assert checks.noise_over_steps_db(samples) == pytest.approx(20.3, abs=1.0)


def test_a_step_that_begins_with_the_one_before() -> None:
    """A beginning that is like the step before and not like its own end is stale, one that is like its own end is not."""
    rng = np.random.default_rng(2)
    count = 16_384
    here, there = ([stored(noise(rng, count, 0.01) + tone(count, place, 0.3)) for _ in range(2)] for place in (0.11, -0.23))
    first, last, before = checks.spectrum(here[0]), checks.spectrum(here[1]), checks.spectrum(there[0])
    assert not checks.stale(first, last, before)
    assert checks.stale(checks.spectrum(there[1]), last, before)


def test_noise_alone_is_never_called_stale() -> None:
    """200 steps of an antenna that is not plugged in: none looks like the one before."""
    rng = np.random.default_rng(3)
    found = [checks.spectrum(stored(noise(rng, 16_384, 0.03))) for _ in range(202)]
    assert not any(checks.stale(found[place], found[place + 1], found[place + 2]) for place in range(200))


def arrivals(rng: np.random.Generator, blocks: int, late_s: float = 0.002) -> list[tuple[int, float]]:
    """A stream whose transfers come at times that are late by up to some milliseconds, now and then by many."""
    late = rng.exponential(late_s, blocks)
    late[rng.random(blocks) < 0.05] += 0.08  # the computer was busy
    return [((block + 1) * BLOCK, (block + 1) * BLOCK / 2 / RATE_HZ + late[block]) for block in range(blocks)]


def test_an_even_stream_has_lost_nothing() -> None:
    """1000 streams on a busy computer: lateness that goes by is no loss."""
    rng = np.random.default_rng(4)
    assert [checks.lost_s(arrivals(rng, 20), RATE_HZ) for _ in range(1000)] == [0.0] * 1000


@pytest.mark.parametrize("lost_s", [0.03, 0.055, 0.5])
def test_a_stream_that_falls_behind_for_good(lost_s: float) -> None:
    """Everything after the loss comes later by as much as was lost; the figure is right within the usual lateness."""
    stream = arrivals(np.random.default_rng(5), 30)
    stream = stream[:12] + [(count, when + lost_s) for count, when in stream[12:]]
    assert checks.lost_s(stream, RATE_HZ) == pytest.approx(lost_s, abs=0.005)


def test_too_few_arrivals_say_nothing() -> None:
    """Two transfers make no line."""
    assert checks.lost_s([(BLOCK, 0.1), (2 * BLOCK, 9.0)], RATE_HZ) == 0.0
