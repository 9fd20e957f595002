"""WAV and RF64 recordings with I left and Q right, by a chunk walker of bandscan's own.

The libraries for sound files refuse, shorten or walk for an hour what receivers leave behind: files cut short, sizes never
written (0 or FFFFFFFF) or wrapped at 4 GiB, room that was laid out in advance and stayed zero. Here the headers are read, and
the samples mapped. Sources: Microsoft/IBM Multimedia Programming Interface 1.0 (RIFF), EBU Tech 3306 (RF64), ITU-R
BS.2088 (BW64).
"""

from __future__ import annotations

import struct
from bisect import bisect_left
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from bandscan.errors import RecordingError
from bandscan.model import Capture
from bandscan.source import fields
from bandscan.source.asked import Asked
from bandscan.source.samples import ENCODINGS, Encoding, MappedSamples

SUFFIXES = (".wav", ".wave", ".rf64", ".bw64")

_LONG = (b"RF64", b"BW64")
_KINDS = (b"RIFF", b"RIFX", *_LONG)
_ACCEPTED = "WAV or RF64 with two channels (I, Q) of 8, 16 or 24 bit or 32-bit float"

# format tag and bits: a WAV byte is unsigned, and read like every unsigned byte of a receiver, zero between 127 and 128
_ENCODINGS = {(1, 8): "cu8", (1, 16): "ci16", (1, 24): "ci24", (3, 32): "cf32"}
_EXTENSIBLE = 0xFFFE

_NOT_WRITTEN = (0, 0xFFFFFFFF)
_WRAP = 2**32
MOST_CHUNKS = 1000
_BLOCK_BYTES = 2**16


@dataclass(frozen=True)
class Layout:
    """Where the samples stand in a file, how they are stored, and what is to be said of it. `missing` bytes were promised."""

    encoding: Encoding
    rate_hz: float
    offset: int
    size: int
    missing: int
    notes: tuple[str, ...]


def is_mine(path: Path, head: bytes, _asked: Asked) -> bool:
    """Whether it is named or begins like a WAV file."""
    return path.suffix.lower() in SUFFIXES or (head[:4] in _KINDS and head[8:12] == b"WAVE")


def read(path: Path, asked: Asked) -> list[Capture]:
    """The whole file as one capture.

    Raises:
        RecordingError: it is no WAV file of I/Q, holds no whole sample, or nobody told its centre frequency.
    """
    with path.open("rb") as file:
        layout = walk(file, path.stat().st_size, path)
    if asked.centre is None:
        raise RecordingError("a WAV file does not tell its centre frequency", where=path, do="give --centre")
    count, rest = divmod(layout.size, layout.encoding.sample_bytes)
    if count == 0:
        raise RecordingError(f"holds no whole sample ({layout.size} bytes)", where=path, accepted=_ACCEPTED)
    notes = layout.notes
    if layout.missing:
        notes += (fields.short_note(path, layout.missing),)
    if rest:
        notes += (fields.cut_note(path, rest),)
    return [
        Capture(
            name=fields.recording_name(path),
            path=path,
            samples=MappedSamples(path, layout.encoding, count, layout.offset),
            rate_hz=layout.rate_hz,
            centre_hz=asked.centre,
            remarks=("truncated",) if rest or layout.missing else (),
            notes=notes,
        )
    ]


def walk(file: BinaryIO, size: int, path: Path) -> Layout:
    """From chunk to chunk as far as the samples; nothing after them is walked.

    Raises:
        RecordingError: it is no WAV file of I/Q.
    """
    head = file.read(12)
    kind = head[:4]
    if kind not in _KINDS or head[8:12] != b"WAVE":
        raise RecordingError("is no WAV file, whatever its name says", where=path, accepted=_ACCEPTED)
    order = ">" if kind == b"RIFX" else "<"
    position = 12
    form: tuple[Encoding, float] | None = None
    long_size = 0
    for _ in range(MOST_CHUNKS):
        file.seek(position)
        name, claimed = struct.unpack(f"{order}4sI", _whole(file, 8, path))
        position += 8
        if name == b"data":
            if form is None:
                raise RecordingError("its samples come before their format", where=path, accepted=_ACCEPTED)
            if kind in _LONG and claimed == 0xFFFFFFFF:
                claimed = long_size
            stop, missing, notes = _extent(file, claimed, position, size, path, wraps=kind not in _LONG)
            return Layout(*form, position, stop - position, missing, notes)
        if name == b"fmt ":
            form = _form(_whole(file, min(claimed, 40), path), order, path)
        elif name == b"ds64":
            long_size = int.from_bytes(_whole(file, min(claimed, 16), path)[8:], "little")
        position += claimed + claimed % 2
    raise RecordingError(f"has no samples within its first {MOST_CHUNKS} chunks", where=path, accepted=_ACCEPTED)


def _whole(file: BinaryIO, size: int, path: Path) -> bytes:
    """The next bytes of a header."""
    found = file.read(size)
    if len(found) < size:
        raise RecordingError("ends before its samples begin", where=path, accepted=_ACCEPTED, do="copy it again")
    return found


def _form(chunk: bytes, order: str, path: Path) -> tuple[Encoding, float]:
    """Encoding and rate from the format chunk."""
    if len(chunk) < 16:
        raise RecordingError(f"its format takes {len(chunk)} bytes", where=path, accepted="at least 16")
    tag, channels, rate, _, block, bits = struct.unpack(f"{order}HHIIHH", chunk[:16])
    if tag == _EXTENSIBLE and len(chunk) >= 26:
        (tag,) = struct.unpack(f"{order}H", chunk[24:26])
    name = _ENCODINGS.get((tag, bits))
    if name is None or channels != 2 or block != 2 * bits // 8:
        what = f"stores format {tag}, {channels} channel(s), {bits} bit, {block} bytes a frame"
        raise RecordingError(what, where=path, accepted=_ACCEPTED)
    if name != "cu8":
        name += "_be" if order == ">" else "_le"
    return ENCODINGS[name], fields.rate(rate, "its sample rate", path)


def _extent(
    file: BinaryIO, claimed: int, begin: int, size: int, path: Path, *, wraps: bool
) -> tuple[int, int, tuple[str, ...]]:
    """Where the samples end, how many bytes are missing, and what is to be said, from the size that the data chunk claims."""
    available = size - begin
    name = fields.plain(path.name)
    if claimed in _NOT_WRITTEN and available > 0:
        end = _last_nonzero(file, begin, size, path)
        notes = [f"{name}: the size of its data was never written; taken to the end of the file"]
        if end < size:
            notes.append(f"{name}: {fields.mega(size - end)} of zero bytes at its end are left out")
        return end, 0, tuple(notes)
    if wraps and available - claimed >= _WRAP:
        claimed += (available - claimed) // _WRAP * _WRAP
        return begin + claimed, 0, (f"{name}: the size of its data wrapped at 4 GiB; {fields.mega(claimed)} are used",)
    if claimed > available:
        return size, claimed - available, ()
    end = begin + claimed
    file.seek(end + claimed % 2)
    after = file.read(4)
    if after and not all(0x20 <= sign < 0x7F for sign in after):
        return end, 0, (f"{name}: {fields.mega(size - end)} after its data are no part of the recording; left out",)
    return end, 0, ()


def _last_nonzero(file: BinaryIO, begin: int, size: int, path: Path) -> int:
    """The end of the data without the whole blocks of zeros that were laid out in advance and never reached.

    Found by halving, since reading gigabytes of zeros would take minutes: it is taken for granted that from a block of zeros on
    there is nothing but zeros, as long as the file ends in one.
    """

    def is_zero(block: int) -> bool:
        file.seek(begin + block * _BLOCK_BYTES)
        found = file.read(min(_BLOCK_BYTES, size - begin - block * _BLOCK_BYTES))
        return found.count(0) == len(found)

    blocks = -(-(size - begin) // _BLOCK_BYTES)
    if not is_zero(blocks - 1):
        return size
    used = bisect_left(range(blocks), True, key=is_zero)
    if used == 0:
        raise RecordingError("holds nothing but zero bytes and tells no size", where=path, accepted=_ACCEPTED)
    return begin + used * _BLOCK_BYTES
