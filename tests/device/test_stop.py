"""A capture that is killed or stopped by hand, in a real process: nothing finished is lost, and --resume does the rest."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time

import pytest
from device.conftest import Bench

STEPS = 13
KILLS = 4  # twenty: python tests/bench/capture_kills.py
LINE = "capture --band fm --gain 28 --quick --dwell 0.06 --settle 0 --keep iq"


def start(line: str) -> subprocess.Popen[str]:
    """A command line in a process of its own, in a process group of its own."""
    command = [sys.executable, "-m", "bandscan", *line.split()]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True)


def until_tuned(bench: Bench, times: int, process: subprocess.Popen[str]) -> None:
    """Wait until the dongle was tuned so often, or the process ended."""
    deadline = time.monotonic() + 120
    while sum(call.startswith("centre") for call in bench.stand_in.calls()) <= times and process.poll() is None:
        assert time.monotonic() < deadline
        time.sleep(0.005)


def until_free(bench: Bench) -> None:
    """Wait until nobody has the dongle open: a process whose asker was killed lets it go by itself."""
    deadline = time.monotonic() + 20
    while not bench.stand_in.is_free:
        assert time.monotonic() < deadline, "the dongle's process outlived the one who asked it"
        time.sleep(0.02)


def test_kill_at_any_moment(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Killed without warning again and again: what was finished is whole and in the log or on the disk, the dongle is free, and
    taking it up costs no finished step; at the end every step is there once."""
    monkeypatch.setenv("STANDIN_PACE", "1")
    chance = random.Random(6)
    line, kills = LINE, 0
    while True:
        bench.stand_in.forget()
        process = start(line)
        if kills < KILLS:
            until_tuned(bench, chance.randrange(1, 4), process)
            time.sleep(chance.random() * 0.3)
            process.kill()
        process.communicate(timeout=120)
        until_free(bench)
        assert bench.stand_in.calls()[-2:] == ["bias 0", "close"]
        finished = len(bench.recordings())
        assert len(bench.logged()) in (finished, finished - 1)  # the one in hand
        if kills == KILLS:
            break
        kills += 1
        line = "capture --resume"
    assert process.returncode == 0
    names = [name for name, _ in bench.logged()]
    assert len(names) == len(set(names)) == finished == STEPS
    assert not list(bench.shop.captures.glob("*.journal"))


def test_a_hand_that_stops_it(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C ends it in order: the antenna voltage off, the dongle free, a line that says how to go on."""
    monkeypatch.setenv("STANDIN_PACE", "1")
    process = start(LINE)
    until_tuned(bench, 3, process)
    os.killpg(process.pid, signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "next: to go on with what was begun run: bandscan capture --resume" in said
    assert "Traceback" not in said
    until_free(bench)
    assert bench.stand_in.calls()[-2:] == ["bias 0", "close"]
    assert bench.type("capture --resume") == 0
    assert len(bench.logged()) == STEPS


def test_a_process_whose_asker_was_killed_while_the_driver_hangs(bench: Bench) -> None:
    """Even then the dongle is let go: within seconds the hanging process ends."""
    bench.stand_in.order("stall 2 2 0")
    process = start(LINE)
    until_tuned(bench, 2, process)
    process.kill()
    process.communicate(timeout=60)
    until_free(bench)
