"""Counting stations: the radio room's chances against published and independently computed figures."""

from __future__ import annotations

import numpy as np
import pytest

from bandscan.plans import plan_for
from bandscan.radio.bench import Bench
from bandscan.radio.expected import count_distribution
from bandscan.radio.hearing import followed_chance


def bench(level_db: list[float]) -> Bench:
    """FM stations of these levels, each on a channel apart, always on the air, 3 dB of spread each."""
    count = len(level_db)
    plan = plan_for("us", "fm")
    return Bench(
        band="fm",
        plan=plan,
        unit="dBFS",
        channel_hz=np.array(plan.channels_hz[: 2 * count : 2], dtype=np.float64),
        level_db=np.array(level_db),
        spread_db=np.full(count, 3.0),
        snr_db=np.full(count, np.nan),
        air=np.ones(count),
        stereo=np.full(count, np.nan),
        names=(frozenset(),) * count,
        shown=("",) * count,
    )


def test_the_poisson_binomial_of_three_stations() -> None:
    """README of the library fast-poibin: p = .1, .2, .2 gives .576, .352, .068, .004."""
    np.testing.assert_allclose(count_distribution(np.array([0.1, 0.2, 0.2])), [0.576, 0.352, 0.068, 0.004], atol=1e-12)


def test_the_poisson_binomial_of_thirty_stations() -> None:
    """scipy.stats.poisson_binom: ten stations each of .9, .5 and .1 count 15, variance 4.3 (a binomial's would be 7.5).

    95 % of the counts lie in 11 to 19; ten or fewer come up with probability 0.0141.
    """
    chances = count_distribution(np.repeat([0.9, 0.5, 0.1], 10))
    counts = np.arange(31)
    mean = float(counts @ chances)
    assert mean == pytest.approx(15.0, abs=1e-9)
    assert float((counts - mean) ** 2 @ chances) == pytest.approx(4.3, abs=1e-9)
    assert float(chances[:11].sum()) == pytest.approx(0.0141, abs=0.00005)
    ladder = np.cumsum(chances)
    assert np.searchsorted(ladder, [0.025, 0.975]).tolist() == [11, 19]


def test_many_settings_at_once_are_each_their_own_count() -> None:
    """A table of chances gives one distribution a column: binomials of 4 trials at 1/2 and at 1/4 (textbook)."""
    found = count_distribution(np.tile([0.5, 0.25], (4, 1)))
    np.testing.assert_allclose(found[:, 0], [1 / 16, 4 / 16, 6 / 16, 4 / 16, 1 / 16])
    np.testing.assert_allclose(found[:, 1], [81 / 256, 108 / 256, 54 / 256, 12 / 256, 1 / 256])


# scipy.stats.norm.ppf: the normal deviates of 10, 25, 50, 75 and 90 %
@pytest.mark.parametrize(("deviate", "share"), [(-1.2816, 0.10), (-0.6745, 0.25), (0.0, 0.50), (0.6745, 0.75), (1.2816, 0.90)])
def test_the_step_of_hearing_is_a_probit(deviate: float, share: float) -> None:
    """A station that far over the threshold, in standard deviations of 5 dB (3 dB its own, 4 dB the listener), is followed."""
    found = followed_chance(bench([-50.0]), np.array([-50.0 - 5.0 * deviate]))
    assert float(found[0, 0]) == pytest.approx(share, abs=0.00005)


# simulated outside bandscan for the trade's question whether a strong bench can show a deaf radio: 40 stations 25 to 75 dB over
# a healthy set's threshold, 4 dB of listener and 3 dB of day. Its two runs of one case (20 dB of pad or of deafness) differ by
# 0.1, and 20 stations are over the threshold at 50 dB by symmetry where it says 20.3: hence 0.35.
@pytest.mark.parametrize(
    ("pad_db", "deaf_db", "count"),
    [(0, 20, 39.7), (20, 0, 39.6), (20, 10, 35.5), (20, 20, 27.9), (30, 0, 35.6), (30, 10, 27.9), (30, 20, 20.3)],
)
def test_a_pad_shows_what_strong_stations_hide(pad_db: float, deaf_db: float, count: float) -> None:
    """Without a pad a set 20 dB deaf still counts 39.7 of 40; behind 20 or 30 dB the count falls as simulated."""
    levels = np.linspace(25.0, 75.0, 40).tolist()
    found = followed_chance(bench(levels), np.array([float(deaf_db)]), pad_db=pad_db)
    assert float(found.sum()) == pytest.approx(count, abs=0.35)
