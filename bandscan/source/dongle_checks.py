"""What one dwell's bytes tell about themselves: peaks, overload, samples of the step before, lost samples, the noise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandscan.source.samples import ENCODINGS
from bandscan.units import db

CU8 = ENCODINGS["cu8"]
_BINS = 256
_FRAMES = 64  # 16384 samples, 7 ms at 2.4 MS/s
# A block is taken for the step before where it is this much more like that than like its own step's end.
_MUCH_LIKER = 0.7
LOST_S = 0.02  # arrivals of a healthy stream come back to their line within some milliseconds
_QUANTISING = 2.0 / 12.0 / 127.5**2  # power that rounding to steps of 1/127.5 adds to I and Q together (textbook)

Spectrum = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Swing:
    """How far samples swing: the largest I or Q [dBFS], and the share of samples at full scale."""

    peak_dbfs: float
    clipped_share: float


def swing(stored: bytes | bytearray) -> Swing:
    """The swing of cu8 samples."""
    codes = np.frombuffer(stored, np.uint8)
    low, high = int(codes.min()), int(codes.max())
    peak = max(high - CU8.zero, CU8.zero - low) * CU8.scale
    clipped = 0.0
    if low == 0 or high == 255:
        clipped = float(np.count_nonzero(((codes == 0) | (codes == 255)).reshape(-1, 2).any(axis=1))) / (len(codes) / 2)
    return Swing(db(peak**2), clipped)


def spectrum(stored: bytes | bytearray, at_end: bool = False) -> Spectrum:
    """Coarse power spectrum of the first, or last, 16384 samples; shape (256,), density relative to white noise of power 1."""
    size = 2 * _BINS * _FRAMES
    part = bytes(stored[-size:] if at_end else stored[:size])
    numbers = np.frombuffer(part[: len(part) // (2 * _BINS) * 2 * _BINS], np.uint8).astype(np.float64)
    samples = ((numbers - CU8.zero) * CU8.scale).view(np.complex128).reshape(-1, _BINS)
    samples = samples - samples.mean()
    window = np.hanning(_BINS)
    power = np.abs(np.fft.fft(samples * window, axis=1)) ** 2
    return np.asarray(power.mean(axis=0) / np.sum(window**2))


def stale(first: Spectrum, last: Spectrum, before: Spectrum) -> bool:
    """Whether a dwell's beginning looks like the end of the step before it and not like its own end.

    Where the two steps look alike nothing can be told, and nothing is harmed.
    """
    own, other = _unlike(first, last), _unlike(first, before)
    return other < _MUCH_LIKER * own


def _unlike(one: Spectrum, other: Spectrum) -> float:
    """Standard deviation of the difference of two spectra over frequency. [dB]"""
    return float(np.std(db(np.maximum(one, 1e-12)) - db(np.maximum(other, 1e-12))))


def lost_s(arrivals: Sequence[tuple[int, float]], rate_hz: float) -> float:
    """How much of a stream nobody heard, from (bytes so far, time) at its arrivals; 0 where it came in time. [s]

    An arrival may be late, but not early: the earliest against an even stream make a straight line, until samples are lost.
    """
    late = [when - count / 2 / rate_hz for count, when in arrivals]
    third = len(late) // 3
    if third == 0:
        return 0.0
    jump = min(late[-third:]) - min(late[:third])
    return jump if jump > LOST_S else 0.0


def noise_over_steps_db(stored: bytes | bytearray) -> float:
    """The quietest tenth of the spectrum over the noise that rounding to 8 bits adds. [dB]

    A band whose noise does not stand over it loses its weakest stations in the steps.
    """
    return db(float(np.quantile(spectrum(stored), 0.1)) / _QUANTISING)
