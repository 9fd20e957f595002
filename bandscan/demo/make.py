"""The recordings that the receiver at the scene's workshop would make."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from bandscan.demo.forge_band import forge
from bandscan.demo.scene import Scene
from bandscan.demo.stations import Source
from bandscan.demo.write import write

Progress = Callable[[int, int, str], None]

_RETUNE_S = 5  # from one step's start to the next one's
_BAND_MIN = 10  # AM follows FM within the same half hour, as it would on the bench


@dataclass(frozen=True)
class _Recording:
    """All that one recording needs, so that another process can make it."""

    scene: Scene
    band: str
    day: int
    centre_hz: int
    seconds: float
    started: datetime
    survey_id: str
    base: Path


def forge_survey(
    scene: Scene,
    day: int,
    folder: Path,
    progress: Progress | None = None,
    pool: Executor | None = None,
    bands: tuple[str, ...] = ("fm", "am"),
) -> list[Path]:
    """Forges all recordings of `day` (1 to len(scene.days)) into `folder`, and returns the paths of their metadata.

    `progress` is called with recordings done, recordings in all, and the name of the one done. With a `pool` of processes
    they are made side by side; the result is the same.
    """
    wanted = []
    for minutes, band in enumerate(bands):
        made = scene.bands[band]
        for number, centre_hz in enumerate(made.centres_hz):
            started = scene.days[day - 1] + timedelta(minutes=_BAND_MIN * minutes, seconds=_RETUNE_S * number)
            base = folder / f"{band}-day{day}-{centre_hz // 1000:06d}k"
            wanted.append(_Recording(scene, band, day, centre_hz, made.seconds, started, f"{band}-day{day}", base))
    return _forge_all(wanted, progress, pool)


def forge_samples(scene: Scene, folder: Path) -> list[Path]:
    """Forges the few short recordings that are committed beside the scene, and returns the paths of their metadata."""
    wanted = []
    for number, sample in enumerate(scene.samples):
        started = scene.days[0] + timedelta(seconds=_RETUNE_S * number)
        base = folder / f"{sample.band}-{sample.centre_hz // 1000:06d}k"
        wanted.append(
            _Recording(scene, sample.band, 1, sample.centre_hz, sample.seconds, started, f"{sample.band}-sample", base)
        )
    return _forge_all(wanted, None, None)


def on_air(scene: Scene, band: str, day: int) -> list[Source]:
    """What can be received in a band on `day`, at that day's levels."""
    stations: list[Source] = [replace(one.station, level_dbfs=level) for one, level in scene.levels_dbfs(band, day).items()]
    return [*stations, *scene.bands[band].spurs]


def _forge_all(wanted: list[_Recording], progress: Progress | None, pool: Executor | None) -> list[Path]:
    made = []
    for path in (pool.map if pool else map)(_forge_one, wanted):
        made.append(path)
        if progress:
            progress(len(made), len(wanted), path.name.removesuffix(".sigmf-meta"))
    return made


def _forge_one(wanted: _Recording) -> Path:
    scene, made = wanted.scene, wanted.scene.bands[wanted.band]
    forged = forge(
        on_air(scene, wanted.band, wanted.day),
        made.receiver,
        wanted.centre_hz,
        made.rate_hz,
        wanted.seconds,
        seed=(scene.seed, wanted.day, wanted.centre_hz),
    )
    return write(
        forged,
        wanted.base,
        started_utc=wanted.started.strftime("%Y-%m-%dT%H:%M:%SZ"),
        rig=scene.rig,
        survey_id=wanted.survey_id,
        gain_db=made.receiver.gain_db,
    )
