"""The sheet's file under a tally: bandscan/tally/kept.py."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from bandscan.errors import InputError
from bandscan.tally.kept import Kept


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


def test_what_cannot_be_written_is_said_in_one_line(tmp_path: Path) -> None:
    """Where, why and what to do; no draft stays behind."""
    (tmp_path / "taken").write_text("a file where the folder should be")
    with pytest.raises(InputError, match=r"s\.csv: cannot be written: .*; make room, or close it in the other program"):
        Kept(tmp_path / "taken" / "s.csv").save("x\n")
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]
