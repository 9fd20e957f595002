"""The page of two sweeps of one radio: no change is claimed that they do not bear: report/change.py, change_words.py."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
from report import records
from report.reader import Reader

from bandscan import report
from bandscan.model import BandChange, Interval
from bandscan.pipeline import change_text
from bandscan.report import change_words, page


@pytest.fixture(autouse=True)
def without_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    """The plot library's 5 MB tell nothing here."""
    monkeypatch.setattr(page, "plot_library", lambda: "")


def band(difference: Interval | None, **more: object) -> BandChange:
    return replace(records.band_change("fm", difference), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("found", "title", "told"),
    [
        (Interval(-11.6, -17.0, -6.0), "more sensitive now", "12 dB more sensitive now than before (95 %: 6 to 17 dB more)"),
        (Interval(9.0, 2.0, 16.0), "less sensitive now", "9 dB less sensitive now than before (95 %: 2 to 16 dB less)"),
        (Interval(-2.0, -6.0, 3.0), "no change told", "2 dB more sensitive now than before (95 %: 6 dB more to 3 dB less)"),
        (Interval(0.2, -4.0, 4.0), "no change told", "as sensitive now than before (95 %: 4 dB more to 4 dB less)"),
        (Interval(None, None, -13.0), "more sensitive now", "at least 13 dB more sensitive now than before (95 %)"),
        (Interval(None, 5.0, None), "less sensitive now", "at least 5 dB less sensitive now than before (95 %)"),
        (
            Interval(None, None, 4.0),
            "no change told",
            "at most 4 dB less sensitive now than before (95 %); the other side is open",
        ),
        (
            Interval(None, -7.0, None),
            "no change told",
            "at most 7 dB more sensitive now than before (95 %); the other side is open",
        ),
        (Interval(None, -9.0, -2.0), "more sensitive now", "2 to 9 dB more sensitive now than before (95 %)"),
        (None, "cannot be compared", "no figure: a reference is missing: sweep a known-good radio"),
        (Interval(None, None, None), "cannot be compared", "no figure: the evidence bounds neither side"),
    ],
)
def test_a_change_is_told_as_far_as_its_bounds_bear_it(found: Interval | None, title: str, told: str) -> None:
    """Better or worse only where the 95 % interval leaves nothing else; an open side is never filled in."""
    one = band(found, p_value=0.3)  # so uneven a split of gained and lost is luck
    assert change_words.OUTCOMES[change_words.outcome(one)][0] == title
    assert change_words.difference(one) == told.replace("as sensitive now than", "as sensitive now as")


def test_stations_gained_and_lost_are_told_with_their_chance() -> None:
    """Counts of what both sweeps tell of, and the probability of so uneven a split by luck; none changed, no probability."""
    one = band(None)
    assert one.gained
    told = change_words.stations(one)
    assert told.startswith(
        f"of {one.both} stations that both sweeps tell of, {len(one.gained)} were heard only after, {len(one.lost)} only"
    )
    assert "probability 0.04 (exact McNemar, two-sided)" in told
    assert "under 0.01" in change_words.stations(replace(one, p_value=0.0004))
    assert "probability" not in change_words.stations(replace(one, gained=(), lost=()))


@pytest.mark.parametrize(
    ("more", "title"),
    [
        ({"p_value": 0.0005}, "stations lost, sensitivity not told apart"),
        ({"p_value": 0.0005, "gained": (1, 2, 3), "lost": ()}, "stations gained, sensitivity not told apart"),
        ({"p_value": 0.049}, "stations lost, sensitivity not told apart"),
        ({"p_value": 0.051}, "no change told"),
        ({"p_value": None, "gained": (), "lost": ()}, "no change told"),
        ({"dead_end": ("", "nothing is heard above 98.3 MHz")}, "stations lost, sensitivity not told apart"),
        ({"dead_end": ("nothing is heard above 98.3 MHz", "")}, "stations gained, sensitivity not told apart"),
        ({"dead_end": ("nothing is heard above 98.3 MHz",) * 2}, "no change told"),
        ({"p_value": 0.0005, "difference_db": Interval(9.0, 2.0, 16.0)}, "less sensitive now"),
    ],
)
def test_stations_tell_a_change_that_the_decibels_leave_open(more: dict[str, object], title: str) -> None:
    """An uneven split, or an end of the dial that died or came back, is no `no change`; decibels that are sure come first."""
    one = band(Interval(3.0, -2.0, 9.0), **{"p_value": 0.3, "gained": (1,), "lost": (2, 3, 4), **more})
    assert change_words.OUTCOMES[change_words.outcome(one)][0] == title
    if "dead_end" in more:
        assert "nothing is heard above 98.3 MHz" in dict(change_words.facts(one))["dead end"]


def test_sweeps_that_cannot_be_compared_have_no_gained_and_lost() -> None:
    """Of another rig or hour: the reason once, no chance, no plot of the stations; no attenuator is blamed."""
    why = "the sheet after and its list do not belong together, the sweep was made by night and the AM list is valid by day"
    one = band(None, gained=(), lost=(), p_value=None, no_difference=why)
    assert change_words.difference(one) == f"no figure: {why}"
    assert change_words.stations(one) == "not compared, for the same reason"
    html = report.change_page(replace(records.change(), bands={"fm": one}))
    assert "gained and lost" not in html


def test_the_page_tells_both_sweeps_and_every_station() -> None:
    """Who swept when, verdict and count before and after, each station's levels and hearing, cautions, what is not proved."""
    change = records.change()
    words = " ".join(Reader(report.change_page(change)).words.split())
    for part in (
        "Job 1042",
        "2031-05-06 11:20, by K. L.",
        "2031-05-09 10:05, by K. L.",
        "FM more sensitive now",
        "12 dB more sensitive now than before",
        "AM cannot be compared",
        "before: falls short; after: in line",
        "before: 31; after: 38",
        "moved by 0.4 dB from list to list",
        "no survey of the day before",
        "What this does not prove",
    ):
        assert part in words, part
    first = change.bands["fm"].stations[0]
    assert f"{first.channel_hz / 1e6:.1f} {first.level_before_db:.1f} {first.level_after_db:.1f} missed heard gained" in words
    assert words.count("off the air") >= 2


@pytest.mark.parametrize(
    ("found", "p_value", "title", "told"),
    [
        (
            Interval(1.0, -5.0, 6.0),
            0.6,
            "no difference told",
            "1 dB less sensitive by Bob's ear than by Ann's (95 %: 5 dB more to 6 dB less)",
        ),
        (Interval(0.2, -4.0, 4.0), 0.6, "no difference told", "as sensitive by Bob's ear as by Ann's"),
        (Interval(-9.0, -14.0, -4.0), 0.6, "more sensitive by Bob's ear than by Ann's", "9 dB more sensitive by Bob's ear"),
        (Interval(None, 5.0, None), 0.6, "less sensitive by Bob's ear than by Ann's", "at least 5 dB less sensitive by Bob's"),
        (Interval(1.0, -5.0, 6.0), 0.01, "stations heard by Bob that Ann missed, sensitivity not told apart", "1 dB less"),
        (None, 0.6, "cannot be compared", "no figure: a reference is missing"),
    ],
)
def test_two_listeners_are_named_and_the_radio_is_not_said_to_have_changed(
    found: Interval | None, p_value: float, title: str, told: str
) -> None:
    """On the page and at the terminal: whose sweeps, by whose ear; no before and after, no now, no gained and lost."""
    one = band(found, p_value=p_value)
    change = records.change()
    change = replace(change, before=replace(change.before, by="Ann"), after=replace(change.after, by="Bob"), bands={"fm": one})
    page_words = " ".join(Reader(report.change_page(change)).words.split())
    terminal = " ".join(change_text(change, 100).split())
    head, _, limits = page_words.partition("What this does not prove")
    assert limits
    for words in (head, terminal):
        for part in (
            told,
            "Ann and Bob swept one radio: this is the difference between two listeners",
            "were heard only by Bob",
        ):
            assert part in words, part
        assert not re.search(
            r"sensitive now|before[: ]|gained|lost\b",
            words.replace("day before: a station", "").replace("counts as lost or gained", ""),
        )
    assert f"FM {title}" in head
    assert f"FM {title.upper()}" in terminal
    assert "Two listeners" in head
    assert "Ann (2031-05-06 11:20) and Bob (2031-05-09 10:05), two listeners" in terminal


@pytest.mark.parametrize(("first", "second"), [("Ann", "ann"), ("", "Bob"), ("Ann", ""), ("", "")])
def test_one_listener_or_none_named_is_before_and_after(first: str, second: str) -> None:
    """Where the sheets do not tell of two people, the sweeps are called before and after."""
    change = records.change()
    one = replace(change, before=replace(change.before, by=first), after=replace(change.after, by=second))
    assert change_words.sides(one) == ("before", "after")


def test_gained_and_lost_are_drawn_apart() -> None:
    """Filled triangles up for gained, hollow ones down for lost, as many as the record has, and a label on each with room."""
    html = report.change_page(records.change())
    wide = json.loads(re.findall(r'<script type="application/json">(.*?)</script>', html, re.DOTALL)[0])
    drawn = {trace["marker"]["symbol"]: len(trace["x"]) for trace in wide["data"] if trace["mode"] == "markers"}
    fm = records.change().bands["fm"]
    assert drawn["triangle-up"] == len(fm.gained)
    assert drawn["triangle-down"] == len(fm.lost)
    assert sum(len(trace["x"]) for trace in wide["data"] if trace["mode"] == "markers") == fm.both
    hollow = [trace["marker"]["color"] for trace in wide["data"] if trace["marker"]["symbol"] == "triangle-down"]
    assert hollow == ["#ffffff"]


def test_lists_without_levels_and_sweeps_without_a_common_band_make_a_page() -> None:
    """What is missing is said or left out; nothing reads nan or None."""
    change = records.change()
    fm = change.bands["fm"]
    bare = replace(
        fm,
        unit="",
        stations=tuple(replace(one, level_before_db=None, level_after_db=None) for one in fm.stations),
        before_db=None,
        after_db=Interval(None, None, 5.0),
        level_shift_db=None,
        difference_db=None,
        no_difference="the lists have no levels, or not in one unit",
    )
    for one in (
        replace(change, bands={"fm": bare}),
        replace(change, bands={}),
        replace(change, bands={"fm": replace(fm, stations=())}),
    ):
        words = Reader(report.change_page(one)).words
        assert not re.search(r"\b(nan|None|NA)\b", words)
    assert "no band in common" in Reader(report.change_page(replace(change, bands={}))).words
    assert "the lists have no levels" in Reader(report.change_page(replace(change, bands={"fm": bare}))).words
