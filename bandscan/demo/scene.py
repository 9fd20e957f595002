"""The demo's truth: an invented workshop, what is on its air on each day, its receiver, and radios on its bench."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from bandscan.demo.stations import AmStation, FmStation, Receiver, Spur
from bandscan.plans import BandPlan, plan_for


@dataclass(frozen=True)
class OnAir:
    """A station of the scene: what it sends on an average day, how it varies from day to day, and when it is silent."""

    station: FmStation | AmStation
    fading_db: float
    off: tuple[int, ...]


@dataclass(frozen=True)
class BandScene:
    """One band: the receiver and its steps, and what is on the air."""

    band: str
    receiver: Receiver
    rate_hz: float
    seconds: float
    centres_hz: tuple[int, ...]
    on_air: tuple[OnAir, ...]
    spurs: tuple[Spur, ...]


@dataclass(frozen=True)
class RadioBand:
    """How a radio receives one band; levels in the scene's dBFS.

    Half of the stations at `threshold_dbfs` are followed, with `spread_db` as the standard deviation of what listener and
    set make of the rest; `tilt_db` is what the upper end of the band gains and the lower one loses against the middle. The
    pointer reads f + offset + stretch * (f - middle), with `reading_khz` as standard deviation, rounded to `graduation_khz`.
    """

    threshold_dbfs: float
    spread_db: float
    tilt_db: float
    lamp_dbfs: float
    offset_khz: float
    stretch: float
    reading_khz: float
    graduation_khz: float
    neighbour_db: float
    image_db: float
    ticks_sidebands: bool


@dataclass(frozen=True)
class Radio:
    """A radio on the bench: `key` names its sheet, `seed` decides its luck, `day` is whose air it hears."""

    key: str
    seed: int
    day: int
    known_good: bool
    header: dict[str, str]
    if_khz: float
    bands: dict[str, RadioBand]


@dataclass(frozen=True)
class Sample:
    """A short recording that is committed beside the scene."""

    band: str
    centre_hz: int
    seconds: float


@dataclass(frozen=True)
class Scene:
    """The whole invented workshop."""

    name: str
    place: str
    region: str
    rig: str
    seed: int
    days: tuple[datetime, ...]
    bands: dict[str, BandScene]
    radios: tuple[Radio, ...]
    samples: tuple[Sample, ...]

    def plan(self, band: str) -> BandPlan:
        """The region's plan of a band."""
        return plan_for(self.region, band)

    def levels_dbfs(self, band: str, day: int) -> dict[OnAir, float]:
        """What is on the air on `day` (1, 2, ...), and how strong."""
        levels = {}
        for on_air in self.bands[band].on_air:
            if day not in on_air.off:
                fading = np.random.default_rng([self.seed, 7, day, on_air.station.channel_hz]).standard_normal()
                levels[on_air] = on_air.station.level_dbfs + on_air.fading_db * float(fading)
        return levels
