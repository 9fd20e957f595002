"""What the data service says: programme identification (PI) and programme service name (PS) out of soft symbols.

A PI is claimed only after this agreement, within a window of four seconds, at the phase of 104 bits with most clean blocks:
- the blocks A of the odd groups, averaged, and those of the even groups, averaged, each satisfy A's check, with nothing
  corrected, and hold the same word, and
- at least three other blocks are clean, in at least two of the places B, C and D.

Odds of a wrong PI. Noise passes the first condition at a given phase with 2^-10 (check) times 2^-26 (equal words). One phase
is judged a second: 1.5e-11 a second, 1.5e-6 in 100,000 channel-seconds, and fewer, since one window of noise in twelve has a
phase with three other clean blocks. On a weak station, whose averages may suffer the same undetected error, it is below 2e-9 a
window at the worst level: 2e-4 in 100,000 channel-seconds. Both are worked out in tests/dsp/test_rds_odds.py. A pattern that
repeats within 52 bits or fewer, as products of tones may give, cannot satisfy A and two other places at once.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import numpy.typing as npt

from bandscan.dsp.rds_blocks import BLOCK_BITS, GROUP_BITS, A, B, D, mended, places_of, words_of
from bandscan.dsp.rds_name import Name

RealArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

WINDOW_BITS = 4750  # four seconds
OTHERS = 3
OTHER_PLACES = 2
STRONGEST = 2.0  # a symbol of more than this times the rms is a click and weighs no more
GOOD_SHARE = 0.5  # of clean blocks: from here on a clean block holds an undetected error less than once in 5000


class Service:
    """One channel's data service; symbols arrive in order, memory does not grow."""

    def __init__(self) -> None:
        self.codes: Counter[int] = Counter()  # agreed PI codes by how many clean blocks A held them
        self.name = Name()
        self.blocks = self.clean = self.a_blocks = 0
        self._symbols = np.empty(0)
        self._read_to = 0  # symbols of the window whose blocks have been read
        self._phase: int | None = None  # of blocks A within the window
        self._awaited: tuple[int, int, bool] | None = None  # of the last block B: blocks until its D, its data, clean
        self._earlier: dict[int, RealArray] = {}  # symbols of the last block D of each pair of characters

    def gap(self) -> None:
        """The symbols that come next do not join those before."""
        self._symbols, self._read_to, self._phase, self._awaited = np.empty(0), 0, None, None

    def add(self, symbols: RealArray) -> None:
        """Adds soft symbols, mean square 1."""
        self._symbols = np.concatenate([self._symbols, np.clip(symbols, -STRONGEST, STRONGEST)])
        surplus = max(len(self._symbols) - WINDOW_BITS, 0)
        if surplus:
            self._symbols = self._symbols[surplus:]
            self._read_to = max(self._read_to - surplus, 0)
            self._phase = None if self._phase is None else (self._phase - surplus) % GROUP_BITS
        words = words_of(self._symbols)
        places = places_of(words)
        if self._phase is None or _clean_share(places, self._phase) < GOOD_SHARE:
            self._agree(places)
        if self._phase is not None:
            self._read(words, places, self._phase)

    def _agree(self, places: IntArray) -> None:
        found = agreement(self._symbols, places)
        if found is not None:
            phase, code = found
            self.codes[code] += 0
            if phase != self._phase:
                self._phase, self._awaited = phase, None

    def _read(self, words: IntArray, places: IntArray, phase: int) -> None:
        """Reads the blocks that have not been read yet."""
        trusty = _clean_share(places, phase) >= GOOD_SHARE
        first = self._read_to + (phase - self._read_to) % BLOCK_BITS
        for start in range(first, len(words), BLOCK_BITS):
            place = (start - phase) // BLOCK_BITS % 4
            symbols = self._symbols[start : start + BLOCK_BITS + 1]
            self._block(int(words[start]), place, int(places[start]) == place, trusty, symbols)
            self._read_to = start + BLOCK_BITS

    def _block(self, word: int, place: int, clean: bool, trusty: bool, symbols: RealArray) -> None:
        self.blocks += 1
        self.clean += clean
        if place == A:
            self.a_blocks += 1
            if clean and word >> 10 in self.codes:
                self.codes[word >> 10] += 1
        elif place == B:
            read = word if clean else mended(word, place, symbols)
            # group type 0 of either version is the one that carries the name
            self._awaited = (2, read >> 10, clean) if read is not None and read >> 22 == 0 else None
        elif self._awaited is not None:
            left, data, b_clean = self._awaited
            self._awaited = (left - 1, data, b_clean)
            if place == D:
                self._awaited = None
                if left == 1:
                    self._pair(data & 3, word, clean, clean and b_clean and trusty, symbols)

    def _pair(self, address: int, word: int, clean: bool, trusted: bool, symbols: RealArray) -> None:
        """Reads the block D of a group of type 0: by itself, and where it is not clean, averaged with the last one."""
        read = word if clean else mended(word, D, symbols)
        if read is not None:
            self.name.add(address, read >> 10, trusted)
        earlier = self._earlier.get(address)
        if not clean and earlier is not None:
            both = int(words_of(symbols + np.copysign(1.0, symbols @ earlier) * earlier)[0])
            if int(places_of(np.array([both]))[0]) == D:
                self.name.add(address, both >> 10, trusted=False)
        self._earlier[address] = symbols.copy()


def _clean_share(places: IntArray, phase: int) -> float:
    """Share of clean blocks at a phase of blocks A; 0 where there is none."""
    at_phase = places[phase % BLOCK_BITS :: BLOCK_BITS]
    wanted = (np.arange(len(at_phase)) - phase // BLOCK_BITS) % 4
    return float(np.mean(at_phase == wanted)) if len(at_phase) else 0.0


def agreement(symbols: RealArray, places: IntArray) -> tuple[int, int] | None:
    """Phase of blocks A and the PI that the window agrees on, by the rule at the top; None without agreement.

    symbols: soft symbols, shape (n,). places: of the word that begins at each of them, shape (n - 26,).
    """
    starts = np.flatnonzero(places >= 0)
    phases = (starts - BLOCK_BITS * places[starts]) % GROUP_BITS
    hits = np.bincount(4 * phases + places[starts], minlength=4 * GROUP_BITS).reshape(GROUP_BITS, 4)[:, 1:]
    others = np.where(np.count_nonzero(hits, axis=1) >= OTHER_PLACES, hits.sum(axis=1), 0)
    phase = int(np.argmax(others))
    if others[phase] < OTHERS:
        return None
    rows = np.lib.stride_tricks.sliding_window_view(symbols, BLOCK_BITS + 1)[phase::GROUP_BITS]
    if len(rows) < 2:
        return None
    odd, even = _averaged_word(rows[0::2]), _averaged_word(rows[1::2])
    if odd != even or int(places_of(np.array([odd]))[0]) != A:
        return None
    return phase, odd >> 10


def _averaged_word(rows: RealArray) -> int:
    """The word of the mean of blocks that are equal but for the sign that differential coding leaves open; shape (blocks, 27).

    The mean is the strongest common pattern, the first right singular vector. (Eigenvectors of the product would cost a
    hundred times as much: the library takes threads to them.)
    """
    pattern = np.linalg.svd(rows, full_matrices=False)[2][0]
    return int(words_of(pattern)[0])
