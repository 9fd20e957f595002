"""One contract for all readers: the same samples in every encoding and container are the same complex64."""

from __future__ import annotations

import tarfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from source.made import CODES, archive, assert_same, metadata, pair, signal, stored, wav

from bandscan.model import Capture
from bandscan.source import RawFormat, find, read

COUNT = 5000
DATATYPES = ("cu8", "ci8", "ci16_le", "ci16_be", "cf32_le", "cf32_be")


@dataclass(frozen=True)
class Container:
    """How to put data of an encoding into a file; `lost` whole bytes are missing at the file's end."""

    name: str
    encoding: str
    make: Callable[[Path, bytes, int], Path]
    raw: RawFormat | None = None


def _pair(datatype: str) -> Callable[[Path, bytes, int], Path]:
    return lambda folder, data, lost: pair(folder, "x", data[: len(data) - lost], metadata(datatype))


def _bare(folder: Path, data: bytes, lost: int) -> Path:
    path = folder / "x.iq"
    path.write_bytes(data[: len(data) - lost])
    return path


def _archive(datatype: str, form: int) -> Callable[[Path, bytes, int], Path]:
    def make(folder: Path, data: bytes, lost: int) -> Path:
        # the data stand last, so that a cut takes samples and not metadata; past them there are only zeros
        meta = pair(folder, "y", b"", metadata(datatype)).read_bytes()
        whole = archive(folder / "x.sigmf", {"x/x.sigmf-meta": meta, "x/x.sigmf-data": data}, form)
        if lost:
            with tarfile.open(whole) as tar:
                end = tar.getmember("x/x.sigmf-data").offset_data + len(data) - lost
            whole.write_bytes(whole.read_bytes()[:end])
        return whole

    return make


def _wav(encoding: str, **options: object) -> Callable[[Path, bytes, int], Path]:
    bits = {"cu8": 8, "ci16": 16, "ci24": 24, "cf32": 32}[encoding[:4]]
    order = ">" if encoding.endswith("be") else "<"

    def make(folder: Path, data: bytes, lost: int) -> Path:
        sizes = {name: len(data) if value == "right" else value for name, value in options.items()}
        whole = wav(data, bits, real=bits == 32, order=order, **sizes)  # type: ignore[arg-type]
        (folder / "x.wav").write_bytes(whole[: len(whole) - lost])
        return folder / "x.wav"

    return make


WAV_ENCODINGS = ("cu8", "ci16_le", "ci24_le", "cf32_le", "ci16_be", "ci24_be", "cf32_be")
CONTAINERS = [
    *(Container(f"pair {name}", name, _pair(name)) for name in DATATYPES),
    *(Container(f"bare {name}", name, _bare, RawFormat(name, 2.4e6, 98e6)) for name in DATATYPES),
    *(Container(f"archive pax {name}", name, _archive(name, tarfile.PAX_FORMAT)) for name in DATATYPES),
    Container("archive gnu", "cu8", _archive("cu8", tarfile.GNU_FORMAT)),
    Container("archive ustar", "ci16_le", _archive("ci16_le", tarfile.USTAR_FORMAT)),
    *(Container(f"wav {name}", name, _wav(name)) for name in WAV_ENCODINGS),
    *(Container(f"wav extensible {name}", name, _wav(name, extensible=True)) for name in WAV_ENCODINGS),
    *(Container(f"wav streamed, size 0, {name}", name, _wav(name, size=0)) for name in WAV_ENCODINGS),
    *(Container(f"wav streamed, size FFFFFFFF, {name}", name, _wav(name, size=0xFFFFFFFF)) for name in WAV_ENCODINGS),
    *(Container(f"RF64 {name}", name, _wav(name, size=0xFFFFFFFF, ds64_size="right")) for name in WAV_ENCODINGS[:4]),
    *(Container(f"RF64 streamed {name}", name, _wav(name, size=0xFFFFFFFF, ds64_size=0)) for name in WAV_ENCODINGS[:4]),
    Container("BW64", "ci24_le", _wav("ci24_le", size=0xFFFFFFFF, ds64_size="right", riff=b"BW64")),
]
STREAMED = ("size 0", "size FFFFFFFF", "RF64 streamed")


def opened(container: Container, folder: Path, lost: int = 0) -> Capture:
    path = container.make(folder, stored(signal(COUNT), container.encoding), lost)
    (found,) = find([path], container.raw)
    (capture,) = read(found, container.raw, 98e6)
    assert (capture.name, capture.rate_hz, capture.centre_hz) == ("x", 2.4e6, 98e6)
    return capture


@pytest.mark.parametrize("container", CONTAINERS, ids=lambda container: container.name)
def test_the_same_samples_come_out_of_every_container(container: Container, tmp_path: Path) -> None:
    """Whole: every sample within half a step of the quantiser, read at once or in overlapping pieces, and nothing to remark."""
    want = signal(COUNT)
    capture = opened(container, tmp_path)
    samples = capture.samples
    assert (len(samples), capture.remarks) == (COUNT, ())
    whole = samples.frames(0, 1, COUNT, 1)[0]
    assert_same(whole, want, container.encoding)
    pieces = [samples.frames(start, 4, 300, 250) for start in range(0, COUNT, 1000)]
    np.testing.assert_array_equal(np.concatenate(pieces)[:, :250].reshape(-1), whole)
    assert (samples.full_scale is None) == (CODES[container.encoding][3] is None)
    assert samples.bad_samples == 0
    said = any("never written" in note for note in capture.notes)
    assert said == any(word in container.name for word in STREAMED)
    assert len(capture.notes) == said


@pytest.mark.parametrize("lost", [1, 37, 4000])
@pytest.mark.parametrize("container", CONTAINERS, ids=lambda container: container.name)
def test_a_file_cut_short_is_used_to_its_last_whole_sample(container: Container, tmp_path: Path, lost: int) -> None:
    """Truncated: the samples before the cut are the same, and the capture says `truncated` wherever a cut can be told.

    A cut between two samples of bare data, a pair or a stream without a size leaves nothing that could tell of it.
    """
    want = signal(COUNT)
    capture = opened(container, tmp_path, lost)
    sample_bytes = {"cu8": 2, "ci8": 2, "ci16": 4, "ci24": 6, "cf32": 8}[container.encoding.split("_")[0]]
    count = (COUNT * sample_bytes - lost) // sample_bytes
    assert len(capture.samples) == count
    assert_same(capture.samples.frames(0, 1, count, 1)[0], want[:count], container.encoding)
    sized = container.name.startswith(("archive", "wav", "RF64", "BW64")) and not any(
        word in container.name for word in STREAMED
    )
    if sized or lost % sample_bytes:
        assert capture.remarks == ("truncated",)
        assert any("cut short" in note or "ends within a sample" in note for note in capture.notes)
    else:
        assert capture.remarks == ()


def test_every_reader_is_held_to_the_contract(tmp_path: Path) -> None:
    """A reader that is added without a container here is noticed."""
    from bandscan.source.open import READERS, Asked

    used = set()
    for container in CONTAINERS:
        folder = tmp_path / str(len(used)) / container.name.replace(" ", "_").replace(",", "")
        folder.mkdir(parents=True)
        path = container.make(folder, stored(signal(10), container.encoding), 0)
        asked = Asked(container.raw, 98e6)
        used.add(next(name for name, reader in READERS.items() if reader.is_mine(path, path.read_bytes()[:16], asked)))
    assert used == set(READERS)
