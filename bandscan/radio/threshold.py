"""The radio's threshold on this bench: the level at which half of the stations are followed.

The likelihood of the sweeps is summed over all alignments, over the candidates of the pointer and over what is unknown about
the listener, for each threshold of a grid. Where it falls on both sides the interval is two-sided; where the sweeps bound one
side only (all heard, none heard), so does the interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d
from scipy.special import logsumexp

from bandscan.model import Interval
from bandscan.radio.align import Sweeps, find_pointers, keep_likely
from bandscan.radio.chain import posterior
from bandscan.radio.hearing import LISTENER_DB, Hearings, settings
from bandscan.radio.pointer import Pointers

FloatArray = npt.NDArray[np.float64]

STEP_DB = 0.5
# beyond the weakest and the strongest station nothing changes any more
_MARGIN_DB = 25.0
_COARSE_DB = 4.0
_HOPELESS = 12.0
_DRAWS = 24


@dataclass(frozen=True, eq=False)
class Curve:
    """Likelihood of thresholds, relative to its top: `log_value` (N,) over `at_db` (N,), evenly spaced. [dB]"""

    at_db: FloatArray
    log_value: FloatArray

    def smeared(self, centre_db: float, sd_db: float) -> Curve:
        """The likelihood of the threshold less a figure that is itself known to `sd_db` only."""
        step = float(self.at_db[1] - self.at_db[0])
        more = int(np.ceil(4.0 * sd_db / step))
        at_db = self.at_db[0] + step * np.arange(-more, len(self.at_db) + more) - centre_db
        value = np.exp(np.pad(self.log_value, more, mode="edge"))
        smooth = gaussian_filter1d(value, sd_db / step, mode="nearest", truncate=6.0)
        return Curve(at_db, np.log(np.maximum(smooth / smooth.max(), 1e-300)))

    def bound(self) -> str:
        """Which sides the sweeps bound: two-sided, upper, lower or none."""
        falls_below = self.log_value[0] < _TWO_SIDED
        falls_above = self.log_value[-1] < _TWO_SIDED
        return {(True, True): "two-sided", (False, True): "upper", (True, False): "lower"}.get(
            (falls_below, falls_above), "none"
        )

    def interval(self, *, one_sided: bool) -> Interval:
        """The 95 % interval; with `one_sided` each bound is one-sided 95 % on its own.

        From the likelihood ratio. Where only one side is bounded, its bound is the threshold at which what was heard has a
        chance of 5 % of what it has at best.
        """
        bound = self.bound()
        drop = np.log(0.05) if bound in ("upper", "lower") else _ONE_SIDED if one_sided else _TWO_SIDED
        top = float(self.at_db[int(np.argmax(self.log_value))])
        inside = np.flatnonzero(self.log_value >= drop)
        low = self._crossing(int(inside[0]) - 1, drop) if bound in ("two-sided", "lower") else None
        high = self._crossing(int(inside[-1]), drop) if bound in ("two-sided", "upper") else None
        return Interval(
            self._middle() if bound == "two-sided" else None if bound == "none" else _between(top, low, high), low, high
        )

    def _crossing(self, left: int, drop: float) -> float:
        """Where the likelihood passes `drop` between `left` and the next point. [dB]"""
        if left < 0 or left + 1 >= len(self.at_db):
            return float(self.at_db[max(left, 0)])
        a, b = self.log_value[left], self.log_value[left + 1]
        share = 0.5 if a == b else float((drop - a) / (b - a))
        return float(self.at_db[left] + share * (self.at_db[left + 1] - self.at_db[left]))

    def _middle(self) -> float:
        """Median of the likelihood's area. [dB]"""
        area = np.cumsum(np.exp(self.log_value))
        return float(np.interp(0.5 * area[-1], area, self.at_db))


_TWO_SIDED = -0.5 * 1.959964**2  # 95 % two-sided, normal deviate from scipy.stats.norm.ppf(0.975)
_ONE_SIDED = -0.5 * 1.644854**2  # 95 % one-sided, norm.ppf(0.95)


def _between(top: float, low: float | None, high: float | None) -> float | None:
    """One-sided evidence has no best value."""
    return None if low is None or high is None else top


@dataclass(frozen=True, eq=False)
class Fit:
    """Everything inferred about one band's sweeps. `match` holds per sweep the chance (I, J) that tick i is station j.

    `curve` is None where the list has no levels; `pointer_weight` (M,) sums to one; `spread_db` is the probit's sigma.
    """

    sweeps: Sweeps
    pointers: Pointers
    pointer_weight: FloatArray
    curve: Curve | None
    spread_db: float
    extra: float
    match: tuple[FloatArray, ...]


def threshold_grid_db(sweeps: Sweeps, step_db: float) -> FloatArray:
    """All thresholds that the sweeps can tell apart. [dB]"""
    levels = sweeps.bench.level_db[np.isfinite(sweeps.bench.level_db)]
    pads = [block.pad_db for block in sweeps.blocks]
    low, high = levels.min() - max(pads) - _MARGIN_DB, levels.max() - min(pads) + _MARGIN_DB
    return np.asarray(np.arange(np.floor(low), np.ceil(high) + step_db, step_db), dtype=np.float64)


def fit(sweeps: Sweeps, start_db: float) -> Fit:
    """Pointer, threshold and alignment of a band's sweeps, each with its doubt."""
    band = sweeps.bench.band
    if not sweeps.bench.has_levels:
        hearings = settings(np.array([0.0]), band, sweeps.grading, fine=True)
        pointers = keep_likely(sweeps, find_pointers(sweeps, 0.0), hearings)
        return _finish(sweeps, pointers, hearings, None)
    coarse = settings(threshold_grid_db(sweeps, _COARSE_DB), band, sweeps.grading, fine=False)
    pointers = find_pointers(sweeps, start_db)
    better_db = float(coarse.threshold_db[np.argmax(sweeps.log_likelihood(pointers, coarse).max(axis=0))])
    if abs(better_db - start_db) > 1.5 * _COARSE_DB:
        pointers = find_pointers(sweeps, better_db)
    pointers = keep_likely(sweeps, pointers, coarse)
    rough = logsumexp(sweeps.log_likelihood(pointers, coarse), axis=0)
    likely = coarse.threshold_db[rough > rough.max() - _HOPELESS]
    grid_db = threshold_grid_db(sweeps, STEP_DB)
    inside = (grid_db >= likely.min() - _COARSE_DB) & (grid_db <= likely.max() + _COARSE_DB)
    # twice as coarse as the grid: the curve between is smooth
    fine = settings(grid_db[inside][::2], band, sweeps.grading, fine=True)
    return _finish(sweeps, pointers, fine, grid_db)


def _finish(sweeps: Sweeps, pointers: Pointers, hearings: Hearings, grid_db: FloatArray | None) -> Fit:
    log_joint = sweeps.log_likelihood(pointers, hearings) + hearings.log_prior
    weight = np.exp(log_joint - log_joint.max())
    weight /= weight.sum()
    curve = None
    if grid_db is not None:
        at_db, inverse = np.unique(hearings.threshold_db, return_inverse=True)
        summed = np.zeros(len(at_db))
        np.add.at(summed, inverse, weight.sum(axis=0))
        log_value = np.log(np.maximum(summed, 1e-300))
        filled = np.interp(grid_db, at_db, log_value)
        # outside the likely part: flat where the likely part reaches the end of the grid, else hopeless
        filled[(grid_db < at_db[0]) & (at_db[0] > grid_db[0] + _COARSE_DB)] = -600.0
        filled[(grid_db > at_db[-1]) & (at_db[-1] < grid_db[-1] - _COARSE_DB)] = -600.0
        curve = Curve(grid_db, np.maximum(filled - filled.max(), -600.0))
    pointer_weight = weight.sum(axis=1)
    middle = float((weight.sum(axis=0) * np.hypot(hearings.listener_db, np.median(sweeps.bench.spread_db))).sum())
    return Fit(
        sweeps=sweeps,
        pointers=pointers,
        pointer_weight=pointer_weight,
        curve=curve,
        spread_db=middle if curve is not None else float("nan"),
        extra=float((weight.sum(axis=0) * hearings.extra).sum()),
        match=_matches(sweeps, pointers, hearings, weight),
    )


def _matches(sweeps: Sweeps, pointers: Pointers, hearings: Hearings, weight: FloatArray) -> tuple[FloatArray, ...]:
    """Per sweep the chance that tick i is station j, averaged over an even draw of all that is unknown."""
    matches = [np.zeros((len(block), len(sweeps.bench))) for block in sweeps.blocks]
    for candidate, share in enumerate(weight.sum(axis=1)):
        if share < 1e-3:
            continue
        ladder = np.cumsum(weight[candidate]) / share
        drawn, times = np.unique(
            np.searchsorted(ladder, (np.arange(_DRAWS) + 0.5) / _DRAWS).clip(0, len(hearings) - 1), return_counts=True
        )
        one = pointers.pick([candidate])
        for match, block in zip(matches, sweeps.blocks, strict=True):
            chance = posterior(sweeps.chain(block, one, hearings.pick(drawn)))[0][:, :, 0]
            match += share * (chance @ (times / _DRAWS))
    return tuple(matches)


def start_spread_db(sweeps: Sweeps) -> float:
    """Typical spread of one station. [dB]"""
    return float(np.hypot(LISTENER_DB, np.median(sweeps.bench.spread_db)))
