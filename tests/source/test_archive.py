"""SigMF archives: mapped in place, one or several recordings, and what a hostile tar may ask for."""

from __future__ import annotations

import io
import json
import tarfile
from pathlib import Path

import numpy as np
import pytest
import sigmf
from source.made import archive, assert_same, metadata, signal, stored

from bandscan.errors import RecordingError
from bandscan.source import read


def text(**changes: object) -> bytes:
    return json.dumps(metadata(**changes)).encode()


def test_what_the_sigmf_library_archives_is_read(tmp_path: Path) -> None:
    """Outside check: an archive made by the reference library (sigmf 1.2 or later), data before metadata."""
    want = signal(500)
    (tmp_path / "b.sigmf-data").write_bytes(stored(want, "ci16_le"))
    theirs = sigmf.SigMFFile(
        data_file=tmp_path / "b.sigmf-data", global_info={"core:datatype": "ci16_le", "core:sample_rate": 1e6}
    )
    theirs.add_capture(0, metadata={"core:frequency": 1e6})
    theirs.archive(str(tmp_path / "evening.sigmf"))
    (capture,) = read(tmp_path / "evening.sigmf")
    assert_same(capture.samples.frames(0, 1, 500, 1)[0], want, "ci16_le")
    assert (capture.name, capture.path.name, capture.notes, capture.remarks) == ("evening", "evening.sigmf", (), ())


def test_the_sigmf_library_reads_the_tests_own_archives(tmp_path: Path) -> None:
    """Outside check: the reference library finds the same samples in the archives that these tests make."""
    want = signal(500)
    members = {"x/x.sigmf-meta": text(datatype="ci16_be"), "x/x.sigmf-data": stored(want, "ci16_be")}
    theirs = sigmf.fromfile(archive(tmp_path / "x.sigmf", members))
    assert_same(theirs.read_samples(), want, "ci16_be")


def test_several_recordings_in_one_archive_are_numbered(tmp_path: Path) -> None:
    """All captures of all recordings, in the archive's order, `NAME#k` from 0."""
    two = [{"core:sample_start": 0, "core:frequency": 89e6}, {"core:sample_start": 20, "core:frequency": 91e6}]
    members = {
        "b.sigmf-data": stored(signal(50), "cu8"),
        "b.sigmf-meta": text(captures=two),
        "deep/a.sigmf-meta": text(datatype="cf32_le"),
        "deep/a.sigmf-data": stored(signal(30), "cf32_le"),
        "readme.txt": b"what this is",
    }
    found = read(archive(tmp_path / "all.sigmf", members))
    assert [(c.name, c.centre_hz, len(c.samples)) for c in found] == [
        ("all#0", 89e6, 20),
        ("all#1", 91e6, 30),
        ("all#2", 98e6, 30),
    ]
    np.testing.assert_array_equal(found[2].samples.frames(0, 1, 30, 1)[0], signal(30))


def test_long_and_foreign_names_are_found(tmp_path: Path) -> None:
    """Names past 100 characters and beyond ASCII come in extended headers."""
    stem = "Übersicht-" + "n" * 120
    members = {f"{stem}/{stem}.sigmf-meta": text(), f"{stem}/{stem}.sigmf-data": bytes(20)}
    for form in (tarfile.PAX_FORMAT, tarfile.GNU_FORMAT):
        (capture,) = read(archive(tmp_path / "x.sigmf", members, form))
        assert len(capture.samples) == 10


def test_an_archive_cut_within_its_samples_says_what_is_missing(tmp_path: Path) -> None:
    """The samples that are there are used; their hash cannot be compared."""
    members = {"x.sigmf-meta": text(core_sha512="0" * 128), "x.sigmf-data": bytes(2_000_000)}
    path = archive(tmp_path / "x.sigmf", members)
    path.write_bytes(path.read_bytes()[:1_500_000])
    (capture,) = read(path)
    assert capture.remarks == ("truncated",)
    assert capture.notes == (
        "x.sigmf: cut short, 0.5 MB of its samples are missing",
        "x.sigmf: core:sha512 is that of the whole file and cannot be compared",
        "x.sigmf: the archive has no end mark: cut short, or damaged after its last readable member",
    )


def test_an_archive_damaged_between_its_members_gives_what_comes_before(tmp_path: Path) -> None:
    """The first recording is whole; a line says that more may have been lost."""
    members = {"a.sigmf-meta": text(), "a.sigmf-data": bytes(20), "b.sigmf-meta": text(), "b.sigmf-data": bytes(20)}
    path = archive(tmp_path / "x.sigmf", members, tarfile.USTAR_FORMAT)
    damaged = bytearray(path.read_bytes())
    damaged[2048:2060] = b"\xff" * 12  # the header of the third member: each member before it takes two blocks of 512
    path.write_bytes(damaged)
    (capture,) = read(path)
    assert (capture.name, len(capture.samples), capture.remarks) == ("x", 10, ())
    assert capture.notes == ("x.sigmf: the archive has no end mark: cut short, or damaged after its last readable member",)


def hostile(name: str, size: int, kind: bytes = tarfile.REGTYPE, data: bytes = b"") -> bytes:
    """One member as bytes, whatever its header claims."""
    entry = tarfile.TarInfo(name)
    entry.size, entry.type = size, kind
    return entry.tobuf(tarfile.GNU_FORMAT) + data + bytes(-len(data) % 512)


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ([hostile("x", 2**40, tarfile.XHDTYPE, b"9" * 4096)], "has headers that no recording needs"),
        ([hostile("x", 1, tarfile.XHDTYPE, b"1") * 4000], "has headers that no recording needs"),
        ([hostile(f"{number}", 0) for number in range(6000)], "has headers that no recording needs"),
        ([hostile("x.sigmf-meta", 10**7, data=bytes(600))], "holds too much metadata; accepted: up to 4.0 MB"),
        ([hostile("x.sigmf-meta", 1000, data=b"{")], "ends within its metadata"),
        ([hostile("x.sigmf-meta", -600, data=b"{")], "has headers that no recording needs"),
        ([hostile("x", 2**62, data=b"{")], "has headers that no recording needs"),
        ([hostile("x", 2**40, data=b"{")], "holds no metadata, or ends before them"),
        ([hostile("x.sigmf-meta", 0) * 2], "holds 'x.sigmf-meta' twice"),
        ([b"not a tar file" * 100], "is no tar file"),
    ],
)
def test_headers_that_no_recording_needs_are_refused_at_once(tmp_path: Path, parts: list[bytes], said: str) -> None:
    """Sizes beyond the file or below zero, endless headers and names given twice end in one line, never in a loop."""
    path = tmp_path / "x.sigmf"
    path.write_bytes(b"".join(parts))
    with pytest.raises(RecordingError) as caught:
        read(path)
    assert said in str(caught.value)


def test_the_data_may_not_be_a_link(tmp_path: Path) -> None:
    """A link in an archive would lead to whatever lies there on this machine."""
    path = tmp_path / "x.sigmf"
    with tarfile.open(path, "w") as tar:
        meta = tarfile.TarInfo("x.sigmf-meta")
        meta.size = len(text())
        tar.addfile(meta, io.BytesIO(text()))
        link = tarfile.TarInfo("x.sigmf-data")
        link.type, link.linkname = tarfile.SYMTYPE, "/etc/hostname"
        tar.addfile(link)
    with pytest.raises(RecordingError, match=r"its data 'x\.sigmf-data' are no plain file"):
        read(path)
