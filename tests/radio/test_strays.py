"""Ticks that fit no station of the list: which of them are counted."""

from __future__ import annotations

from bandscan.model import Extra
from bandscan.radio.shown import MARKED_REPEAT, REAL
from bandscan.radio.strays import strays_of


def test_only_ticks_without_any_explanation_are_counted() -> None:
    """What the table lays to a listed station, a fault or the listener's mark fits something (regression audit)."""
    bare = [Extra("", 88_100_000 + order * 2_000_000, REAL) for order in range(7)]
    taken = ("may be the sideband of a strong station", f"{REAL}, or the station of the list that stands there", MARKED_REPEAT)
    others = [Extra("", 88_500_000 + order * 2_000_000, words) for order, words in enumerate(taken * 3)]
    assert strays_of([*bare, *others], (), 200_000, 1) == 7
    assert strays_of(others, (), 200_000, 1) == 0
    # today's survey holds one, a channel off; two sweeps share the rest; and a tick that was not read fits any station
    assert strays_of([*bare, *bare, Extra("", None, REAL)], (88_300_000,), 200_000, 2) == 6
