"""What stands beyond a recording's span and folds in at its other edge, told by a second recording with another centre.

A station at d from the centre, more than half the rate, appears at d - rate (or d + rate), weakened by the receiver's
decimation filter. Where the rate is a multiple of the raster nothing in that one recording tells it from a station. But a
station stays where it is when the centre moves, while the filter takes more of the alias the nearer to the centre it lies.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from bandscan.model import Measured, parse_utc
from bandscan.plans import BandPlan, plan_for
from bandscan.survey.gains import Step
from bandscan.survey.holds_am import CLOCK_ERROR
from bandscan.units import channel_text

WEAKER_DB = 3.0  # no filter adds to what it folds in; less the measurement's doubt twice
DOUBTFUL_DB = 10.0  # a filter that takes less than this at the edges is hardly one: a doubt without proof asks for more
FALLS_DB = 6.0  # a station's level at two places of the span differs by less: droop of 3 dB, and a little fading
SEEN_SNR_DB = 6.0  # what would stand this far over the noise would have been seen
FM_WITHIN_HZ = 25e3


@dataclass(frozen=True)
class Alias:
    """A channel of one recording that holds an alias: of which channel [Hz], and whether another recording proves it.

    `own` is whether a station that stays at its place was found there in a proving recording.
    """

    recording: str
    channel_hz: int
    source_hz: int
    proven: bool
    own: bool = False

    def evidence(self, band: str) -> str:
        """In words for the remarks."""
        return f"{'' if self.proven else 'perhaps-'}alias-of-{channel_text(band, self.source_hz)}"


def aliases(group: Sequence[Measured], rows: pd.DataFrame, steps: Sequence[Step]) -> list[Alias]:
    """Channels of single recordings that hold an alias of a station seen in another, or may hold one.

    `rows` are the recordings' readings with `holds` (each by itself) and `flat`.
    """
    if len({(one.centre_hz, one.rate_hz) for one in group}) < 2:
        return []
    view = _View(group, rows, steps)
    return [found for one in group for found in view.of(one)]


class _View:
    """All recordings' channels, by recording and channel, at levels that can be compared."""

    def __init__(self, group: Sequence[Measured], rows: pd.DataFrame, steps: Sequence[Step]) -> None:
        self._group = group
        self._plan: BandPlan = plan_for(group[0].region, group[0].band)
        self._steps = {(step.high.recording, step.low.recording): step.step_db for step in steps}
        starts = {one.recording: parse_utc(one.started_utc) for one in group}
        self._starts = {name: 0.0 if start is None else start.timestamp() for name, start in starts.items()}
        self._rows = {
            name: {int(row["channel_hz"]): row for row in part.to_dict("records")} for name, part in rows.groupby("recording")
        }

    def of(self, one: Measured) -> Iterator[Alias]:
        """The aliases of one recording."""
        others = [(other, self._rows[other.recording]) for other in self._beside(one)]
        for channel_hz, row in self._rows[one.recording].items():
            if row["holds"] not in ("station", "unsure", "spur") or math.isnan(row["level_dbfs"]):
                continue
            source_hz = self._source_hz(one, row)
            strong = [
                self._level_db(there[source_hz], other, one)
                for other, there in others
                if source_hz in there and there[source_hz]["holds"] == "station"
            ]
            over_db = max(strong, default=-math.inf) - row["level_dbfs"]
            if source_hz is None or over_db < WEAKER_DB:
                continue
            nearer = [
                (other, there[channel_hz])
                for other, there in others
                if channel_hz in there and self._tells(one, other, channel_hz)
            ]
            answers = [self._stays(one, row, other, there) for other, there in nearer]
            if True in answers:
                continue
            if False in answers:
                own = any(there["holds"] == "station" for _, there in nearer)
                yield Alias(one.recording, channel_hz, source_hz, proven=True, own=own)
            elif row["holds"] == "station" and not row["flat"] and over_db >= DOUBTFUL_DB:
                yield Alias(one.recording, channel_hz, source_hz, proven=False)

    def _beside(self, one: Measured) -> list[Measured]:
        """Of the recordings of every other centre, rate and gain the one nearest in time: an hour of passes holds hundreds."""
        start = self._starts[one.recording]
        nearest: dict[tuple[float, float, float | None], tuple[float, Measured]] = {}
        for other in self._group:
            place, away_s = (other.centre_hz, other.rate_hz, other.gain_db), abs(self._starts[other.recording] - start)
            if place[:2] != (one.centre_hz, one.rate_hz) and away_s < nearest.get(place, (math.inf, one))[0]:
                nearest[place] = (away_s, other)
        return [other for _, other in nearest.values()]

    def _source_hz(self, one: Measured, row: Mapping[Hashable, Any]) -> int | None:
        """The channel that would fold to where the emission of this row stands; None off the band's raster."""
        fm = self._plan.band == "fm"
        off_hz = row["centroid_hz"] if fm else row["carrier_error_hz"]
        place_hz = row["channel_hz"] + (0.0 if pd.isna(off_hz) else float(off_hz))
        from_hz = place_hz + (one.rate_hz if place_hz < one.centre_hz else -one.rate_hz)
        channels = np.array(self._plan.channels_hz)
        nearest = int(channels[np.argmin(np.abs(channels - from_hz))])
        within_hz = FM_WITHIN_HZ if fm else self._plan.carrier_tolerance_hz + CLOCK_ERROR * (nearest + one.rate_hz)
        return nearest if abs(nearest - from_hz) <= within_hz else None

    @staticmethod
    def _tells(one: Measured, other: Measured, channel_hz: int) -> bool:
        """Whether an alias there would look different in the other: at the centre's other side or nearer to it, or at
        another rate."""
        mine_hz, others_hz = channel_hz - one.centre_hz, channel_hz - other.centre_hz
        return other.rate_hz != one.rate_hz or mine_hz * others_hz < 0.0 or abs(others_hz) < abs(mine_hz)

    def _level_db(self, row: Mapping[Hashable, Any], other: Measured, one: Measured, name: str = "level_dbfs") -> float:
        """A level of another recording as it would be at the first one's gain. [dBFS]"""
        if other.gain_db is not None and one.gain_db is not None:
            return float(row[name]) + one.gain_db - other.gain_db
        up = self._steps.get((one.recording, other.recording), 0.0)
        return float(row[name]) + up - self._steps.get((other.recording, one.recording), 0.0)

    def _stays(self, one: Measured, row: Mapping[Hashable, Any], other: Measured, there: Mapping[Hashable, Any]) -> bool | None:
        """Whether the emission stands in the other recording too; None where it would not have been seen."""
        noise_db = self._level_db(there, other, one, "noise_dbfs")
        if not row["level_dbfs"] - noise_db >= SEEN_SNR_DB:
            return None
        if there["holds"] == "empty" or math.isnan(there["level_dbfs"]):
            return False
        doubt_db = 2.0 * float(np.hypot(row["level_sd_db"], there["level_sd_db"]))
        return bool(row["level_dbfs"] - self._level_db(there, other, one) <= FALLS_DB + doubt_db)
