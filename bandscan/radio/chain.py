"""The chain of ticks and stations: all order-preserving ways to lay a sweep over a list, summed.

State (i, j): the first i ticks and the first j stations are dealt with. From there a tick is extra, a station is missed, or
tick and station are one. The sum over all paths is the likelihood of the sweep, its share through a cell that cell's chance:
a pair hidden Markov model (Durbin et al., Biological Sequence Analysis, 1998, chapter 4), worked along anti-diagonals so that
many settings run at once.

Shapes: I ticks, J stations, M draws of what is unknown about pointer and listener, K thresholds or variants of a fault.
    place  (I, J, M)        density of tick i's reading, were it station j's
    beside (I, J+1, M)      density of tick i's reading, were it an extra between stations j-1 and j
    heard  (G, J, M, K)     chance that station j gives a tick of grade class g
    grade  (I,)             grade class of tick i
    missed (J, M, K)        chance that station j gives no tick
    extra  (J+1, M)         chance that one more extra follows between stations j-1 and j (their number there is geometric)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_RESCALE_EVERY = 6


@dataclass(frozen=True, eq=False)
class Chain:
    """One sweep's factors, shapes as above."""

    place: FloatArray
    beside: FloatArray
    heard: FloatArray
    grade: IntArray
    missed: FloatArray
    extra: FloatArray


def log_likelihood(chain: Chain) -> FloatArray:
    """Logarithm of the sweep's likelihood, shape (M, K)."""
    return _forward(chain, keep=False)[1]


def posterior(chain: Chain) -> tuple[FloatArray, FloatArray]:
    """Probability that tick i is station j, shape (I, J, M, K), and the log likelihood, shape (M, K)."""
    ticks, stations = chain.place.shape[:2]
    ahead, total, scale = _forward(chain, keep=True)
    turned = Chain(
        chain.place[::-1, ::-1],
        chain.beside[::-1, ::-1],
        chain.heard[:, ::-1],
        chain.grade[::-1],
        chain.missed[::-1],
        chain.extra[::-1],
    )
    behind, _, scale_behind = _forward(turned, keep=True)
    i, j = np.meshgrid(np.arange(ticks), np.arange(stations), indexing="ij")
    reach, leave = i + j, (ticks - 1 - i) + (stations - 1 - j)
    log_both = scale[reach] + scale_behind[leave] - (total - _no_more(chain))
    through = ahead[reach, i] * behind[leave, ticks - 1 - i] * np.exp(log_both)
    return through * chain.place[:, :, :, None] * chain.heard[chain.grade], total


def _forward(chain: Chain, *, keep: bool) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Scaled sums of all paths up to (i, j), the log of the sum up to the end, and the log scales per anti-diagonal.

    Kept sums are indexed [i + j, i]; without `keep` only the first diagonal is there.
    """
    ticks, stations, draws = chain.place.shape
    beside = chain.beside * chain.extra
    before = np.zeros((ticks + 1, draws, chain.missed.shape[2]))
    last = np.zeros_like(before)
    last[0] = 1.0
    log_scale = np.zeros((ticks + stations + 1, *before.shape[1:]))
    kept = np.zeros((ticks + stations + 1 if keep else 1, *before.shape))
    kept[0] = last
    for diagonal in range(1, ticks + stations + 1):
        now = np.zeros_like(before)
        low, high = max(0, diagonal - stations), min(ticks, diagonal)
        # a station is missed: (i, j-1) -> (i, j)
        end = min(high, diagonal - 1) + 1
        now[low:end] = last[low:end] * chain.missed[diagonal - 1 - np.arange(low, end)]
        # a tick is extra: (i-1, j) -> (i, j)
        i = np.arange(max(low, 1), high + 1)
        if len(i):
            now[i[0] : high + 1] += last[i[0] - 1 : high] * beside[i - 1, diagonal - i][:, :, None]
        # tick and station are one: (i-1, j-1) -> (i, j)
        i = np.arange(max(low, 1), end)
        if len(i):
            one = chain.place[i - 1, diagonal - i - 1][:, :, None] * chain.heard[chain.grade[i - 1], diagonal - i - 1]
            now[i[0] : end] += before[i[0] - 1 : end - 1] * one
        log_scale[diagonal] = log_scale[diagonal - 1]
        if diagonal % _RESCALE_EVERY == 0:
            top = now[low : high + 1].max(axis=0)
            top[top == 0.0] = 1.0
            now /= top
            last = last / top
            log_scale[diagonal] += np.log(top)
        before, last = last, now
        if keep:
            kept[diagonal] = now
    with np.errstate(divide="ignore"):
        total = np.log(last[ticks]) + log_scale[-1] + _no_more(chain)
    return kept, total, log_scale


def _no_more(chain: Chain) -> FloatArray:
    """Log chance that no more extra follows, over all gaps, (M, 1)."""
    return np.asarray(np.log1p(-chain.extra).sum(axis=0)[:, None])
