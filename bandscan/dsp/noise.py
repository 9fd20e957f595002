"""The noise floor between and under stations, from the spectrum alone.

Stations fill most of a busy band, so neither a mean nor a median of the spectrum is its noise. The floor is what is lowest
nearby and flat: the spectrum is averaged in windows, and where five windows in a row agree within their scatter they are a
witness of the floor, or of a flat emission above it; skirts of stations fall too fast for that. A line is laid at the foot of
the witnesses (those above it count little, those below it much: an expectile fit), and all windows that agree with the line are
averaged about it. Near witnesses weigh most; where none is near the line is drawn on from further away, at the price of a
larger uncertainty. Where most of what is near shows the floor itself, that weighs beside the line, and a receiver's ripple
about it is followed. Without any witness the lowest windows give an upper bound.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from numpy.polynomial import Polynomial

from bandscan.dsp.response import FLAT, beyond
from bandscan.units import db, from_db

RealArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class FloorScale:
    """How a band's floor is looked for. [Hz]

    `window_hz` is averaged over; witnesses within `reach_hz` of a channel weigh fully, those further away little.
    """

    window_hz: float
    reach_hz: float


FM_FLOOR = FloorScale(window_hz=5e3, reach_hz=500e3)
AM_FLOOR = FloorScale(window_hz=400.0, reach_hz=60e3)

UNSEEN_SD_DB = 1.0  # of a floor that was nowhere seen
LEAST_WITNESSES = 3  # windows that must agree on the floor before it is more than an upper bound
_ABOVE_WEIGHT = 0.01  # weight of a point above the line against one below it
_SKIRT_WEIGHT = 1e-5  # the same for a window on a slope
_AGREES_DB = 0.1  # beyond its scatter, a window may lie this far from the line or from its neighbour
_FAR_WEIGHT = 1e-2  # weight of witnesses beyond the reach
_KNOWN_REACHES = 4.0  # witnesses further away than this say nothing
_LEVEL_PULL = 0.05  # pull of the line towards level, as a share of its weight: few points carry no slope
_SCATTER_SCALE = 1.25  # windows are chosen by what they hold, which makes them fewer than they seem (checked by simulation)
_SKIRTS_DB = 0.2  # what skirts may add where nothing but them is seen (checked by simulation)
_BELIEVED = 3.0  # a reading is believed over a floor that is so many times less sure than stated
_STRAY = 2.0  # standard uncertainties over what the others predict
_TOLD_LEAST_DB = 0.06
_DOUBTFUL_DB = 0.1  # a floor less certain than this was read from skirts, if few saw it
_WRONG_BY = (0.5, 1.0, 1.5, 2.0, 3.0)  # such a floor's own uncertainty may be so many times what is stated
_NEAR = 0.4  # of the reach: a channel and half of its neighbours, where most of the windows may see the floor themselves
_OPEN = 0.5  # this share of them
_WANDERS_DB = 3.0  # more than a receiver's ripple: a flat emission
_BEND_DB = 1.0  # a receiver's response bends towards the rate's edges, over half of it by so much at an edge
_LEANS = 0.03  # of what a slope changes over one reach: on a steep one the line is laid less well (checked by simulation)
_SLOPE_DB_PER_REACH = 0.3  # a receiver's response may change by this much unseen over one reach


@dataclass(frozen=True)
class Floor:
    """Noise density at some places [1/Hz], its standard uncertainty, and how many windows confirm it.

    seen_db, seen_sd_db: the level by the windows next to each place alone [dB], NaN where they do not show it.
    """

    density: RealArray
    sd_db: RealArray
    witnesses: npt.NDArray[np.int64]
    seen_db: RealArray
    seen_sd_db: RealArray


def noise_floor(
    density: RealArray,
    frequency_hz: RealArray,
    averages: float,
    at_hz: RealArray,
    usable_hz: float,
    scale: FloorScale,
    shape: Polynomial = FLAT,
) -> Floor:
    """Noise density at the ascending frequencies `at_hz`.

    density, frequency_hz: an averaged spectrum and its bins, ascending; shape (bins,). [1/Hz], [Hz]
    averages: independent averages in each bin (frames, less what the window makes neighbours share).
    usable_hz: only bins within this of the centre are looked at, since the edges droop. [Hz]
    shape: a response of the receiver that is known already: the line is drawn about it. [dB]
    """
    bin_hz = float(frequency_hz[1] - frequency_hz[0])
    keep = np.abs(frequency_hz) <= usable_hz
    spectrum, frequency = density[keep], frequency_hz[keep]
    # a narrow recording shows its floor in narrow places only
    window_hz = min(scale.window_hz, len(spectrum) * bin_hz / 100)
    per_window = max(1, round(window_hz / bin_hz))
    count = len(spectrum) // per_window
    level = db(np.maximum(spectrum[: count * per_window].reshape(count, per_window).mean(axis=1), 1e-30))
    place = frequency[: count * per_window].reshape(count, per_window).mean(axis=1)
    level = level - beyond(shape, place)
    scatter_db = max(4.343 / np.sqrt(max(averages * per_window, 1.0)), 0.01)
    flat = _flat(level, scatter_db)
    # the line changes slowly: where channels lie closer than half the reach it is fitted at fewer places and read between them
    at = at_hz
    if len(at_hz) > 2 and (at_hz[-1] - at_hz[0]) / (len(at_hz) - 1) < scale.reach_hz / 4:
        at = np.linspace(at_hz[0], at_hz[-1], 1 + max(1, round((at_hz[-1] - at_hz[0]) / (scale.reach_hz / 2))))
    fits = []
    for one in at:
        x = (place - one) / scale.reach_hz
        known = np.abs(x) <= _KNOWN_REACHES
        fits.append(_floor_at(x[known], level[known], flat[known], scatter_db))
    value, sd, witnesses = (np.array(column) for column in zip(*fits, strict=True))
    seen, seen_sd = _seen_near(at, place, level, flat, scatter_db, scale)
    value, sd = _wandering(value, sd, seen, seen_sd)
    value, sd, witnesses, seen, seen_sd = (np.interp(at_hz, at, column) for column in (value, sd, witnesses, seen, seen_sd))
    # a straight line over some of the rate does not follow that (checked by simulation: a droop of 2 dB at both edges); in a
    # recording not wider than the reach it cuts across both
    half_hz = float(np.abs(frequency_hz).max())
    reach = scale.reach_hz / half_hz
    bend = _BEND_DB * (min(reach, 0.5) ** 2 * (np.abs(at_hz) / half_hz) ** 3 + min(reach / 2.0, 0.6) ** 4)
    leans = _LEANS * np.abs(shape.deriv()(at_hz)) * scale.reach_hz
    sd = np.sqrt(sd**2 + bend**2 + leans**2)
    return Floor(from_db(value + shape(at_hz)), sd, np.floor(witnesses).astype(np.int64), seen + shape(at_hz), seen_sd)


def with_seen(floor: Floor) -> Floor:
    """The floor where most of what is next to a place shows it: that weighs beside the line, which is drawn over more."""
    away = floor.seen_db - db(floor.density)
    near = (np.abs(away) <= _WANDERS_DB) & (away != 0.0)
    share = np.where(near, floor.sd_db**2 / (floor.sd_db**2 + floor.seen_sd_db**2), 0.0)
    density = floor.density * from_db(share * np.where(near, away, 0.0))
    # both are of the same windows: together they are no surer than the surer of them
    return replace(floor, density=density, sd_db=np.where(near, np.fmin(floor.sd_db, floor.seen_sd_db), floor.sd_db))


def held_against(
    floor: Floor,
    at_hz: RealArray,
    change_db: RealArray,
    told_sd_db: RealArray | float,
    scale: FloorScale,
    smooth_db: RealArray | float = 0.0,
) -> Floor:
    """The floor corrected by other readings of the noise: `change_db` over it at each place, each uncertain by `told_sd_db`.

    The floor's error is taken for a Gaussian process (Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006,
    chapter 2): a rough part of its own uncertainty that changes over twice the reach, and a smooth one of `smooth_db`, as of a
    line laid wrong. Where it is doubtful its own uncertainty may be wrong by factors, weighed by how well they explain the
    readings; a floor that is sure everywhere stays as it is. NaN is no reading. One far over the floor, or over what the others
    tell, does not move it, since what a reading adds is mostly programme or a neighbour; where the floor is doubtful it is that
    much less sure.
    """
    told_sd_db, smooth_db = (np.broadcast_to(one, change_db.shape) for one in (told_sd_db, smooth_db))
    total_db = np.hypot(floor.sd_db, smooth_db)
    doubtful, rough = total_db >= _DOUBTFUL_DB, floor.sd_db >= _DOUBTFUL_DB
    apart = np.subtract.outer(at_hz, at_hz) / (2.0 * scale.reach_hz)
    likeness, smooth = np.exp(-np.abs(apart)), np.outer(smooth_db, smooth_db) * np.exp(-0.5 * apart**2)
    known = change_db <= 2.0 * np.hypot(_BELIEVED * total_db, told_sd_db)
    known = _without_strays(known, np.outer(floor.sd_db, floor.sd_db) * likeness + smooth, change_db, told_sd_db)
    if not (doubtful.any() and known.any()):
        return replace(floor, sd_db=total_db)
    change = change_db[known]
    log_weight, mean, variance = [], [], []
    for factor in _WRONG_BY:
        sd_db = np.where(rough, factor, 1.0) * floor.sd_db
        shared = (np.outer(sd_db, sd_db) * likeness + smooth)[:, known]
        own = shared[known] + np.diag(told_sd_db[known] ** 2)
        gain = np.linalg.solve(own, shared.T).T
        log_weight.append(-0.5 * change @ np.linalg.solve(own, change) - 0.5 * np.linalg.slogdet(own)[1])
        mean.append(gain @ change)
        variance.append(sd_db**2 + smooth_db**2 - (gain * shared).sum(axis=1))
    weight = np.exp(np.array(log_weight) - max(log_weight))
    weight /= weight.sum()
    moved = weight @ np.array(mean)
    spread = weight @ (np.array(variance) + np.square(mean)) - moved**2
    sd_db = np.sqrt(np.maximum(spread, 0.0))
    # a doubtful floor and a reading far over it: programme, or a floor laid too low on a slope; the truth lies between
    sd_db = np.where(doubtful & ~known, np.fmax(sd_db, (change_db - moved) / 2.0), sd_db)
    sd_db = np.where(doubtful, np.hypot(sd_db, _TOLD_LEAST_DB), sd_db)
    return replace(floor, density=floor.density * from_db(moved), sd_db=sd_db)


def _without_strays(
    known: npt.NDArray[np.bool_], shared: RealArray, change_db: RealArray, told_sd_db: RealArray
) -> npt.NDArray[np.bool_]:
    """`known` without readings that stand over what the others predict, the farthest first.

    By leaving one out of a Gaussian process (Rasmussen and Williams 2006, section 5.4.2).
    """
    left = known.copy()
    while left.sum() > 2:
        at = np.flatnonzero(left)
        inverse = np.linalg.inv(shared[np.ix_(at, at)] + np.diag(told_sd_db[at] ** 2))
        over = (inverse @ change_db[at]) / np.sqrt(np.diag(inverse))
        worst = int(np.argmax(over))
        if over[worst] < _STRAY:
            break
        left[at[worst]] = False
    return left


def _flat(level_db: RealArray, scatter_db: float) -> npt.NDArray[np.bool_]:
    """Windows that agree with the two on either side (at the ends with those they have) within scatter: no skirt does."""
    flat = np.ones(len(level_db), bool)
    for step in (1, 2):
        near = np.abs(level_db[step:] - level_db[:-step]) <= 3.0 * np.sqrt(2.0) * scatter_db + _AGREES_DB
        flat[step:] &= near
        flat[:-step] &= near
    return flat


def _closeness(distance: RealArray) -> RealArray:
    """Tri-cube weight of points by their distance in reaches, never quite nothing."""
    return (1.0 - np.minimum(np.abs(distance) / 1.2, 1.0) ** 3) ** 3 + _FAR_WEIGHT


def _floor_at(x: RealArray, y: RealArray, flat: npt.NDArray[np.bool_], scatter_db: float) -> tuple[float, float, int]:
    """Floor [dB] at x = 0 (in reaches), its standard uncertainty [dB] and how many windows confirm it."""
    closeness = _closeness(x)
    height, slope = _foot_line(x, y, flat, scatter_db, closeness)
    sd, powers = 1.0, np.stack([np.ones_like(x), x, x * x])
    for _ in range(4):
        residual = y - height - slope * x
        agree = flat & (np.abs(residual) <= 3.0 * scatter_db + _AGREES_DB)
        witnesses = int(np.count_nonzero(agree))
        if witnesses < LEAST_WITNESSES:
            # the floor was nowhere seen flat: what is lowest is an upper bound
            return height, UNSEEN_SD_DB, 0
        weight = np.where(agree, closeness, 0.0)
        one, first, second = powers @ weight
        second += _LEVEL_PULL * one
        level, lean = powers[:2] @ (weight * residual)
        # the weighted least squares line, by Cramer's rule
        scale = one * second - first * first
        rise, tilt = (second * level - first * lean) / scale, (one * lean - first * level) / scale
        height, slope = float(height + rise), float(slope + tilt)
        away = (residual - rise - tilt * x)[agree]
        spread = max(float(np.sqrt(away @ away / witnesses)), scatter_db)
        squares = powers @ (weight * weight)
        sd = spread * float(np.sqrt(squares @ (second**2, -2.0 * first * second, first**2))) / scale
    near = np.abs(x) <= 1.0
    distance = float(np.min(np.abs(x[agree])))
    share = float(np.count_nonzero(agree & near)) / max(int(np.count_nonzero(near)), 1)
    unseen = _SLOPE_DB_PER_REACH * max(distance - 0.2, 0.0)
    # in a full band even the lowest stretches hold some of the stations' skirts: half of what they may add is taken off, and
    # is the doubt
    skirts = 0.5 * _SKIRTS_DB * (1.0 - share) ** 3
    return height - skirts, float(np.sqrt((_SCATTER_SCALE * sd) ** 2 + unseen**2 + skirts**2)), witnesses


def _seen_near(
    at: RealArray, place: RealArray, level: RealArray, flat: npt.NDArray[np.bool_], scatter_db: float, scale: FloorScale
) -> tuple[RealArray, RealArray]:
    """Level [dB] and its standard uncertainty by the flat windows near each place; NaN where most are not flat."""
    seen, sd = np.full((2, len(at)), np.nan)
    for number, one in enumerate(at):
        near = np.abs(place - one) <= _NEAR * scale.reach_hz
        x, y = (place[near & flat] - one) / scale.reach_hz, level[near & flat]
        enough = max(LEAST_WITNESSES, _OPEN * near.sum())
        for _ in range(3):
            if len(y) < enough or np.ptp(x) < _NEAR:
                break
            # a parabola: a receiver's droop bends over so little already
            basis = np.vander(x, 3, increasing=True)
            inverse = np.linalg.inv(basis.T @ basis)
            curve = inverse @ basis.T @ y
            away = y - basis @ curve
            chance = _SCATTER_SCALE * max(float(np.std(away)), scatter_db) * float(np.sqrt(inverse[0, 0]))
            # what scatters more than noise does is a ripple, which no number of windows averages out
            ripple = float(np.mean(away**2)) - scatter_db**2 * (1.0 + 2.0 * np.sqrt(2.0 / len(y)))
            seen[number], sd[number] = curve[0], np.sqrt(chance**2 + max(ripple, 0.0))
            agree = np.abs(away - np.partition(away, len(away) // 2)[len(away) // 2]) <= 3.0 * scatter_db + _AGREES_DB
            x, y = x[agree], y[agree]
        else:
            continue
        seen[number] = np.nan
    return seen, sd


def _wandering(value: RealArray, sd: RealArray, seen: RealArray, seen_sd: RealArray) -> tuple[RealArray, RealArray]:
    """The line's values and uncertainties where the receiver's response wanders about it by more than both explain.

    What is seen near counts there; elsewhere the line is as unsure as it has shown itself to be.
    """
    away = seen - value
    known = np.abs(away) <= _WANDERS_DB
    off = known & (np.abs(away) > 3.0 * np.hypot(sd, seen_sd) + _AGREES_DB)
    if (rest := known & ~off).sum() >= LEAST_WITNESSES:
        sd = np.hypot(sd, np.sqrt(max(float(np.mean((away**2 - sd**2 - seen_sd**2)[rest])), 0.0)))
    if not off.any():
        return value, sd
    unseen = np.hypot(sd, _SCATTER_SCALE * float(np.sqrt(np.mean(away[known] ** 2))))
    return np.where(off, seen, value), np.where(off, np.hypot(seen_sd, _AGREES_DB / 2.0), np.where(known, sd, unseen))


def _foot_line(
    x: RealArray, y: RealArray, flat: npt.NDArray[np.bool_], scatter_db: float, closeness: RealArray
) -> tuple[float, float]:
    """Height at x = 0 [dB] and slope [dB per reach] of the line at the foot of the points.

    Only witnesses pull it up, but whatever lies lower pulls it down: no floor stands above the lowest windows.
    """
    above = np.where(flat, _ABOVE_WEIGHT, _SKIRT_WEIGHT)
    pull = _LEVEL_PULL * float(closeness.sum())
    height, slope = float(y.min()), 0.0
    moments = np.stack([np.ones_like(x), x, x * x, y, x * y])
    for _ in range(30):
        residual = y - height - slope * x
        weight = closeness * np.where(residual <= 2 * scatter_db, 1.0, above / (1.0 + (residual / 3.0) ** 2))
        one, first, second, level, lean = (float(sum_of) for sum_of in moments @ weight)
        second += pull * float(weight.max())
        # the weighted least squares line, by Cramer's rule
        scale = one * second - first * first
        before = height, slope
        height, slope = (level * second - lean * first) / scale, (one * lean - first * level) / scale
        if max(abs(height - before[0]), abs(slope - before[1])) < 1e-4:
            break
    return height, slope
