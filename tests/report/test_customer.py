"""The owner's page: plain words, only what the evidence bears, one side of paper's worth."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from report import records
from report.reader import Reader

from bandscan import report
from bandscan.model import UNLISTED, Expected, Extra, Finding, Interval, RadioCheck, Reference
from bandscan.report import customer_words

# the contract's fault words
FAULTS = """
deaf weak-high-end weak-low-end dead-beyond pointer-shift pointer-stretch image overload-repeats neighbours-lost one-side-lost
strongest-missing lamp-never lamp-always lamp-late raster comb fixed-whistle sideband-ticked repeated-programme reference-deaf
night-list other-antenna
"""


def told(check: RadioCheck, names: tuple[str, ...] = ()) -> str:
    html = report.customer_page(check, {"fm": records.baseline(names=names)})
    return " ".join(Reader(html).words.split())


def fm(**more: object) -> RadioCheck:
    return replace(records.radio_check(), bands={"fm": replace(records.band_check("fm"), **more)})  # type: ignore[arg-type]


def test_the_owner_reads_count_lamp_dial_and_what_to_do() -> None:
    """Heard of expected, lamp of stereo stations, the dial at both ends with its doubt, the trimmer, and what is not proved."""
    words = told(fm(counted=31))
    for part in (
        "31 heard of about 48 that a good radio is expected to hear here (44 to 53, 19 times in 20)",
        "lit on 17 of 24 stereo stations heard",
        "at 106.0 MHz: 0.2 MHz too high (+0.2 to +0.3)",
        "at 90.0 MHz: right, as far as can be told (0.0 to +0.1)",
        "weak station near 1400 kHz",
        "whip fully up",
        "What this does not prove",
        "ground polarity",
        "local codes",
        "Quarrel Lane Radio",
    ):
        assert part in words


def test_no_word_of_the_workshop_is_on_the_owner_s_page() -> None:
    """No decibel, threshold or test instruction reaches the owner, whatever the verdict."""
    for verdict in customer_words.VERDICTS:
        words = told(fm(verdict=verdict))
        assert not re.search(r"\bdBF?S?\b|threshold|sigma|probit|weight|supply at the set", words), words


@pytest.mark.parametrize(
    ("verdict", "title", "claim"),
    [
        ("in line", "as it should be", "about as well as radios of its kind that are known to be good"),
        ("falls short", "falls short", "stations have to be stronger than for radios of its kind"),
        ("look closer", "not settled yet", "looked at again"),
        ("cannot tell", "cannot be told", "neither that the radio is good nor that it is bad"),
        ("a word of another version", "cannot be told", "neither that the radio is good nor that it is bad"),
    ],
)
def test_the_verdict_is_told_in_the_owner_s_words(verdict: str, title: str, claim: str) -> None:
    """Each verdict of the contract has its sentence; an unknown one claims nothing."""
    words = told(fm(verdict=verdict))
    assert f"FM {title}" in words
    assert claim in words


def test_a_shortfall_that_is_not_of_sensitivity_claims_no_deafness() -> None:
    """Where the lower bound does not stand above the reference, nothing is said of stations having to be stronger."""
    assert "have to be stronger" not in told(fm(against_reference_db=Interval(2.0, -3.0, 7.0)))
    assert "have to be stronger" not in told(fm(against_reference_db=None))


def test_an_assumed_reference_is_called_an_assumption() -> None:
    """Without a good radio on this bench the page says that none was measured."""
    words = told(fm(verdict="in line", reference=Reference(-70.0, 6.0, "assumed", "dBFS")))
    assert "we assume of a good radio, though none was measured here" in words
    assert "19 times in 20, an assumption" in words


def test_findings_are_told_as_noticed_where_they_count() -> None:
    """A finding below weight 2 stays in the workshop, and so does every finding of a test that cannot tell."""
    some = (Finding("deaf", "", (), "", 3.0), Finding("lamp-late", "", (), "", 1.9), Finding("pointer-bent", "", (), "", 2.0))
    words = told(fm(findings=some))
    assert customer_words.NOTICED["deaf"] in words
    assert customer_words.NOTICED["lamp-late"] not in words
    assert "something that a further test has to show" in words
    assert customer_words.NOTICED["deaf"] not in told(fm(findings=some, verdict="cannot tell"))


def test_rival_explanations_of_reception_are_not_all_told() -> None:
    """Deaf and weak at one end explain the same misses: the owner reads the weightiest, and what dial and lamp show."""
    faults = ("weak-high-end", "deaf", "pointer-shift", "weak-low-end", "lamp-late")
    words = told(fm(findings=tuple(Finding(fault, "", (), "", 9.0) for fault in faults)))
    for fault, shown in zip(faults, (True, False, True, False, True), strict=True):
        assert (customer_words.NOTICED[fault] in words) is shown


def test_every_fault_of_the_contract_has_words_for_the_owner() -> None:
    """None of the contract's fault words is left to the fallback."""
    assert sorted(customer_words.NOTICED) == sorted(FAULTS.split())


def test_the_ten_easiest_are_the_strongest_clean_ones_in_dial_order() -> None:
    """Ten of those heard, clean before troubled, strong before weak, each with its reading on this set."""
    band = records.band_check("fm")
    loudest = max(band.stations, key=lambda one: one.level_db or -999.0)
    missed = replace(loudest, heard=False, grade="3")
    band = replace(band, stations=tuple(missed if one is loudest else one for one in band.stations))
    clean = [one for one in band.stations if one.heard and one.grade in ("3", "2")]
    strongest = max(clean, key=lambda one: one.level_db or -999.0)
    html = report.customer_page(replace(records.radio_check(), bands={"fm": band}), {"fm": records.baseline()})
    rows = re.findall(r'<th scope="row"[^>]*>([\d.]+)</th>\s*<td class="figures">([\d.]+)</td>', html)
    assert len(rows) == 10
    assert rows == sorted(rows, key=lambda row: float(row[0]))
    assert (f"{strongest.channel_hz / 1e6:.1f}", strongest.dial) in rows
    assert f"{missed.channel_hz / 1e6:.1f}" not in [row[0] for row in rows]


def test_only_the_shop_s_own_names_are_told() -> None:
    """What a data service claims to be is no name to hand to an owner: only names of the shop's list appear."""
    band = records.band_check("fm")
    claimed = replace(band, stations=tuple(replace(one, name="CLAIMED") for one in band.stations))
    check = replace(records.radio_check(), bands={"fm": claimed})
    assert "CLAIMED" not in told(check)
    assert "Harbour Nine" in told(check, names=("Harbour Nine",))


def test_thin_evidence_still_makes_an_owner_s_page() -> None:
    """A bare total without list, dial and lamp: the page says what is not known, and nothing reads nan or None."""
    bare = fm(stations=(), dial_points=(), lamp_expected=None, lamp_lit=None, findings=(), expected=None, verdict="cannot tell")
    words = " ".join(Reader(report.customer_page(bare, {})).words.split())
    assert "how many a good radio hears here is not known" in words
    assert "Which stations were heard is not noted" in words
    assert not re.search(r"\b(nan|None|NA)\b", words)
    assert "0 stereo" not in told(fm(lamp_expected=0, lamp_lit=0))
    assert "of about 2 that" in told(fm(expected=Expected(0, 2.2, 5)))


def test_cautions_beyond_four_are_counted() -> None:
    """The page stays one side: four cautions, and how many more the shop's record has."""
    check = replace(fm(), cautions=tuple(f"caution number {order}" for order in range(7)))
    words = told(check)
    assert "caution number 3" in words
    assert "caution number 4" not in words
    assert "3 further cautions in the shop's record" in words


def test_a_bare_total_is_no_proof_on_the_owners_page() -> None:
    """In line by a number alone: said so, and not that nothing speaks against the radio."""
    band = records.band_check("fm")
    unknown = tuple(replace(station, heard=None) for station in band.stations)
    _, meaning = customer_words.verdict(replace(band, verdict="in line", stations=unknown, findings=()))
    assert meaning.startswith("By their number alone, as many stations came in as with ")
    assert "nothing in this test" not in meaning
    _, meaning = customer_words.verdict(replace(band, verdict="in line", findings=()))
    assert meaning.endswith("nothing in this test counts against the radio.")


def test_a_long_caution_ends_between_words() -> None:
    """The page has one side of paper: what does not fit is left out by whole words."""
    check = replace(records.radio_check(), cautions=("AM list: " + "every single word of it counts " * 12,))
    html = report.customer_page(check, {"fm": records.baseline()})
    shown = re.search(r"AM list: [^<]*", html)
    assert shown is not None
    assert shown[0].strip().endswith(" …")
    assert set(shown[0].split()[2:-1]) <= {"every", "single", "word", "of", "it", "counts"}


def test_what_a_total_shows_is_told_to_its_end() -> None:
    """The half that decides stands last: a caution is shown whole, or counted among those in the shop's record."""
    half = "so many one so deaf does not follow, unless 15 or more were repeats or phantoms"
    long = f"FM: 34 counted, where a good set follows 18 to 26 stations of this list and one 10 dB deaf 12 to 19 (95 %): {half}"
    check = replace(records.radio_check(), cautions=(long, "x" * 100, "y" * 300, "z"))
    words = " ".join(Reader(report.customer_page(check, {})).words.split())
    assert long in words
    assert "y" * 300 not in words
    assert "1 further caution in the shop's record" in words


def test_the_am_trimmer_is_told_to_be_of_am() -> None:
    """The trimmer belongs to AM (trade practice): the owner of a set swept on FM alone reads that AM was not tested."""
    both = records.radio_check()
    words = " ".join(Reader(report.customer_page(both, {})).words.split())
    assert "In the car: peak the antenna trimmer" in words
    assert "AM was not tested here" not in words
    words = told(replace(both, bands={"fm": both.bands["fm"]}))
    assert "In the car, for AM: peak the antenna trimmer AM was not tested here. If the set has a trimmer" in words


def test_a_silent_band_is_told_in_words_of_its_own() -> None:
    """Nothing heard on a band (the commonest complaint): no word of parts, stronger stations or which were heard."""
    band = records.band_check("fm")
    unheard = tuple(replace(one, heard=False, grade="", dial="", lamp="") for one in band.stations)
    silent = {"counted": 0, "stations": unheard, "extras": (), "dial_points": (), "verdict": "falls short"}
    dead = fm(**silent, lamp_expected=0, lamp_lit=0, findings=(Finding("dead-beyond", "", (), "", 9.0),))
    words = told(dead)
    for part in (
        "Not one station came in, where a good radio is expected to hear some.",
        "the whole band gives no station",
        "No station was heard.",
        "cannot be told without a station",
    ):
        assert part in words
    for part in ("a part of the dial", "have to be stronger", "Which stations were heard"):
        assert part not in words
    assert "Which stations were heard" in told(replace(dead, bands={"fm": replace(dead.bands["fm"], counted=3)}))


def test_what_to_write_into_the_sheet_is_not_told_to_the_owner() -> None:
    """A bid to the writer of the sheet is the shop's: kept off the page, and counted with what is in the shop's record."""
    bids = (
        "FM: taken as swept and silent; if it was not, take its row or `bands` out",
        "no AM total: not judged (add --count am=0)",
    )
    words = told(replace(fm(), cautions=bids))
    assert "taken as swept" not in words
    assert "no AM total: not judged 1 further caution in the shop's record" in words


def test_those_heard_beside_the_list_are_told_with_the_count() -> None:
    """28 heard of about 19 (regression audit): the expectation is of the list's stations, so the others are named beside it."""
    bare = tuple(Extra("", 88_100_000 + order * 2_000_000, UNLISTED) for order in (0, 1, 1, 2, 3, 4, 5))
    others = (Extra("", 107_100_000, "marked as a repeat"), Extra("", None, UNLISTED))
    assert "19 times in 20); of those heard up to 7 are not on our list" in told(fm(counted=28, extras=(*bare, *others)))
    assert "up to 1 is not on our list" in told(fm(counted=28, extras=bare[:1]))
    assert "not on our list" not in told(fm(counted=28, extras=others))
