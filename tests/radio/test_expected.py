"""Expected counts and reference thresholds, against published and computed figures."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, bench, listener, reference_list, sweep

from bandscan.model import Reference
from bandscan.radio import Limits, judge, read_sheet
from bandscan.radio.bench import bench_of
from bandscan.radio.expected import count_distribution, expected_count, reference_for
from bandscan.radio.hearing import followed_chance


def test_poisson_binomial_of_the_documented_example() -> None:
    """p = .1, .2, .2 gives .576 .352 .068 .004 (README of the fast-poibin library; scipy.stats.poisson_binom)."""
    assert count_distribution(np.array([0.1, 0.2, 0.2])) == pytest.approx([0.576, 0.352, 0.068, 0.004], abs=1e-12)


def test_poisson_binomial_of_thirty_stations() -> None:
    """Ten stations each at .9, .5, .1: mean 15, variance 4.3, 95 % span 11 to 19, P(at most 10) = .0141 (by scipy)."""
    counts = count_distribution(np.repeat([0.9, 0.5, 0.1], 10))
    number = np.arange(31)
    mean = float(number @ counts)
    assert mean == pytest.approx(15.0)
    assert float((number - mean) ** 2 @ counts) == pytest.approx(4.3)
    assert counts[:11].sum() == pytest.approx(0.0141, abs=5e-5)
    assert list(np.searchsorted(np.cumsum(counts), [0.025, 0.975])) == [11, 19]


def test_the_probit_steps_of_the_normal_table() -> None:
    """10, 25, 50, 75, 90 % of such stations are followed at -1.2816, -.6745, 0, .6745, 1.2816 sigma (normal table)."""
    one = bench_of(reference_list(bench(random.Random(1), 3)))
    sure = replace(one, air=np.ones(3), level_db=np.zeros(3))
    chance = followed_chance(sure, 5.0 * np.array([1.2816, 0.6745, 0.0, -0.6745, -1.2816]))[0]
    assert chance == pytest.approx([0.10, 0.25, 0.50, 0.75, 0.90], abs=1e-4)


def test_the_expected_band_holds_what_good_sets_give() -> None:
    """Common practice: two people 5 stations apart are normal. The 95 % band holds at least 19 of 20 good sweeps."""
    inside = 0
    for seed in range(60):
        dice = random.Random(f"expected{seed}")
        stations = bench(dice, 40)
        reference = Reference(GOOD_DB, 1.0, "known-good", "dBFS", 5)
        band = expected_count(bench_of(reference_list(stations)), reference, 0.0, Limits().doubt_db)
        assert band is not None
        assert band.low <= band.mid <= band.high
        count = len(sweep(dice, stations, Radio(), listener(dice)).meant)
        inside += band.low <= count <= band.high
        assert 3 <= band.high - band.low <= 12
    assert inside >= 55


def test_a_vague_reference_gives_a_wide_band() -> None:
    """A reference known to 6 dB expects a band about three times as wide as one known to the decibel."""
    one = bench_of(reference_list(bench(random.Random(1), 40)))
    sharp = expected_count(one, Reference(GOOD_DB, 0.5, "known-good", "dBFS", 5), 0.0, 0.0)
    vague = expected_count(one, Reference(GOOD_DB, 6.0, "assumed", "dBFS"), 0.0, 0.0)
    assert sharp is not None
    assert vague is not None
    assert vague.high - vague.low > 2 * (sharp.high - sharp.low)
    assert abs(vague.mid - sharp.mid) < 2.0


def test_fm_assumes_ten_decibels_over_the_noise_and_says_so() -> None:
    """Without a known-good set the FM threshold is the noise plus 10 dB within 6 dB, printed as assumed; AM has none."""
    fm = reference_for(bench_of(reference_list(bench(random.Random(1), 20))), None)
    assert (fm.basis, fm.sd_db, fm.unit) == ("assumed", 6.0, "dBFS")
    assert fm.threshold_db == pytest.approx(GOOD_DB)  # the made benches' noise lies 10 dB under a good set's threshold
    am = reference_for(bench_of(reference_list(bench(random.Random(1), 20, band="am"), "am")), None)
    assert am == Reference(None, None, "none", "dBFS")


def test_a_reference_in_another_unit_is_not_used() -> None:
    """dBuV thresholds say nothing about dBFS levels, and the check says that it did not use them."""
    stations = bench(random.Random(1), 20)
    sheet = read_sheet(sweep(random.Random(2), stations, Radio(), Listener(), reading_hz=0.2e6).text, "s.csv")
    given = {"fm": Reference(20.0, 1.0, "known-good", "dBuV", 5)}
    check = judge(sheet, {"fm": reference_list(stations)}, given, Limits(), "2026-03-14T12:00:00Z", "0")
    assert check.bands["fm"].reference.basis == "assumed"
    assert "the known-good threshold of FM is in dBuV, the list in dBFS: not used" in check.cautions
