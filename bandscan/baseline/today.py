"""The day's survey held against the reference list: what is off the air today, and how levels and noise stand.

A station off the air today is not held against a radio. Where levels or noise are not what they usually are, a good set follows
other stations than usual, but which depends on the radio's own noise, which a receiver cannot tell: a set that hears the noise
of the place loses what the stations came nearer to it, one that hears its own noise loses what the levels fell. The reference
threshold is taken as moved by the middle of what that allows, none included, with an even doubt over all of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from bandscan import tables
from bandscan.baseline.changes import many_at_once
from bandscan.baseline.deaf import LOOK_AT, held_share, is_deaf, of_those_due
from bandscan.baseline.places import misplaced
from bandscan.model import UNKNOWN_DAY_SD_DB, Baseline, Reference, Survey
from bandscan.plans import plan_for, spans_text

NEAR_S = 2 * 3600.0  # a survey within this of the sweep tells its conditions
USUAL_DAY_SD_DB = 0.7  # where a survey tells them: what a check counts with in any case
SHIFT_DB = 3.0  # a common shift of less is ordinary from day to day
_ALIKE_DB = 1.5  # levels and noise that move together: the medians of many stations are surer than that
_UNUSUAL_DB = 2.0  # less than this moves no threshold (3 dB for one station: common practice; here a median of many)
_SURELY_SEEN_DB = 6.0  # a station that would stand so far over today's noise and is not there is off the air
_LEAST_STATIONS = 5
_SURVEYS = 99  # so many surveys without it, and the chance that it is on the air is 1 in 100


@dataclass(frozen=True, eq=False)
class Conditions:
    """One band of today.

    `baseline` is the list as it stands today: stations off the air have `seen` 0, levels over noise are today's. `loses_db`
    are the least and the most that a good set may lose against an ordinary day, 0 and 0 where that is ordinary. `facts` go
    with the check.
    """

    baseline: Baseline
    loses_db: tuple[float, float]
    facts: dict[str, Any]
    cautions: tuple[str, ...]

    def reference(self, given: Reference) -> Reference:
        """A good set's threshold today: moved by the middle of what it may lose, with an even doubt over all of it."""
        low, high = self.loses_db
        if self.facts["level_db"] is None:
            return unknown_day(given)  # the survey does not tell them
        if given.threshold_db is None or low == high:
            return given
        doubt_db = math.hypot(given.sd_db or 0.0, (high - low) / math.sqrt(12.0))
        return replace(given, threshold_db=given.threshold_db + (low + high) / 2.0, sd_db=doubt_db)


def unknown_day(given: Reference) -> Reference:
    """A good set's threshold on a day of which there is no survey: the same, with the doubt of such a day."""
    if given.sd_db is None:
        return given
    return replace(given, sd_db=math.sqrt(given.sd_db**2 + UNKNOWN_DAY_SD_DB**2 - USUAL_DAY_SD_DB**2))


def conditions(baseline: Baseline, survey: Survey) -> Conditions:
    """Today's conditions by the survey of the same band and rig.

    Args:
        baseline: the reference list.
        survey: today's survey.
    """
    stations, today = baseline.stations, survey.stations[~tables.blind(survey.stations)].set_index("channel_hz")
    unit = "level_dbuv" if (stations["level_unit"] == "dBuV").any() else "level_dbfs"
    unusable = _misplaced(baseline, today, unit) or _deaf(stations, today, unit)
    if unusable:
        today = today.iloc[:0]  # it tells nothing of the day
    beside = today.reindex(stations["channel_hz"]).reset_index(drop=True)
    level = beside[unit]
    level_db = _median(level - stations["level_db"])
    usual_noise = stations["level_db"] - stations["snr_db"]
    noise_db = _median(level - beside["snr_db"] - usual_noise)
    nearer_db = 0.0 if level_db is None or noise_db is None else noise_db - level_db
    off = (beside["holds"] == "empty").fillna(value=False) & (stations["snr_db"] - nearer_db >= _SURELY_SEEN_DB)
    changed = stations.assign(
        seen=stations["seen"].mask(off, 0),
        surveys=stations["surveys"].mask(off, np.maximum(stations["surveys"], _SURVEYS)),
        snr_db=stations["snr_db"] - (nearer_db if abs(nearer_db) >= _UNUSUAL_DB else 0.0),
    )
    off_air_hz = [int(hz) for hz in stations["channel_hz"][off]]
    new_hz = sorted({int(hz) for hz in today.index[today["holds"] == "station"]} - set(stations["channel_hz"]))
    return Conditions(
        replace(baseline, stations=tables.check(changed, tables.BASELINE)),
        loses_db(level_db, noise_db),
        {
            "survey": survey.id,
            "started_utc": survey.started_utc,
            "off_air_hz": off_air_hz,
            "new_hz": new_hz,
            "level_db": level_db,
            "noise_db": noise_db,
        },
        (*unusable, *_strange(baseline, new_hz), *_said(baseline, off_air_hz, level_db, noise_db)),
    )


@dataclass(frozen=True)
class Moved:
    """How far a list's levels and noise stand from an earlier one's of the same rig; medians over their stations. [dB]"""

    level_db: float
    noise_db: float

    @property
    def thresholds_db(self) -> tuple[float, float]:
        """The least and the most by which a radio's threshold is another in the new list's levels.

        Where the noise has gone the same way it is the receiver's gain, and the threshold goes with it. Else it may be the
        receiver's lead, or the antenna, which the radio has as well: then the threshold stays.
        """
        if abs(self.level_db - self.noise_db) <= _ALIKE_DB:
            return self.level_db, self.level_db
        if abs(self.level_db) < SHIFT_DB:
            return 0.0, 0.0
        return min(0.0, self.level_db), max(0.0, self.level_db)

    def caution(self, band: str) -> str:
        """What is to be said of it; empty where it is ordinary."""
        if abs(self.level_db) < SHIFT_DB:
            return ""
        said = (
            f"{band.upper()} list: its levels stand {self.level_db:+.0f} dB and its noise {self.noise_db:+.0f} dB against the"
            " list that known-good sets were swept on: "
        )
        if abs(self.level_db - self.noise_db) <= _ALIKE_DB:
            return said + "the receiver's gain is another, and their thresholds are moved with it"
        return said + "antenna, lead or gain is another, and their thresholds are less sure by that; sweep them again"


def moved(before: Baseline, now: Baseline) -> Moved | None:
    """How far a list has moved since `before`; None where they have too few stations or no level in common."""
    units = [set(one.stations["level_unit"].dropna()) for one in (before, now)]
    if units[0] != units[1]:
        return None
    beside = before.stations.set_index("channel_hz").reindex(now.stations["channel_hz"]).reset_index(drop=True)
    level, noise = (now.stations[name] - beside[name] for name in ("level_db", "snr_db"))
    level_db, nearer_db = _median(level), _median(level - noise)
    return None if level_db is None else Moved(level_db, level_db if nearer_db is None else nearer_db)


def loses_db(level_db: float | None, noise_db: float | None) -> tuple[float, float]:
    """The least and the most that a good set loses where levels and noise stand so far from the usual, 0 if ordinary. [dB]"""
    nearer_db = 0.0 if level_db is None or noise_db is None else noise_db - level_db
    fallen_db = 0.0 if level_db is None else -level_db
    low, high = min(0.0, nearer_db, fallen_db), max(0.0, nearer_db, fallen_db)
    return (low, high) if high - low >= _UNUSUAL_DB else (0.0, 0.0)


def _median(shift: pd.Series) -> float | None:
    """Median of what both know; None where that is too little. [dB]"""
    known = shift.dropna()
    return float(known.median()) if len(known) >= _LEAST_STATIONS else None


def _misplaced(baseline: Baseline, today: pd.DataFrame, unit: str) -> list[str]:
    """That the survey's stations stand in the wrong place, where they do: each would be off the air, and new beside it."""
    stations, plan = baseline.stations, plan_for(baseline.region, baseline.band)
    usual = pd.Series(float((stations["level_db"] - stations["snr_db"]).median()), index=today.index, dtype="float64")
    usual.update(stations.set_index("channel_hz")["level_db"].astype("float64"))
    usual[usual.index.isin(baseline.uncovered_hz)] = np.nan
    own = today["level_dbfs"].where(today["holds"] == "station", today["noise_dbfs"].where(today["holds"] == "empty"))
    if unit != "level_dbfs":
        return []  # the noise is told in dBFS alone
    told, known = (np.asarray(one, dtype=np.float64) for one in (own, usual))
    found = misplaced(told, known, today.index.to_numpy(np.int64), plan)
    return [f"{plan.band.upper()} today: {found}; the survey tells nothing of the day"] if found else []


def _deaf(stations: pd.DataFrame, today: pd.DataFrame, unit: str) -> list[str]:
    """That the survey holds next to nothing of the list, where it does: a dead receiver must not excuse a dead radio."""
    by_hz = stations.set_index("channel_hz")
    seen, covered, usual = (by_hz[name].reindex(today.index).to_numpy(np.float64) for name in ("seen", "surveys", "level_db"))
    held = np.asarray(today["holds"].map({"station": 1.0, "empty": 0.0}), dtype=np.float64)
    share = held_share(seen, covered)
    if not is_deaf(held, share, today[unit].to_numpy(np.float64) - usual):
        return []
    return [
        f"{stations['band'].iloc[0].upper()} today: the survey {of_those_due(held, share)} of the list: {LOOK_AT}; it tells"
        " nothing of the day, and a station off the air counts against the radio"
    ]


def _strange(baseline: Baseline, new_hz: list[int]) -> list[str]:
    """That many stations at once are not usually there, where they are: they come and go within the hour."""
    if baseline.band != "fm" or not many_at_once(len(new_hz), len(baseline.stations)):
        return []
    return [
        f"FM today: {len(new_hz)} stations at once that the list does not know, as in tropospheric ducting or sporadic E:"
        " a count is inflated, weak stations may be covered; sweep again on another day"
    ]


def _said(baseline: Baseline, off_air_hz: list[int], level_db: float | None, noise_db: float | None) -> list[str]:
    band = baseline.band.upper()
    said = []
    if off_air_hz:
        names = spans_text(baseline.band, off_air_hz, plan_for(baseline.region, baseline.band).channels_hz)
        said.append(f"{band} today: off the air, and not held against the radio: {names}")
    if level_db is None or noise_db is None:
        return said
    nearer_db = noise_db - level_db
    if abs(nearer_db) >= _UNUSUAL_DB:
        side, hears = ("nearer to", "fewer") if nearer_db > 0 else ("further over", "more")
        said.append(
            f"{band} today: stations stand {abs(nearer_db):.0f} dB {side} the noise than usual (levels {level_db:+.0f} dB,"
            f" noise {noise_db:+.0f} dB): a good set is expected to hear {hears}"
        )
    if abs(level_db) >= SHIFT_DB:
        said.append(f"{band} today: all levels {level_db:+.0f} dB against the list: look at the antenna, lead and gain")
    return said
