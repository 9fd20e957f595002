"""Bytes to complex64: the only place that knows zero point, scale and byte order of a sample format.

1.0 is the largest swing that a format holds. Unsigned bytes have their zero between two codes, so that both ends are 1.0:
(v - 127.5) / 127.5; two's complement is divided by its most negative code: v / 128, v / 32768, v / 2**23; floats are as they
are.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from bandscan.errors import RecordingError
from bandscan.model import ComplexArray

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float32]

# A map of the whole file would count as resident memory page by page as it is read; a window dropped when it is left does not.
WINDOW_BYTES = 16 * 2**20

# Beyond this the power of a 24000-point spectrum leaves the range of float32.
LARGEST_FLOAT = np.float32(1e12)


@dataclass(frozen=True)
class Encoding:
    """One way to store I and Q: `(stored - zero) * scale` is the sample's value.

    `number` is the numpy type of a stored I or Q; 24-bit numbers, which numpy does not have, give the order of their
    bytes by that of a longer one. `full_scale` lies half a step under the largest code, so that rounding cannot matter.
    """

    name: str
    number: np.dtype[np.generic]
    number_bytes: int
    zero: float
    scale: float
    full_scale: float | None

    @property
    def sample_bytes(self) -> int:
        """Bytes of one complex sample."""
        return 2 * self.number_bytes

    def to_floats(self, stored: Bytes, hop: int, numbers: Floats) -> None:
        """Fill `numbers`, shape (rows, 2 * length), with overlapping rows of `stored`, each `hop` samples after the last."""
        rows, width = numbers.shape
        strides = (hop * self.sample_bytes, self.number_bytes)
        if self.number_bytes == 3:
            self._from_24_bit(np.ndarray((rows, width, 3), np.uint8, stored, strides=(*strides, 1)), numbers)
            return
        # numpy checks these strides against the buffer, so a wrong call cannot read beyond the map
        view: npt.NDArray[np.generic] = np.ndarray((rows, width), self.number, stored, strides=strides)
        if self.zero:
            np.subtract(view, np.float32(self.zero), out=numbers, dtype=np.float32)
            np.multiply(numbers, np.float32(self.scale), out=numbers)
        elif self.scale != 1.0:
            np.multiply(view, np.float32(self.scale), out=numbers, dtype=np.float32)
        else:
            np.copyto(numbers, view)

    def _from_24_bit(self, parts: Bytes, numbers: Floats) -> None:
        low, middle, high = (0, 1, 2) if self.number.byteorder != ">" else (2, 1, 0)
        np.multiply(parts[..., high].view(np.int8), np.float32(65536), out=numbers, dtype=np.float32)
        numbers += parts[..., middle] * np.float32(256)
        numbers += parts[..., low]
        numbers *= np.float32(self.scale)

    def to_bytes(self, samples: ComplexArray) -> bytes:
        """Samples as stored: rounded to the nearest code, and clipped where the format has a ceiling."""
        numbers = np.ascontiguousarray(samples, dtype=np.complex64).view(np.float32).astype(np.float64)
        if self.full_scale is None:
            return numbers.astype(self.number).tobytes()
        codes = np.rint(numbers / self.scale + self.zero)
        if self.number_bytes == 3:
            whole = np.clip(codes, -(2**23), 2**23 - 1).astype("<i4")
            parts = whole.view(np.uint8).reshape(-1, 4)[:, :3]
            return (parts if self.number.byteorder != ">" else parts[:, ::-1]).tobytes()
        limits = np.iinfo(self.number.type)  # type: ignore[type-var]
        return np.clip(codes, limits.min, limits.max).astype(self.number).tobytes()


def _table() -> dict[str, Encoding]:
    rows = [
        Encoding("cu8", np.dtype("u1"), 1, 127.5, 1 / 127.5, 127 / 127.5),
        Encoding("ci8", np.dtype("i1"), 1, 0.0, 2.0**-7, 126.5 / 2**7),
    ]
    for order, ending in (("<", "le"), (">", "be")):
        rows += [
            Encoding(f"ci16_{ending}", np.dtype(f"{order}i2"), 2, 0.0, 2.0**-15, (2**15 - 1.5) / 2**15),
            Encoding(f"ci24_{ending}", np.dtype(f"{order}i4"), 3, 0.0, 2.0**-23, (2**23 - 1.5) / 2**23),
            Encoding(f"cf32_{ending}", np.dtype(f"{order}f4"), 4, 0.0, 1.0, None),
        ]
    return {row.name: row for row in rows}


ENCODINGS = _table()


class MappedSamples:
    """Samples of a part of a file, mapped a window at a time: resident memory is bounded at any length."""

    def __init__(self, path: Path, encoding: Encoding, count: int, offset: int = 0) -> None:
        """`count` complex samples from byte `offset` of the file."""
        self.path = path
        self.encoding = encoding
        self.offset = offset
        self._count = count
        self._window: Bytes = np.empty(0, np.uint8)
        self._window_start = 0
        self._bad = 0
        self._judged_to = 0

    @property
    def full_scale(self) -> float | None:
        """abs(I) or abs(Q) from which a sample counts as clipped; None for floats."""
        return self.encoding.full_scale

    @property
    def bad_samples(self) -> int:
        """Different samples met so far that were no usable number; `frames` gave zero for each."""
        return self._bad

    def __len__(self) -> int:
        """Number of complex samples."""
        return self._count

    def frames(self, start: int, rows: int, length: int, hop: int, out: ComplexArray | None = None) -> ComplexArray:
        """Overlapping frames: row r holds samples start + r * hop ... + length; shape (rows, length), complex64.

        Samples before the first or past the last one are zero. `out`, where given, is filled and returned.

        Raises:
            RecordingError: the file went away or shrank while it was read.
        """
        if out is None:
            out = np.empty((rows, length), np.complex64)
        elif out.shape != (rows, length) or out.dtype != np.complex64:
            raise ValueError(f"out is {out.dtype} {out.shape}, not complex64 {(rows, length)}")
        if rows == 0 or length == 0:
            return out
        if start >= 0 and start + (rows - 1) * hop + length <= self._count:
            self._fill(out, start, hop)
            return out
        out.fill(0)
        for row in range(rows):
            begin = start + row * hop
            first, last = max(begin, 0), min(begin + length, self._count)
            if first < last:
                self._fill(out[row : row + 1, first - begin : last - begin], first, hop)
        return out

    def _fill(self, out: ComplexArray, start: int, hop: int) -> None:
        rows, length = out.shape
        stored = self._stored(start, (rows - 1) * hop + length)
        numbers = out.view(np.float32)
        self.encoding.to_floats(stored, hop, numbers)
        if self.encoding.full_scale is None:
            self._mend(out, numbers, start, hop)

    def _mend(self, out: ComplexArray, numbers: Floats, start: int, hop: int) -> None:
        """Zero for what is no usable number, counted once however often it is read."""
        rows, length = out.shape
        # a comparison with NaN is false, so this is true only where both extremes are usable
        if not (numbers.max() <= LARGEST_FLOAT and numbers.min() >= -LARGEST_FLOAT):
            usable = np.abs(numbers) <= LARGEST_FLOAT
            bad = ~(usable[:, ::2] & usable[:, 1::2])
            for row in range(rows):
                begin = start + row * hop
                self._bad += int(np.count_nonzero(bad[row, max(self._judged_to - begin, 0) :]))
                self._judged_to = max(self._judged_to, begin + length)
            out[bad] = 0
        self._judged_to = max(self._judged_to, start + (rows - 1) * hop + length)

    def _stored(self, start: int, count: int) -> Bytes:
        """The bytes of `count` samples from sample `start`, all of which exist."""
        size = self.encoding.sample_bytes
        begin, end = self.offset + start * size, self.offset + (start + count) * size
        try:
            # a map of bytes that are no longer there kills the process instead of failing
            if self.path.stat().st_size < end:
                raise RecordingError(
                    "the file became shorter while it was read", where=self.path, do="read it when it is whole"
                )
            if not self._window_start <= begin <= end <= self._window_start + len(self._window):
                last = self.offset + self._count * size
                shape = (max(end - begin, min(WINDOW_BYTES, last - begin)),)
                self._window = np.memmap(self.path, np.uint8, "r", begin, shape).view(np.ndarray)
                self._window_start = begin
        except (OSError, ValueError) as error:
            raise RecordingError(f"cannot be read: {error}", where=self.path, do="check the disk and the file") from error
        return self._window[begin - self._window_start : end - self._window_start]
