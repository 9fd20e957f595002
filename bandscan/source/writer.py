"""Writes a SigMF pair, block by block: what a capture of any length needs."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from bandscan._version import __version__
from bandscan.errors import RecordingError
from bandscan.source import fields
from bandscan.source.samples import ENCODINGS
from bandscan.source.sigmf import DATA, META


@dataclass(frozen=True)
class Heading:
    """What is written about a recording. `encoding` is a SigMF datatype, `ppm` the correction that the receiver was told; the
    rest as in `Capture`. [Hz]
    """

    encoding: str
    rate_hz: float
    centre_hz: float
    started_utc: str = ""
    rig: str = ""
    survey_id: str = ""
    gain_db: float | None = None
    forged: bool = False
    description: str = ""
    hardware: str = ""
    ppm: float | None = None
    remarks: tuple[str, ...] = ()


def write(path: Path, heading: Heading, blocks: Iterable[bytes | bytearray | memoryview]) -> Path:
    """Write `path` (without ending) as a pair and return the metadata's path.

    `blocks` are bytes in the encoding (`ENCODINGS[...].to_bytes` makes them). The data take their name when they are whole, the
    metadata last: a pair that was broken off never looks like a recording.

    Raises:
        RecordingError: the folder cannot be written, the disk is full, or the blocks hold no whole number of samples.
    """
    encoding = ENCODINGS[heading.encoding]
    fields.rate(heading.rate_hz, "the sample rate", path)
    fields.centre(heading.centre_hz, "the centre frequency", path)
    # `with_suffix` would take the last part of a name like `fm-98.1` for an ending
    data_path, meta_path = path.with_name(path.name + DATA), path.with_name(path.name + META)
    unready = data_path.with_name(data_path.name + ".part")
    digest = hashlib.sha512()
    size = 0
    try:
        with unready.open("wb") as file:
            for block in blocks:
                file.write(block)
                digest.update(block)
                size += len(block)
            file.flush()
            os.fsync(file.fileno())
        if size == 0 or size % encoding.sample_bytes:
            raise RecordingError(
                f"{size} bytes are no whole number of samples", where=path, accepted=f"samples as {encoding.name}"
            )
        unready.replace(data_path)
        unready.write_text(_metadata(heading, digest.hexdigest()), encoding="utf-8")
        unready.replace(meta_path)
    except OSError as error:
        raise RecordingError(
            f"cannot be written: {error.strerror or error}", where=path, do="check the folder and the disk"
        ) from error
    finally:
        unready.unlink(missing_ok=True)
    return meta_path


def _metadata(heading: Heading, sha512: str) -> str:
    from sigmf import SigMFFile  # heavy, and not needed to read

    entries: dict[str, object] = {
        "core:datatype": heading.encoding,
        "core:sample_rate": float(heading.rate_hz),
        "core:sha512": sha512,
        "core:recorder": f"bandscan {__version__}",
        "core:extensions": [{"name": "bandscan", "version": "1.0.0", "optional": True}],
        "bandscan:forged": heading.forged,
    }
    optional = {
        "core:description": heading.description,
        "core:hw": heading.hardware,
        "bandscan:rig": heading.rig,
        "bandscan:survey": heading.survey_id,
        "bandscan:remarks": ";".join(heading.remarks),
    }
    entries |= {name: value for name, value in optional.items() if value}
    if heading.gain_db is not None:
        entries["bandscan:gain_db"] = float(heading.gain_db)
    if heading.ppm is not None:
        entries["bandscan:ppm"] = float(heading.ppm)
    capture: dict[str, object] = {"core:frequency": float(heading.centre_hz)}
    if heading.started_utc:
        capture["core:datetime"] = heading.started_utc
    recording = SigMFFile(global_info=entries)
    recording.add_capture(0, metadata=capture)
    recording.validate()
    return str(recording.dumps(pretty=True)) + "\n"
