"""SigMF recordings: a pair of files NAME.sigmf-meta and NAME.sigmf-data."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path

from bandscan.errors import RecordingError
from bandscan.model import Capture
from bandscan.source import fields, metadata
from bandscan.source.asked import Asked
from bandscan.source.metadata import Metadata
from bandscan.source.samples import MappedSamples

META, DATA = ".sigmf-meta", ".sigmf-data"
SUFFIXES = (META, DATA)

# Hashing reads everything: at some 500 MB/s this much costs a tenth of a second, a recording of 1 GB two seconds or more.
LARGEST_VERIFIED_BYTES = 64_000_000


def is_mine(path: Path, _head: bytes, asked: Asked) -> bool:
    """Whether it is one file of a pair; data without metadata is bare I/Q where the caller says how it is stored."""
    suffix = path.suffix.lower()
    return suffix == META or (suffix == DATA and (asked.raw is None or path.with_suffix(META).exists()))


def key(path: Path) -> Path:
    """The path that stands for a pair: its metadata file, or data that lack one."""
    meta_path = path.with_suffix(META)
    return meta_path if meta_path.exists() else path


def read(path: Path, asked: Asked) -> list[Capture]:
    """The captures of a pair.

    Raises:
        RecordingError: a file is missing, or the pair is not what it says or not understood.
    """
    meta_path = path.with_suffix(META)
    if not meta_path.is_file():
        what = f"its metadata file {meta_path.name} is missing"
        raise RecordingError(what, where=path, do="copy it too, or give --format, --rate and --centre")
    with meta_path.open("rb") as file:
        meta = metadata.parse(file.read(metadata.LARGEST_TEXT_BYTES + 1), str(meta_path))
    data_path = _data_path(meta_path, data_name(meta, meta_path.stem, str(meta_path)))
    extent = Extent(data_path, 0, data_path.stat().st_size)
    return captures(meta, extent, fields.recording_name(meta_path), asked, str(meta_path))


def data_name(meta: Metadata, stem: str, where: str) -> str:
    """The name of the file or member with the samples, which stands beside the metadata.

    Raises:
        RecordingError: core:dataset names one elsewhere.
    """
    name = meta.dataset or stem + DATA
    if name in {".", ".."} or any(sign in name for sign in "/\\:"):
        what = f"core:dataset {fields.shown(name)} leads out of the folder"
        raise RecordingError(what, where=where, accepted="a file name without a folder")
    return name


def _data_path(meta_path: Path, name: str) -> Path:
    path = meta_path.with_name(name)
    if not path.exists():
        raise RecordingError(f"its data file {name} is missing", where=meta_path, do="copy both files of the pair")
    if path.resolve().parent not in {meta_path.parent.resolve(), meta_path.resolve().parent}:
        what = f"its data file {name} is a link out of the folder"
        raise RecordingError(what, where=meta_path, do="put the data file itself there")
    if not path.is_file():
        raise RecordingError(f"its data file {name} is no file", where=meta_path, accepted="a regular file")
    return path


@dataclass(frozen=True)
class Extent:
    """Where the data stand: `size` bytes from byte `offset` of a file; `missing` more were promised and are not there."""

    path: Path
    offset: int
    size: int
    missing: int = 0


def captures(meta: Metadata, extent: Extent, name: str, asked: Asked, where: str) -> list[Capture]:
    """The captures whose samples stand in `extent`; `where` names their metadata.

    Raises:
        RecordingError: there is no whole sample, no centre, or the data do not match their hash.
    """
    path, size = extent.path, extent.size
    sample_bytes = meta.encoding.sample_bytes
    stop = size - meta.trailing_bytes
    several = len(meta.segments) > 1
    notes = [*meta.notes]
    if extent.missing:
        notes.append(fields.short_note(path, extent.missing))
    cut = extent.missing > 0
    found: list[Capture] = []
    for index, segment in enumerate(meta.segments):
        begin = segment.lead_bytes + segment.start * sample_bytes
        following = meta.segments[index + 1 : index + 2]
        end = segment.lead_bytes + following[0].start * sample_bytes if following else stop
        count, rest = divmod(max(min(end, stop) - begin, 0), sample_bytes)
        if rest:
            notes.append(fields.cut_note(path, rest))
        cut = cut or bool(rest) or end > stop
        if count == 0:
            if several:
                notes.append(f"{fields.plain(path.name)}: captures[{index}] has no samples; left out")
            continue
        centre_hz = asked.centre if segment.centre_hz is None else segment.centre_hz
        if centre_hz is None:
            raise RecordingError(
                f"captures[{index}] has no core:frequency", where=where, do="write the centre there, or give --centre"
            )
        found.append(
            Capture(
                name=f"{name}#{index}" if several else name,
                path=path,
                samples=MappedSamples(path, meta.encoding, count, extent.offset + begin),
                rate_hz=meta.rate_hz,
                centre_hz=centre_hz,
                started_utc=segment.started_utc,
                survey_id=meta.survey_id,
                rig=meta.rig,
                gain_db=meta.gain_db,
                forged=meta.forged,
                remarks=meta.remarks,
            )
        )
    if not found:
        raise RecordingError(f"holds no whole sample ({size} bytes)", where=path, accepted=f"samples as {meta.encoding.name}")
    notes += _verified(meta, extent, cut)
    if cut:
        found[-1] = replace(found[-1], remarks=(*meta.remarks, "truncated"))
    found[0] = replace(found[0], notes=tuple(notes))
    return found


def _verified(meta: Metadata, extent: Extent, cut: bool) -> list[str]:
    """Compare the data with their hash, where there is one and it can be told in time; a line for the user where not."""
    if not meta.sha512:
        return []
    path, size = extent.path, extent.size
    if cut:
        return [f"{fields.plain(path.name)}: core:sha512 is that of the whole file and cannot be compared"]
    if size > LARGEST_VERIFIED_BYTES:
        limit = fields.mega(LARGEST_VERIFIED_BYTES)
        return [f"{fields.plain(path.name)}: not compared with core:sha512, which is done up to {limit} ({fields.mega(size)})"]
    digest = hashlib.sha512()
    with path.open("rb") as file:
        file.seek(extent.offset)
        left = size
        while left > 0 and (block := file.read(min(left, 2**20))):
            digest.update(block)
            left -= len(block)
    if digest.hexdigest() != meta.sha512:
        what = "its bytes do not match core:sha512: altered, or cut short"
        raise RecordingError(what, where=path, do="copy it again from where it was made")
    return []
