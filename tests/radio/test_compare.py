"""Before and after, two listeners, and what a bench can tell."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, bench, listener, reference_list, sweep

from bandscan.model import BandChange, Finding, Interval, RadioCheck, Reference, StationHeard
from bandscan.radio import Limits, change_to_json, compare, judge, plan_bench, read_sheet
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
    change = compare(_judged(before.text, stations), _judged(after.text, stations)).bands["fm"]
    assert change.difference_db is not None
    assert change.difference_db.low is not None
    assert change.difference_db.high is not None
    assert change.difference_db.low < -15.0 < change.difference_db.high < -5.0
    assert len(change.gained) >= 6
    assert len(change.lost) <= 1
    assert change.p_value < 0.05


def _given(
    threshold: Interval,
    *,
    reference: Reference = GOOD,
    heard: str = "",
    levels: tuple[float, ...] = (),
    today: dict[str, object] | None = None,
    swept: str = "2026-03-14 11:00",
    by: str = "Ann",
    rig: str = "bench",
    radio: str = "Ombra",
) -> RadioCheck:
    """A check with this threshold; `heard` is one letter for each station: y, n or ? from 88.1 MHz up by 0.2."""
    heard_by = {"y": True, "n": False, "?": None}
    stations = tuple(
        StationHeard(88_100_000 + 200_000 * place, levels[place] if levels else -50.0, heard_by[letter], 0.5, "", "", "")
        for place, letter in enumerate(heard)
    )
    band = _judged("band,dial,grade\nfm,88.1,3\n", bench(random.Random(1), 12)).bands["fm"]
    band = replace(band, threshold_db=threshold, reference=reference, stations=stations)
    facts = None if today is None else {"fm": today}
    return RadioCheck("7", radio, "", swept, by, {"fm": band}, (), {"fm": {"rig": rig}}, facts, "", "0")


def _fm(before: RadioCheck, after: RadioCheck) -> BandChange:
    return compare(before, after).bands["fm"]


def test_each_sweep_counts_against_its_own_days_reference() -> None:
    """Noise that rose by 6 dB between the days took the reference 3 dB up: the radio, also 3 dB up, has not changed."""
    risen = replace(GOOD, threshold_db=GOOD_DB + 3.0)
    first = _given(Interval(-50.0, -51.0, -49.0), today={"off_air_hz": []})
    second = _given(Interval(-47.0, -48.0, -46.0), reference=risen, today={"off_air_hz": []})
    change = _fm(first, second)
    assert change.difference_db is not None
    assert change.difference_db.value == pytest.approx(0.0)
    # by hand: hypot(1, 1, 1.96 * 3 / sqrt 3) = 3.677: the same sets' own doubt falls out, the day's stays
    assert change.difference_db.high == pytest.approx(3.677, abs=0.001)
    assert change.difference_db.low == pytest.approx(-3.677, abs=0.001)


@pytest.mark.parametrize(
    ("changes", "half_db"),
    [
        ({}, 1.414),  # hypot(1, 1)
        ({"by": "Ben"}, 3.111),  # hypot(1.4142, 1.96 * hypot(1, 1))
        ({"swept": "2026-09-14 11:00"}, 2.400),  # hypot(1.4142, 1.96 * hypot(0.7, 0.7))
        ({"swept": "2026-09-14 11:00", "today": None}, 3.539),  # hypot(1.4142, 1.96 * hypot(0.7, 1.5))
        ({"reference": replace(GOOD, sets=6)}, 3.111),  # other sets: hypot(1.4142, 1.96 * hypot(1, 1))
        # the same sets on a day that doubts them more without moving them: hypot(1.4142, 1.96 * sqrt(2 ** 2 - 1))
        ({"reference": replace(GOOD, sd_db=2.0)}, 3.678),
    ],
)
def test_the_doubt_of_a_difference(changes: dict[str, object], half_db: float) -> None:
    """What two sweeps do not share widens the difference: listener, day, a day that no survey tells, the reference's sets."""
    first = _given(Interval(-50.0, -51.0, -49.0), today={"off_air_hz": []})
    second = _given(Interval(-60.0, -61.0, -59.0), **{"today": {"off_air_hz": []}, **changes})  # type: ignore[arg-type]
    difference = _fm(first, second).difference_db
    assert difference is not None
    assert (difference.value, difference.high) == (pytest.approx(-10.0), pytest.approx(-10.0 + half_db, abs=0.002))


def test_a_repair_that_hears_everything_is_bounded_on_one_side() -> None:
    """Deaf before, all heard after: no value, but at least so much more sensitive."""
    change = _fm(_given(Interval(-40.0, -42.0, -38.0)), _given(Interval(-60.0, None, -55.0)))
    assert change.difference_db == Interval(None, None, pytest.approx(-13.0))
    unknown = _fm(_given(Interval(-60.0, None, -55.0)), _given(Interval(-60.0, None, -55.0)))
    assert (unknown.difference_db, unknown.no_difference[:38]) == (None, "the sweeps bound the change on neither")


def test_what_is_never_compared_is_said() -> None:
    """Two rigs, or no reference: no difference, and the reason."""
    here, attic = _given(Interval(-50.0, -51.0, -49.0)), _given(Interval(-50.0, -51.0, -49.0), rig="attic")
    assert _fm(here, attic).no_difference == "the lists are of two rigs, bench and attic, which are never compared"
    assert _fm(here, attic).difference_db is None
    none = _given(Interval(-50.0, -51.0, -49.0), reference=Reference(None, None, "none", "dBFS"))
    assert _fm(here, none).no_difference == "a reference is missing: sweep a known-good radio"


def _parted(check: RadioCheck, fault: str, weight: float = 2.0) -> RadioCheck:
    """The check with what says that its sheet and list do not belong together."""
    found = Finding(fault, "the sheet is of rig loft, the FM list of rig bench", (), "make a list with the sheet's rig", weight)
    return replace(check, bands={"fm": replace(check.bands["fm"], findings=(found,))})


@pytest.mark.parametrize("fault", ["other-antenna", "night-list"])
@pytest.mark.parametrize("side", ["before", "after"])
def test_a_sheet_that_is_not_of_its_lists_rig_or_hour_is_compared_with_nothing(fault: str, side: str) -> None:
    """No decibels, no station gained or lost, no chance, and the reason; a light suspicion forbids nothing."""
    first, second = (_given(Interval(-50.0, -51.0, -49.0), heard=heard) for heard in ("nnnny", "yyyyn"))
    if side == "before":
        change = _fm(_parted(first, fault), second)
    else:
        change = _fm(first, _parted(second, fault))
    assert (change.difference_db, change.gained, change.lost, change.p_value) == (None, (), (), None)
    assert (change.before_db is None, change.after_db is None) == (side == "before", side == "after")
    again = "; make a list with the sheet's rig" if side == "after" else ""
    assert change.no_difference == (
        f"the sheet {side} and its list do not belong together, the sheet is of rig loft, the FM list of rig bench{again}"
    )
    light = _fm(first, _parted(second, fault, weight=1.9))
    assert (len(light.gained), len(light.lost), light.no_difference) == (4, 1, "")


def test_a_dead_end_that_came_is_kept_with_the_change() -> None:
    """After only; of a sheet that is not of its list's rig nothing is told."""
    check, words = _given(Interval(-50.0, -51.0, -49.0)), "nothing is heard above 98.3 MHz"
    found = Finding("dead-beyond", words, (), "", 1.4)
    first, dead = (replace(check, bands={"fm": replace(check.bands["fm"], findings=some)}) for some in ((), (found,)))
    assert _fm(first, dead).dead_end == ("", words)
    assert _fm(_parted(first, "other-antenna"), dead).dead_end == ("", "")


def test_stations_are_not_compared_across_rigs() -> None:
    """Two lists of two rigs: what was gained is the other antenna's doing."""
    first = _given(Interval(-50.0, -51.0, -49.0), heard="nnnny")
    told = compare(first, _given(Interval(-50.0, -51.0, -49.0), heard="yyyyn", rig="attic"))
    assert told.cautions == ()  # of no station it is said that it may count as lost or gained
    change = told.bands["fm"]
    assert (change.gained, change.lost, change.p_value) == ((), (), None)


def test_gained_and_lost_are_of_stations_that_both_sweeps_tell_of() -> None:
    """Unsure ones and those off the air on a day are left out; a shift of the lists and another radio are said."""
    first = _given(Interval(-50.0, -51.0, -49.0), heard="nny?yn", levels=(-60.0,) * 6)
    second = _given(
        Interval(-50.0, -51.0, -49.0),
        heard="yynyny",
        levels=(-56.0,) * 6,
        today={"off_air_hz": [88_900_000]},
        radio="Mirrim",
    )
    told = compare(first, second)
    change = told.bands["fm"]
    assert change.gained == (88_100_000, 88_300_000, 89_100_000)
    assert change.lost == (88_500_000,)
    assert change.both == 4
    assert change.p_value == pytest.approx(0.625)  # binomial table: 3 against 1, two-sided 10/16
    assert change.level_shift_db == pytest.approx(4.0)
    assert told.cautions == (
        "the sheets name two radios, Ombra and Mirrim: is this one radio?",
        "FM: the stations stand +4 dB in the later list against the earlier:"
        " stations gained or lost may be the antenna's doing",
        "FM: 1 station off the air on one of the days left out of gained and lost",
        "FM: no survey of the day before: a station off the air counts as lost or gained",
    )


def test_two_listeners_on_one_radio_differ_by_chance_only() -> None:
    """Common practice: two honest people agree on 88 to 96 % of 60 stations; seldom is their difference significant."""
    agree, significant = [], 0
    for seed in range(3):
        dice = random.Random(f"two{seed}")
        stations = bench(dice, 60)
        checks = [_judged(sweep(dice, stations, Radio(), listener(dice), reading_hz=0.1e6).text, stations) for _ in range(2)]
        change = compare(*checks).bands["fm"]
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


def test_a_small_probability_is_no_nought_in_the_record() -> None:
    """25 stations gained and none lost: 2 / 2^25, the exact binomial."""
    bound = Interval(-60.0, -63.0, -57.0)
    change = compare(_given(bound, heard="n" * 25), _given(bound, heard="y" * 25, swept="2026-03-15 11:00"))
    assert change_to_json(change)["bands"]["fm"]["p_value"] == pytest.approx(2.0**-24, rel=0.01)
