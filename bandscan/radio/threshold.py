"""The radio's threshold on this bench: the level at which half of the stations are followed.

The likelihood of the sweeps is summed over all alignments, over the candidates of the pointer and over what is unknown about
the listener, for each threshold of a grid. Where it falls on both sides the interval is two-sided; where the sweeps bound one
side only (all heard, none heard), so does the interval.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d
from scipy.special import logsumexp

from bandscan.model import Interval
from bandscan.radio.align import Places, Sweeps, counted_threshold_db, find_places
from bandscan.radio.chain import posterior
from bandscan.radio.draws import MOST_ROUNDS, Draws, draw, drawn_again, enough, of_one_place
from bandscan.radio.hearing import Radios

FloatArray = npt.NDArray[np.float64]

STEP_DB = 0.5
# beyond the weakest and the strongest station nothing changes any more
_MARGIN_DB = 25.0
_COARSE_DB = 4.0
_HOPELESS = 12.0
_DRAWS = 64
_MOST_THRESHOLDS = 40


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

    def quantiles(self, count: int) -> FloatArray:
        """Thresholds that split the likelihood's area evenly. [dB]"""
        area = np.cumsum(np.exp(self.log_value))
        return np.asarray(np.interp((np.arange(count) + 0.5) / count * area[-1], area, self.at_db), dtype=np.float64)

    def density(self, at_db: FloatArray) -> FloatArray:
        """The likelihood as a density of area one. [1/dB]"""
        value = np.exp(self.log_value)
        return np.asarray(np.interp(at_db, self.at_db, value) / (value.sum() * (self.at_db[1] - self.at_db[0])))

    def _crossing(self, left: int, drop: float) -> float:
        """Where the likelihood passes `drop` between `left` and the next point. [dB]"""
        if left < 0 or left + 1 >= len(self.at_db):
            return float(self.at_db[max(left, 0)])
        a, b = self.log_value[left], self.log_value[left + 1]
        share = 0.5 if a == b else float((drop - a) / (b - a))
        return float(self.at_db[left] + share * (self.at_db[left + 1] - self.at_db[left]))

    def _middle(self) -> float:
        """Median of the likelihood's area. [dB]"""
        return float(self.quantiles(1)[0])


_TWO_SIDED = -0.5 * 1.959964**2  # 95 % two-sided, normal deviate from scipy.stats.norm.ppf(0.975)
_ONE_SIDED = -0.5 * 1.644854**2  # 95 % one-sided, norm.ppf(0.95)


def _between(top: float, low: float | None, high: float | None) -> float | None:
    """One-sided evidence has no best value."""
    return None if low is None or high is None else top


@dataclass(frozen=True, eq=False)
class Fit:
    """Everything inferred about one band's sweeps.

    `curve` is None where the list has no levels; `spread_db` is the probit's sigma, `extra` how many ticks are no station.
    `weight` (M,) of the draws sums to one. `match` holds per sweep the chance (I, J) that tick i is station j.
    """

    sweeps: Sweeps
    draws: Draws
    weight: FloatArray
    curve: Curve | None
    spread_db: float
    extra: float
    match: tuple[FloatArray, ...]
    lenient: Lenient | None = None

    def followed(self) -> FloatArray:
        """Chance that each station was followed in the first sweep, (J,)."""
        counts = np.array([grade in ("2", "3") for grade in self.sweeps.blocks[0].grade], dtype=np.float64)
        return np.asarray(np.clip(counts @ self.match[0], 0.0, 1.0), dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Lenient:
    """The same draws, weighed as if nothing were known of the dial's ends beyond the ticks.

    A dial that nobody set may seem stretched over a dead end; here the pointers are as the rest of the dial has them.
    `log_evidence` is how much likelier the sweeps are this way, natural log.
    """

    sweeps: Sweeps
    weight: FloatArray
    curve: Curve
    log_evidence: float


def threshold_grid_db(sweeps: Sweeps, step_db: float) -> FloatArray:
    """All thresholds that the sweeps can tell apart. [dB]"""
    levels = sweeps.bench.level_db[np.isfinite(sweeps.bench.level_db)]
    pads = [block.pad_db for block in sweeps.blocks]
    low, high = levels.min() - max(pads) - _MARGIN_DB, levels.max() - min(pads) + _MARGIN_DB
    return np.asarray(np.arange(np.floor(low), np.ceil(high) + step_db, step_db), dtype=np.float64)


def fit(sweeps: Sweeps) -> Fit:
    """Pointer, threshold and alignment of a band's sweeps, each with its doubt."""
    counted_db = counted_threshold_db(sweeps.bench, sweeps.blocks[0])
    places, ends_open = find_places(sweeps, counted_db), None
    if sweeps.dial.kind == "pointer" and not sweeps.dial.slips:
        ends_open = _ends_open(sweeps)
        more = find_places(ends_open, counted_threshold_db(ends_open.bench, ends_open.blocks[0]))
        places = Places(np.concatenate([places.mean, more.mean]), np.concatenate([places.covariance, more.covariance]))
    if not sweeps.bench.has_levels:
        at_db = np.zeros(1)
        draws, _ = draw(sweeps, places, at_db)
        return _sure(sweeps, draws, at_db, None)
    coarse_db = threshold_grid_db(sweeps, _COARSE_DB)
    draws, rough = draw(sweeps, places, coarse_db)
    likely = coarse_db[rough > rough.max() - _HOPELESS]
    grid_db = threshold_grid_db(sweeps, STEP_DB)
    inside = grid_db[(grid_db >= likely.min() - _COARSE_DB) & (grid_db <= likely.max() + _COARSE_DB)]
    # the curve is smooth: a step of 1 dB, or more where little is known, and the rest between
    fitted = _sure(sweeps, draws, np.linspace(inside[0], inside[-1], min(len(inside), _MOST_THRESHOLDS)), grid_db)
    return fitted if ends_open is None else replace(fitted, lenient=_lenient(sweeps, ends_open, fitted.draws, coarse_db))


def _ends_open(sweeps: Sweeps) -> Sweeps:
    """The sweeps with as much chance to miss as to hear whatever is beyond the readings."""
    bench, readings = sweeps.bench, np.concatenate([block.reading_hz for block in sweeps.blocks])
    beyond = (bench.channel_hz < np.nanmin(readings)) | (bench.channel_hz > np.nanmax(readings))
    return replace(sweeps, bench=replace(bench, air=np.where(beyond, 0.5 * bench.air, bench.air)))


def _lenient(sweeps: Sweeps, ends_open: Sweeps, draws: Draws, at_db: FloatArray) -> Lenient:
    own, other = (
        one.log_likelihood(draws.pointers, draws.listener, Radios(at_db)) + draws.log_weight[:, None]
        for one in (sweeps, ends_open)
    )
    along = logsumexp(other, axis=0)
    weight = np.exp(logsumexp(other, axis=1) - logsumexp(other))
    curve = Curve(at_db, np.maximum(along - along.max(), -600.0))
    return Lenient(ends_open, weight, curve, float(logsumexp(other) - logsumexp(own)))


def _sure(sweeps: Sweeps, draws: Draws, at_db: FloatArray, grid_db: FloatArray | None) -> Fit:
    """The fit, drawn again until enough draws count, where they are of one place."""
    fitted = _finish(sweeps, draws, at_db, grid_db)
    for _ in range(MOST_ROUNDS):
        if enough(fitted.weight) or not of_one_place(fitted.draws, fitted.weight):
            break
        fitted = _finish(sweeps, drawn_again(sweeps, fitted.draws, fitted.weight), at_db, grid_db)
    return fitted


def _finish(sweeps: Sweeps, draws: Draws, at_db: FloatArray, grid_db: FloatArray | None) -> Fit:
    log_joint = sweeps.log_likelihood(draws.pointers, draws.listener, Radios(at_db)) + draws.log_weight[:, None]
    joint = np.exp(log_joint - log_joint.max())
    joint /= joint.sum()
    weight = joint.sum(axis=1)
    curve = None
    if grid_db is not None:
        log_value = np.interp(grid_db, at_db, np.log(np.maximum(joint.sum(axis=0), 1e-300)))
        # outside the likely part: flat where the likely part reaches the end of the grid, else hopeless
        log_value[(grid_db < at_db[0]) & (at_db[0] > grid_db[0] + _COARSE_DB)] = -600.0
        log_value[(grid_db > at_db[-1]) & (at_db[-1] < grid_db[-1] - _COARSE_DB)] = -600.0
        curve = Curve(grid_db, np.maximum(log_value - log_value.max(), -600.0))
    return Fit(
        sweeps=sweeps,
        draws=draws,
        weight=weight,
        curve=curve,
        spread_db=float(weight @ np.hypot(draws.listener.jitter_db, np.median(sweeps.bench.spread_db))),
        extra=float(weight @ draws.listener.extra),
        match=_matches(sweeps, draws, at_db, joint),
    )


def even_draw(weight: FloatArray, count: int) -> tuple[npt.NDArray[np.int64], FloatArray]:
    """`count` indices drawn evenly by weight, each once, with the share that each then stands for."""
    ladder = np.cumsum(weight) / weight.sum()
    places = np.searchsorted(ladder, (np.arange(count) + 0.5) / count).clip(0, len(weight) - 1)
    drawn, times = np.unique(places, return_counts=True)
    return drawn.astype(np.int64), times / count


def _matches(sweeps: Sweeps, draws: Draws, at_db: FloatArray, joint: FloatArray) -> tuple[FloatArray, ...]:
    """Per sweep the chance that tick i is station j, averaged over an even draw of all that is unknown."""
    drawn, share = even_draw(joint.ravel(), _DRAWS)
    who, which = np.unravel_index(drawn, joint.shape)
    some, radio = draws.pick(who.astype(np.int64)), Radios(at_db[which][:, None])
    return tuple(
        posterior(sweeps.chain(block, some.pointers, some.listener, radio))[0][:, :, :, 0] @ share for block in sweeps.blocks
    )
