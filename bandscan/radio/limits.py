"""Where a verdict turns, and what is doubted besides."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Limits:
    """Where a verdict turns; defaults that `shop.toml` may change.

    `look_db` and `fail_db` are the contract's 6 and 10 dB. `day_sd_db` and `listener_sd_db` are what one day and one listener
    add to a threshold: two listeners are 1.4 dB apart, so that 2 dB is usual (trade practice); station by station the day is
    in the probit's spread. A list older than `max_age_days` at the time of the sweep no longer counts; `am_day_h` and
    `am_night_h` are the local hours in which AM is surely by day and by night, where the sun is not known; `am_hour` is what
    the sun says of this sweep, `day`, `night`, `critical` or empty, and `am_sun` its times in words. `antennas` are what the
    shop says of its rigs' antennas.
    """

    look_db: float = 6.0
    fail_db: float = 10.0
    day_sd_db: float = 0.7
    listener_sd_db: float = 1.0
    max_age_days: float = 180.0
    am_day_h: tuple[float, float] = (10.0, 15.0)
    am_night_h: tuple[float, float] = (20.0, 5.0)
    am_hour: str = ""
    am_sun: str = ""
    overload_share: float = 0.001
    antennas: Mapping[str, str] = field(default_factory=dict)

    @property
    def doubt_db(self) -> float:
        """Day and listener together. [dB]"""
        return math.hypot(self.day_sd_db, self.listener_sd_db)
