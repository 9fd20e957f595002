"""Which file is a recording, and which reader reads it: one dict of readers, asked in its order."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from bandscan.errors import RecordingError
from bandscan.model import Capture
from bandscan.source import archive, raw, sigmf, wav
from bandscan.source.asked import Asked, RawFormat

HEAD_BYTES = 16


@dataclass(frozen=True)
class Reader:
    """A room that knows one container.

    `suffixes` are the endings taken from a folder, `is_mine(path, head, asked)` tells a file by name, first bytes and what the
    caller said, `read(path, asked)` gives its captures or raises RecordingError. `key` turns a file into the path that stands
    for its recording.
    """

    what: str
    suffixes: tuple[str, ...]
    is_mine: Callable[[Path, bytes, Asked], bool]
    read: Callable[[Path, Asked], list[Capture]]
    key: Callable[[Path], Path] = lambda path: path


READERS: dict[str, Reader] = {
    "sigmf": Reader("SigMF pairs (.sigmf-meta with .sigmf-data)", sigmf.SUFFIXES, sigmf.is_mine, sigmf.read, sigmf.key),
    "archive": Reader("SigMF archives (.sigmf)", archive.SUFFIXES, archive.is_mine, archive.read),
    "wav": Reader("WAV and RF64 (I left, Q right) with --centre", wav.SUFFIXES, wav.is_mine, wav.read),
    "raw": Reader("bare I/Q with --format, --rate and --centre", raw.SUFFIXES, raw.is_mine, raw.read),
}

ACCEPTED = ", ".join(reader.what for reader in READERS.values())


def find(paths: Sequence[Path], raw: RawFormat | None = None) -> list[Path]:
    """The recordings among files and in folders: one path for each, sorted. Hidden files and folders are passed over.

    A file that is named itself is always taken; from a folder, files with a reader's endings. Bare I/Q counts only where `raw`
    is given.

    Raises:
        RecordingError: a path is not there, a folder cannot be listed or holds no recording.
    """
    asked = Asked(raw)
    found: set[Path] = set()
    for path in paths:
        try:
            found |= _found_at(path, asked)
        except OSError as error:
            raise _unreadable(path, error) from error
    return sorted(found)


def _found_at(path: Path, asked: Asked) -> set[Path]:
    if not path.exists():
        raise RecordingError("is not there", where=path, accepted="a recording or a folder of recordings")
    if not path.is_dir():
        return {_recording_of(path, asked, named=True) or path}
    inside = {key for file in _walk(path) if (key := _recording_of(file, asked, named=False)) is not None}
    if not inside:
        raise RecordingError("holds no recording", where=path, accepted=ACCEPTED)
    return inside


def _unreadable(path: Path, error: OSError) -> RecordingError:
    return RecordingError(f"cannot be read: {error.strerror or error}", where=path, do="check the disk and who may read it")


def _walk(folder: Path) -> Iterator[Path]:
    def refuse(error: OSError) -> None:
        raise _unreadable(Path(error.filename or folder), error)

    for where, folders, names in os.walk(folder, onerror=refuse):
        folders[:] = [name for name in folders if not name.startswith(".")]
        for name in names:
            if not name.startswith("."):
                yield Path(where, name)


def _recording_of(path: Path, asked: Asked, *, named: bool) -> Path | None:
    """The path that stands for the recording this file belongs to; None where it is none to take."""
    suffix = path.suffix.lower()
    for reader in READERS.values():
        # the first bytes stay unread: a folder may hold thousands of other files
        if (suffix in reader.suffixes or named) and reader.is_mine(path, b"", asked):
            return reader.key(path)
    return None


def read(path: Path, raw: RawFormat | None = None, centre_hz: float | None = None) -> list[Capture]:
    """The captures of one recording, in the order of their samples. [Hz]

    What the recording says of itself comes before `raw` and `centre_hz`.

    Raises:
        RecordingError: it is no recording, or cannot be used.
        UsageError: `centre_hz` cannot be one.
    """
    asked = Asked(raw, centre_hz)
    try:
        if not path.exists():
            raise RecordingError("is not there", where=path, accepted="a recording")
        if not path.is_file():
            # opening a pipe or a device may wait for ever
            raise RecordingError("is no regular file", where=path, accepted="a recording; folders through `find`")
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
        if not head:
            raise RecordingError("is empty", where=path, accepted="a recording")
        for reader in READERS.values():
            if reader.is_mine(path, head, asked):
                return reader.read(path, asked)
    except OSError as error:
        raise _unreadable(path, error) from error
    raise RecordingError("is no recording that can be read", where=path, accepted=ACCEPTED)
