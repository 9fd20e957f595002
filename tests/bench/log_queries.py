"""How long the log takes with 1,000,000 channel rows: python tests/bench/log_queries.py [ROWS]

Builds a log in a folder of its own that goes away again: ROWS rows of `stations`, 101 channels a survey, one survey of one rig
a day, so that the default is 27 years of them. Then it asks the log what a shop asks it, and prints each question's time, first
of three calls and quickest. Aim: under 1 s.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from bandscan import tables
from bandscan.baseline import YEAR, distil
from bandscan.model import Survey, utc_text
from bandscan.plans import plan_for
from bandscan.store import Log
from bandscan.store.cells import about, to_rows

RIG = "bench"
CHANNELS = plan_for("us", "fm").channels_hz
START = datetime(1999, 1, 1, 12, tzinfo=UTC)
AIM_S = 1.0
SURVEYS = ("survey", "band", "region", "rig", "started_utc", "version", "about", "logged_utc")


def stations(dice: np.random.Generator) -> pd.DataFrame:
    """What one survey held: a station in every fourth channel."""
    held = np.arange(len(CHANNELS)) % 4 == 0
    level = np.where(held, dice.uniform(-80, -20, len(CHANNELS)), np.nan)
    told = pd.DataFrame({"band": "fm", "channel_hz": CHANNELS}).assign(
        holds=np.where(held, "station", "empty"),
        level_dbfs=level,
        level_sd_db=np.where(held, 0.3, np.nan),
        noise_dbfs=-90.0,
        snr_db=level + 90.0,
        pilot=held,
        recordings=1,
    )
    return tables.check(told.reindex(columns=tables.STATIONS.names), tables.STATIONS)


def build(path: Path, rows: int) -> None:
    """Fill a log: 500 surveys to a transaction, of 50 different ones."""
    dice = np.random.default_rng(1)
    count = rows // len(CHANNELS)
    kept = [[row[1:] for row in to_rows(stations(dice), tables.STATIONS, 0)] for _ in range(50)]
    nothing = tables.empty(tables.SURVEY), tables.empty(tables.STATIONS)
    marks = ", ".join("?" * (len(tables.STATIONS.names) + 1))
    with Log(path) as log:
        for first in range(0, count, 500):
            with log.transaction():
                for number in range(first, min(first + 500, count)):
                    started = utc_text(START + timedelta(days=number))
                    one = Survey(f"fm-{number}", "fm", "us", RIG, started, started, 20.0, False, 0.0, *nothing)
                    facts = (one.id, one.band, one.region, one.rig, started, "0", about(one), started)
                    owner = log.insert("surveys", dict(zip(SURVEYS, facts, strict=True)))
                    log.db.executemany(
                        f"INSERT INTO stations (owner, {', '.join(tables.STATIONS.names)}) VALUES ({marks})",
                        [(owner, *row) for row in kept[number % len(kept)]],
                    )
        log.keep_list("fm", "us", RIG, "2026-01-01T12:00:00Z", "csv", "{}")


def timed(what: str, ask: Callable[[], object]) -> float:
    """Print how long a question takes; gives the first call's time. [s]"""
    took = []
    for _ in range(3):
        began = time.perf_counter()
        ask()
        took.append(time.perf_counter() - began)
    print(
        f"{what:52} first {took[0]:7.3f} s, quickest {min(took):7.3f} s{'' if took[0] < AIM_S else '   over 1 s'}", flush=True
    )
    return took[0]


def main(rows: int) -> int:
    """Build, ask, print; 1 where a question took longer than 1 s."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.sqlite"
        began = time.perf_counter()
        build(path, rows)
        with Log(path) as log:
            ((found, surveys),) = log.rows("SELECT count(*), (SELECT count(*) FROM surveys) FROM stations")
        size_mb, took = path.stat().st_size / 1e6, time.perf_counter() - began
        print(f"{found} channel rows, {surveys} surveys, {size_mb:.0f} MB, made in {took:.0f} s")
        with Log(path) as log:
            day = utc_text(START + timedelta(days=30))
            slowest = max(
                timed("the latest reference list", lambda: log.latest_list("fm", RIG)),
                timed("one station's history", lambda: log.history("fm", CHANNELS[40], RIG)),
                timed("the surveys of one day", lambda: log.surveys_between("fm", RIG, "us", day[:10], day[:10] + "Z")),
                timed("surveys of the last year", lambda: log.surveys("fm", RIG, "us", YEAR.days)),
            )
            names = tables.empty(tables.NAMES)
            timed(
                "a reference list made anew, of the last year",
                lambda: distil(log.surveys("fm", RIG, "us", YEAR.days), names, day, "0"),
            )
            timed("the log's contents", log.contents)
    return int(slowest > AIM_S)


if __name__ == "__main__":
    sys.exit(main(int((*sys.argv[1:], "1000000")[0])))
