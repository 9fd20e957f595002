"""Surveys -> how often each station was there, by the hour of the day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import tzinfo

import pandas as pd

from bandscan import tables
from bandscan.baseline.cover import tells
from bandscan.baseline.deaf import deaf_surveys
from bandscan.baseline.places import misplaced_surveys
from bandscan.model import OVERLOAD_SHARE, Survey, parse_utc

HOURS_TOGETHER = 3  # a shop makes a few surveys a day: single hours would stand empty


def by_hour(surveys: Sequence[Survey], zone: tzinfo) -> pd.DataFrame:
    """HOURS: for each channel that held a station in some survey, in how many surveys of each part of the day it did.

    Surveys without a start time are left out, those with overload, whose stations are doubtful, deaf ones, and what
    stands in the wrong place.

    Args:
        surveys: of one band and rig.
        zone: the bench's time zone, in which the hours are told.
    """
    sound = [
        replace(one, stations=one.stations[~tables.blind(one.stations)])
        for one in surveys
        if one.overload_share <= OVERLOAD_SHARE
    ]
    for unusable in (misplaced_surveys, deaf_surveys):
        if sound:
            sound = [one for one, left_out in zip(sound, unusable(sound)[0], strict=True) if not left_out]
    dated = ((one, parse_utc(one.started_utc)) for one in sound)
    parts = [
        one.stations[["band", "channel_hz", "holds"]].assign(
            from_hour=moment.astimezone(zone).hour // HOURS_TOGETHER * HOURS_TOGETHER,
            seen=(one.stations["holds"] == "station").astype("int64"),
        )
        for one, moment in dated
        if moment is not None
    ]
    if not parts:
        return tables.empty(tables.HOURS)
    every = pd.concat(parts, ignore_index=True)
    every = every[tells(every)]
    counted = every.groupby(["band", "channel_hz", "from_hour"], as_index=False).agg(
        seen=("seen", "sum"), surveys=("seen", "size")
    )
    ever = counted.groupby(["band", "channel_hz"])["seen"].transform("sum") > 0
    counted["to_hour"] = counted["from_hour"] + HOURS_TOGETHER
    return tables.check(counted[ever][tables.HOURS.names], tables.HOURS)
