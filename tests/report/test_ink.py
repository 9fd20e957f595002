"""Signs that survive a photocopier, labels that do not touch, plots that plotly accepts."""

from __future__ import annotations

import random
from itertools import combinations
from pathlib import Path

import pytest

from bandscan.report import ink


def test_signs_of_one_plot_differ_in_shape_or_fill() -> None:
    """Colour is never what tells two signs of a plot apart."""
    for family in (
        [ink.HOLDS[kind] for kind in ("pilot", "mono", "sideband", "phantom", "spur", "unsure")],
        list(ink.STEADY.values()),
        [*ink.HEARD.values(), ink.EXTRA, ink.EVIDENCE],
    ):
        looks = [(mark.symbol, mark.filled, mark.letter) for mark in family]
        assert len(set(looks)) == len(looks)


def test_a_label_gives_way_to_what_is_already_there() -> None:
    """A label may touch no other head and no taller stem; the tallest keeps its own."""
    alone = [(10.0, 50.0), (100.0, 50.0)]
    assert sorted(ink.free_labels(alone, [True, True])) == [0, 1]
    head_beside_the_label = [(10.0, 50.0), (20.0, 80.0)]
    assert ink.free_labels(head_beside_the_label, [True, True]) == [1]
    stem_beside = [(10.0, 50.0), (16.0, 300.0)]
    assert ink.free_labels(stem_beside, [True, True]) == [1]
    unwanted = [(10.0, 50.0), (100.0, 50.0)]
    assert ink.free_labels(unwanted, [False, True]) == [1]


def test_labels_never_overlap() -> None:
    """Whatever the heights, two labels 13 px wide and 42 px long are apart."""
    dice = random.Random(5)
    for _ in range(50):
        points = [(dice.uniform(0, 600), dice.uniform(0, 300)) for _ in range(60)]
        free = [points[index] for index in ink.free_labels(points, [True] * 60)]
        assert len(free) > 5
        for (x, y), (u, v) in combinations(free, 2):
            assert abs(x - u) >= 13 or abs(y - v) >= 42


def test_stems_stand_and_hang() -> None:
    """A stem reaches from its head to its foot, whichever of the two is higher."""
    drawn = ink.stems(ink.heads(ink.EXTRA, [0.1, 0.2], [5.0, -3.0], ["", ""]), foot=0.0, thickness=1)
    assert drawn["error_y"]["arrayminus"] == [5.0, 0.0]
    assert drawn["error_y"]["array"] == [0.0, 3.0]


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb: WCAG 2.2, "relative luminance"."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_words_and_signs_stand_out_from_the_paper() -> None:
    """7:1 for words (WCAG 2.2, 1.4.6, level AAA), also over the grey of an interval 3:1 for signs (1.4.11)."""
    paper = luminance(ink.PAPER)
    assert luminance("#767676") == pytest.approx(0.1812, abs=2e-4)  # the standard's well-known grey of 4.54:1 on white
    for colour in (ink.INK, ink.SOFT, ink.RED):
        assert (paper + 0.05) / (luminance(colour) + 0.05) >= 7.0
        assert (luminance("#e3e3e3") + 0.05) / (luminance(colour) + 0.05) >= 3.0
    style = (Path(ink.__file__).parent / "page.css").read_text(encoding="utf-8")
    for word, colour in (("ink", "#000"), ("soft", ink.SOFT), ("red", ink.RED)):
        assert f"--{word}: {colour};" in style
