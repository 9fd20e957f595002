"""The odds of a wrong PI that rds_service states: worked out, and their factors met by drawing lots.

In noise a window agrees with 2^-10 (check) times 2^-26 (equal words): 1.5e-11, one window a second, 1.5e-6 in 100,000 s.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
import scipy.special
import scipy.stats
from dsp.rds_made import block

from bandscan.dsp.rds_blocks import A, places_of, words_of
from bandscan.dsp.rds_service import OTHERS, _averaged_word, agreement


def test_averages_of_noise_pass_the_check_and_agree_as_often_as_chance() -> None:
    """20,000 averages of 6 random blocks: A's check once in 1024; halves agree in 13 of 26 bits; four sigmas allowed."""
    rng = np.random.default_rng(1)
    words = np.array([_averaged_word(rows) for rows in rng.standard_normal((20_000, 6, 27))])
    assert np.sum(places_of(words) == A) == pytest.approx(20_000 / 1024, abs=4 * math.sqrt(20_000 / 1024))
    agreeing = 26 - np.array([int(a ^ b).bit_count() for a, b in words.reshape(-1, 2)])
    assert agreeing.mean() == pytest.approx(13, abs=4 * math.sqrt(6.5 / 10_000))
    # equal by the tail of the same distribution
    assert agreeing.var() == pytest.approx(6.5, abs=4 * 6.5 * math.sqrt(2 / 10_000))


def test_windows_of_noise_seldom_have_three_other_clean_blocks() -> None:
    """Four seconds: 137 other blocks at each of 104 phases; 8 % of windows by Poisson's law, four sigmas of 1000 allowed."""
    others = 137 * (1 + 2 + 1) / 3 / 1024  # C has two forms
    expected = 1 - (1 - scipy.stats.poisson.sf(OTHERS - 1, others)) ** 104
    assert expected == pytest.approx(0.0826, abs=0.0005)
    rng = np.random.default_rng(2)
    found = 0
    for symbols in rng.standard_normal((1000, 4750)):
        places = places_of(words_of(symbols))
        starts = np.flatnonzero(places > A)
        phases = (starts - 26 * places[starts]) % 104
        found += np.bincount(phases, minlength=104).max() >= OTHERS
        assert agreement(symbols, places) is None
    assert found / 1000 == pytest.approx(expected, abs=4 * math.sqrt(expected / 1000))


@cache
def errors_by_symbols() -> np.ndarray:
    """How many of the 65,535 wrong code words differ from the right one by 1, 2, ... wrong symbols; the code is linear."""
    words = np.array([block(data, 0) ^ block(0, 0) for data in range(1, 65_536)])
    bits = words[:, None] >> np.arange(25, -1, -1) & 1
    # symbol n + 1 is wrong if an odd number of the bits 0 to n is; all symbols turned over is the same word
    wrong = np.cumsum(bits, axis=1) % 2
    count = wrong.sum(axis=1)
    return np.bincount(np.minimum(count, 27 - count), minlength=14)


def test_no_word_is_wrong_by_fewer_than_three_symbols() -> None:
    """Seven words of 65,535 are wrong by three symbols, none by fewer (counted here, minimum distance 3: annex B)."""
    assert errors_by_symbols()[:4].tolist() == [0, 0, 0, 7]


@pytest.mark.parametrize("groups", [2, 4, 11, 45])
def test_a_weak_station_is_never_taken_for_another(groups: int) -> None:
    """Both averages with the same undetected error and three other clean blocks: below 2e-9 a window at any level."""
    worst = 0.0
    for bit_energy in np.geomspace(0.02, 20, 200):
        one = 0.5 * scipy.special.erfc(math.sqrt(bit_energy))
        averaged = 0.5 * scipy.special.erfc(math.sqrt(bit_energy * (groups // 2)))
        three_others = scipy.stats.binom.sf(OTHERS - 1, 3 * groups, (1 - one) ** 27)
        same_error = sum(
            count * (averaged**wrong * (1 - averaged) ** (27 - wrong)) ** 2 for wrong, count in enumerate(errors_by_symbols())
        )
        worst = max(worst, float(same_error * three_others))
    assert worst < 2e-9
