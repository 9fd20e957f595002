"""Captures held in memory: forged by the demo or made of arrays, quantised as a receiver would, read without a file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from bandscan.demo import Receiver, Source, forge, quantise
from bandscan.measure import measure
from bandscan.model import Capture, Measured
from bandscan.plans import plan_for

# as the SigMF formats store them: steps to 1.0, zero, and just under the largest code
_FORMATS = {"cu8": (127.5, 127.5, 0.995), "ci16": (32768.0, 0.0, 0.99995), "cf32": (1.0, 0.0, None)}


# what 8 bits add to a noise of -106 dBFS/Hz: steps of 2/255 in I and Q, uniform error: 20 log10(2 / 255) - 10 log10 6 = -49.89
# dBFS over the rate, -113.7 dBFS/Hz at 2.4 MS/s
NOISE_200_KHZ = -106 + 53.01
STEPS_DBFS = -49.89


class Held:
    """Samples in memory, a stand-in for those mapped from a file."""

    def __init__(self, wave: npt.NDArray[np.complexfloating], full_scale: float | None = None, bad_samples: int = 0) -> None:
        self.wave = wave.astype(np.complex64)
        self.full_scale = full_scale
        self.bad_samples = bad_samples
        self.read_to = 0

    def __len__(self) -> int:
        return len(self.wave)

    def frames(
        self, start: int, rows: int, length: int, hop: int, out: npt.NDArray[np.complex64] | None = None
    ) -> npt.NDArray[np.complex64]:
        """Frames, zeros beyond the ends."""
        found = np.zeros((rows, length), np.complex64) if out is None else out
        found[...] = 0
        for row in range(rows):
            begin = start + row * hop
            first, last = max(begin, 0), min(begin + length, len(self.wave))
            if first < last:
                found[row, first - begin : last - begin] = self.wave[first:last]
        self.read_to = max(self.read_to, start + (rows - 1) * hop + length)
        return found


def capture(
    wave: npt.NDArray[np.complexfloating], rate_hz: float, centre_hz: float, *, encoding: str = "cu8", name: str = "made"
) -> Capture:
    """The wave as a recording in an encoding gives it back."""
    steps, zero, full_scale = _FORMATS[encoding]
    stored = quantise(np.asarray(wave, np.complex64), encoding).astype(np.float64)
    held = ((stored - zero) / steps).astype(np.float32).view(np.complex64)
    return Capture(name, Path(f"{name}.sigmf-meta"), Held(held, full_scale), rate_hz, centre_hz, "2026-03-01T10:00:00Z")


def forged(
    sources: Sequence[Source],
    centre_hz: float,
    *,
    rate_hz: float = 2.4e6,
    seconds: float = 0.5,
    seed: int = 1,
    receiver: Receiver | None = None,
    encoding: str = "cu8",
) -> Capture:
    """A forged recording, held in memory."""
    made = forge(sources, receiver or Receiver(), centre_hz, rate_hz, seconds, seed)
    return capture(made.samples, rate_hz, centre_hz, encoding=encoding)


def rows(measured: Measured) -> pd.DataFrame:
    """READINGS by channel."""
    return measured.readings.set_index("channel_hz")


def read(one: Capture, band: str = "fm", region: str = "us") -> pd.DataFrame:
    """READINGS of a capture by channel."""
    return rows(measure(one, plan_for(region, band)))


def noise_dbfs(rate_hz: float, offset_hz: float = 0.0, slope_db: float = 0.0) -> float:
    """Forged noise, which a slope over the whole rate tilts, and that of the 8-bit steps in 200 kHz."""
    air = 10 ** ((NOISE_200_KHZ + slope_db * offset_hz / rate_hz) / 10)
    return float(10 * np.log10(air + 10 ** (STEPS_DBFS / 10) * 200e3 / rate_hz))
