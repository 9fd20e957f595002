"""A day's recordings, and the few that are committed."""

from __future__ import annotations

import json
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

import numpy as np
import pytest
from places import PROJECT

from bandscan.demo import forge_survey, load_scene
from bandscan.demo.make import forge_samples

COMMITTED = PROJECT / "captures_demo"


@pytest.fixture(scope="module")
def small():
    """The scene with two FM steps and one AM recording, all short."""
    scene = load_scene()
    fm = replace(scene.bands["fm"], centres_hz=scene.bands["fm"].centres_hz[:2], seconds=0.05)
    return replace(scene, bands={"fm": fm, "am": replace(scene.bands["am"], seconds=0.1)})


def test_a_day_is_forged_step_by_step(small, tmp_path):
    """One pair per step of each band, with rig, survey, gain and a start of its own; progress counts them."""
    seen = []
    paths = forge_survey(small, 2, tmp_path, lambda done, of, name: seen.append((done, of, name)))
    assert [path.name for path in paths] == [
        "fm-day2-088800k.sigmf-meta",
        "fm-day2-090600k.sigmf-meta",
        "am-day2-001125k.sigmf-meta",
    ]
    assert seen == [(1, 3, "fm-day2-088800k"), (2, 3, "fm-day2-090600k"), (3, 3, "am-day2-001125k")]
    metas = [json.loads(path.read_text(encoding="utf-8")) for path in paths]
    starts = [meta["captures"][0]["core:datetime"] for meta in metas]
    assert starts == ["2026-04-15T18:20:00Z", "2026-04-15T18:20:05Z", "2026-04-15T18:30:00Z"]
    assert [meta["global"]["bandscan:survey"] for meta in metas] == ["fm-day2", "fm-day2", "am-day2"]
    assert {meta["global"]["bandscan:rig"] for meta in metas} == {small.rig}
    assert all(meta["global"]["bandscan:forged"] is True for meta in metas)
    assert (tmp_path / "fm-day2-088800k.sigmf-data").stat().st_size == 2 * 120_000


def test_a_pool_of_processes_makes_the_same(small, tmp_path):
    """Started afresh (spawn), other processes give the same bytes."""
    here = forge_survey(small, 1, tmp_path / "here", bands=("fm",))
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        there = forge_survey(small, 1, tmp_path / "there", pool=pool, bands=("fm",))
    for one, other in zip(here, there, strict=True):
        data = [path.with_suffix(".sigmf-data").read_bytes() for path in (one, other)]
        assert data[0] == data[1]


@pytest.mark.parametrize("with_stations", [True, False])
def test_days_and_steps_differ(small, tmp_path, with_stations):
    """Another day, or another step of the same day, is another programme and another noise."""
    if not with_stations:
        small = replace(small, bands={"fm": replace(small.bands["fm"], on_air=(), spurs=())})
    paths = [path for day in (1, 2) for path in forge_survey(small, day, tmp_path, bands=("fm",))]
    data = [np.fromfile(path.with_suffix(".sigmf-data"), np.uint8)[::2].astype(float) for path in paths]
    assert np.abs(np.corrcoef(data) - np.eye(4)).max() < 0.1


def test_no_recording_clips():
    """On no day and in no step do the stations' powers add up to more than -7 dBFS, so that 8 bits hold them."""
    scene = load_scene()
    for band, made in scene.bands.items():
        for day in (1, 2, 3):
            levels = {one.station.channel_hz: level for one, level in scene.levels_dbfs(band, day).items()}
            for centre_hz in made.centres_hz:
                inside = [level for at, level in levels.items() if abs(at - centre_hz) < made.rate_hz / 2]
                assert 10 * np.log10(sum(10 ** (level / 10) for level in inside)) < -7


def test_committed_recordings_are_small():
    """Each committed recording is under 5 MB, all together under 12 MB."""
    sizes = [path.stat().st_size for path in COMMITTED.glob("*.sigmf-data")]
    assert len(sizes) == 3
    assert max(sizes) < 5e6
    assert sum(sizes) < 12e6


def test_committed_recordings_are_current(tmp_path):
    """`python -m bandscan.demo` would make what is committed.

    Another processor rounds sines differently in the last bit, which can move a sample over the edge of a step: at most one
    in a thousand may differ, by one step. On the same kind of machine they are the same bytes.
    """
    for made in forge_samples(load_scene(), tmp_path):
        kept = COMMITTED / made.name
        meta, kept_meta = (json.loads(path.read_text(encoding="utf-8")) for path in (made, kept))
        for one in (meta, kept_meta):
            del one["global"]["core:sha512"], one["global"]["core:version"]
        assert meta == kept_meta, "run python -m bandscan.demo"
        new, old = (np.fromfile(path.with_suffix(".sigmf-data"), np.uint8).astype(np.int16) for path in (made, kept))
        assert new.shape == old.shape, "run python -m bandscan.demo"
        off = np.abs(new - old)
        assert off.max() <= 1, "run python -m bandscan.demo"
        assert np.mean(off != 0) <= 1e-3, "run python -m bandscan.demo"
