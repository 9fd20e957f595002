"""Text from data is washed, figures wear units and doubts."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from report.records import HOSTILE, band_check

from bandscan.model import Expected, Finding, Interval, Reference
from bandscan.report import words


@pytest.mark.parametrize("text", HOSTILE)
def test_washed_text_is_one_short_visible_line(text: str) -> None:
    """No control, escape or direction character is left, and no more than the limit."""
    washed = words.name(text)
    assert 0 < len(washed) <= words.NAME_LIMIT
    assert washed.isprintable()
    for forbidden in ("\u202e", "\x1b", "\x07", "\n"):
        assert forbidden not in washed


def test_a_cut_text_says_so() -> None:
    """What was left out is marked, even where only dropped characters were beyond the limit's tenfold."""
    assert words.plain("A" * 50, 10) == "AAAAAAAAA…"
    assert words.plain("\u200b" * 200 + "B", 10) == "…"
    assert words.plain("short", 10) == "short"


def test_a_flood_of_marks_is_thinned() -> None:
    """Two combining marks stay on a letter, as real spelling needs; the rest, which would cover other lines, go."""
    assert words.plain("a" + "\u0301" * 50 + "b") == "a\u0301\u0301b"


@pytest.mark.parametrize("nothing", [None, pd.NA, float("nan"), ""])
def test_missing_values_are_empty(nothing: object) -> None:
    """An empty cell shows nothing, never the word nan."""
    assert words.plain(nothing) == ""


def test_hover_text_has_no_markup_of_its_own() -> None:
    """plotly reads a few tags in hover boxes; those of a name are spelled out."""
    assert words.hover("<b>x</b> & y", "", "z") == "&lt;b&gt;x&lt;/b&gt; &amp; y<br>z"


def test_numbers_hide_nothing_and_invent_nothing() -> None:
    """Missing figures are empty, and no figure reads minus zero."""
    assert words.number(None) == words.number(pd.NA) == words.number(float("nan")) == ""
    assert words.number(-0.04) == "0.0"
    assert words.number(-34.25, 0) == "-34"


def test_an_uncertainty_is_never_a_bare_zero() -> None:
    """A doubt too small for one decimal is told as a bound."""
    assert [words.doubt(sd) for sd in (0.04, 0.06, 1.23, None)] == ["under 0.1", "0.1", "1.2", ""]


def test_intervals_are_told_one_sided_where_they_are() -> None:
    """An open side is told as no higher or no lower, never as a figure."""
    assert words.interval(Interval(-58.2, -61, -55), "dBFS") == "-58 dBFS (95 %: -61 to -55)"
    assert words.interval(Interval(-70, None, -66), "dBFS") == "no higher than -66 dBFS (one-sided 95 % bound)"
    assert words.interval(Interval(None, -40, None), "dBFS") == "no lower than -40 dBFS (one-sided 95 % bound)"
    assert words.interval(Interval(None, None, None), "dBFS") == "a level that the evidence bounds on neither side"


def test_the_comparison_says_which_way() -> None:
    """Positive is deafer, negative better; without a reference there is no figure."""
    assert words.against(Interval(12, 7, 17)) == "12 dB deafer than the reference (one-sided 95 % bounds: 7 to 17 dB deafer)"
    assert words.against(Interval(-3, -6, 0.2)) == "3 dB better than the reference (one-sided 95 % bounds: 6 dB better to 0 dB)"
    for low, high, told in (
        (4, None, "at least 4 dB deafer than"),
        (-10, None, "at most 10 dB better than"),
        (None, 9, "at most 9 dB deafer than"),
        (None, -3, "at least 3 dB better than"),
        (None, 0.2, "no deafer than"),
        (0.2, None, "no better than"),
    ):
        said = f"{told} the reference (one-sided 95 % bound; the other side is open)"
        assert words.against(Interval(None, low, high)) == said
    assert words.against(None) == "cannot be compared: there is no reference"


def test_a_bound_beside_a_limit_is_rounded_as_the_verdict_does() -> None:
    """6.4 dB where 6 dB is the limit: one figure in one box (regression audit); what the sentence does not tell stays whole."""
    found = Interval(15.2, 6.41, 26.3)
    assert words.against(found, "6.5 to 26 dB deafer than the reference, where 6 dB is the limit").endswith(
        "6.5 to 26 dB deafer)"
    )
    assert words.against(found, "nothing is heard above 16.5 MHz").endswith("bounds: 6 to 26 dB deafer)")
    assert words.against(Interval(None, None, 6.41), "at most 6.5 dB deafer than the reference").startswith(
        "at most 6.5 dB deafer"
    )


def test_what_is_assumed_is_called_assumed() -> None:
    """A reference that nobody measured says so; none at all says how to get one."""
    told = words.reference(Reference(10.0, 6.0, "assumed", "dBFS"))
    assert told.startswith("assumed, not measured: half heard at 10 dBFS, uncalibrated ±6 dB")
    assert "--known-good" in words.reference(Reference(None, None, "none", ""))
    assert "--known-good" in words.expected(None)
    assert words.expected(Expected(44, 48.2, 53)) == "expected 44 to 53 (95 %; middle 48)"


def test_chances_are_never_certain() -> None:
    """No model is sure to a hundredth of a percent."""
    assert [words.chance(p) for p in (0.0, 0.004, 0.5, 0.994)] == ["under 1", "under 1", "50", "over 99"]


def test_long_lists_of_channels_are_cut_with_a_count() -> None:
    """At most twelve channels are written out; the rest is a number."""
    told = words.channels("fm", [88_100_000 + 200_000 * k for k in range(15)])
    assert told.startswith("88.1, 88.3, ")
    assert told.endswith("90.3 MHz and 3 more")
    assert words.channels("am", []) == "none"


def test_the_survey_of_the_day_is_told_in_words() -> None:
    """What was off the air, and how stations and noise stood against the list, with units; no survey, no word."""
    facts = {
        "survey": "fm-17",
        "started_utc": "2031-05-06T09:20:00Z",
        "off_air_hz": [91_300_000],
        "new_hz": [94_700_000, 89_100_000],
        "level_db": -0.04,
        "noise_db": 3.2,
    }
    told = words.day_words("fm", facts)
    assert told == (
        "survey fm-17, 2031-05-06 09:20 UTC; off the air: 91.3 MHz; on the air and not in the list: 89.1, 94.7 MHz;"
        " stations 0.0 dB over the list's (median); noise 3.2 dB over the list's (median)"
    )
    assert words.day_words("fm", {}) == ""


def finding(weight: float, alone: float | None = None) -> Finding:
    return Finding("deaf", "", (), "", weight, alone)


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (finding(5.21), "5.2"),
        (finding(1.96), "2.0, too little to count by itself"),
        (finding(0.3, 4.0), "0.3 with its rivals, 4.0 against nothing wrong alone"),
        (finding(0.1, 0.4), "0.1 with its rivals, 0.4 against nothing wrong alone, too little to count by itself"),
    ],
)
def test_a_weight_says_whether_it_counts(one: Finding, told: str) -> None:
    """The contract's rule: from 2 on, the odds against nothing wrong alone."""
    assert words.weighed(one) == told


def test_a_shared_programme_is_told_as_a_claim() -> None:
    """By code and by sound are told apart, never as a fact, and the other remarks stay beside them."""
    told = words.remarks("edge;same-programme-as-97.5:by-code;same-programme-as-101.1:by-audio", "fm")
    assert told == "edge; same code as 97.5; probably the same programme as 101.1"
    assert words.remarks("same-programme-as-1400:by-audio", "am") == "probably the same programme as 1400"
    assert words.remarks("edge;truncated", "fm") == "edge; truncated"
    assert words.remarks(pd.NA, "fm") == ""


def test_a_reference_says_which_sets_it_rests_on() -> None:
    """Sets, sweeps, their jobs, the spread between them and the newest; what is not known is left out."""
    found = Reference(-70.0, 2.0, "known-good", "dBFS", 2, "2031-05-04T09:00:00Z", 5, 2.6, ("17", "\x1b[31m18"))
    assert words.reference(found) == (
        "known-good: half heard at -70 dBFS, uncalibrated ±2 dB (standard uncertainty), 2 sets in 5 sweeps (job 17, [31m18), "
        "spread 3 dB from set to set and day to day, newest 2031-05-04 09:00 UTC"
    )
    few = words.reference(Reference(-70.0, None, "known-good", "dBFS", 1, "", 0, None, tuple("1234567")))
    assert few == "known-good: half heard at -70 dBFS, uncalibrated, 1 set (job 1, 2, 3, 4, 5 …)"


def test_faults_no_likelier_than_nothing_wrong_are_named_with_their_weight() -> None:
    """Beside a finding and without one; where none was looked for nothing is said."""
    band = band_check("fm")
    against = replace(finding(-0.61), fault="comb")
    no_likelier = "and no likelier than nothing wrong (weight 0 or less): comb (-0.6)"
    assert words.denied(replace(band, findings=(against,))) == f"Looked for, {no_likelier}"
    assert words.denied(replace(band, findings=(finding(3.0), against))) == f"Looked for as well, {no_likelier}"
    assert words.denied(replace(band, findings=(finding(3.0),))) == ""


def test_two_rivals_that_explain_the_same_both_bear_a_letter() -> None:
    """Neither is likely for itself, but nothing wrong is less likely than each: what the verdict rests on is shown."""
    rivals = tuple(replace(finding(-0.03), fault=fault, against_nothing=1.1) for fault in ("deaf", "weak-high-end"))
    band = replace(band_check("fm"), findings=rivals)
    assert words.speaking(band) == list(rivals)
    assert words.denied(band) == ""


def test_a_sensitivity_that_is_not_known_says_why() -> None:
    """A sweep left in the middle is not called what a list without levels is: each bears its own verdict's reason."""
    for why in ("the tally was left in the middle of FM", "the reference list has no levels"):
        check = replace(band_check(), against_reference_db=None, why=why)
        assert words.sensitivity(check) == f"cannot be compared: {why}"
    none = replace(check, reference=Reference(None, None, "none", ""))
    assert words.sensitivity(none) == "cannot be compared: there is no reference"
