"""SigMF archives (.sigmf): tar files whose data are mapped where they stand, never unpacked."""

from __future__ import annotations

import posixpath
import tarfile
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO

from bandscan.errors import RecordingError
from bandscan.model import Capture
from bandscan.source import fields, metadata, sigmf
from bandscan.source.asked import Asked

_COMPRESSED = (".sigmf.gz", ".sigmf.xz", ".sigmf.bz2", ".sigmf.zip")
SUFFIXES = (".sigmf", ".gz", ".xz", ".bz2", ".zip")
_ACCEPTED = "an uncompressed SigMF archive (tar) with NAME.sigmf-meta and NAME.sigmf-data"

MOST_READS = 5000
LARGEST_READ_BYTES = 2**16


class _HostileTarError(Exception):
    """The headers ask for more than any recording needs."""


class _Rationed:
    """A file that a tar reader can neither make read everything at once nor keep reading for ever."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._reads = 0
        self.tell = file.tell

    def seek(self, position: int) -> int:
        if not 0 <= position <= metadata.LARGEST_COUNT:
            raise _HostileTarError
        return self._file.seek(position)

    def read(self, size: int = -1) -> bytes:
        self._reads += 1
        if not 0 <= size <= LARGEST_READ_BYTES or self._reads > MOST_READS:
            raise _HostileTarError
        return self._file.read(size)


def is_mine(path: Path, _head: bytes, _asked: Asked) -> bool:
    """Whether it is named like a SigMF archive, compressed ones included."""
    return path.suffix.lower() == ".sigmf" or path.name.lower().endswith(_COMPRESSED)


def read(path: Path, asked: Asked) -> list[Capture]:
    """The captures of all recordings in the archive, in its order; several are `NAME#k`, k from 0.

    Raises:
        RecordingError: it is no SigMF archive, or a recording in it cannot be used.
    """
    if path.suffix.lower() != ".sigmf":
        raise RecordingError("is compressed", where=path, accepted=_ACCEPTED, do="unpack it")
    size = path.stat().st_size
    with path.open("rb") as file:
        members, whole = _members(file, path)
        texts: dict[str, bytes] = {}
        room = metadata.LARGEST_TEXT_BYTES
        for name, member in members.items():
            if not name.lower().endswith(sigmf.META) or not member.isreg():
                continue
            room -= member.size
            if room < 0:
                limit = fields.mega(metadata.LARGEST_TEXT_BYTES)
                raise RecordingError("holds too much metadata", where=path, accepted=f"up to {limit}")
            file.seek(member.offset_data)
            texts[name] = file.read(member.size)
            if len(texts[name]) < member.size:
                raise RecordingError("ends within its metadata", where=path, accepted=_ACCEPTED, do="copy it again")
    if not texts:
        raise RecordingError("holds no metadata, or ends before them", where=path, accepted=_ACCEPTED, do="copy it again")
    found: list[Capture] = []
    for name, text in texts.items():
        where = f"{path}: {fields.shown(name)}"
        meta = metadata.parse(text, where)
        folder, file_name = posixpath.split(name)
        data = posixpath.join(folder, sigmf.data_name(meta, file_name[: -len(sigmf.META)], where))
        found += sigmf.captures(meta, _extent(members, data, path, size, where), fields.recording_name(path), asked, where)
    if len(texts) > 1:
        stem = fields.recording_name(path)
        found = [replace(capture, name=f"{stem}#{index}") for index, capture in enumerate(found)]
    if not whole:
        note = f"{fields.plain(path.name)}: the archive has no end mark: cut short, or damaged after its last readable member"
        found[0] = replace(found[0], notes=(*found[0].notes, note))
    return found


def _members(file: BinaryIO, path: Path) -> tuple[dict[str, tarfile.TarInfo], bool]:
    """The members by name as far as the archive goes, and whether it goes to its end mark."""
    members: dict[str, tarfile.TarInfo] = {}
    try:
        with tarfile.open(fileobj=_Rationed(file), mode="r:") as tar:  # type: ignore[call-overload]
            while (member := _next(tar)) is not None:
                if member.name in members:
                    what = f"holds {fields.shown(member.name)} twice"
                    raise RecordingError(what, where=path, accepted="each name once")
                if not 0 <= member.size <= metadata.LARGEST_COUNT:
                    raise _HostileTarError
                members[member.name] = member
            file.seek(tar.offset)
            return members, file.read(tarfile.BLOCKSIZE) == bytes(tarfile.BLOCKSIZE)
    except (_HostileTarError, RecursionError) as error:
        raise RecordingError("has headers that no recording needs", where=path, accepted=_ACCEPTED) from error
    except (tarfile.TarError, ValueError, IndexError, OverflowError) as error:
        raise RecordingError("is no tar file", where=path, accepted=_ACCEPTED) from error


def _next(tar: tarfile.TarFile) -> tarfile.TarInfo | None:
    """The next member; none past the place where the archive is cut short, which the missing end mark tells."""
    try:
        return tar.next()
    except tarfile.ReadError:
        return None


def _extent(members: dict[str, tarfile.TarInfo], name: str, path: Path, size: int, where: str) -> sigmf.Extent:
    member = members.get(name)
    if member is None:
        raise RecordingError(f"its data {fields.shown(name)} are not in the archive", where=where, accepted=_ACCEPTED)
    if not member.isreg() or member.issparse():
        raise RecordingError(f"its data {fields.shown(name)} are no plain file", where=where, accepted=_ACCEPTED)
    available = max(min(member.size, size - member.offset_data), 0)
    return sigmf.Extent(path, member.offset_data, available, member.size - available)
