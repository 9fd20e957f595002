"""Signs that survive a photocopier, labels that do not touch, plots that plotly accepts."""

from __future__ import annotations

from itertools import pairwise

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
    """A label may touch no other head, no taller stem and no label."""
    alone = [(10.0, 50.0), (100.0, 50.0)]
    assert sorted(ink.free_labels(alone, [True, True])) == [0, 1]
    head_above = [(10.0, 50.0), (18.0, 80.0)]
    assert ink.free_labels(head_above, [True, True]) == [1]
    stem_beside = [(10.0, 50.0), (16.0, 300.0)]
    assert ink.free_labels(stem_beside, [True, True]) == [1]
    unwanted = [(10.0, 50.0), (100.0, 50.0)]
    assert ink.free_labels(unwanted, [False, True]) == [1]


def test_labels_of_equal_heads_do_not_overlap() -> None:
    """Of a row of heads 7 px apart only every other one can bear a label 13 px wide."""
    points = [(7.0 * step, 100.0) for step in range(20)]
    free = sorted(ink.free_labels(points, [True] * 20))
    assert all(points[right][0] - points[left][0] >= 13 for left, right in pairwise(free))


def test_stems_stand_and_hang() -> None:
    """A stem reaches from its head to its foot, whichever of the two is higher."""
    drawn = ink.stems(ink.heads(ink.EXTRA, [0.1, 0.2], [5.0, -3.0], ["", ""]), foot=0.0, thickness=1)
    assert drawn["error_y"]["arrayminus"] == [5.0, 0.0]
    assert drawn["error_y"]["array"] == [0.0, 3.0]
