"""The recordings that a receiver at the scene's workshop would make on one day."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

from bandscan.demo.forge_band import forge
from bandscan.demo.scene import Scene
from bandscan.demo.stations import Source
from bandscan.demo.write import write

Progress = Callable[[int, int, str], None]

_RETUNE_S = 5  # from one step's start to the next one's


@dataclass(frozen=True)
class _Step:
    """All that one recording needs, so that another process can make it."""

    scene: Scene
    band: str
    day: int
    number: int
    folder: Path
    encoding: str


def forge_survey(
    scene: Scene,
    day: int,
    folder: Path,
    progress: Progress | None = None,
    pool: Executor | None = None,
    bands: tuple[str, ...] = ("fm", "am"),
) -> list[Path]:
    """Forges all recordings of `day` (1 to len(scene.days)) into `folder`, and returns the paths of their metadata.

    `progress` is called with recordings done, recordings in all, and the name of the one done. With a `pool` of processes they
    are made side by side; the result is the same.
    """
    steps = [
        _Step(scene, band, day, number, folder, "cu8") for band in bands for number in range(len(scene.bands[band].centres_hz))
    ]
    made = []
    for path in (pool.map if pool else map)(_forge_step, steps):
        made.append(path)
        if progress:
            progress(len(made), len(steps), path.name.removesuffix(".sigmf-meta"))
    return made


def on_air(scene: Scene, band: str, day: int) -> list[Source]:
    """What can be received in a band on `day`, at that day's levels."""
    stations: list[Source] = [replace(one.station, level_dbfs=level) for one, level in scene.levels_dbfs(band, day).items()]
    return [*stations, *scene.bands[band].spurs]


def _forge_step(step: _Step) -> Path:
    scene, made = step.scene, step.scene.bands[step.band]
    centre_hz = made.centres_hz[step.number]
    band_number = ("fm", "am").index(step.band)
    forged = forge(
        on_air(scene, step.band, step.day),
        made.receiver,
        centre_hz,
        made.rate_hz,
        made.seconds,
        seed=(scene.seed, step.day, band_number, step.number),
    )
    # AM follows FM within the same half hour, as it would on the bench
    started = scene.days[step.day - 1] + timedelta(minutes=10 * band_number, seconds=_RETUNE_S * step.number)
    return write(
        forged,
        step.folder / f"{step.band}-day{step.day}-{centre_hz // 1000:06d}k",
        started_utc=started.strftime("%Y-%m-%dT%H:%M:%SZ"),
        rig=scene.rig,
        survey_id=f"{step.band}-day{step.day}",
        gain_db=made.receiver.gain_db,
    )
