"""What known-good sets say together: radio/family.py."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from radio.bench_sim import bench, reference_list

from bandscan.model import BandCheck, Interval, Reference
from bandscan.radio import GoodSweep, Limits, judge, read_sheet, reference_from, stray_sets

MADE = "2026-03-14T12:00:00Z"
_LIST = {"fm": reference_list(bench(random.Random(1), 5))}
_JUDGED = judge(read_sheet("# bands: fm\n", "s.csv"), _LIST, {}, Limits(), MADE, "0").bands["fm"]


def _band(value: float, half: float, bound: str = "two-sided", unit: str = "dBFS") -> BandCheck:
    return replace(_JUDGED, threshold_db=Interval(value, value - half, value + half), bound=bound, unit=unit)


def _sets(*thresholds: tuple[float, ...], half: float = 3.0, basis: str = "known-good") -> Reference:
    """The reference of sets with these thresholds, sweep by sweep."""
    sweeps = [
        GoodSweep(f"set {number}", f"job {number}", MADE, _band(value, half))
        for number, values in enumerate(thresholds)
        for value in values
    ]
    found = reference_from(sweeps, basis)
    assert found is not None
    return found


def _sd(reference: Reference) -> float:
    assert reference.sd_db is not None
    return reference.sd_db


def test_one_sweep_of_one_set_counts_with_three_decibels() -> None:
    """Its own interval and a spread of 3 dB (the contract's figure); what it rests on is told."""
    one = _sets((-70.0,), half=3.92)
    assert (one.threshold_db, one.basis, one.unit, one.sets, one.sweeps) == (-70.0, "known-good", "dBFS", 1, 1)
    assert (one.made_utc, one.jobs) == (MADE, ("job 0",))
    assert one.sd_db == pytest.approx(np.hypot(2.0, 3.0))
    assert one.spread_db == pytest.approx(3.0)


def test_a_second_sweep_makes_the_measure_surer_and_a_second_set_more_so() -> None:
    """Two sweeps that agree beat one, two sets beat two sweeps of one set; the set's own place stays in doubt."""
    one, again, two = _sets((-70.0,), half=0.1), _sets((-70.0, -70.0), half=0.1), _sets((-70.0,), (-70.0,), half=0.1)
    assert _sd(one) > _sd(again) > _sd(two)
    assert _sd(again) > 5.0**0.5  # 3 dB less 2 dB for the sweep leave sqrt(5) dB from set to set
    assert (again.sets, again.sweeps, two.sets, two.sweeps) == (1, 2, 2, 2)


def test_sweeps_that_do_not_agree_are_seen() -> None:
    """One set at -74 and -66 dBFS: the spread from day to day grows, and with it the doubt."""
    calm, wild = _sets((-70.5, -69.5), half=0.1), _sets((-74.0, -66.0), half=0.1)
    assert calm.threshold_db == wild.threshold_db == pytest.approx(-70.0)
    assert _sd(wild) > _sd(calm)
    # by hand: day 2 * 4 + 32 over 3, halved for two sweeps; set 5
    assert _sd(wild) == pytest.approx((40.0 / 3.0 / 2.0 + 5.0) ** 0.5, abs=0.01)


def test_many_sweeps_of_one_set_do_not_outvote_another_set() -> None:
    """Ten sweeps at -70 and one at -60 dBFS: the family stands between, nearer to the set that is known better."""
    both = _sets((-70.0,) * 10, (-60.0,), half=0.1)
    assert both.threshold_db is not None
    assert -66.5 < both.threshold_db < -65.0
    assert (both.sets, both.sweeps) == (2, 11)


def test_more_sets_narrow_the_reference() -> None:
    """Five sets that agree weigh more than one, five that do not weigh less; another family costs 4 dB."""
    agree = _sets(*((-70.0 + x,) for x in (-1.0, -0.5, 0.0, 0.5, 1.0)))
    differ = _sets(*((-70.0 + x,) for x in (-8.0, -4.0, 0.0, 4.0, 8.0)))
    other = _sets(*[(-70.0,)] * 5, basis="other family")
    assert agree.threshold_db == pytest.approx(-70.0)
    assert _sd(agree) < 1.5 < _sd(differ)
    assert _sd(other) > 4.0
    assert differ.spread_db is not None
    # the sets' own standard deviation is 6.3 dB, drawn towards the first guess of 3 dB
    assert 4.0 < differ.spread_db < 6.3


def test_the_spread_of_made_sets_is_found() -> None:
    """Two hundred made sets, 3 dB from set to set and 1.5 dB from day to day, two sweeps each: spread and mean are met."""
    dice = np.random.default_rng(4)
    places = -70.0 + 3.0 * dice.standard_normal(200)
    found = _sets(*(tuple(place + 1.5 * dice.standard_normal(2)) for place in places), half=0.1)
    assert found.threshold_db == pytest.approx(-70.0, abs=4 * 3.2 / 200**0.5)
    # a standard deviation of 200 sets scatters by 5 %
    assert found.spread_db == pytest.approx((9.0 + 2.25) ** 0.5, rel=0.2)


def test_a_set_that_bounds_one_side_is_no_reference() -> None:
    """A set that heard everything says only that it is not deaf."""
    assert reference_from([GoodSweep("a", "1", MADE, _band(-70.0, 3.0, bound="upper"))]) is None
    assert reference_from([]) is None


def test_where_most_sweeps_heard_all_there_was_the_rest_are_no_measure() -> None:
    """One sweep in four that a slip has bounded tells the slip; one of two is taken."""

    def of(*bounds: str) -> Reference | None:
        return reference_from([GoodSweep(str(number), "1", MADE, _band(-60.0, 3.0, one)) for number, one in enumerate(bounds)])

    assert of("two-sided", "upper", "upper", "upper") is None
    assert of("two-sided", "upper") == of("two-sided")


def test_what_its_day_took_from_a_good_set_is_taken_off() -> None:
    """Noise up by 6 dB may have taken 0 to 6 dB: the threshold counts 3 dB lower, with 6 / sqrt 12 dB of doubt more."""
    found = reference_from([GoodSweep("a", "1", MADE, _band(-67.0, 3.92), 0.0, 6.0)])
    assert found is not None
    assert found.threshold_db == pytest.approx(-70.0)
    assert found.sd_db == pytest.approx(np.sqrt(2.0**2 + 3.0**2 + 3.0))


def test_units_are_never_mixed() -> None:
    """Of sweeps in dBFS and in dBuV the newest one's unit counts, and the others are left out."""
    old = GoodSweep("a", "1", "2026-01-01T12:00:00Z", _band(-70.0, 3.0))
    new = GoodSweep("b", "2", MADE, _band(20.0, 3.0, unit="dBuV"))
    found = reference_from([new, old])
    assert found is not None
    assert (found.threshold_db, found.unit, found.jobs) == (20.0, "dBuV", ("2",))


def test_one_stray_of_three_and_more_hardly_moves_the_reference() -> None:
    """One of three 14 dB deaf (a plain mean: 4.7 dB off), one of five 14 and 30 dB: off by less than its own doubt, and that
    doubt is not less than without the stray; of two nobody can say which is the good one."""
    good = (-70.5, -70.0, -69.5, -70.2)
    for more, at_most_db in ((2, 1.5), (4, 0.5)):
        sound = [(value,) for value in good[:more]]
        for stray_db in (14.0, 30.0):
            found = _sets((-70.0 + stray_db,), *sound)
            assert found.threshold_db == pytest.approx(-70.0, abs=at_most_db)
            assert abs((found.threshold_db or 0.0) + 70.0) < _sd(found)
            assert _sd(found) >= _sd(_sets(*sound)) - 0.1
            assert found.sets == more + 1
    assert _sets((-70.0,), (-56.0,)).threshold_db == pytest.approx(-63.0)


def test_five_ordinary_sets_are_averaged_and_their_doubt_is_kept() -> None:
    """1 dB from set to set, 1.2 dB from sweep to sweep, each known to 2.3 dB: no other estimate than the mean's 1.24 dB of
    scatter can be had, and 95 % of 400 made references hold the truth."""
    dice = np.random.default_rng(7)
    spread_db = np.hypot(np.hypot(1.0, 1.2), 2.3)
    found = [_sets(*((value,) for value in -70.0 + spread_db * dice.standard_normal(5)), half=1.96 * 2.3) for _ in range(400)]
    errors = np.array([(one.threshold_db or 0.0) + 70.0 for one in found])
    sds = np.array([_sd(one) for one in found])
    # a standard deviation of 400 draws scatters by 3.5 %
    assert errors.std() < 1.15 * spread_db / 5**0.5
    assert np.median(sds) < 1.6
    assert (np.abs(errors) < 1.96 * sds).mean() >= 0.95 - 2.0 * (0.95 * 0.05 / 400) ** 0.5


def test_a_stray_set_is_named_with_how_far_it_stands() -> None:
    """The one that most others outvote, its jobs and its distance; none among sets that agree, none of two."""

    def of(*values: float) -> list[tuple[str, tuple[str, ...], str]]:
        return stray_sets([GoodSweep(f"set {n}", f"job {n}", MADE, _band(value, 3.0)) for n, value in enumerate(values)])

    ((name, jobs, apart),) = of(-70.0, -56.0, -70.5)
    assert (name, jobs) == ("set 1", ("job 1",))
    assert apart.startswith("14 dB (95 %: ")
    assert apart.endswith(" deafer")
    assert of(-70.0, -71.0, -69.0, -66.0) == []
    assert of(-70.0, -56.0) == []
