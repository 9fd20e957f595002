"""The chain of ticks and stations against an enumeration of every alignment, and against the Poisson-binomial."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.stats import poisson_binom

from bandscan.radio.chain import Chain, log_likelihood, posterior


def _chain(ticks: int, stations: int, seed: int) -> Chain:
    dice = np.random.default_rng(seed)
    heard = dice.random((5, stations, 2, 3))
    return Chain(
        place=dice.random((ticks, stations, 2)) * 3.0,
        beside=dice.random((ticks, stations + 1, 2)) * 0.5,
        heard=heard,
        grade=dice.integers(0, 5, ticks),
        missed=dice.random((stations, 2, 3)),
        extra=dice.random((stations + 1, 2)) * 0.3,
    )


def _all_alignments(chain: Chain, draw: int, radio: int) -> tuple[float, np.ndarray]:
    """Sum over every way to pair ticks with stations in order, one by one, and the share of every pair."""
    ticks, stations = chain.place.shape[:2]
    total, share = 0.0, np.zeros((ticks, stations))
    for size in range(min(ticks, stations) + 1):
        for those in itertools.combinations(range(ticks), size):
            for these in itertools.combinations(range(stations), size):
                weight = float(np.prod(1.0 - chain.extra[:, draw]))
                for tick, station in zip(those, these, strict=True):
                    weight *= chain.place[tick, station, draw] * chain.heard[chain.grade[tick], station, draw, radio]
                for station in set(range(stations)) - set(these):
                    weight *= chain.missed[station, draw, radio]
                weight *= _extras(
                    chain, draw, sorted(set(range(ticks)) - set(those)), dict(zip(those, these, strict=True)), stations
                )
                total += weight
                for tick, station in zip(those, these, strict=True):
                    share[tick, station] += weight
    return total, share / total


def _extras(chain: Chain, draw: int, extras: list[int], pairs: dict[int, int], stations: int) -> float:
    """Every way to lay the extra ticks into the gaps between their paired neighbours, in order."""
    ways = 0.0
    gaps = []
    for tick in extras:
        low = max([pairs[one] + 1 for one in pairs if one < tick], default=0)
        high = min([pairs[one] for one in pairs if one > tick], default=stations)
        gaps.append(range(low, high + 1))
    for choice in itertools.product(*gaps):
        if list(choice) == sorted(choice):
            weight = 1.0
            for tick, gap in zip(extras, choice, strict=True):
                weight *= chain.beside[tick, gap, draw] * chain.extra[gap, draw]
            ways += weight
    return ways


@pytest.mark.parametrize(("ticks", "stations"), [(0, 3), (1, 1), (3, 4), (4, 3), (5, 2)])
def test_the_chain_sums_every_alignment(ticks: int, stations: int) -> None:
    """Likelihood and pair probabilities are those of an enumeration of all alignments."""
    chain = _chain(ticks, stations, 7 * ticks + stations)
    log_value = log_likelihood(chain)
    match, again = posterior(chain)
    assert np.allclose(again, log_value)
    for draw, radio in itertools.product(range(2), range(3)):
        total, share = _all_alignments(chain, draw, radio)
        assert log_value[draw, radio] == pytest.approx(np.log(total), abs=1e-9)
        assert match[:, :, draw, radio] == pytest.approx(share, abs=1e-9)


@pytest.mark.parametrize("count", [0, 7, 15, 30])
def test_ticks_without_readings_weigh_as_a_bare_total(count: int) -> None:
    """Order alone, no extras: the chance of the count is the Poisson-binomial's (scipy.stats.poisson_binom)."""
    chance = np.repeat([0.9, 0.5, 0.1], 10)
    heard = np.zeros((5, 30, 1, 1))
    heard[0, :, 0, 0] = chance
    chain = Chain(
        place=np.ones((count, 30, 1)),
        beside=np.ones((count, 31, 1)),
        heard=heard,
        grade=np.zeros(count, dtype=np.int64),
        missed=(1.0 - chance)[:, None, None],
        extra=np.full((31, 1), 1e-12),
    )
    assert np.exp(log_likelihood(chain)[0, 0]) == pytest.approx(poisson_binom.pmf(count, chance), rel=1e-6)


def test_long_sweeps_neither_overflow_nor_vanish() -> None:
    """300 ticks over 300 stations, most of it impossible, keep a finite likelihood."""
    chain = _chain(300, 300, 3)
    tiny = Chain(chain.place * 1e-6, chain.beside * 1e-6, chain.heard, chain.grade, chain.missed * 1e-6, chain.extra)
    assert np.isfinite(log_likelihood(tiny)).all()
