"""Processes that measure side by side: started before the program's own libraries are loaded."""

from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import BrokenExecutor
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from recordings import FM_HIGH, FM_LOW, recording

from bandscan.pipeline import survey
from bandscan.pipeline.measuring import Wish, measure_all
from bandscan.pipeline.workers import measuring_pool


def test_starting_workers_loads_nothing_heavy() -> None:
    """The module that starts them brings neither numpy nor pandas, or the program could not load beside them."""
    asked = "import sys, bandscan.pipeline.workers; print(sorted({'numpy', 'pandas', 'scipy'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", asked], check=True, capture_output=True, text=True)
    assert done.stdout.strip() == "[]"


def test_workers_load_what_measuring_needs_before_they_are_asked() -> None:
    """What is handed to them next finds the libraries there; one worker is this process itself."""
    with measuring_pool(1) as pool:
        assert pool is None
    with measuring_pool(2) as pool:
        assert pool is not None
        loaded = [pool.submit(eval, "'bandscan.measure' in __import__('sys').modules") for _ in range(2)]
        assert any(one.result(timeout=60) for one in loaded)


def test_a_pool_started_early_gives_what_one_process_gives(tmp_path: Path) -> None:
    """The same rows from recordings measured by workers that were there before; the pool serves one survey."""
    paths = [recording(tmp_path, FM_LOW), recording(tmp_path, FM_HIGH)]
    alone = survey(paths)
    with measuring_pool(2) as pool:
        together = survey(paths, workers=2, pool=pool)
    assert not together.errors
    pd.testing.assert_frame_equal(alone.surveys[0].rows, together.surveys[0].rows)


def test_what_dead_workers_leave_is_measured_here(tmp_path: Path) -> None:
    """A worker that was stopped from outside before it was given anything costs nothing."""
    paths = [recording(tmp_path, FM_LOW), recording(tmp_path, FM_HIGH)]
    alone = survey(paths)
    with measuring_pool(2) as pool:
        assert pool is not None
        with pytest.raises(BrokenExecutor):
            pool.submit(os._exit, 1).result(timeout=60)
        rest = survey(paths, workers=2, pool=pool)
    assert not rest.errors
    pd.testing.assert_frame_equal(alone.surveys[0].rows, rest.surveys[0].rows)


def test_a_worker_that_dies_at_its_recording_costs_that_one(tmp_path: Path) -> None:
    """One clear line for the recording that it had; the others are measured, though some are left when it dies."""
    paths = [recording(tmp_path, name=f"r{number:02d}", started=f"2026-04-14T{number:02d}:00:00Z") for number in range(16)]
    with measuring_pool(2) as pool:
        assert pool is not None
        # stands before the recording that the worker is given
        pool.submit(exec, "import os, time; time.sleep(1.0); os._exit(1)")
        rest = survey(paths, workers=2, pool=pool)
    assert len(rest.errors) == 1
    assert paths[0].stem in str(rest.errors[0])
    assert "its worker was stopped from outside" in str(rest.errors[0])
    assert {name for one in rest.surveys for name in one.rows["recording"]} == {path.stem for path in paths[1:]}


def test_a_worker_is_given_the_next_one_when_it_is_done(tmp_path: Path) -> None:
    """Of many recordings a worker measures several, and each comes out once."""
    work = [(recording(tmp_path, name=f"r{number}"), f"{number}") for number in range(8)]
    handed: list[int] = []
    with measuring_pool(2) as pool:
        assert pool is not None
        pool.submit(os.getpid).result(timeout=60)  # it is there
        hand_over = pool.submit

        def noted(*given: Any) -> Any:
            handed.append(1)
            return hand_over(*given)

        pool.submit = noted  # type: ignore[method-assign]
        outcomes = list(measure_all(work, Wish("us"), 2, lambda *_: None, pool))
    assert sorted(outcome.digest for outcome in outcomes) == [f"{number}" for number in range(8)]
    assert 2 <= len(handed) <= 7
