"""Ticks laid over the list: one station each, in order, as many right ones as can be expected."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from bandscan.radio.shown import laid


def _expected(match: np.ndarray, station: tuple[int, ...]) -> float:
    """How many ticks are expected to be right; a tick without a station counts only where that is the likelier."""
    none = 1.0 - match.sum(axis=1)
    return sum(match[tick, at] if at >= 0 else none[tick] * (none[tick] > 0.5) for tick, at in enumerate(station))


def _in_order(station: tuple[int, ...]) -> bool:
    given = [at for at in station if at >= 0]
    return all(a < b for a, b in itertools.pairwise(given))


@pytest.mark.parametrize("seed", range(40))
def test_no_other_laying_in_order_is_expected_to_have_more_ticks_right(seed: int) -> None:
    dice = np.random.default_rng(seed)
    ticks, stations = int(dice.integers(1, 5)), int(dice.integers(1, 6))
    match = dice.random((ticks, stations)) ** 4
    match *= dice.uniform(0.2, 1.0, (ticks, 1)) / match.sum(axis=1, keepdims=True)
    got = tuple(int(at) for at in laid(match))
    every = [one for one in itertools.product(range(-1, stations), repeat=ticks) if _in_order(one)]
    assert _in_order(got)
    assert _expected(match, got) == pytest.approx(max(_expected(match, one) for one in every))


def test_two_ticks_that_want_one_station_are_not_both_given_it() -> None:
    # the second tick's next likely station stands beyond: it is not lost
    assert laid(np.array([[0.9, 0.0, 0.1], [0.6, 0.4, 0.0]])).tolist() == [0, 1]


def test_a_tick_that_is_more_probably_none_of_the_list_has_no_station() -> None:
    assert laid(np.array([[0.3, 0.1], [0.0, 0.9]])).tolist() == [-1, 1]


def test_an_empty_sweep_has_no_station() -> None:
    assert laid(np.zeros((0, 5))).tolist() == []
