"""Weighted draws of all that is unknown beside the threshold: pointer, reading noise, listener, grades' steps, extras.

Importance sampling in two rounds: wide around the places that `align` found, then around what the first round says. The
deviates are a scrambled Sobol sequence with a fixed seed, so the same sheet gives the same answer twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp, ndtri
from scipy.stats import qmc

from bandscan.radio.align import Places, Sweeps, log_prior, pointers_of
from bandscan.radio.hearing import Listeners, Radios, listeners
from bandscan.radio.pointer import Pointers

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_FIRST, _SECOND = 64, 128
# the first round is wider than the places say, since they do not know how unsure the alignment is
_FIRST_WIDER, _SECOND_WIDER = 2.0, 1.25
_LEAST_SHARE = 0.04


@dataclass(frozen=True, eq=False)
class Draws:
    """M draws; `log_weight` (M,) is prior over proposal, to which the log likelihood has to be added."""

    pointers: Pointers
    listener: Listeners
    log_weight: FloatArray

    def __len__(self) -> int:
        return len(self.log_weight)

    def pick(self, index: IntArray) -> Draws:
        """Some of the draws."""
        return Draws(self.pointers.pick(index), self.listener.pick(index), self.log_weight[index])


def draw(sweeps: Sweeps, places: Places, coarse_db: FloatArray) -> tuple[Draws, FloatArray]:
    """Draws and the log likelihood of coarse thresholds (K,), from the first round."""
    share = np.full(len(places.mean), 1.0 / len(places.mean))
    first, scaled, owner = _propose(sweeps, places, share, _FIRST, _FIRST_WIDER)
    log_each = sweeps.log_likelihood(first.pointers, first.listener, Radios(coarse_db)) + first.log_weight[:, None]
    if sweeps.dial.kind != "pointer":
        second, _, _ = _propose(sweeps, places, share, _SECOND, 1.0)
        return second, np.asarray(logsumexp(log_each, axis=0))
    weight = np.exp(log_each - log_each.max()).sum(axis=1)
    weight /= weight.sum()
    mean, covariance = places.mean.copy(), places.covariance.copy()
    for place in range(len(mean)):
        mine = np.where(owner == place, weight, 0.0)
        share[place] = max(mine.sum(), _LEAST_SHARE)
        if (mine > 0.02 * mine.sum()).sum() >= 8:
            mine = mine / mine.sum()
            mean[place] = mine @ scaled
            # as many draws as dimensions make a poor covariance: half of what the place itself says stays in
            covariance[place] = np.cov(scaled.T, aweights=mine, ddof=0) + 0.5 * covariance[place]
    second, _, _ = _propose(sweeps, Places(mean, covariance), share / share.sum(), _SECOND, _SECOND_WIDER)
    return second, np.asarray(logsumexp(log_each, axis=0))


def _propose(sweeps: Sweeps, places: Places, share: FloatArray, count: int, wider: float) -> tuple[Draws, FloatArray, IntArray]:
    """Draws around places, each with its share: the draws, scaled pointers (M, 5), and whose place each is."""
    normal = _deviates(count)
    owner = np.searchsorted(np.cumsum(share), (np.arange(count) + 0.5) / count).clip(0, len(share) - 1)
    root = np.linalg.cholesky(places.covariance) * wider
    scaled = places.mean[owner] + np.einsum("mpq,mq->mp", root[owner], normal[:, :5])
    density = []
    for place in range(len(share)):
        z = np.linalg.solve(root[place], (scaled - places.mean[place]).T)
        density.append(np.log(share[place]) - 0.5 * (z**2).sum(axis=0) - np.log(np.diagonal(root[place])).sum())
    log_weight = log_prior(scaled) - logsumexp(density, axis=0)
    draws = Draws(pointers_of(sweeps, scaled), listeners(sweeps.bench.band, normal[:, 5:]), np.asarray(log_weight))
    return draws, scaled, owner.astype(np.int64)


@lru_cache
def _deviates(count: int) -> FloatArray:
    """Standard normal deviates (count, 9) that fill space evenly, in an order that does too for any stretch of it."""
    return np.asarray(ndtri(qmc.Sobol(9, rng=np.random.default_rng(9)).random(count)), dtype=np.float64)
