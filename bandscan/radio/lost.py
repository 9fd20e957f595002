"""The threshold where stations may be missing for another reason than their level: a stronger neighbour, or a wrong raster.

Such stations look as if the set were deaf. The likelihood of each threshold is summed over what may be lost, each way with its
prior, so that the interval holds that doubt and a set that loses nothing keeps its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp

from bandscan.radio.align import Sweeps
from bandscan.radio.hearing import Radios
from bandscan.radio.suspects import LOST, beside_stronger
from bandscan.radio.threshold import Curve, Fit, threshold_grid_db
from bandscan.radio.weighing import Scale
from bandscan.radio.whistles import off_raster_hz, rasters_seen

FloatArray = npt.NDArray[np.float64]

_STEP_DB = 3.0
# a neighbour within a channel hides a station if it is stronger by so much: sets differ from hiding all but the strongest to
# what `hearing` has for a sound one (from memory)
_HIDDEN_BY_DB = (-10.0, 0.0, 5.0, 10.0, 15.0, 20.0)
# what a receiver may lose for each kHz that it is tuned beside a carrier; or it hears all that is no further off (from memory)
_LOSS_DB_PER_KHZ = {"am": (2.0, 5.0), "fm": (0.1,)}
_HEARS_WITHIN_HZ = {"am": (1.5e3, 2.5e3, 3.5e3), "fm": (50e3,)}
# of losing neighbours, less than a finding has, which would widen the interval of every set that loses none
_ODDS = 0.01
_WEAK = 20.0  # per cent of those that were followed are weaker than one whose level does not explain why it was not


@dataclass(frozen=True, eq=False)
class _Ways:
    """V ways to lose stations: loss [dB] and factor on the chance, (J, V), and log prior odds against losing none, (V,)."""

    loss_db: FloatArray
    keeps: FloatArray
    log_odds: FloatArray


def with_losses(fit: Fit) -> Fit:
    """The fit with a curve that reckons with stations that the set loses beside others, or off the raster it was found on."""
    from scipy.interpolate import PchipInterpolator  # takes a while to import, which a survey need not wait for

    if fit.curve is None:
        return fit
    sweeps = fit.sweeps
    ways = _ways(sweeps)
    touched = ((ways.loss_db > 0.0) | (ways.keeps < 1.0)).any(axis=1)
    level_db, followed = sweeps.bench.level_db, fit.followed() > 0.5
    known = np.isfinite(level_db)
    if not (followed & known).any():
        return fit
    missing = touched & ~followed & known & (level_db > np.percentile(level_db[followed & known], _WEAK))
    if not missing.any():
        return fit
    grid_db = fit.curve.at_db
    at_db = threshold_grid_db(sweeps, _STEP_DB)
    scale = Scale(fit)
    none = _along(scale, sweeps, Radios(at_db))
    count = len(ways.log_odds)
    every = Radios(
        np.tile(at_db, count), np.repeat(ways.loss_db, len(at_db), axis=1), np.repeat(ways.keeps, len(at_db), axis=1)
    )
    each = _along(scale, sweeps, every).reshape(count, len(at_db)) + ways.log_odds[:, None]
    # both by the same few draws: where the curve stands says what they lack
    lacks = float(logsumexp(np.interp(at_db, grid_db, fit.curve.log_value)) - logsumexp(none))
    inside = (grid_db >= at_db[0]) & (grid_db <= at_db[-1])
    other = np.full(len(grid_db), -600.0)
    other[inside] = PchipInterpolator(at_db, np.maximum(logsumexp(each, axis=0) + lacks, -600.0))(grid_db[inside])
    log_value = np.logaddexp(fit.curve.log_value, other)
    return replace(fit, curve=Curve(grid_db, np.maximum(log_value - log_value.max(), -600.0)))


def _along(scale: Scale, sweeps: Sweeps, radio: Radios) -> FloatArray:
    """Log likelihood of every setting, summed over the draws, (K,)."""
    return np.asarray(logsumexp(scale.log_all(sweeps, radio) + scale.log_share[:, None], axis=0))


def _ways(sweeps: Sweeps) -> _Ways:
    """Neighbours seldom, a raster as its readings speak for it."""
    bench = sweeps.bench
    lost = np.stack([beside_stronger(bench, least_db) for least_db in _HIDDEN_BY_DB], axis=1)
    lost = np.unique(lost, axis=1)
    lost = lost[:, lost.any(axis=0)]
    loss_db, keeps = [np.zeros(lost.shape)], [np.where(lost, LOST, 1.0)]
    log_odds = [np.full(lost.shape[1], np.log(_ODDS / max(lost.shape[1], 1)))]
    for seen in rasters_seen(sweeps):
        off_hz = off_raster_hz(bench.channel_hz, seen)[:, None]
        sloping, cut = np.array(_LOSS_DB_PER_KHZ[bench.band]) / 1e3, np.array(_HEARS_WITHIN_HZ[bench.band])
        loss_db.append(off_hz * np.append(sloping, np.zeros(len(cut))))
        keeps.append(np.where(off_hz > np.append(np.full(len(sloping), np.inf), cut), LOST, 1.0))
        count = len(sloping) + len(cut)
        log_odds.append(np.full(count, seen.weight * np.log(10.0) - np.log(count)))
    return _Ways(np.concatenate(loss_db, axis=1), np.concatenate(keeps, axis=1), np.concatenate(log_odds))
