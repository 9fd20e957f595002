"""Bare I/Q without a header: everything but the samples comes from the caller."""

from __future__ import annotations

from pathlib import Path

from bandscan.errors import RecordingError
from bandscan.model import Capture
from bandscan.source import fields
from bandscan.source.asked import Asked
from bandscan.source.samples import MappedSamples

# What is taken from a folder; a file that is named itself may have any ending. Data of a SigMF pair are asked for by its reader
# first, so only those that lost their metadata come here.
SUFFIXES = (".cu8", ".ci8", ".ci16", ".cf32", ".iq", ".raw", ".bin", ".dat", ".sigmf-data")


def is_mine(_path: Path, _head: bytes, asked: Asked) -> bool:
    """Whether the caller said how bare I/Q is stored: nothing in the file can tell."""
    return asked.raw is not None


def read(path: Path, asked: Asked) -> list[Capture]:
    """The whole file as one capture.

    Raises:
        RecordingError: the file holds no whole sample.
    """
    raw = asked.raw
    if raw is None:
        raise RecordingError("bare I/Q does not tell how it is stored", where=path, do="give --format, --rate and --centre")
    size = path.stat().st_size
    count, rest = divmod(size, raw.stored_as.sample_bytes)
    if count == 0:
        raise RecordingError(f"holds no whole sample ({size} bytes)", where=path, accepted=f"bare I/Q as {raw.encoding}")
    return [
        Capture(
            name=fields.recording_name(path),
            path=path,
            samples=MappedSamples(path, raw.stored_as, count),
            rate_hz=float(raw.rate_hz),
            centre_hz=float(raw.centre_hz),
            started_utc=raw.started_utc,
            remarks=("truncated",) if rest else (),
            notes=(fields.cut_note(path, rest),) if rest else (),
        )
    ]
