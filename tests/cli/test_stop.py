"""A survey that is stopped in the middle, by hand or by force, in a real process with its workers: cli, pipeline, store."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from recordings import recording

RECORDINGS = 8

pytestmark = pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="children are looked up in /proc")


def start(shop: Path) -> subprocess.Popen[str]:
    """A survey with two workers, in a process group of its own."""
    for number in range(RECORDINGS):
        recording(shop / "captures", name=f"r{number:02d}", started=f"2026-04-14T{number:02d}:00:00Z")
    line = [sys.executable, "-m", "bandscan", "--shop", str(shop), "survey", "--workers", "2"]
    return subprocess.Popen(line, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True)


def logged(shop: Path) -> int:
    """Recordings in the log so far."""
    try:
        with closing(sqlite3.connect(f"{(shop / 'log.sqlite').as_uri()}?mode=ro", uri=True)) as database:
            return int(database.execute("SELECT count(*) FROM recordings").fetchone()[0])
    except sqlite3.OperationalError:
        return 0


def wait_for(what: Callable[[], bool], seconds: float = 120.0) -> None:
    """Until it is so."""
    deadline = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < deadline
        time.sleep(0.02)


def children(process: int) -> set[int]:
    """Processes that a process has started, and theirs."""
    found: set[int] = set()
    for task in Path(f"/proc/{process}/task").glob("*/children"):
        for child in task.read_text().split():
            found |= {int(child)} | children(int(child))
    return found


def again(shop: Path) -> str:
    """What the same survey says when it is run again."""
    line = [sys.executable, "-m", "bandscan", "--shop", str(shop), "survey"]
    done = subprocess.run(line, capture_output=True, text=True, timeout=300, check=True)
    assert logged(shop) == RECORDINGS
    with closing(sqlite3.connect(shop / "log.sqlite")) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert database.execute("SELECT count(*) FROM surveys").fetchall() == [(RECORDINGS,)]
    return done.stderr


def test_a_killed_survey_leaves_no_process_behind_and_is_taken_up(tmp_path: Path) -> None:
    """kill -9 in the middle: the workers end by themselves, and the next run measures only what the log has not got."""
    shop = tmp_path / "shop"
    running = start(shop)
    wait_for(lambda: logged(shop) >= 2)
    workers = children(running.pid)
    assert len(workers) >= 2
    running.kill()
    running.communicate(timeout=60)
    kept = logged(shop)
    assert 2 <= kept < RECORDINGS
    wait_for(lambda: not any(Path(f"/proc/{worker}/task").is_dir() for worker in workers), 30)
    assert f"note: {kept} of {RECORDINGS} recordings are in the log already and were not measured again" in again(shop)


def test_a_survey_stopped_by_hand_says_one_line(tmp_path: Path) -> None:
    """Ctrl-C goes to the program and its workers: one line, status 130, no traceback, and what was logged stays."""
    shop = tmp_path / "shop"
    running = start(shop)
    wait_for(lambda: logged(shop) >= 2)
    os.killpg(running.pid, signal.SIGINT)
    _, said = running.communicate(timeout=60)
    assert running.returncode == 130
    assert said.splitlines()[-1] == "bandscan: stopped; what the log had by then is kept"
    assert "Traceback" not in said, said
    assert logged(shop) < RECORDINGS
    again(shop)
