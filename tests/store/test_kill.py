"""Writers killed in the middle of it, and two programs in one shop: store, through the pipeline's own steps."""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import sqlite3
import time
from collections import Counter
from contextlib import closing
from multiprocessing.connection import Connection, wait
from pathlib import Path

import pytest
from made import all_stations, measured

from bandscan.model import Measured
from bandscan.store import Log
from bandscan.survey import gather, group

NOW = "2026-03-01T12:00:00Z"
GAP_S = 1800.0
ROUNDS = 20
PATIENCE_S = 60.0  # twice what the log waits for another program

pytestmark = pytest.mark.skipif(
    "fork" not in multiprocessing.get_all_start_methods(),
    reason="writers are forked, so that they start at once and can be killed",
)


def one(writer: int, number: int) -> Measured:
    """A recording of a writer; two in a row are within half an hour of each other, then two hours pass."""
    started = (
        f"2026-{1 + number // 240 % 12:02d}-{1 + number // 24 % 10:02d}T{number // 2 * 2 % 24:02d}:{number % 2 * 20:02d}:00Z"
    )
    return measured(f"w{writer}-{number}", started, rig=f"rig{writer % 2}", digest=f"w{writer}-{number}")


def write(path: Path, writer: int, tell: Connection) -> None:
    """Log recordings and surveys without end, and report each as soon as it is said to be done."""
    with Log(path) as log:
        number = 0
        while True:
            recording = one(writer, number)
            log.keep_measured(recording.digest, "s", Path("x"), [recording], complete=True, now_utc=NOW)
            tell.send(f"measured {recording.digest}")
            with log.transaction():
                fresh = log.fresh([recording.digest])
                for members in group([*fresh, *log.fellows(fresh, GAP_S)]):
                    for survey in gather(members, decide=all_stations):
                        log.put_survey(survey, members, "0.1.0", NOW)
            tell.send(f"surveyed {recording.digest}")
            number += 1


def reported(listen: Connection) -> list[str]:
    """All that a writer reported before it ended."""
    lines = []
    try:
        while True:
            lines.append(listen.recv())
    except EOFError:
        return lines


def test_two_writers_killed_at_any_moment_lose_nothing_that_they_reported(tmp_path: Path) -> None:
    """Two writers in one log, killed with SIGKILL at 20 random moments: the log is sound, all that was reported is in it."""
    context = multiprocessing.get_context("fork")
    path = tmp_path / "log.sqlite"
    dice = random.Random(11)
    claims: set[str] = set()
    for turn in range(ROUNDS):
        writers, ears = [], []
        for writer in (2 * turn, 2 * turn + 1):
            listen, tell = context.Pipe(duplex=False)
            process = context.Process(target=write, args=(path, writer, tell))
            process.start()
            tell.close()
            writers.append(process)
            ears.append(listen)
        # a moment is so many reports and a little more, so that a busy machine has as much behind it as a free one
        for _ in range(dice.randint(1, 4)):
            ready = wait(ears, PATIENCE_S)
            assert ready, "no writer reports anything"
            claims.add(ready[0].recv())
        time.sleep(dice.uniform(0.0, 0.03))
        for process in writers:
            os.kill(process.pid or 0, signal.SIGKILL)
        for process, ear in zip(writers, ears, strict=True):
            process.join(PATIENCE_S)
            assert process.exitcode == -signal.SIGKILL
            claims |= set(reported(ear))
        with closing(sqlite3.connect(path)) as database:
            assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert database.execute("PRAGMA foreign_key_check").fetchall() == []
    assert {claim.split()[0] for claim in claims} == {"measured", "surveyed"}
    with Log(path) as log:
        for claim in claims:
            what, digest = claim.split()
            kept = log.measured(digest, "s")
            assert kept is not None
            assert len(kept[0].readings) == 3
            if what == "surveyed":
                (survey,) = log.surveys_of([digest])
                assert digest in set(survey.rows["recording"])
        halves = log.rows(
            "SELECT survey FROM surveys WHERE NOT EXISTS (SELECT 1 FROM stations WHERE owner = surveys.id)"
            " OR NOT EXISTS (SELECT 1 FROM survey_rows WHERE owner = surveys.id)"
        )
        assert halves == []


def settle_many(path: Path, writer: int, numbers: range) -> None:
    """One program that logs some recordings and gathers them."""
    with Log(path) as log:
        for number in numbers:
            recording = one(writer, number)
            log.keep_measured(recording.digest, "s", Path("x"), [recording], complete=True, now_utc=NOW)
        digests = [one(writer, number).digest for number in numbers]
        with log.transaction():
            fresh = log.fresh(digests)
            for members in group([*fresh, *log.fellows(fresh, GAP_S)]):
                for survey in gather(members, decide=all_stations):
                    log.put_survey(survey, members, "0.1.0", NOW)


def test_two_programs_in_one_shop_keep_each_recording_once(tmp_path: Path) -> None:
    """Two programs log the same and neighbouring recordings at once: each recording is in the log once, in one survey."""
    context = multiprocessing.get_context("fork")
    path = tmp_path / "log.sqlite"
    both = [context.Process(target=settle_many, args=(path, writer, range(12))) for writer in (0, 0, 2)]
    for process in both:
        process.start()
    for process in both:
        process.join(120)
    assert [process.exitcode for process in both] == [0, 0, 0]
    with Log(path) as log:
        names = Counter(name for (name,) in log.rows("SELECT name FROM recordings"))
        assert names == Counter({f"w{writer}-{number}": 1 for writer in (0, 2) for number in range(12)})
        members = Counter(number for (number,) in log.rows("SELECT recording FROM survey_recordings"))
        assert set(members.values()) == {1}
        assert len(members) == 24
        # both writers are on rig0: starts of the same hour are one survey of four recordings
        assert {row[4] for row in log.contents()["surveys"]} == {4}
