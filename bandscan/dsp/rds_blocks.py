"""Blocks of the data subcarrier: check words, clean blocks among bits, and the mending of a block by its weakest symbols.

Conventions. A block is 26 bits, 16 of data and 10 of check, first transmitted bit highest. Its remainder by the generator is
its offset word when nothing is wrong. A coded symbol is one biphase symbol before differential decoding: bit n of a block is
whether symbols n and n + 1 differ, so a block rests on 27 symbols and one wrong symbol spoils two neighbouring bits.

Sources: EN 50067 / IEC 62106 section 2 and annex A (generator, offset words; second-hand, several open sources agree), and
tests/reference/test_rds_published.py.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import numpy.typing as npt

IntArray = npt.NDArray[np.int64]
RealArray = npt.NDArray[np.float64]

BLOCK_BITS = 26
GROUP_BITS = 104
A, B, C, D = range(4)  # a block's place in its group
OFFSETS = ((0x0FC,), (0x198,), (0x168, 0x350), (0x1B4,))  # by place; C has a second form, C', in groups of version B
GENERATOR = 0x5B9  # x^10 + x^8 + x^7 + x^5 + x^4 + x^3 + 1

_HALF = 13
_WEAKEST = 6  # symbols that mending may turn, at most two of them at once: 21 trials


def remainder(word: int) -> int:
    """Remainder of a 26-bit word by the generator: 10 bits, 0 for a code word."""
    for shift in range(BLOCK_BITS - 1, 9, -1):
        if word >> shift & 1:
            word ^= GENERATOR << (shift - 10)
    return word


_UPPER = np.array([remainder(half << _HALF) for half in range(1 << _HALF)], np.int64)
_LOWER = np.array([remainder(half) for half in range(1 << _HALF)], np.int64)
_PLACE = np.full(1024, -1, np.int64)
for _place, _offsets in enumerate(OFFSETS):
    _PLACE[list(_offsets)] = _place

# what turning symbol n does to the word: bits n - 1 and n, of which the ends have one each
_TURNS = tuple(((1 << BLOCK_BITS) >> n | (1 << (BLOCK_BITS - 1)) >> n) & ((1 << BLOCK_BITS) - 1) for n in range(BLOCK_BITS + 1))

_TURN_REMAINDERS = tuple(remainder(turn) for turn in _TURNS)


def words_of(symbols: RealArray) -> IntArray:
    """The word that begins at every symbol; shape (max(symbols - 26, 0),)."""
    high = symbols > 0
    if len(high) <= BLOCK_BITS:
        return np.empty(0, np.int64)
    one = (high[1:] != high[:-1]).astype(np.int64)
    two = one[:-1] << 1 | one[1:]
    four = two[:-2] << 2 | two[2:]
    eight = four[:-4] << 4 | four[4:]
    sixteen = eight[:-8] << 8 | eight[8:]
    count = len(high) - BLOCK_BITS
    words: IntArray = sixteen[:count] << 10 | eight[16 : 16 + count] << 2 | two[24 : 24 + count]
    return words


def places_of(words: IntArray) -> IntArray:
    """For each word the place in a group whose check it satisfies, A to D as 0 to 3, or -1.

    Chance satisfies a given offset word once in 1024, any of the five once in 205.
    """
    places: IntArray = _PLACE[_UPPER[words >> _HALF] ^ _LOWER[words & ((1 << _HALF) - 1)]]
    return places


def mended(word: int, place: int, symbols: RealArray) -> int | None:
    """The word for `place` that turning one or two of the six weakest of its 27 symbols gives, or None; the weakest pair wins.

    Chance mends one word in about fifty: a mended block counts only where a repeat confirms it.
    """
    weakness = np.abs(symbols)
    weakest: list[int] = np.argsort(weakness)[:_WEAKEST].tolist()
    amounts = weakness[weakest].tolist()
    left = remainder(word)
    trials = []
    for n, amount in zip(weakest, amounts, strict=True):
        if left ^ _TURN_REMAINDERS[n] in OFFSETS[place]:
            trials.append((amount, _TURNS[n]))
    for (n, amount), (m, other) in combinations(zip(weakest, amounts, strict=True), 2):
        if left ^ _TURN_REMAINDERS[n] ^ _TURN_REMAINDERS[m] in OFFSETS[place]:
            trials.append((amount + other, _TURNS[n] ^ _TURNS[m]))
    return word ^ min(trials)[1] if trials else None
