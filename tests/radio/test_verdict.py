"""The verdict's rule of the contract, case by case and in its order."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from bandscan.model import Finding, Interval, Reference
from bandscan.radio import Limits, Plan, Tells
from bandscan.radio.verdict import Evidence, decide, span_words

KNOWN = Reference(-70.0, 1.0, "known-good", "dBFS", 5)
PLAIN = Evidence("fm", Interval(0.0, -3.0, 3.0), KNOWN, (), 0, None, True, None, 0.0)


def _finding(fault: str, weight: float) -> Finding:
    return Finding(fault, f"{fault} is seen", (98_100_000,), f"test {fault}", weight)


def _verdict(**change: object) -> str:
    return decide(replace(PLAIN, **change), Limits())[0]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (-3.0, 3.0, "in line"),
        (-3.0, 9.9, "in line"),
        (5.0, 9.9, "in line"),
        (-3.0, 10.0, "cannot tell"),
        (0.0, 10.0, "cannot tell"),
        (0.1, 10.0, "look closer"),
        (5.9, 30.0, "look closer"),
        (6.0, 30.0, "look closer"),
        (6.1, 30.0, "falls short"),
        (6.1, 9.9, "falls short"),
        (None, 9.9, "in line"),
        (None, 10.0, "cannot tell"),
        (-1.0, None, "cannot tell"),
        (1.0, None, "look closer"),
        (7.0, None, "falls short"),
        (None, None, "cannot tell"),
    ],
)
def test_bounds(low: float | None, high: float | None, verdict: str) -> None:
    """`cannot tell` if lo <= 0 and hi >= 10, `falls short` if lo > 6, `in line` if hi < 10, else `look closer`."""
    assert _verdict(against_db=Interval(None, low, high)) == verdict


def test_limits_are_the_shops() -> None:
    """6 and 10 dB are defaults."""
    wide = replace(PLAIN, against_db=Interval(5.0, 2.0, 9.0))
    assert decide(wide, Limits())[0] == "in line"
    assert decide(wide, Limits(look_db=1.0))[0] == "falls short"
    assert decide(wide, Limits(fail_db=8.0))[0] == "look closer"
    unsure = replace(PLAIN, against_db=Interval(5.0, -3.0, 15.0))
    planned = replace(unsure, plan=Plan("fm", 9, KNOWN, Tells(0.0, 0.1, 0.2), Tells(20.0, 0.5, 0.9)))
    assert decide(planned, Limits(fail_db=14.0))[2].endswith("that tells 90 of 100 sets that are 14 dB deaf")


@pytest.mark.parametrize(
    ("change", "verdict"),
    [
        ({"findings": (_finding("deaf", 1.9),)}, "in line"),
        ({"findings": (_finding("deaf", 2.0),)}, "look closer"),
        ({"findings": (_finding("dead-beyond", 2.0),)}, "falls short"),
        ({"findings": (_finding("dead-beyond", 1.3),)}, "falls short"),
        ({"findings": (_finding("dead-beyond", 1.2),)}, "in line"),
        ({"findings": (_finding("weak-high-end", 5.0), _finding("dead-beyond", 3.0))}, "look closer"),
        ({"findings": (_finding("weak-high-end", 5.0), _finding("dead-beyond", 4.9))}, "look closer"),
        ({"findings": (_finding("weak-high-end", 5.0), _finding("dead-beyond", 5.1))}, "falls short"),
        ({"findings": (_finding("lamp-never", 5.0), _finding("dead-beyond", 4.0))}, "falls short"),
        ({"strong_dark": 3}, "in line"),
        ({"strong_dark": 4}, "falls short"),
        ({"strong_dark": 4, "against_db": Interval(None, -1.0, 12.0)}, "cannot tell"),
        ({"findings": (_finding("dead-beyond", 9.0),), "against_db": Interval(None, -1.0, 12.0)}, "cannot tell"),
        ({"apart": ("the list is stale", "survey again"), "against_db": Interval(9.0, 8.0, 9.5)}, "cannot tell"),
        ({"against_db": None}, "cannot tell"),
        ({"has_levels": False}, "cannot tell"),
    ],
)
def test_findings_lamp_and_what_does_not_belong_together(change: dict[str, object], verdict: str) -> None:
    """A dead end of the band, 20 to 1 sure, or a dark lamp on four strong pilots falls short; weight 2 is looked at closer."""
    assert _verdict(**change) == verdict


def test_why_is_a_sentence_and_do_next_one_thing() -> None:
    """The verdict names its interval, and the next test of the finding that made it."""
    verdict, why, do_next = decide(
        replace(PLAIN, against_db=Interval(12.0, 7.0, 17.0), findings=(_finding("deaf", 4.0),)), Limits()
    )
    assert (verdict, why) == ("falls short", "7 to 17 dB deafer than the reference, where 6 dB is the limit")
    assert do_next == "test deaf"
    _, why, do_next = decide(replace(PLAIN, against_db=None), Limits())
    assert why == "there is no reference threshold for FM on this bench"
    assert do_next == "sweep a known-good radio on this bench and record its sheet: bandscan check SHEET --known-good"
    _, why, do_next = decide(replace(PLAIN, apart=("the list is stale", "survey again")), Limits())
    assert (why, do_next) == ("the list is stale", "survey again")


@pytest.mark.parametrize("order", [1, -1])
def test_in_line_names_what_is_suspected_too_weakly_to_count(order: int) -> None:
    """From 10 to 1 on, wherever it stands among the findings; below, the set is told to be without fault."""
    findings = (_finding("pointer-shift", 1.9), _finding("lamp-late", 0.2), _finding("dead-beyond", 1.2))[::order]
    verdict, why, do_next = decide(replace(PLAIN, findings=findings), Limits())
    assert verdict == "in line"
    assert why.endswith("; suspected, too weakly to count: dead-beyond is seen")
    assert do_next == "to be sure: test dead-beyond"
    _, why, do_next = decide(replace(PLAIN, findings=(_finding("dead-beyond", 0.9),)), Limits())
    assert why.endswith("; nothing else speaks against it")
    assert do_next == "nothing more on this bench"


def test_what_is_less_likely_than_nothing_wrong_is_not_the_next_test() -> None:
    """A deaf set whose findings the sweep speaks against is confirmed with a generator."""
    deaf = Interval(12.0, 7.0, 17.0)
    assert decide(replace(PLAIN, against_db=deaf, findings=(_finding("image", -0.3),)), Limits())[2].startswith("confirm with")
    both = (_finding("image", -0.3), _finding("deaf", 0.4))
    assert decide(replace(PLAIN, against_db=deaf, findings=both), Limits())[2] == "test deaf"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"reference": Reference(-70.0, 6.0, "assumed", "dBFS")}, "sweep a known-good radio on this bench"),
        ({"reference": Reference(-70.0, 6.0, "assumed", "dBFS"), "known_good": True}, "sweep it once more on another day"),
        (
            {"reference": Reference(-70.0, 3.2, "known-good", "dBFS", 1)},
            "sweep another known-good radio, since the reference rests on ",
        ),
        ({}, "sweep again, with grades 3, 2 and 1, and read the dial"),
        ({"readings": True}, "sweep again, with grades 3, 2 and 1"),
        ({"graded": True}, "sweep again, and read the dial at every stop"),
        ({"graded": True, "readings": True}, "sweep once more, in the other direction"),
        ({"bare_total": True}, "sweep with a count sheet, one row a stop"),
        ({"plan": Plan("fm", 9, KNOWN, Tells(0.0, 0.1, 0.2), Tells(20.0, 0.5, 0.9))}, "sweep again through a 20 dB attenuator"),
    ],
)
def test_what_to_do_next_is_what_narrows_the_interval_most(change: dict[str, Any], words: str) -> None:
    """A known-good set, another one, an attenuator, a better sheet, another sweep: whichever is missing most."""
    unsure = replace(PLAIN, against_db=Interval(5.0, -1.0, 12.0), **change)
    assert decide(unsure, Limits())[0] == "cannot tell"
    assert decide(unsure, Limits())[2].startswith(words)


def test_a_bare_total_that_falls_short_is_swept_before_anything_is_measured() -> None:
    """A count condemns no set by itself: a sheet comes before the generator, which a sweep asks for."""
    deaf = replace(PLAIN, against_db=Interval(15.0, 9.0, 21.0))
    assert decide(deaf, Limits())[2] == "confirm with a signal generator through the dummy antenna"
    verdict, _, do_next = decide(replace(deaf, bare_total=True), Limits())
    assert (verdict, do_next) == ("falls short", "sweep with a count sheet, one row a stop: a total proves little either way")


def test_a_dead_end_is_told_where_the_rest_cannot_be() -> None:
    """The contract's order: cannot tell comes first. What is sure all the same is said, and is what to test."""
    unsure = replace(PLAIN, against_db=Interval(5.0, -1.0, 12.0), findings=(_finding("dead-beyond", 2.0),))
    verdict, why, do_next = decide(unsure, Limits())
    assert (verdict, do_next) == ("cannot tell", "test dead-beyond")
    assert why.endswith("both fit; but dead-beyond is seen")


@pytest.mark.parametrize(("band", "trimmer"), [("fm", False), ("am", True)])
def test_only_am_is_told_to_peak_its_antenna_trimmer(band: str, trimmer: bool) -> None:
    """Common practice: the trimmer in the antenna circuit is AM's; a sound FM band needs nothing more."""
    verdict, _, do_next = decide(replace(PLAIN, band=band), Limits())
    assert verdict == "in line"
    assert ("trimmer" in do_next) == trimmer


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (-2.0, 7.0, "between 2 dB better and 7 dB deafer than the reference"),
        (-0.2, 7.0, "between level with and 7 dB deafer than the reference"),
        (-9.0, -2.0, "2 to 9 dB better than the reference"),
        (None, 3.4, "at most 3 dB deafer than the reference"),
        (None, -3.4, "at least 3 dB better than the reference"),
        (None, 0.2, "no deafer than the reference"),
        (12.0, None, "at least 12 dB deafer than the reference"),
        (-10.2, None, "at most 10 dB better than the reference, and how much deafer is not bounded"),
        (0.2, None, "no better than the reference, and how much deafer is not bounded"),
    ],
)
def test_intervals_in_words(low: float | None, high: float | None, words: str) -> None:
    """Intervals read as a technician would say them, without decimals nobody measured."""
    assert span_words(Interval(None, low, high)) == words


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (-11.0, 9.7, "between 11 dB better and 9.7 dB deafer than the reference"),
        (-11.0, 9.97, "between 11 dB better and 9.9 dB deafer than the reference"),
        (6.02, 14.2, "6.1 to 14 dB deafer than the reference"),
        (6.0, 10.0, "6 to 10 dB deafer than the reference"),
    ],
)
def test_no_bound_seems_to_lie_on_a_limit_that_it_does_not_reach(low: float, high: float, words: str) -> None:
    """`in line` is less than 10 dB: the words do not say 10."""
    assert span_words(Interval(None, low, high), (6.0, 10.0)) == words


@pytest.mark.parametrize(
    ("silence", "low", "verdict"),
    [(0.02, 1.0, "look closer"), (0.01, 1.0, "falls short"), (None, 1.0, "look closer"), (0.01, -1.0, "cannot tell")],
)
def test_a_silence_that_a_good_set_hardly_has_falls_short(silence: float | None, low: float, verdict: str) -> None:
    """Nothing heard where a good set is silent in one sweep of a hundred at most: dead; what cannot be told comes first."""
    found = (_finding("deaf", 1.9), _finding("dead-beyond", 1.2))
    assert _verdict(silence=silence, findings=found, against_db=Interval(None, low, None)) == verdict
