"""Before and after, two listeners, and what a bench can tell."""

from __future__ import annotations

import random

import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, bench, listener, reference_list, sweep

from bandscan.model import RadioCheck, Reference
from bandscan.radio import Limits, compare, judge, plan_bench, read_sheet
from bandscan.radio.compare import mcnemar

GOOD = Reference(GOOD_DB, 1.0, "known-good", "dBFS", 5)


def _judged(text: str, stations: list) -> RadioCheck:  # type: ignore[type-arg]
    return judge(read_sheet(text, "s"), {"fm": reference_list(stations)}, {"fm": GOOD}, Limits(), "2026-03-14T12:00:00Z", "0")


@pytest.mark.parametrize(("gained", "lost", "p"), [(8, 1, 0.0391), (5, 0, 0.0625), (6, 0, 0.0313), (0, 0, 1.0), (3, 3, 1.0)])
def test_mcnemar(gained: int, lost: int, p: float) -> None:
    """Exact test on discordant stations: 8-1 .0391, 5-0 .0625, 6-0 .0313 (binomial table): five gained is not yet proof."""
    assert mcnemar(gained, lost) == pytest.approx(p, abs=6e-5)


def test_a_repair_shows_as_a_difference() -> None:
    """15 dB deaf before, sound after: the difference holds -15 dB, stations are gained and hardly any lost."""
    dice = random.Random(5)
    stations = bench(dice, 40)
    before = sweep(dice, stations, Radio(deaf_db=15.0), Listener(grades=True), reading_hz=0.15e6)
    after = sweep(dice, stations, Radio(), Listener(grades=True), reading_hz=0.15e6)
    change = compare(_judged(before.text, stations), _judged(after.text, stations))["fm"]
    assert change.difference_db is not None
    assert change.difference_db.low is not None
    assert change.difference_db.high is not None
    assert change.difference_db.low < -15.0 < change.difference_db.high < -5.0
    assert len(change.gained) >= 6
    assert len(change.lost) <= 1
    assert change.p_value < 0.05


def test_two_listeners_on_one_radio_differ_by_chance_only() -> None:
    """Common practice: two honest people agree on 88 to 96 % of 60 stations; seldom is their difference significant."""
    agree, significant = [], 0
    for seed in range(3):
        dice = random.Random(f"two{seed}")
        stations = bench(dice, 60)
        checks = [_judged(sweep(dice, stations, Radio(), listener(dice), reading_hz=0.1e6).text, stations) for _ in range(2)]
        change = compare(*checks)["fm"]
        agree.append(1.0 - (len(change.gained) + len(change.lost)) / change.both)
        significant += change.p_value < 0.05
    assert 0.88 <= sum(agree) / len(agree) <= 0.98
    assert significant <= 1


def test_a_strong_bench_is_told_to_use_a_pad() -> None:
    """Common practice: 25 to 75 dB over the threshold nothing is told without a pad; 20 or 30 dB make the bench able."""
    plan = plan_bench(reference_list(bench(random.Random(1), 40, lowest_db=25.0)), GOOD, Limits())
    assert plan is not None
    assert plan.now.fail < 0.3
    assert plan.best.pad_db in (20.0, 30.0)
    assert plan.best.fail > 0.9
    assert plan.best.look < plan.best.fail


def test_a_weak_bench_needs_none() -> None:
    """Where stations already stand about the threshold a pad only takes them away."""
    plan = plan_bench(reference_list(bench(random.Random(1), 40)), GOOD, Limits())
    assert plan is not None
    assert plan.best.pad_db == 0.0
    assert plan.now.fail > 0.9
    assert 0.3 < plan.now.look < plan.now.fail


def test_few_stations_tell_little() -> None:
    """An eight-station bench cannot tell a 6 dB deaf set."""
    plan = plan_bench(reference_list(bench(random.Random(1), 8)), GOOD, Limits())
    assert plan is not None
    assert plan.best.look < 0.5


def test_without_a_reference_nothing_is_planned() -> None:
    """AM without a known-good set: no plan."""
    assert plan_bench(reference_list(bench(random.Random(1), 20, band="am"), "am"), None, Limits()) is None


def test_the_plan_keeps_its_word() -> None:
    """The planned chance to tell a set 10 dB deaf agrees with how often it is told, within what 24 sweeps scatter."""
    stations = bench(random.Random(2), 25)
    plan = plan_bench(reference_list(stations), GOOD, Limits())
    assert plan is not None
    told = 0
    for seed in range(24):
        dice = random.Random(f"plan{seed}")
        sheet = sweep(dice, stations, Radio(deaf_db=10.0), listener(dice), reading_hz=0.15e6)
        against = _judged(sheet.text, stations).bands["fm"].against_reference_db
        told += against is not None and against.low is not None and against.low > 0.0
    assert abs(told / 24 - plan.now.fail) < 0.2
