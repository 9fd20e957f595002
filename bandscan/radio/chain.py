"""The chain of ticks and stations: all order-preserving ways to lay a sweep over a list, summed.

State (i, j): the first i ticks and the first j stations are dealt with. From there a tick is extra, a station is missed, or
tick and station are one. The sum over all paths is the likelihood of the sweep, its share through a cell that cell's chance:
a pair hidden Markov model (Durbin et al., Biological Sequence Analysis, 1998, chapter 4), worked along anti-diagonals so that
many settings of pointer and hearing run at once.

Shapes: I ticks, J stations, M pointers, K hearings.
    place  (I, J, M)    density of tick i's reading, were it station j's
    beside (I, J+1, M)  density of tick i's reading, were it an extra between stations j-1 and j
    heard  (G, J, K)    chance that station j gives a tick of grade class g
    grade  (I,)         grade class of tick i
    missed (J, K)       chance that station j gives no tick
    extra  (K,)         expected number of extras on the whole dial
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

    @property
    def shape(self) -> tuple[int, int, int, int]:
        """I, J, M, K."""
        ticks, stations, pointers = self.place.shape
        return ticks, stations, pointers, self.missed.shape[1]


def log_likelihood(chain: Chain) -> FloatArray:
    """Logarithm of the sweep's likelihood, shape (M, K)."""
    return _forward(chain, keep=False)[1]


def posterior(chain: Chain) -> tuple[FloatArray, FloatArray]:
    """Probability that tick i is station j, shape (I, J, M, K), and the log likelihood, shape (M, K)."""
    ticks, stations, _, _ = chain.shape
    ahead, total, scale = _forward(chain, keep=True)
    turned = Chain(
        chain.place[::-1, ::-1],
        chain.beside[::-1, ::-1],
        chain.heard[:, ::-1],
        chain.grade[::-1],
        chain.missed[::-1],
        chain.extra,
    )
    behind, _, scale_behind = _forward(turned, keep=True)
    i, j = np.meshgrid(np.arange(ticks), np.arange(stations), indexing="ij")
    reach, leave = i + j, (ticks - 1 - i) + (stations - 1 - j)
    log_both = scale[reach] + scale_behind[leave] - (total + chain.extra)
    through = ahead[reach, i] * behind[leave, ticks - 1 - i] * np.exp(log_both)
    factor = chain.place[:, :, :, None] * chain.heard[chain.grade][:, :, None, :]
    return through * factor, total


def _forward(chain: Chain, *, keep: bool) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Scaled sums of all paths up to (i, j), the log of the sum up to the end, and the log scales per anti-diagonal.

    Kept sums are indexed [i + j, i]; without `keep` only the last diagonal is returned.
    """
    ticks, stations, pointers, hearings = chain.shape
    before = np.zeros((ticks + 1, pointers, hearings))
    last = np.zeros_like(before)
    last[0] = 1.0
    log_scale = np.zeros((ticks + stations + 1, pointers, hearings))
    kept = np.zeros((ticks + stations + 1 if keep else 1, *before.shape))
    kept[0] = last
    for diagonal in range(1, ticks + stations + 1):
        now = np.zeros_like(before)
        low, high = max(0, diagonal - stations), min(ticks, diagonal)
        # a station is missed: (i, j-1) -> (i, j)
        i = np.arange(low, min(high, diagonal - 1) + 1)
        now[i] += last[i] * chain.missed[diagonal - i - 1][:, None, :]
        # a tick is extra: (i-1, j) -> (i, j)
        i = np.arange(max(low, 1), high + 1)
        now[i] += last[i - 1] * (chain.beside[i - 1, diagonal - i][:, :, None] * chain.extra)
        # tick and station are one: (i-1, j-1) -> (i, j)
        i = np.arange(max(low, 1), min(high, diagonal - 1) + 1)
        one = chain.place[i - 1, diagonal - i - 1][:, :, None] * chain.heard[chain.grade[i - 1], diagonal - i - 1][:, None, :]
        now[i] += before[i - 1] * one
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
        total = np.log(last[ticks]) + log_scale[-1] - chain.extra
    return kept, total, log_scale
