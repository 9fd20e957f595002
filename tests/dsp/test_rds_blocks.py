"""Blocks among bits: words, the places that their checks allow, and the mending of one or two wrong symbols."""

from __future__ import annotations

import numpy as np
import pytest
from dsp.rds_made import bits_of, block, symbols_of

from bandscan.dsp.rds_blocks import mended, places_of, remainder, words_of


def test_words_are_read_at_every_symbol() -> None:
    """Word n holds bits n to n + 25; the sign of the symbols says nothing."""
    blocks = [block(0x1234, 0), block(0xC201, 1), block(0xFFFF, 2)]
    symbols = symbols_of(blocks)
    bits = "".join(map(str, bits_of(blocks)))
    wanted = [int(bits[n : n + 26], 2) for n in range(3 * 26 - 25)]
    assert words_of(symbols).tolist() == wanted
    assert words_of(-0.1 * symbols).tolist() == wanted


@pytest.mark.parametrize("symbols", [0, 1, 26])
def test_too_few_symbols_hold_no_word(symbols: int) -> None:
    """A block rests on 27 symbols."""
    assert len(words_of(np.ones(symbols))) == 0


def test_a_block_is_clean_in_its_own_place_only() -> None:
    """Every place is told, C' (offset word 350) as C."""
    words = [block(data, place) for data in (0, 0xE123, 0xFFFF) for place in range(4)]
    assert places_of(np.array(words)).tolist() == [0, 1, 2, 3] * 3
    c_again = 0xE123 << 10 | (block(0xE123, 2) & 0x3FF ^ 0x168 ^ 0x350)
    assert places_of(np.array([c_again])).tolist() == [2]


def test_chance_satisfies_a_check_once_in_1024() -> None:
    """Among a million random words A, B and D come once in 1024 each and C, with two forms, twice; four sigmas allowed."""
    words = np.random.default_rng(1).integers(0, 1 << 26, 1 << 20)
    counts = np.bincount(places_of(words) + 1, minlength=5)[1:]
    assert counts == pytest.approx([1024, 1024, 2048, 1024], abs=4 * np.sqrt(2048))


@pytest.mark.parametrize("wrong", range(27))
def test_one_weak_wrong_symbol_is_mended(wrong: int) -> None:
    """Any of the 27 symbols, the outer ones too, turned and weak."""
    right = block(0x4B59, 3)
    symbols = symbols_of([right])
    symbols[wrong] *= -0.2
    assert int(words_of(symbols)[0]) != right
    assert mended(int(words_of(symbols)[0]), 3, symbols) == right


def test_two_weak_wrong_symbols_are_mended() -> None:
    """Two errors apart, with four other weak symbols among the right ones."""
    right = block(0x4B59, 1)
    symbols = symbols_of([right])
    symbols[[3, 9, 14, 20]] *= 0.3
    symbols[[6, 17]] *= -0.2
    assert mended(int(words_of(symbols)[0]), 1, symbols) == right


def test_a_strong_wrong_symbol_is_left() -> None:
    """The six weakest symbols may be turned, no others."""
    symbols = symbols_of([block(0x4B59, 1)])
    symbols[:6] *= 0.1
    symbols[20] *= -1.0
    assert mended(int(words_of(symbols)[0]), 1, symbols) is None


def test_chance_mends_one_word_in_about_fifty() -> None:
    """21 trials of one in 1024: 2.05 % of 16,000 random blocks, four sigmas allowed; what comes out is clean."""
    rng = np.random.default_rng(2)
    found = 0
    for symbols in rng.standard_normal((16_000, 27)):
        read = mended(int(words_of(symbols)[0]), 3, symbols)
        found += read is not None
        assert read is None or remainder(read) == 0x1B4
    assert found / 16_000 == pytest.approx(21 / 1024, abs=4 * np.sqrt(0.0205 / 16_000))
