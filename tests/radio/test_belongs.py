"""What speaks against the comparison and not against the radio: another hour, another antenna, a deaf list."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from typing import Any

import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, Station, bench, listener, reference_list, sweep

from bandscan import tables
from bandscan.model import BandCheck, Baseline, Finding, RadioCheck, Reference
from bandscan.radio import Limits, judge, read_sheet
from bandscan.radio.belongs import with_belonging
from bandscan.radio.findings import EXPLANATIONS

GOOD = Reference(GOOD_DB, 1.5, "known-good", "dBFS", 5)


def _judge(text: str, listed: Baseline, limits: Limits | None = None, today: Any = None) -> RadioCheck:
    given = {listed.band: GOOD}
    return judge(read_sheet(text, "s"), {listed.band: listed}, given, limits or Limits(), "2026-03-14T12:00:00Z", "0", today)


def _found(check: BandCheck, fault: str) -> Finding | None:
    return next((one for one in check.findings if one.fault == fault), None)


def _night(deaf_db: float, valid: str, swept: str) -> BandCheck:
    dice = random.Random(1)
    stations = bench(dice, 30, lowest_db=0.0, band="am")
    listed = reference_list(stations, "am")
    listed = replace(listed, stations=tables.check(listed.stations.assign(valid=valid), tables.BASELINE))
    text = sweep(dice, stations, Radio(deaf_db=deaf_db), Listener(), band="am", reading_hz=5e3).text
    return _judge(text.replace("2026-03-14 12:00", f"2026-03-14 {swept}"), listed).bands["am"]


@pytest.mark.parametrize(("valid", "swept"), [("day", "22:30"), ("night", "12:00")])
@pytest.mark.parametrize("deaf_db", [0.0, 20.0])
def test_an_am_sheet_of_another_hour_has_night_list_as_its_first_finding(valid: str, swept: str, deaf_db: float) -> None:
    """Refused, with the reason as a finding; what goes by the levels of a list of other hours is not suspected."""
    check = _night(deaf_db, valid, swept)
    assert check.verdict == "cannot tell"
    first = check.findings[0]
    assert (first.fault, first.text, first.next_test) == ("night-list", check.why, check.do_next)
    assert first.weight >= 2.0
    assert not {one.fault for one in check.findings} & EXPLANATIONS
    same = _night(deaf_db, valid, "12:00" if valid == "day" else "22:30")
    assert _found(same, "night-list") is None
    assert (_found(same, "deaf") is not None) == (deaf_db > 0.0)


def _with_header(header: str, antennas: dict[str, str]) -> RadioCheck:
    dice = random.Random(2)
    stations = bench(dice, 25)
    text = sweep(dice, stations, Radio(), Listener(), reading_hz=0.2e6, header=header).text
    return _judge(text, reference_list(stations), Limits(antennas=antennas))


def test_a_sheet_of_another_rig_has_other_antenna_as_its_first_finding() -> None:
    """Levels are never compared across rigs: cannot tell, and the finding says which two."""
    check = _with_header("# rig: roof\n", {"bench": "whip", "roof": "dipole"}).bands["fm"]
    assert check.verdict == "cannot tell"
    assert (check.findings[0].fault, check.findings[0].text) == ("other-antenna", check.why)


@pytest.mark.parametrize(
    ("header", "antennas", "told", "cautioned"),
    [
        ("# antenna: long wire\n", {"bench": "whip, 1 m"}, True, True),
        ("# antenna: the 1 m whip\n", {"bench": "whip, 1 m"}, False, False),
        ("# antenna: long wire\n", {}, False, True),  # the shop says nothing of its antenna: that it is another is a guess
        ("# antenna: long wire\n# rig: bench\n", {"bench": "whip, 1 m"}, False, False),
        ("", {"bench": "whip, 1 m"}, False, False),
    ],
)
def test_a_swapped_antenna_is_flagged(header: str, antennas: dict[str, str], told: bool, cautioned: bool) -> None:
    """The sheet's antenna is called by other words than the rig's: a finding too light to turn a verdict, and a caution."""
    check = _with_header(header, antennas)
    found = _found(check.bands["fm"], "other-antenna")
    text = found.text if found is not None else ""
    assert ("the sheet's antenna is long wire, rig bench has whip, 1 m" in text) == told
    assert found is None or found.weight < 2.0
    assert any("judged as if they were the same" in caution for caution in check.cautions) == cautioned
    assert check.bands["fm"].verdict == "in line"


def test_words_and_what_was_heard_are_two_witnesses_of_another_antenna() -> None:
    """A finding from the ticks gains by the header's words, as odds multiply; it is not told twice."""
    listed = reference_list(bench(random.Random(3), 20))
    heard = Finding("other-antenna", "not by the levels", (), "flex the lead", 0.9, 1.0)
    both = with_belonging(listed, {"antenna": "long wire"}, Limits(antennas={"bench": "whip"}), (heard,), ())
    (one,) = both
    assert one.text == "not by the levels; the sheet's antenna is long wire, rig bench has whip"
    assert one.weight - heard.weight == pytest.approx(1.3)
    assert (one.against_nothing or 0.0) - 1.0 == pytest.approx(1.3)


def _out_heard(seed: int, band: str, floor_db: float | None, **more: Any) -> tuple[BandCheck, list[Station]]:
    """A radio that hears 40 stations down to 5 dB under its threshold, a list of those over a floor; the unlisted as well."""
    dice = random.Random(f"out-heard{seed}{band}")
    heard = bench(dice, 40, lowest_db=-5.0, band=band)
    known = [one for one in heard if floor_db is None or one.level_db > GOOD_DB + floor_db]
    reading_hz = 0.2e6 if band == "fm" else 8e3
    text = sweep(dice, heard, Radio(**more), listener(dice, grades=True), band=band, reading_hz=reading_hz).text
    return _judge(text, reference_list(known, band)).bands[band], [one for one in heard if one not in known]


@pytest.mark.parametrize(("band", "floor_db"), [("am", 25.0), ("fm", 18.0)])
def test_a_list_with_a_floor_far_over_the_radios_is_the_deaf_one(band: str, floor_db: float) -> None:
    """On AM a whip gives 22-44 dB less into 50 ohm (computed in trade practice): first finding, and no tick is called false."""
    first = Counter[str]()
    for seed in range(4):
        check, unlisted = _out_heard(seed, band, floor_db)
        order = [one.fault for one in check.findings if not one.fault.startswith("pointer")]
        first[order[0] if order else ""] += 1
        found = _found(check, "reference-deaf")
        if found is not None:
            assert found.evidence
            assert found.next_test
        assert len(unlisted) >= 10
        assert check.verdict != "falls short"
        assert all(extra.explained_by.startswith(("could be a real station", "may be ")) for extra in check.extras)
    assert first["reference-deaf"] >= 3


@pytest.mark.parametrize("band", ["am", "fm"])
def test_a_whole_list_is_not_called_deaf(band: str) -> None:
    """The same benches with every station listed, and a radio that lost its weak ones: no such finding."""
    for seed in range(3):
        assert _found(_out_heard(seed, band, None)[0], "reference-deaf") is None
        check, _ = _out_heard(seed, band, 25.0, deaf_db=45.0)
        assert _found(check, "reference-deaf") is None


def test_what_is_on_the_air_today_is_not_under_the_lists_floor() -> None:
    """Today's survey holds the unlisted stations: they are new, and the receiver heard them."""
    dice = random.Random("out-heard1fm")
    heard = bench(dice, 40, lowest_db=-5.0)
    known = [one for one in heard if one.level_db > GOOD_DB + 18.0]
    text = sweep(dice, heard, Radio(), listener(dice, grades=True), reading_hz=0.05e6).text
    assert _found(_judge(text, reference_list(known)).bands["fm"], "reference-deaf") is not None
    new = {"fm": {"new_hz": [one.channel_hz for one in heard if one not in known]}}
    assert _found(_judge(text, reference_list(known), today=new).bands["fm"], "reference-deaf") is None


def _with_unlisted(unlisted: int, hour: str = "2026-03-14 12:00") -> RadioCheck:
    """30 listed AM stations of a sound digital set, and some more that are as strong."""
    dice = random.Random(f"unlisted{unlisted}")
    heard = bench(dice, 30 + unlisted, lowest_db=5.0, band="am")
    gone = set(dice.sample(range(len(heard)), unlisted))
    listed = reference_list([one for index, one in enumerate(heard) if index not in gone], "am")
    listed = replace(listed, stations=tables.check(listed.stations.assign(valid="day"), tables.BASELINE))
    text = sweep(dice, heard, Radio(raster_hz=10_000), Listener(), band="am", reading_hz=0.1e3).text
    return _judge(text.replace("# swept: 2026-03-14 12:00\n", f"# swept: {hour}\n" if hour else ""), listed)


def test_many_ticks_beside_the_list_are_said() -> None:
    """Twelve programmes more than listed (common practice: night, images, an old list): counted, said, none called false."""
    check = _with_unlisted(12)
    (said,) = (one for one in check.cautions if "fit no station of the list" in one)
    assert said.endswith("survey AM again at the hour of the sweep, then check this sheet again")
    assert "nothing else speaks against it" not in check.bands["am"].why
    assert all(extra.explained_by.startswith(("could be a real station", "may be ")) for extra in check.bands["am"].extras)
    for few in (0, 2):
        assert not [one for one in _with_unlisted(few).cautions if "fit no station of the list" in one]


def test_a_sweep_of_no_hour_may_be_the_nights() -> None:
    """By night AM stations come from afar (common practice): said where nobody wrote the hour, and not by day."""
    found = _found(_with_unlisted(14, "").bands["am"], "night-list")
    assert found is not None
    assert found.evidence
    assert found.next_test.startswith("write the hour of the sweep into the sheet's header")
    assert _found(_with_unlisted(14).bands["am"], "night-list") is None
    assert _found(_with_unlisted(2, "").bands["am"], "night-list") is None
