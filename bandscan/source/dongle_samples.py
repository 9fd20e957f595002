"""A dwell's samples as they came from the dongle, kept in memory; read by the same code as those of a file."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from bandscan.source.samples import Encoding, MappedSamples


class HeldSamples(MappedSamples):
    """Samples of a buffer."""

    def __init__(self, stored: bytes | bytearray, encoding: Encoding) -> None:
        super().__init__(Path(), encoding, len(stored) // encoding.sample_bytes)
        self._window = np.frombuffer(stored, np.uint8)

    def _stored(self, start: int, count: int) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
        size = self.encoding.sample_bytes
        return self._window[start * size : (start + count) * size]
