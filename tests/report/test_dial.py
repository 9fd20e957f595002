"""The dial: numerals as printed, places in order, folds without loss."""

from __future__ import annotations

from itertools import pairwise

import pytest

from bandscan.plans import plan_for
from bandscan.report.dial import dial_for


@pytest.mark.parametrize(
    ("region", "band", "numerals"),
    [
        # common practice: the numerals of car dials
        ("us", "fm", ["88", "92", "96", "100", "104", "108"]),
        ("eu", "fm", ["88", "92", "96", "100", "104", "108"]),
        ("us", "am", ["55", "60", "70", "80", "100", "120", "140", "160"]),
        ("jp", "fm", ["76", "80", "84", "88", "92"]),
        ("eu", "am", ["55", "60", "70", "80", "100", "120", "140", "160"]),
    ],
)
def test_numerals_are_those_printed_on_sets(region: str, band: str, numerals: list[str]) -> None:
    """A whole dial shows the numerals of a set, ascending."""
    placed = dial_for(region, band).numerals_at(gap=0)
    assert [text for _, text in placed] == numerals
    assert [place for place, _ in placed] == sorted(place for place, _ in placed)


@pytest.mark.parametrize(
    ("region", "band"), [("us", "fm"), ("us", "am"), ("eu", "fm"), ("eu", "am"), ("jp", "fm"), ("jp", "am")]
)
def test_each_channel_is_on_exactly_one_stretch(region: str, band: str) -> None:
    """Folding the dial loses no channel, doubles none, and keeps each within its stretch."""
    stretches = dial_for(region, band).fold(3)
    for channel in plan_for(region, band).channels_hz:
        holding = [stretch for stretch in stretches if stretch.holds(channel)]
        assert len(holding) == 1
        assert 0 <= holding[0].at(channel) <= 1


def test_an_am_dial_is_opened_up_at_its_low_end() -> None:
    """Common practice: 10 kHz take more of the dial at 600 than at 1400; on FM the dial is even."""
    am, fm = dial_for("us", "am"), dial_for("us", "fm")
    assert am.width(600_000) > 2 * am.width(1_400_000)
    assert fm.width(88_100_000) == pytest.approx(fm.width(107_900_000))


@pytest.mark.parametrize(
    ("region", "band", "covered", "numerals"),
    [
        ("eu", "fm", (93_500_000, 95_700_000), ["94", "95"]),
        ("us", "fm", (94_100_000, 94_500_000), ["94", "94.5"]),
        ("us", "am", (990_000, 1_050_000), ["100", "105"]),
    ],
)
def test_a_short_survey_fills_the_dial(region: str, band: str, covered: tuple[int, int], numerals: list[str]) -> None:
    """A small part of a band is drawn on a dial of its own, in one row, with two numerals or more."""
    dial = dial_for(region, band, covered)
    assert [text for _, text in dial.numerals_at(gap=0)] == numerals
    assert 0 < dial.at(covered[0]) < 0.35
    assert 0.65 < dial.at(covered[1]) < 1
    assert len(dial.fold(3)) == 1


def test_numerals_that_would_touch_are_left_out() -> None:
    """On a short dial the numerals keep their distance."""
    places = [place for place, _ in dial_for("us", "am").numerals_at(gap=0.1)]
    assert len(places) < 8
    assert all(right - left >= 0.1 for left, right in pairwise(places))
