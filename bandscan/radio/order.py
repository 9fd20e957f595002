"""The order of a sweep's rows along the dial. Rows come as they were heard, and a sweep may begin anywhere: a digital set seeks
up and goes round at the band's end, a hand turns to one end first and then from the middle to the other, a table sorts 100
before 88.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# readings of neighbouring stops may stand the wrong way round by so much of what the sweep covers, and by so much at least:
# above 10 MHz, and below
_NOISE, _NOISE_HZ = 0.07, (0.8e6, 40e3)
# a few rows tell no order; a lone one that stands elsewhere is a slip of the pen
_LEAST_ROWS, _LEAST_PIECE = 6, 2
# pairs of rows the wrong way round, to a row, before another order is looked for, and what of them it may leave
_AMISS, _LEFT = 0.8, 0.25
# more of all pairs, and more to a row, are no slips of the pen
_DISORDERED, _DISORDERED_ROWS = 0.12, 1.2


@dataclass(frozen=True, eq=False)
class Order:
    """How rows follow each other along the dial.

    rows: their indices from the low end up, where two pieces make one sweep, else None. direction: of both pieces, +1 up, -1
    down, 0 each its own. begins: the row with which the second piece begins. disordered: rows stand in no order of the dial.
    """

    rows: IntArray | None
    direction: int
    begins: int
    disordered: bool


def order_of(reading_hz: FloatArray) -> Order:
    """Whether the rows of a sweep are two pieces of the dial, one after the other. NaN is no reading, and stays where it is."""
    at = np.flatnonzero(np.isfinite(reading_hz))
    read = reading_hz[at]
    if len(read) < _LEAST_ROWS or np.ptp(read) == 0.0:
        return Order(None, 0, 0, False)
    earlier = np.triu(np.ones((len(read), len(read))), 1)
    apart = np.subtract.outer(read, read)
    noise_hz = max(_NOISE * float(np.ptp(read)), noise_of(read))
    wrong = {1: earlier * (apart > noise_hz), -1: earlier * (apart < -noise_hz)}
    plain = min(float(one.sum()) for one in wrong.values())
    if plain <= _AMISS * len(read):
        return Order(None, 0, 0, False)
    most = max(_DISORDERED * len(read) * (len(read) - 1) / 2.0, _DISORDERED_ROWS * len(read))
    ways = [
        (
            _within(wrong[first], 0, cut) + _within(wrong[second], cut, len(read)) + float(wrong[side][:cut, cut:].sum()),
            *(cut, first, second, side),
        )
        for cut in range(_LEAST_PIECE, len(read) - _LEAST_PIECE + 1)
        for first, second, side in itertools.product((1, -1), repeat=3)
        if not first == second == side
    ]
    # of ways as good both pieces run the same way
    left, cut, first, second, side = min(ways, key=lambda way: (way[0], way[2] != way[3]))
    if left > _LEFT * plain:
        # two passes over the same dial, each in order; one slip of the pen is less than a pair to a row
        again = min(
            _within(wrong[way], 0, cut) + _within(wrong[way], cut, len(read))
            for cut in range(_LEAST_PIECE, len(read) - _LEAST_PIECE + 1)
            for way in wrong
        )
        return Order(None, 0, 0, plain > most or (plain >= len(read) and again == 0.0))
    begins = int(at[cut])
    pieces = [np.arange(begins)[::first], np.arange(begins, len(reading_hz))[::second]]
    return Order(np.concatenate(pieces[::side]), first if first == second else 0, begins, left > most)


def noise_of(reading_hz: FloatArray) -> float:
    """How far readings of neighbouring stops may stand the wrong way round. [Hz]"""
    return _NOISE_HZ[int(np.median(reading_hz) < 10e6)]


def _within(wrong: FloatArray, start: int, end: int) -> float:
    return float(wrong[start:end, start:end].sum())
