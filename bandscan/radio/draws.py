"""Weighted draws of all that is unknown beside the threshold: pointer, reading noise, listener, grades' steps, extras.

Importance sampling in two rounds: wide around the places that `align` found, then around what the first says. Where few of the
second count, as with readings much finer than a pointer usually gives, more rounds follow. The deviates are a scrambled
Sobol sequence with a fixed seed, so the same sheet gives the same answer twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp, ndtri

from bandscan.radio.align import UNKNOWNS, Places, Sweeps, log_prior, pointers_of
from bandscan.radio.hearing import Listeners, Radios, listeners
from bandscan.radio.pointer import Pointers

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_FIRST, _SECOND = 128, 256
_POINTER, _LISTENER = UNKNOWNS, 4
_ALL = _POINTER + _LISTENER
# the first round is wider than the places say, since they do not know how unsure the alignment is
_FIRST_WIDER = np.array([2.0] * _POINTER + [1.0] * _LISTENER)
_SECOND_WIDER = np.full(_ALL, 1.2)
_LEAST_SHARE = 0.04
# so much of the first round's own width stays in the second's: few draws make a poor covariance
_KEEP = 0.3
# draws are renewed only where this share of what counts is of one place
_ONE_PLACE = 0.99
# a round is tempered until so many draws count, and the rounds end where as many count untempered
_ENOUGH, MOST_ROUNDS = 25.0, 8


@dataclass(frozen=True, eq=False)
class Draws:
    """M draws; `log_weight` (M,) is prior over proposal, to which the log likelihood has to be added; `unknown` (M, 10) is what
    was drawn, `owner` (M,) around which place."""

    pointers: Pointers
    listener: Listeners
    log_weight: FloatArray
    unknown: FloatArray
    owner: IntArray

    def __len__(self) -> int:
        return len(self.log_weight)

    def pick(self, index: IntArray) -> Draws:
        """Some of the draws."""
        rest = self.log_weight[index], self.unknown[index], self.owner[index]
        return Draws(self.pointers.pick(index), self.listener.pick(index), *rest)


def draw(sweeps: Sweeps, places: Places, coarse_db: FloatArray) -> tuple[Draws, FloatArray]:
    """Draws, and the log likelihood of coarse thresholds (K,) from the first round."""
    count = len(places.mean)
    mean = np.concatenate([places.mean, np.zeros((count, _LISTENER))], axis=1)
    covariance = np.zeros((count, _ALL, _ALL))
    covariance[:, :_POINTER, :_POINTER] = places.covariance
    covariance[:, _POINTER:, _POINTER:] = np.eye(_LISTENER)
    root = np.linalg.cholesky(covariance) * _FIRST_WIDER
    first = _propose(sweeps, mean, root, np.full(count, 1.0 / count), _FIRST)
    log_each = sweeps.log_likelihood(first.pointers, first.listener, Radios(coarse_db)) + first.log_weight[:, None]
    weight = np.exp(log_each - log_each.max()).sum(axis=1)
    weight /= weight.sum()
    share = np.zeros(count)
    for place in range(count):
        mine = np.where(first.owner == place, weight, 0.0)
        share[place] = max(mine.sum(), _LEAST_SHARE)
        if (mine > 0.02 * mine.sum()).sum() >= _ALL:
            mine = mine / mine.sum()
            mean[place] = mine @ first.unknown
            spread = np.cov(first.unknown.T, aweights=mine, ddof=0)
            covariance[place] = (1.0 - _KEEP) * spread + _KEEP * covariance[place]
    root = np.linalg.cholesky(covariance) * _SECOND_WIDER
    return _propose(sweeps, mean, root, share / share.sum(), _SECOND), np.asarray(logsumexp(log_each, axis=0))


def enough(weight: FloatArray) -> bool:
    """Whether so many of the draws count that their spread means something: by their effective number (Kish 1965)."""
    return _number(weight) >= _ENOUGH


def of_one_place(draws: Draws, weight: FloatArray) -> bool:
    """Whether what counts was all drawn around one place: only then are its moments the whole."""
    return float(np.bincount(draws.owner, weight).max()) > _ONE_PLACE * float(weight.sum())


def drawn_again(sweeps: Sweeps, draws: Draws, weight: FloatArray) -> Draws:
    """Draws around the heaviest of these, tempered so that enough count.

    By moments, around the one place that is left: readings so fine leave no doubt where the stops are.
    """
    with np.errstate(divide="ignore"):
        log_weight = np.maximum(np.log(weight), -700.0)
    low, high = 0.0, 1.0
    for _ in range(30):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _number(np.exp(middle * log_weight)) >= _ENOUGH else (low, middle)
    tempered = np.exp(low * log_weight)
    tempered /= tempered.sum()
    covariance = np.cov(draws.unknown.T, aweights=tempered, ddof=0) + 1e-12 * np.eye(_ALL)
    root = np.linalg.cholesky(covariance)[None] * _SECOND_WIDER
    return _propose(sweeps, (tempered @ draws.unknown)[None], root, np.ones(1), _SECOND)


def _number(weight: FloatArray) -> float:
    return float(weight.sum() ** 2 / (weight**2).sum())


def _propose(sweeps: Sweeps, mean: FloatArray, root: FloatArray, share: FloatArray, count: int) -> Draws:
    """Draws around P places (mean (P, 10), root of the covariance (P, 10, 10)), each with its share."""
    owner = np.searchsorted(np.cumsum(share), (np.arange(count) + 0.5) / count).clip(0, len(share) - 1)
    unknown = mean[owner] + np.einsum("mpq,mq->mp", root[owner], _deviates(count))
    density = []
    for place in range(len(share)):
        z = np.linalg.solve(root[place], (unknown - mean[place]).T)
        density.append(np.log(share[place]) - 0.5 * (z**2).sum(axis=0) - np.log(np.diagonal(root[place])).sum())
    pointer, listener = unknown[:, :_POINTER], unknown[:, _POINTER:]
    log_weight = log_prior(pointer, sweeps.dial.slips) - 0.5 * (listener**2).sum(axis=1) - logsumexp(density, axis=0)
    pointers, people = pointers_of(sweeps, pointer), listeners(sweeps.bench.band, listener)
    return Draws(pointers, people, np.asarray(log_weight), unknown, owner.astype(np.int64))


@lru_cache
def _deviates(count: int) -> FloatArray:
    """Standard normal deviates (count, 10) that fill space evenly."""
    from scipy.stats import qmc  # takes a second to import, which a tally need not wait for

    return np.asarray(ndtri(qmc.Sobol(_ALL, rng=np.random.default_rng(9)).random(count)), dtype=np.float64)
