"""Which files are recordings: named ones, folders, pairs, and everything else that lies about."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from source.made import link, metadata, pair

from bandscan.errors import RecordingError
from bandscan.source import RawFormat, find, read

RAW = RawFormat("cu8", 2.4e6, 98e6)


def names(paths: list[Path], below: Path) -> list[str]:
    return [path.relative_to(below).as_posix() for path in paths]


def test_a_folder_gives_each_recording_once_and_sorted(tmp_path: Path) -> None:
    """A pair is one recording, folders are walked, hidden ones and other files are passed over."""
    deep = tmp_path / "day 2" / "am"
    deep.mkdir(parents=True)
    (tmp_path / ".hidden").mkdir()
    pair(tmp_path, "b", bytes(10), metadata())
    pair(tmp_path, "fm-98.1", bytes(10), metadata())
    pair(deep, "a", bytes(10), metadata())
    pair(tmp_path / ".hidden", "c", bytes(10), metadata())
    for other in ("readme.txt", "picture.png", "bare.iq", "._b.sigmf-meta"):
        (tmp_path / other).write_bytes(bytes(10))
    want = ["b.sigmf-meta", "day 2/am/a.sigmf-meta", "fm-98.1.sigmf-meta"]
    assert names(find([tmp_path]), tmp_path) == want
    assert names(find([tmp_path / "b.sigmf-data", tmp_path, tmp_path / "b.sigmf-meta"]), tmp_path) == want


def test_bare_samples_in_a_folder_are_taken_only_with_a_format(tmp_path: Path) -> None:
    """The data of a pair are never bare samples; data without metadata are, once the caller says how they are stored."""
    pair(tmp_path, "whole", bytes(10), metadata())
    for other in ("bare.iq", "loud.CU8", "notes.txt", "orphan.sigmf-data"):
        (tmp_path / other).write_bytes(bytes(10))
    assert names(find([tmp_path], RAW), tmp_path) == ["bare.iq", "loud.CU8", "orphan.sigmf-data", "whole.sigmf-meta"]
    assert names(find([tmp_path]), tmp_path) == ["orphan.sigmf-data", "whole.sigmf-meta"]
    assert read(tmp_path / "orphan.sigmf-data", RAW)[0].name == "orphan"
    assert read(tmp_path / "whole.sigmf-data", RAW)[0].started_utc == "2026-03-14T10:30:00Z"


def test_a_named_file_may_have_any_ending(tmp_path: Path) -> None:
    """Who names a file means it; what it is shows when it is read."""
    path = tmp_path / "capture.today"
    path.write_bytes(bytes(10))
    assert find([path]) == [path]
    assert find([path], RAW) == [path]
    assert len(read(path, RAW)[0].samples) == 5


def test_a_folder_of_thousands_of_other_files_is_quick(tmp_path: Path) -> None:
    """Three recordings among 3000 other files are found without opening any."""
    for number in range(3000):
        (tmp_path / f"photo-{number:04}.jpg").touch()
    for name in "abc":
        pair(tmp_path, name, bytes(10), metadata())
    started = time.perf_counter()
    assert len(find([tmp_path])) == 3
    assert time.perf_counter() - started < 5


def test_what_is_not_there_is_named(tmp_path: Path) -> None:
    """A path that does not exist and a folder without recordings are refused, each by name."""
    with pytest.raises(RecordingError) as caught:
        find([tmp_path / "gone.wav"])
    assert str(caught.value) == f"{tmp_path / 'gone.wav'}: is not there; accepted: a recording or a folder of recordings"
    with pytest.raises(RecordingError) as caught:
        find([tmp_path])
    assert str(caught.value).startswith(f"{tmp_path}: holds no recording; accepted: SigMF pairs (.sigmf-meta with .sigmf-data)")
    with pytest.raises(RecordingError, match=r"gone\.wav: is not there; accepted: a recording"):
        read(tmp_path / "gone.wav")


def test_a_loop_of_links_ends(tmp_path: Path) -> None:
    """A link back to its own folder does not make the walk go round."""
    pair(tmp_path, "a", bytes(10), metadata())
    link(tmp_path / "again", tmp_path)
    assert names(find([tmp_path]), tmp_path) == ["a.sigmf-meta"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_refused_without_waiting(tmp_path: Path) -> None:
    """Opening a pipe that nobody writes would wait for ever."""
    os.mkfifo(tmp_path / "pipe.wav")
    with pytest.raises(RecordingError, match=r"pipe\.wav: is no regular file"):
        read(tmp_path / "pipe.wav", RAW)


def test_a_folder_is_no_recording(tmp_path: Path) -> None:
    """`read` takes one recording; folders go through `find`."""
    with pytest.raises(RecordingError, match="is no regular file; accepted: a recording; folders through `find`"):
        read(tmp_path)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the super-user may read everything")
def test_a_file_that_may_not_be_read_is_one_line(tmp_path: Path) -> None:
    """A permission that is missing is said as such."""
    path = pair(tmp_path, "a", bytes(10), metadata())
    path.chmod(0)
    with pytest.raises(RecordingError, match="cannot be read: Permission denied; check the disk and who may read it"):
        read(path)
