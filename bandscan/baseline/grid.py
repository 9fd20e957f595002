"""Surveys beside each other: what each holds and measures, channel by channel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt
import pandas as pd

from bandscan.model import Survey, parse_utc

HEARD_DB = 10.0  # a station this far over the noise is found by a survey (common practice)

Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Grid:
    """Surveys by channels: level of stations, noise [dB], NaN where not known; 1 held, 0 empty, NaN neither."""

    surveys: tuple[Survey, ...]
    channels: npt.NDArray[np.int64]
    level: Matrix
    noise: Matrix
    held: Matrix

    def __len__(self) -> int:
        return len(self.surveys)

    def pick(self, keep: npt.NDArray[np.bool_]) -> Grid:
        """Only some of the surveys."""
        chosen = tuple(one for one, stays in zip(self.surveys, keep, strict=True) if stays)
        return Grid(chosen, self.channels, self.level[keep], self.noise[keep], self.held[keep])

    def when(self, row: int) -> datetime | None:
        """Start of a survey; None where it has none."""
        return parse_utc(self.surveys[row].started_utc)

    def told(self, row: int) -> str:
        """`Tuesday 2026-03-10 17:50 UTC`."""
        when = self.when(row)
        return "a survey without a date" if when is None else f"{when:%A %Y-%m-%d %H:%M} UTC"


def grid_of(surveys: Sequence[Survey]) -> Grid:
    """The surveys, of one band, in their order, by all channels that any of them covers."""
    every = pd.concat([one.stations.assign(survey=row) for row, one in enumerate(surveys)], ignore_index=True)
    station = every["holds"] == "station"
    foreign = every["remarks"].fillna("").str.split(";").map(lambda words: "other-gain" in words)
    every = every.assign(
        level=every["level_dbfs"].where(station & ~foreign),
        # a station's row knows the noise by the difference where it does not tell it
        noise=every["noise_dbfs"].fillna(every["level_dbfs"] - every["snr_db"]),
        held=station.astype(float).where(station | (every["holds"] == "empty")),
    )
    rows = range(len(surveys))

    def matrix(name: str) -> Matrix:
        wide = every.pivot_table(index="survey", columns="channel_hz", values=name, aggfunc="first", dropna=False)
        return wide.reindex(index=rows, columns=channels).to_numpy(dtype=np.float64)

    channels = np.sort(every["channel_hz"].unique()).astype(np.int64)
    return Grid(tuple(surveys), channels, matrix("level"), matrix("noise"), matrix("held"))


def middle(values: Matrix) -> Matrix:
    """Median by channel; NaN where nothing is known."""
    return np.array([np.median(known) if len(known := one[np.isfinite(one)]) else np.nan for one in values.T])
