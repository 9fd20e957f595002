"""Files for the tests of the readers: stored by the tests' own arithmetic, never by bandscan's."""

from __future__ import annotations

import io
import json
import struct
import tarfile
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from bandscan.errors import RecordingError
from bandscan.source import RawFormat, read

# Stored numbers as numpy or struct name them, with zero and the code that stands for 1.0.
CODES = {
    "cu8": ("u1", 127.5, 127.5, 0, 255),
    "ci8": ("i1", 0.0, 128.0, -128, 127),
    "ci16_le": ("<i2", 0.0, 32768.0, -32768, 32767),
    "ci16_be": (">i2", 0.0, 32768.0, -32768, 32767),
    "ci24_le": ("<i4", 0.0, 8388608.0, -8388608, 8388607),
    "ci24_be": (">i4", 0.0, 8388608.0, -8388608, 8388607),
    "cf32_le": ("<f4", 0.0, 1.0, None, None),
    "cf32_be": (">f4", 0.0, 1.0, None, None),
}


def signal(count: int, seed: int = 7) -> npt.NDArray[np.complex64]:
    """Even noise within +-0.9, the same for one seed."""
    rng = np.random.default_rng(seed)
    return (rng.uniform(-0.9, 0.9, count) + 1j * rng.uniform(-0.9, 0.9, count)).astype(np.complex64)


def stored(samples: npt.NDArray[np.complex64], encoding: str) -> bytes:
    """Samples as bytes of an encoding, rounded to the nearest code."""
    kind, zero, one, low, high = CODES[encoding]
    numbers = samples.view(np.float32).astype(np.float64) * one + zero
    if low is None:
        return numbers.astype(kind).tobytes()
    codes = np.clip(np.rint(numbers), low, high).astype(kind)
    if not encoding.startswith("ci24"):
        return codes.tobytes()
    parts = codes.view(np.uint8).reshape(-1, 4)
    return (parts[:, :3] if encoding.endswith("le") else parts[:, 1:]).tobytes()


def assert_same(got: npt.NDArray[np.complex64], want: npt.NDArray[np.complex64], encoding: str) -> None:
    """I and Q each within half a step of the encoding's quantiser, which is nothing for floats."""
    _, _, one, low, _ = CODES[encoding]
    assert got.dtype == np.complex64
    np.testing.assert_allclose(got.view(np.float32), want.view(np.float32), rtol=0, atol=0 if low is None else 0.5 / one + 1e-7)


def metadata(datatype: object = "cu8", **changes: Any) -> dict[str, Any]:
    """Good SigMF metadata; a change named `core_x` sets `core:x` of global, None takes it away; `captures` replaces those."""
    captures = changes.pop(
        "captures", [{"core:sample_start": 0, "core:frequency": 98e6, "core:datetime": "2026-03-14T10:30:00Z"}]
    )
    entries: dict[str, Any] = {"core:datatype": datatype, "core:sample_rate": 2.4e6, "core:version": "1.2.0"}
    for name, value in changes.items():
        entries[name.replace("_", ":", 1)] = value
    return {"global": {k: v for k, v in entries.items() if v is not None}, "captures": captures, "annotations": []}


def pair(folder: Path, name: str, data: bytes, meta: object) -> Path:
    """A SigMF pair; returns the metadata's path. `meta` is an object, or the text itself as bytes."""
    (folder / f"{name}.sigmf-data").write_bytes(data)
    path = folder / f"{name}.sigmf-meta"
    path.write_bytes(meta if isinstance(meta, bytes) else json.dumps(meta).encode())
    return path


def archive(path: Path, members: dict[str, bytes], form: int = tarfile.PAX_FORMAT) -> Path:
    """A tar file of the members, in their order."""
    with tarfile.open(path, "w", format=form) as tar:
        for name, data in members.items():
            entry = tarfile.TarInfo(name)
            entry.size = len(data)
            tar.addfile(entry, io.BytesIO(data))
    return path


def wav(
    data: bytes,
    bits: int,
    *,
    real: bool = False,
    order: str = "<",
    rate: int = 2_400_000,
    channels: int = 2,
    riff: bytes = b"",
    size: int | None = None,
    ds64_size: int | None = None,
    extensible: bool = False,
    before: bytes = b"",
    after: bytes = b"",
) -> bytes:
    """A WAV file's bytes: `size` is what the data chunk claims, `ds64_size` what an RF64 header claims."""
    block = channels * bits // 8
    tag = 3 if real else 1
    form = struct.pack(f"{order}HHIIHH", 0xFFFE if extensible else tag, channels, rate, rate * block % 2**32, block, bits)
    if extensible:
        form += struct.pack(f"{order}HHIH", 22, bits, 0, tag) + b"\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"
    head = b"WAVE"
    if ds64_size is not None:
        head += b"ds64" + struct.pack("<IQQQI", 28, ds64_size + 72, ds64_size, 0, 0)
    head += b"fmt " + struct.pack(f"{order}I", len(form)) + form + before
    claimed = len(data) if size is None else size
    head += b"data" + struct.pack(f"{order}I", claimed)
    whole = head + data + after
    kind = riff or (b"RF64" if ds64_size is not None else b"RIFX" if order == ">" else b"RIFF")
    total = 0xFFFFFFFF if ds64_size is not None else min(len(whole), 0xFFFFFFFF)
    return kind + struct.pack(f"{order}I", total) + whole


def use(path: Path, raw: RawFormat | None = None, centre_hz: float | None = 98e6) -> bool:
    """Read a file as a user would and hold what comes to what a capture promises; False where it was refused in one line."""
    try:
        captures = read(path, raw, centre_hz)
    except RecordingError as error:
        line = str(error)
        assert line.isprintable()
        return False
    assert captures
    for capture in captures:
        samples = capture.samples
        assert len(samples) > 0
        for start in {0, len(samples) // 2, len(samples) - 3, -5}:
            assert np.isfinite(samples.frames(start, 3, 16, 12).view(np.float32)).all()
        assert 1e3 <= capture.rate_hz <= 1e9
        assert 0 <= capture.centre_hz <= 1e11
        assert capture.started_utc == "" or capture.started_utc.endswith("Z")
        assert all(
            word.isprintable() for word in (capture.name, capture.rig, capture.survey_id, *capture.notes, *capture.remarks)
        )
        assert not any(";" in word or word == "" for word in capture.remarks)
    return True


def good_files() -> dict[str, bytes]:
    """One good file of each kind, by name."""
    data = stored(signal(200), "ci16_le")
    two = [{"core:sample_start": 0, "core:frequency": 89e6}, {"core:sample_start": 90, "core:frequency": 91e6}]
    meta = json.dumps(metadata("ci16_le", captures=two, bandscan_rig="loft", bandscan_gain_db=3.5)).encode()
    with tempfile.TemporaryDirectory() as place:
        members = {"x/x.sigmf-meta": meta, "x/x.sigmf-data": data}
        tars = [archive(Path(place, "x"), members, form).read_bytes() for form in (tarfile.PAX_FORMAT, tarfile.GNU_FORMAT)]
    return {
        "meta": meta,
        "pax.sigmf": tars[0],
        "gnu.sigmf": tars[1],
        "plain.wav": wav(data, 16),
        "big.wav": wav(stored(signal(200), "ci24_be"), 24, order=">", extensible=True),
        "long.wav": wav(stored(signal(200), "cf32_le"), 32, real=True, size=0xFFFFFFFF, ds64_size=1600),
        "stream.wav": wav(data, 16, size=0, before=b"LIST\x05\x00\x00\x00hello\x00"),
        "bare.iq": stored(signal(200), "cf32_le"),
    }


def put(place: Path, name: str, data: bytes) -> Path:
    """The file in a folder; metadata come with their data."""
    if name == "meta":
        return pair(place, "x", stored(signal(200), "ci16_le"), data)
    (place / name).write_bytes(data)
    return place / name


def link(at: Path, to: Path) -> None:
    """A link from `at` to a file or folder; the test is skipped where this system or user may not make links."""
    try:
        at.symlink_to(to, target_is_directory=to.is_dir())
    except (OSError, NotImplementedError):
        pytest.skip("this system or user may not make links")
