"""What changed between surveys: levels that moved together, a day of ducting or sporadic E, stations that came or went.

Robust medians throughout; nothing here knows how a station list is made of the surveys that stay.

- Levels: each survey's median distance from the channels' usual levels, and how much the upper half of the band moved against
  the lower. Three surveys at least, or nobody can say which is the usual one. Where they move together every time, none is.
- Opening (FM): channels held that other days do not know, though their noise would have let them through. Ducting and
  sporadic E bring many at once (5 to 30 more: common practice).
- Came, went: a run without the station that its habit makes unlikely, over a day at least.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import numpy.typing as npt

from bandscan.baseline.grid import HEARD_DB, Grid, Matrix, grid_of, middle
from bandscan.model import Survey
from bandscan.units import channel_text_unit

SHIFT_DB = 3.0  # the day alone moves one station by 3 dB, the median of many by less (common practice)
NOISE_DB = 6.0
_WIDE = 4.0 * 1.4826  # a bench that varies more from survey to survey: four standard deviations by the median's deviation
_LEAST_SURVEYS, _LEAST_CHANNELS = 3, 5
_ALONE = 0.5  # of the common scatter: what single stations have beside it is their own days, not the receiver's
_OPENING_STATIONS, _OPENING_SHARE, _NOT_USUAL = 5, 0.2, 0.2
_OTHER_DAY_S = 12 * 3600.0
_UNLIKELY = 0.01
_RUN = timedelta(hours=24)


@dataclass(frozen=True)
class Changes:
    """What was found. `kept` are the surveys that make the list, oldest first.

    `gone_hz` are channels whose station went; `since` tells from which survey on one that came counts (index into `kept`);
    `against` are reasons against the list's best grade.
    """

    kept: tuple[Survey, ...]
    gone_hz: frozenset[int]
    since: Mapping[int, int]
    said: tuple[str, ...]
    against: tuple[str, ...]


def look(surveys: Sequence[Survey]) -> Changes:
    """What changed from survey to survey.

    Args:
        surveys: of one band, rig and gain, oldest first.
    """
    grid = grid_of(surveys)
    band = surveys[0].band.upper()
    shift, tilt, noise = _moves(grid)
    shifted, said, against = _levels(grid, band, shift, tilt, noise)
    against += _noise(grid, band, noise)
    restless = _restless(grid.pick(~shifted), band, shift[~shifted], noise[~shifted])
    said += restless
    against += restless
    strangers = _strangers(grid, ~shifted, shift) if surveys[0].band == "fm" else np.zeros(len(grid), dtype=np.int64)
    usual = float(np.median(np.nansum(grid.held[~shifted], axis=1)))
    unusual = np.array([many_at_once(int(count), usual) for count in strangers])
    for row in np.flatnonzero(unusual):
        said.append(
            f"{band} {grid.told(int(row))}: {strangers[row]} stations at once that are not usually there, as in tropospheric"
            " ducting or sporadic E: this survey is left out"
        )
    stays = ~shifted & ~unusual
    rest = grid.pick(stays)
    gone, since = _came_and_went(rest, np.nan_to_num(shift[stays]))
    said += [f"{band} station went: {_named(rest, hz)}, last held {rest.told(row)}" for hz, row in gone.items()]
    said += [f"{band} station came: {_named(rest, hz)}, since {rest.told(row)}" for hz, row in since.items()]
    return Changes(rest.surveys, frozenset(gone), since, tuple(said), tuple(against))


def many_at_once(strangers: int, usual: float) -> bool:
    """Whether so many stations that are not usually there, beside so many usual ones, make a day of ducting or sporadic E."""
    return strangers >= max(_OPENING_STATIONS, _OPENING_SHARE * usual)


def _moves(grid: Grid) -> tuple[Matrix, Matrix, Matrix]:
    """Each survey's common shift, tilt and noise against the usual; NaN where it cannot be told. [dB]"""
    nothing = np.full(len(grid), np.nan)
    if len(grid) < _LEAST_SURVEYS:
        return nothing, nothing, nothing
    often = np.isfinite(grid.level).sum(axis=0) >= max(_LEAST_SURVEYS, len(grid) / 2)
    moved = grid.level[:, often] - np.nanmedian(grid.level[:, often], axis=0) if often.any() else np.empty((len(grid), 0))
    middle = np.median(grid.channels[often]) if often.any() else 0.0
    upper = grid.channels[often] > middle
    shift = _medians(moved)
    tilt = _medians(moved[:, upper]) - _medians(moved[:, ~upper])
    known = np.isfinite(grid.noise).sum(axis=0) >= max(_LEAST_SURVEYS, len(grid) / 2)
    noise = _medians(grid.noise[:, known] - np.nanmedian(grid.noise[:, known], axis=0)) if known.any() else nothing
    return shift, tilt, noise


def _medians(moved: Matrix) -> Matrix:
    """Median of each row that knows enough channels, else NaN."""
    return np.array(
        [np.median(row[np.isfinite(row)]) if np.isfinite(row).sum() >= _LEAST_CHANNELS else np.nan for row in moved]
    )


def _unusual(values: Matrix, least_db: float) -> npt.NDArray[np.bool_]:
    """Which stand apart from the usual one, by `least_db` or by what is wide on this bench."""
    away = np.abs(values - _usual(values))
    known = away[np.isfinite(away)]
    if len(known) < _LEAST_SURVEYS:
        return np.zeros(len(values), dtype=bool)
    return np.nan_to_num(away) >= max(least_db, _WIDE * float(np.median(known)))


def _usual(values: Matrix) -> float:
    """The median of what is known, 0 where nothing is."""
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else 0.0


def _levels(
    grid: Grid, band: str, shift: Matrix, tilt: Matrix, noise: Matrix
) -> tuple[npt.NDArray[np.bool_], list[str], list[str]]:
    """Surveys whose levels moved together or tilted, what to say of them, and what speaks against the list if they last."""
    said, against = [], []
    shifted, tilted = _unusual(shift, SHIFT_DB), _unusual(tilt, SHIFT_DB)
    # a tilt moves the middle too: what moved more is what is said
    mostly = np.nan_to_num(np.abs(tilt - _usual(tilt)) >= np.abs(shift - _usual(shift)))
    shifted, tilted = shifted & ~(tilted & mostly), tilted & mostly
    for unusual, values, of_tilt in ((shifted, shift, False), (tilted, tilt, True)):
        usual_db = _usual(values)
        for first, last in _episodes(unusual, np.sign(values)):
            moved_db = float(np.median(values[first : last + 1])) - usual_db
            lasts = last == len(grid) - 1
            span = f"since {grid.told(first)}" if lasts else f"from {grid.told(first)} to {grid.told(last)}"
            what = f"upper half of the {band} band" if of_tilt else f"all {band} levels"
            side = "down" if moved_db < 0 else "up"
            text = f"{what} {abs(moved_db):.0f} dB {side}{' against the lower' if of_tilt else ''} {span}"
            rose_db = float(np.median(noise[first : last + 1]))
            with_noise = not of_tilt and np.isfinite(rose_db) and abs(rose_db - moved_db) < SHIFT_DB
            look_at = "the antenna, lead, splitter and gain (the noise moved with them)" if with_noise else "the antenna"
            if lasts:
                against.append(text)
            count = last - first + 1
            said.append(
                f"{text}: look at {look_at}; {count} survey{'s' if count > 1 else ''} left out"
                + ("; if it was changed for good, give the rig another name" if lasts else "")
            )
    return shifted | tilted, said, against


def _noise(grid: Grid, band: str, noise: Matrix) -> list[str]:
    """That the newest survey's noise is higher than usual, where it is."""
    loud = _unusual(noise, NOISE_DB) & (noise > 0)
    if not loud[-1]:
        return []
    first = _episodes(loud, np.sign(noise))[-1][0]
    rise_db = float(noise[-1]) - _usual(noise)
    return [f"{band} noise {rise_db:.0f} dB over the usual since {grid.told(first)}: look for what makes it (lamps, chargers)"]


def _restless(grid: Grid, band: str, shift: Matrix, noise: Matrix) -> list[str]:
    """That levels move together from survey to survey, and little beside that, where they do: then none is usual."""
    known = np.isfinite(shift)
    if known.sum() < _LEAST_SURVEYS:
        return []
    together_db = float(np.std(shift[known], ddof=1))
    level = grid.level[known] - shift[known, None]
    alone_db = float(np.nanmedian(np.abs(level - middle(level)))) * 1.4826
    if together_db < SHIFT_DB or alone_db > _ALONE * together_db:
        return []
    beside_noise = noise - shift
    beside_noise = np.abs(beside_noise - _usual(beside_noise))[np.isfinite(beside_noise)]
    with_noise = len(beside_noise) > 0 and float(np.median(beside_noise)) < _ALONE * together_db
    look_at = "look at the antenna and lead"
    if with_noise:
        look_at = "fix the receiver's gain, its AGC off (the noise moves with them)"
    return [
        f"all {band} levels move together by {together_db:.1f} dB (standard deviation) from survey to survey, and by"
        f" {alone_db:.1f} dB each beside that: {look_at}; the levels of this list are as unsure"
    ]


def _episodes(unusual: npt.NDArray[np.bool_], side: Matrix) -> list[tuple[int, int]]:
    """First and last row of every run of unusual surveys to one side."""
    found: list[tuple[int, int]] = []
    for row in np.flatnonzero(unusual):
        if found and found[-1][1] == row - 1 and side[row] == side[row - 1]:
            found[-1] = (found[-1][0], int(row))
        else:
            found.append((int(row), int(row)))
    return found


def _strangers(grid: Grid, rest: npt.NDArray[np.bool_], shift: Matrix) -> npt.NDArray[np.int64]:
    """How many channels each survey of `rest` holds that other days do not, though they would have heard them; else 0."""
    starts = np.array([np.nan if (when := grid.when(row)) is None else when.timestamp() for row in range(len(grid))])
    noise = middle(grid.noise[rest])
    found = np.zeros(len(grid), dtype=np.int64)
    for row in np.flatnonzero(rest):
        others = rest & (np.abs(starts - starts[row]) >= _OTHER_DAY_S)
        if others.sum() < 2:
            continue
        covered = np.isfinite(grid.held[others]).sum(axis=0)
        share = np.nansum(grid.held[others], axis=0) / np.maximum(covered, 1)
        level = grid.level[row] - np.nan_to_num(shift[row])
        audible = ~(level < noise + HEARD_DB)  # where a figure is missing nothing speaks against it
        found[row] = ((grid.held[row] == 1.0) & (covered >= 2) & (share <= _NOT_USUAL) & audible).sum()
    return found


def _came_and_went(grid: Grid, shift: Matrix) -> tuple[dict[int, int], dict[int, int]]:
    """Channels whose station went, with the last survey that held it; those whose station came, with the first."""
    gone, since = {}, {}
    usual = middle(grid.level - shift[:, None])
    # silence tells something only where the station would have been heard
    audible = ~(usual + shift[:, None] < grid.noise + HEARD_DB)
    held = np.where((grid.held == 0.0) & ~audible, np.nan, grid.held)
    dated = np.array([grid.when(row) is not None for row in range(len(grid))], dtype=bool)
    for place, hz in enumerate(grid.channels):
        rows = np.flatnonzero(np.isfinite(held[:, place]) & dated)
        on = held[rows, place] == 1.0
        if on.sum() < 2 or on.all():
            continue
        first, last = int(np.argmax(on)), len(on) - 1 - int(np.argmax(on[::-1]))
        if _a_change(grid, on[:last], rows[last + 1 :], rows[last + 1 :]):
            gone[int(hz)] = int(rows[last])
        elif _a_change(grid, on[first + 1 :], rows[:first], rows[first:]):
            since[int(hz)] = int(rows[first])
    return gone, since


def _a_change(grid: Grid, habit: npt.NDArray[np.bool_], silent: npt.NDArray[np.int64], over: npt.NDArray[np.int64]) -> bool:
    """Whether so many silent surveys are unlikely for a station of this habit, and `over` lasts longer than a day.

    `habit` leaves out the survey at which the silence begins or ends: it was held there by the choice of the place.
    """
    if len(silent) < 2:
        return False
    first, last = grid.when(int(over[0])), grid.when(int(over[-1]))
    share = (habit.sum() + 1.0) / (len(habit) + 2.0)  # Laplace's rule of succession
    lasts = first is not None and last is not None and last - first >= _RUN
    return bool(lasts and (1.0 - share) ** len(silent) < _UNLIKELY)


def _named(grid: Grid, hz: int) -> str:
    return channel_text_unit(grid.surveys[0].band, hz)
