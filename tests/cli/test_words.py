"""What commands say while they run: cli/words.py."""

from __future__ import annotations

import io

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
