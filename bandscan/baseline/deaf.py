"""Surveys that hold next to nothing of what others hold: the antenna was off, not every station.

A station off the air is off by itself; that most of them are at once is the receiving side's. A mast of most stations
can fail too, and by day AM is emptier than by night: then what is still held stands where it usually does. So a survey is deaf
where few of the stations due are held, fewer than chance takes off, and those that are have fallen too.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy.special import bdtr

from bandscan.baseline.grid import Grid, grid_of, middle
from bandscan.model import Survey

_LEAST_DUE = 5
_SMALL_PART = 0.5  # of the stations due
_UNLIKELY = 0.01
_FALLEN_DB = 10.0  # those left of a band of which most are lost have fallen by more, since one that is found stands so far out
_SAME_HOURS_S, _DAY_S = 3 * 3600.0, 24 * 3600.0

LOOK_AT = "look at the antenna, lead and receiver"

Row = npt.NDArray[np.float64]


def held_share(seen: Row, covered: Row) -> Row:
    """How often a station is held by the surveys that cover it, by Laplace's rule of succession; NaN where it never was."""
    return np.where(seen > 0, (seen + 1.0) / (covered + 2.0), np.nan)


def deaf_surveys(surveys: Sequence[Survey]) -> tuple[npt.NDArray[np.bool_], list[str]]:
    """Which surveys are deaf, and what to say of each.

    Args:
        surveys: of one band and rig, without the rows of recordings that tell nothing.
    """
    grid = grid_of(surveys)
    gains = np.array([np.nan if one.gain_db is None else one.gain_db for one in surveys])
    level = grid.level - (gains[:, None] if np.isfinite(gains).all() else 0.0)
    others = _others(grid).astype(float)
    seen, covered = others @ np.nan_to_num(grid.held), others @ np.isfinite(grid.held).astype(float)
    share = held_share(seen, covered)
    moved_db = level - middle(level)
    deaf = np.array([is_deaf(*row) for row in zip(grid.held, share, moved_db, strict=True)], dtype=bool)
    said = [
        f"{grid.surveys[row].band.upper()} {grid.told(int(row))}: {of_those_due(grid.held[row], share[row])} that other surveys"
        f" hold: {LOOK_AT}; this survey is left out"
        for row in np.flatnonzero(deaf)
    ]
    return deaf, said


def is_deaf(held: Row, share: Row, moved_db: Row) -> bool:
    """Whether a survey that holds this is deaf.

    Args:
        held: by channel, 1 a station, 0 nothing, NaN where it is not covered or not sure.
        share: how often a station is held there; NaN where none is.
        moved_db: levels against the usual; NaN where there is none.
    """
    due = np.isfinite(held) & np.isfinite(share)
    expected, found = float(share[due].sum()), int((held == 1.0).sum())
    if due.sum() < _LEAST_DUE or found >= _SMALL_PART * expected:
        return False
    if bdtr(found, int(due.sum()), expected / due.sum()) >= _UNLIKELY:
        return False
    left = moved_db[(held == 1.0) & np.isfinite(moved_db)]
    return found == 0 or (len(left) > 0 and float(np.median(left)) <= -_FALLEN_DB)


def of_those_due(held: Row, share: Row) -> str:
    """`holds 1 of the 17 stations`: what to say of a deaf survey, arguments as in `is_deaf`."""
    due = np.isfinite(held) & np.isfinite(share)
    return f"holds {(held[due] == 1.0).sum()} of the {due.sum()} stations"


def _others(grid: Grid) -> npt.NDArray[np.bool_]:
    """Which surveys tell what each should hold: those that hold more; on AM, where the hour decides, of the same hours."""
    found = np.nansum(grid.held, axis=1)
    fuller: npt.NDArray[np.bool_] = np.asarray(found > found[:, None])
    if grid.surveys[0].band == "fm":
        return fuller
    starts = np.array([np.nan if (when := grid.when(row)) is None else when.timestamp() for row in range(len(grid))])
    away = np.abs(starts[:, None] - starts) % _DAY_S
    return np.asarray(fuller & (np.minimum(away, _DAY_S - away) <= _SAME_HOURS_S))
