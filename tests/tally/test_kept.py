"""The sheet's file under a tally: bandscan/tally/kept.py."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from bandscan.errors import InputError
from bandscan.tally.kept import Kept, rescued

POSIX = pytest.mark.skipif(os.name != "posix", reason="modes and processes as POSIX has them")


def test_each_save_replaces_the_whole_file(tmp_path: Path) -> None:
    """Folder and file are made with the first; nothing else stays in the folder."""
    kept = Kept(tmp_path / "new" / "s.csv")
    assert kept.save("one, longer\n")
    assert kept.save("two\n")
    assert kept.path.read_bytes() == b"two\n"
    assert [path.name for path in kept.path.parent.iterdir()] == ["s.csv"]


def test_the_text_is_on_the_disk_before_the_file_is_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A flat battery finds the old text or the new one: the new one is flushed first."""
    told = []
    sync, put = os.fsync, Path.replace
    monkeypatch.setattr(os, "fsync", lambda file: (told.append("flushed"), sync(file)))
    monkeypatch.setattr(Path, "replace", lambda path, other: (told.append("replaced"), put(path, other))[1])
    Kept(tmp_path / "s.csv").save("x\n")
    assert told == ["flushed", "replaced"]


def test_what_another_program_wrote_is_left_alone(tmp_path: Path) -> None:
    """The tally goes on in a new file beside it, and says that it does."""
    kept = Kept(tmp_path / "s.csv")
    kept.save("ours\n")
    (tmp_path / "s.csv").write_text("a spreadsheet's, saved meanwhile\n")
    (tmp_path / "s-2.csv").write_text("somebody's\n")
    assert not kept.save("ours, and more\n")
    assert kept.path.name == "s-3.csv"
    assert kept.save("ours, and still more\n")
    found = {path.name: path.read_text() for path in tmp_path.iterdir()}
    assert found == {
        "s.csv": "a spreadsheet's, saved meanwhile\n",
        "s-2.csv": "somebody's\n",
        "s-3.csv": "ours, and still more\n",
    }


def test_two_tallies_that_begin_at_once_do_not_share_a_file(tmp_path: Path) -> None:
    """Both chose the same free name; the second finds it taken."""
    first, second = Kept(tmp_path / "s.csv"), Kept(tmp_path / "s.csv")
    assert first.save("first\n")
    assert not second.save("second\n")
    assert (first.path.read_text(), second.path.read_text()) == ("first\n", "second\n")


def test_a_file_that_was_taken_away_is_written_again(tmp_path: Path) -> None:
    """Nothing of the tally is lost with it."""
    kept = Kept(tmp_path / "s.csv")
    kept.save("one\n")
    kept.path.unlink()
    assert kept.save("two\n")
    assert kept.path.read_text() == "two\n"


@POSIX
def test_a_link_stays_one(tmp_path: Path) -> None:
    """The file that it leads to is replaced, also one that is still to be made."""
    real, link = tmp_path / "sheets" / "real.csv", tmp_path / "s.csv"
    link.symlink_to(real)
    assert Kept(link).save("one\n")
    assert Kept(link).save("two\n")
    assert link.is_symlink()
    assert real.read_text() == "two\n"


@POSIX
def test_a_sheet_that_was_made_read_only_is_not_changed(tmp_path: Path) -> None:
    """Neither at the opening nor later, whoever asks, root included; made writable again it takes all of it."""
    sheet = tmp_path / "s.csv"
    kept = Kept(sheet)
    kept.save("one\n")
    sheet.chmod(0o444)
    for write in (lambda: Kept(sheet), lambda: kept.save("two\n")):
        with pytest.raises(InputError, match=r"s\.csv: the sheet is read-only; make it writable$"):
            write()
    assert (sheet.read_text(), sheet.stat().st_mode & 0o777) == ("one\n", 0o444)
    sheet.chmod(0o644)
    assert kept.save("two\n")


@POSIX
def test_a_sheet_keeps_its_mode(tmp_path: Path) -> None:
    """Who might read it before may do so after, and nobody else."""
    sheet = tmp_path / "s.csv"
    sheet.write_text("one\n")
    sheet.chmod(0o660)
    Kept(sheet).save("two\n")
    assert sheet.stat().st_mode & 0o777 == 0o660


@POSIX
def test_drafts_of_tallies_that_were_killed_go(tmp_path: Path) -> None:
    """Those of this sheet and of processes that are no more, and nothing else."""
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    mine = f".s[1].csv.{dead.pid}.new"
    others = [f".s[1].csv.{os.getpid()}.new", f".s1.csv.{dead.pid}.new", ".s[1].csv.old.new", f"s[1].csv.{dead.pid}.new"]
    for name in (mine, *others):
        (tmp_path / name).write_text("half a sh")
    Kept(tmp_path / "s[1].csv")
    assert {path.name for path in tmp_path.iterdir()} == set(others)


def test_where_it_could_not_be_saved_beside_is_still_to_be_said(tmp_path: Path) -> None:
    """A new file that failed is not taken for the one it was once it succeeds."""
    kept = Kept(tmp_path / "s.csv")
    kept.save("ours\n")
    (tmp_path / "s.csv").write_text("somebody's, and longer\n")
    draft = tmp_path / f".s-2.csv.{os.getpid()}.new"
    draft.mkdir()
    with pytest.raises(InputError, match=r"s-2\.csv: cannot be written"):
        kept.save("ours, too\n")
    draft.rmdir()
    assert not kept.save("ours, too\n")
    assert (kept.path.name, kept.path.read_text()) == ("s-2.csv", "ours, too\n")


def test_a_rescued_sheet_is_whole_in_the_temp_folder_or_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each has a file of its own; one that could not be finished is taken away again."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    assert [rescued(text).read_text() for text in ("one\n", "two\n")] == ["one\n", "two\n"]

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        rescued("three\n")
    assert len(list(tmp_path.iterdir())) == 2


def test_what_cannot_be_written_is_said_in_one_line(tmp_path: Path) -> None:
    """Where, why and what to do; no draft stays behind."""
    (tmp_path / "taken").write_text("a file where the folder should be")
    with pytest.raises(InputError, match=r"s\.csv: cannot be written: .*; make room, or close it in the other program"):
        Kept(tmp_path / "taken" / "s.csv").save("x\n")
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]
