"""Surveys whose stations all stand in the wrong place: I and Q swapped, or a centre that is stated whole channels wrong.

Neither shows within a recording. Beside other surveys it does: the levels, channel by channel, are nowhere near the usual ones,
and are as soon as the band is mirrored about its middle, or moved by some channels.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from bandscan.baseline.grid import grid_of
from bandscan.model import Survey
from bandscan.plans import BandPlan, plan_for

_LEAST_SURVEYS = 3  # of two nobody knows which is right
_LEAST_CHANNELS, _LEAST_STATIONS, _STANDS_OUT_DB = 8, 5, 10.0
_MOST_STEPS = 5  # channels; a centre wrong by more is one for another part of the band
_APART_DB, _FAR_BETTER = 4.0, 0.4  # mean distance of levels from the usual: of ordinary days 1 to 2 dB (common practice)

Row = npt.NDArray[np.float64]


def misplaced_surveys(surveys: Sequence[Survey]) -> tuple[npt.NDArray[np.bool_], list[str]]:
    """Which surveys hold their stations in the wrong place, and what to say of each.

    Args:
        surveys: of one band and rig, at least one, without the rows of recordings that tell nothing.
    """
    wrong = np.zeros(len(surveys), dtype=bool)
    said: list[str] = []
    if len(surveys) < _LEAST_SURVEYS:
        return wrong, said
    grid, plan = grid_of(surveys), plan_for(surveys[0].region, surveys[0].band)
    known = np.where(np.isfinite(grid.held), np.where(grid.held == 1.0, grid.level, grid.noise), np.nan)
    for row in range(len(surveys)):
        found = misplaced(known[row], _usual(np.delete(known, row, axis=0)), grid.channels, plan)
        if found:
            wrong[row] = True
            said.append(f"{plan.band.upper()} {grid.told(row)}: {found}; this survey is left out")
    return wrong, said


def misplaced(own: Row, usual: Row, channels_hz: npt.NDArray[np.int64], plan: BandPlan) -> str:
    """What is wrong, if stations stand in the wrong place; else empty.

    Args:
        own: by channel, level of the station or else noise; NaN where not known. [dB]
        usual: the same as it usually is.
        channels_hz: the channels, ascending.
        plan: band plan.
    """
    apart_db = _apart_db(own, usual)
    if not apart_db >= _APART_DB or not np.isfinite(own).any():
        return ""
    # by place in the plan, so that channels that none covers leave a gap
    here, there = np.full((2, len(plan.channels_hz)), np.nan)
    places = np.searchsorted(plan.channels_hz, channels_hz)
    here[places], there[places] = own, usual
    covered = np.flatnonzero(np.isfinite(here))
    ends = int(covered[0] + covered[-1]) - (len(here) - 1)
    swapped = "stations stand mirrored about the middle of what it covers, so I and Q are swapped"
    tried = [(swapped, _moved(here[::-1], ends + lean)) for lean in (-1, 0, 1)]
    for steps in range(-_MOST_STEPS, _MOST_STEPS + 1):
        off = f"stations stand {steps * plan.step_hz / 1e3:+.0f} kHz off, so the centre is stated wrong by that"
        tried += [(off, _moved(here, -steps))] if steps else []
    fits = [(np.nan_to_num(_apart_db(put_right, there), nan=np.inf), why) for why, put_right in tried]
    best_db, why = min(fits)
    if best_db > min(_FAR_BETTER * apart_db, _APART_DB):  # put right it must be an ordinary day
        return ""
    return f"{why} (levels {apart_db:.0f} dB from the usual on average, put right {best_db:.0f} dB)"


def _usual(values: Row) -> Row:
    return np.array([np.median(known) if len(known := one[np.isfinite(one)]) >= 2 else np.nan for one in values.T])


def _moved(values: Row, steps: int) -> Row:
    """So many channels up."""
    moved = np.full(len(values), np.nan)
    if steps >= 0:
        moved[steps:] = values[: len(values) - steps]
    else:
        moved[:steps] = values[-steps:]
    return moved


def _apart_db(own: Row, usual: Row) -> float:
    """Mean distance from the usual, but for a common shift; NaN where too few channels or stations tell it. [dB]"""
    both = np.isfinite(own) & np.isfinite(usual)
    if both.sum() < _LEAST_CHANNELS:
        return np.nan
    if any((one > one[both].min() + _STANDS_OUT_DB)[both].sum() < _LEAST_STATIONS for one in (own, usual)):
        return np.nan
    away = (own - usual)[both]
    return float(np.mean(np.abs(away - np.median(away))))
