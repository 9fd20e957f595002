"""A sheet held against a list: what belongs together, what is cautioned, and how long it takes."""

from __future__ import annotations

import random
import time
from dataclasses import replace
from typing import Any

import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, bench, reference_list, sweep

from bandscan import tables
from bandscan.model import Baseline, RadioCheck, Reference, Sheet
from bandscan.radio import Limits, judge, read_sheet, to_json, totals_sheet

MADE = "2026-03-14T12:00:00Z"
GOOD = {band: Reference(GOOD_DB, 1.0, "known-good", "dBFS", 5) for band in ("fm", "am")}


def _pair(band: str = "fm", header: str = "") -> tuple[str, Baseline]:
    dice = random.Random(1)
    stations = bench(dice, 40, band=band)
    reading_hz = 0.15e6 if band == "fm" else 6e3
    sheet = sweep(dice, stations, Radio(), Listener(grades=True), band=band, reading_hz=reading_hz)
    return sheet.text.replace("# dial: pointer\n", f"# dial: pointer\n{header}"), reference_list(stations, band)


def _judge(text: str, baseline: Baseline) -> RadioCheck:
    return judge(read_sheet(text, "s.csv"), {baseline.band: baseline}, GOOD, Limits(), MADE, "0")


def test_a_sound_radio_on_a_good_bench_is_in_line() -> None:
    """40 stations, a known-good reference, the list a day old: in line."""
    check = _judge(*_pair()).bands["fm"]
    assert check.verdict == "in line"
    assert check.expected is not None
    assert check.expected.low <= check.counted <= check.expected.high


@pytest.mark.parametrize(
    ("change", "header", "why"),
    [
        ({}, "# rig: roof\n", "the sheet is of rig roof, the FM list of rig bench"),
        ({"overload_share": 0.02}, "", "the receiver was overloaded when the FM list was made (2.0 % of the samples)"),
        ({"grade": "C", "grade_reason": "one survey"}, "", "the FM list is of grade C: one survey"),
        ({"last_utc": "2025-03-01T10:00:00Z"}, "", "the FM list is 378 days older than the sweep"),
        ({"last_utc": "2027-03-01T10:00:00Z"}, "", "the FM list is 352 days younger than the sweep"),
    ],
)
def test_what_does_not_belong_together_cannot_be_told(change: dict[str, Any], header: str, why: str) -> None:
    """Another rig, an overloaded receiver, a poor or a stale list: cannot tell, with the reason and what to do."""
    text, baseline = _pair(header=header)
    check = _judge(text, replace(baseline, **change)).bands["fm"]
    assert (check.verdict, check.why) == ("cannot tell", why)
    assert check.do_next


def test_a_list_younger_than_the_sweep_is_told_and_the_date_asked_for() -> None:
    """80 days younger is a caution; a year younger is no list for this sweep, and most likely a date mistyped."""
    text, baseline = _pair()
    near = _judge(text, replace(baseline, last_utc="2026-06-02T10:00:00Z"))
    assert any("younger than the sweep" in caution for caution in near.cautions)
    far = _judge(text, replace(baseline, last_utc="2027-03-01T10:00:00Z")).bands["fm"]
    assert "date is right" in far.do_next


def test_a_sheet_of_the_future_cannot_be_told_and_its_date_is_named() -> None:
    """However near the list's age: the date is asked for, not another survey. A day ahead may be the time zone."""
    text, baseline = _pair()
    for date in ("2062-11-25", "2026-03-16"):
        far = _judge(text.replace("swept: 2026-03-14", f"swept: {date}"), baseline).bands["fm"]
        why = f"the sheet says that it was swept on {date}, which is in the future (2026-03-14 by this computer)"
        assert (far.verdict, far.why) == ("cannot tell", why)
        assert far.do_next == "correct `# swept:` in the sheet's header, or this computer's clock"
    assert _judge(text.replace("swept: 2026-03-14", "swept: 2026-03-15"), baseline).bands["fm"].verdict == "in line"


@pytest.mark.parametrize(
    ("valid", "swept", "verdict"),
    [
        ("day", "12:00", "in line"),
        ("day", "22:30", "cannot tell"),
        ("day", "03:10", "cannot tell"),
        ("night", "12:00", "cannot tell"),
    ],
)
def test_am_of_another_hour_cannot_be_told(valid: str, swept: str, verdict: str) -> None:
    """Common practice: AM references are valid by day only; a night sheet is refused against them."""
    text, baseline = _pair("am")
    stations = tables.check(baseline.stations.assign(valid=valid), tables.BASELINE)
    check = _judge(text.replace("2026-03-14 12:00", f"2026-03-14 {swept}"), replace(baseline, stations=stations))
    assert check.bands["am"].verdict == verdict


def test_cautions_name_what_weakens_the_comparison() -> None:
    """Missing hour, age, overload, one survey, no survey of today: each is said, none twice."""
    text, baseline = _pair("am")
    old = replace(baseline, surveys=1, overload_share=None, last_utc="", cautions=("made in a thunderstorm",))
    text = text.replace("# swept: 2026-03-14 12:00\n", "").replace("# bands: am\n", "")
    cautions = _judge(text, old).cautions
    for words in (
        "the sheet does not say: swept, antenna, family",
        "no FM row: not judged (write `# bands: fm, am` in the header if the band was swept and silent)",
        "AM list: made in a thunderstorm",
        "AM list: its age at the time of the sweep is not known",
        "AM list: whether the receiver was overloaded is not known",
        "AM list: made from one survey, so it cannot tell steady stations from others",
        "AM: the hour of the sweep is not known, and AM changes with the sun",
        "there is no survey of today: a station off the air counts against the radio (bandscan capture --quick)",
    ):
        assert cautions.count(words) == 1, words


@pytest.mark.parametrize(
    ("sheet", "said"),
    [
        (totals_sheet({"fm": 31}), "no AM total: not judged (add --count am=0 if the band was swept and silent)"),
        (read_sheet("# bands: fm\nband,dial,grade\nfm,98.1,3\n", "s"), "AM was not swept, by the sheet's `bands`: not judged"),
    ],
)
def test_a_band_that_was_not_swept_is_asked_for_in_the_words_of_its_sheet(sheet: Sheet, said: str) -> None:
    """A total has no header to write into, and a sheet that says which bands were swept is not asked again."""
    _, baseline = _pair()
    cautions = judge(sheet, {"fm": baseline}, GOOD, Limits(), MADE, "0").cautions
    assert [caution for caution in cautions if "not judged" in caution] == [said]


def test_a_sheet_that_may_be_unfinished_is_cautioned() -> None:
    """Two stops where dozens are expected: judged as a whole sweep, and said so; a full sheet is not asked."""
    text, baseline = _pair()
    head, rows = text[: text.index("fm,")], text[text.index("fm,") :].splitlines(keepends=True)
    asked = [
        [one for one in _judge(sheet, baseline).cautions if "finish it first" in one]
        for sheet in (head + "".join(rows[:2]), text)
    ]
    (said,) = asked[0]
    assert said.startswith("FM: ")
    assert said.endswith(" are expected: judged as a whole sweep; if the sheet is not finished, finish it first")
    assert asked[1] == []


def test_a_name_that_is_no_station_of_the_list_is_said() -> None:
    """A misspelt anchor anchors nothing: it is named, and one that the list has is not."""
    _, baseline = _pair()
    names = baseline.stations["channel_hz"].tolist()
    right = f"{names[0] / 1e6:.1f}"
    rows = f"fm,{right},2,,0,1,{right}\nfm,95.1,2,,0,1,Pinchbrok\n"
    head = "# dial: pointer\nband,dial,grade,lamp,pad_db,sweep,name\n"
    cautions = [one for one in _judge(head + rows, baseline).cautions if "named by ear" in one]
    assert cautions == ["FM: named by ear, but not one station of the list: 'Pinchbrok'; taken as not named"]


def test_a_band_without_a_list_is_counted_and_no_more() -> None:
    """No reference list: the count stands, the verdict is cannot tell."""
    text, _ = _pair()
    check = judge(read_sheet(text, "s.csv"), {}, {}, Limits(), MADE, "0").bands["fm"]
    assert check.counted > 20
    assert (check.verdict, check.why) == ("cannot tell", "there is no reference list of FM for this bench")


def test_am_without_a_reference_says_how_to_get_one() -> None:
    """AM has no assumed threshold: expected is null and the one thing to do is a known-good sweep."""
    text, baseline = _pair("am")
    check = judge(read_sheet(text, "s.csv"), {"am": baseline}, {}, Limits(), MADE, "0").bands["am"]
    assert (check.expected, check.reference.basis, check.verdict) == (None, "none", "cannot tell")
    assert check.do_next == "sweep a known-good radio on this bench and record its sheet: bandscan check SHEET --known-good"


def test_trace_grades_do_not_count() -> None:
    """Common practice: what counts is being able to follow. Grades 1 and M are shown and not counted."""
    text, baseline = _pair()
    check = _judge(text, baseline).bands["fm"]
    grades = [row.split(",")[2] for row in text.splitlines() if row.startswith("fm,")]
    assert "1" in grades
    assert check.counted == sum(grade in ("2", "3") for grade in grades)
    assert not any(station.heard for station in check.stations if station.grade == "1")


def test_a_station_seldom_on_the_air_is_not_held_against_the_radio() -> None:
    """The same strong station missing: seen in every survey it speaks against the radio, seen in one of five it does not."""
    text, baseline = _pair()
    strongest = int(baseline.stations["level_db"].idxmax())
    dial = {station.channel_hz: station.dial for station in _judge(text, baseline).bands["fm"].stations}
    gone = dial[int(baseline.stations["channel_hz"][strongest])]
    without = "\n".join(row for row in text.splitlines() if not row.startswith(f"fm,{gone},")) + "\n"
    seldom = baseline.stations.copy()
    seldom.loc[strongest, "seen"] = 1
    seldom.loc[strongest, "steadiness"] = "occasional"
    steady = _judge(without, baseline).bands["fm"].findings
    rare = _judge(without, replace(baseline, stations=seldom)).bands["fm"].findings
    weight = [max((one.weight for one in found if one.fault == "strongest-missing"), default=-1.0) for found in (steady, rare)]
    assert weight[0] > weight[1]


def test_the_same_sheet_gives_the_same_answer_twice() -> None:
    """No dice in the judgement."""
    text, baseline = _pair()
    assert to_json(_judge(text, baseline)) == to_json(_judge(text, baseline))


def test_sixty_ticks_against_eighty_stations_take_less_than_two_seconds() -> None:
    """CPU seconds beyond the imports, with grades, readings and all suspects."""
    dice = random.Random(1)
    stations = bench(dice, 80)
    sheet = sweep(dice, stations, Radio(deaf_db=-2.0), Listener(grades=True), reading_hz=0.25e6)
    assert len(sheet.meant) >= 60
    baseline = reference_list(stations)
    begun = time.process_time()
    _judge(sheet.text, baseline)
    assert time.process_time() - begun < 2.0


def test_bands_sweeps_and_attenuators_may_come_in_any_order() -> None:
    """Whole blocks of FM and AM, two sweeps, two attenuators, shuffled: both bands are judged the same."""
    lists, blocks = {}, []
    for band, reading_hz in (("fm", 0.15e6), ("am", 6e3)):
        dice = random.Random(f"blocks{band}")
        stations = bench(dice, 15, band=band)
        lists[band] = reference_list(stations, band)
        sheet = sweep(
            dice,
            stations,
            Radio(),
            Listener(),
            band=band,
            reading_hz=reading_hz,
            pads_db=(0.0, 10.0),
            directions=("1", "2down"),
        )
        rows = [row for row in sheet.text.splitlines() if row.startswith(f"{band},")]
        for key in dict.fromkeys(tuple(row.split(",")[4:6]) for row in rows):
            blocks.append([row for row in rows if tuple(row.split(",")[4:6]) == key])
    head = "# swept: 2026-03-14 12:00\n# dial: pointer\nband,dial,grade,lamp,pad_db,sweep,name\n"
    shuffled = random.Random(2).sample(blocks, len(blocks))
    assert shuffled != blocks
    first, second = (
        judge(
            read_sheet(head + "\n".join(row for block in some for row in block) + "\n", "s"), lists, GOOD, Limits(), MADE, "0"
        )
        for some in (blocks, shuffled)
    )
    assert first.bands == second.bands
