"""What commands say while they run: cli/words.py."""

from __future__ import annotations

import io
import os
from pathlib import Path

import pytest

from bandscan.cli import words


def said(monkeypatch: pytest.MonkeyPatch, *, plain: bool) -> list[str]:
    """The lines of a run of 100 recordings that take 3 s each, with no terminal to see it."""
    stream, now_s = io.StringIO(), [0.0]
    monkeypatch.setattr("sys.stderr", stream)
    monkeypatch.setattr("bandscan.cli.words.time.monotonic", lambda: now_s[0])
    with words.progress("measuring", plain=plain) as step:
        for done in range(1, 101):
            now_s[0] += 3.0
            step(done, 100, "name")
    return stream.getvalue().splitlines()


def test_where_there_is_no_terminal_a_line_comes_every_ten_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    """Steps of 3 s give a line every 12 s, none for the last of all."""
    lines = said(monkeypatch, plain=True)
    assert len(lines) == 24
    assert (lines[0], lines[-1]) == ("measuring: 4 of 100", "measuring: 96 of 100")


def test_unasked_there_is_no_line_where_there_is_no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """A capture that runs all day from a timer stays quiet."""
    assert said(monkeypatch, plain=False) == []


def test_a_path_cannot_steer_a_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Escape codes and marks that turn the writing round are shown as `?`; an ordinary name stays as it is."""
    monkeypatch.chdir(tmp_path)
    assert words.shown(tmp_path / "job\x1b[31m\u202e 17" / "check.html") == '"job?[31m? 17/check.html"'.replace("/", os.sep)
    assert words.shown(tmp_path / "Größe" / "check.html") == f"Größe{os.sep}check.html"
