"""Sample formats against the textbook's noise of quantising."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from bandscan.source import ENCODINGS
from bandscan.units import db

SAMPLES = 200_000


def stored_and_read(samples: npt.NDArray[np.complex64], name: str) -> npt.NDArray[np.complex64]:
    """Samples as they come back from a file of that encoding."""
    encoding = ENCODINGS[name]
    numbers = np.empty((1, 2 * len(samples)), np.float32)
    encoding.to_floats(np.frombuffer(encoding.to_bytes(samples), np.uint8), 0, numbers)
    return numbers.view(np.complex64)[0]


def dice() -> np.random.Generator:
    """The same numbers in every run."""
    return np.random.default_rng(8)


# 6.02 N + 1.76 dB for N bits (textbook: a full-scale sine over steps that err evenly); unsigned bytes have 255 steps, not 256
@pytest.mark.parametrize(("name", "snr_db"), [("cu8", 49.89), ("ci8", 49.93), ("ci16_le", 98.09), ("ci16_be", 98.09)])
def test_a_full_scale_tone_stands_over_its_quantising_noise(name: str, snr_db: float) -> None:
    """The error of a tone at full scale is that of N bits."""
    # one step short of full scale, so that two's complement does not clip its upper end
    phase = 2 * np.pi * dice().random(SAMPLES)
    tone = (0.992 * np.exp(1j * phase)).astype(np.complex64)
    error = stored_and_read(tone, name).astype(np.complex128) - tone
    assert -db(float(np.mean(np.abs(error) ** 2))) == pytest.approx(snr_db, abs=0.1)


def test_unsigned_bytes_add_the_known_noise_density() -> None:
    """Steps of 1/127.5 at 2.4 MS/s: (1/127.5)^2 / 6 / 2.4 MHz is -113.7 dBFS/Hz (computed), the floor of an 8-bit receiver."""
    wide = dice().standard_normal((2, SAMPLES)) * 0.1
    samples = (wide[0] + 1j * wide[1]).astype(np.complex64)
    error = stored_and_read(samples, "cu8") - samples
    assert db(float(np.mean(np.abs(error) ** 2)) / 2.4e6) == pytest.approx(-113.7, abs=0.05)


def test_floats_come_back_to_the_bit() -> None:
    """IEEE 754 single precision in either byte order is stored as it is."""
    samples = (dice().standard_normal(1000) + 1j).astype(np.complex64)
    for name in ("cf32_le", "cf32_be"):
        assert stored_and_read(samples, name).tobytes() == samples.tobytes()
