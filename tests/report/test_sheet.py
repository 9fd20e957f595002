"""The count sheet on paper: the list's stations in dial order with boxes, or blind lines that betray none."""

from __future__ import annotations

import re
from dataclasses import replace

from report import records
from report.reader import Reader

from bandscan import report
from bandscan.radio.header import KEYS
from bandscan.radio.sheet import COLUMNS
from bandscan.report.sheet import HEADER, MORE_LINES, lines
from bandscan.tables import GRADES


def rows(html: str) -> list[str]:
    return re.findall(r'<th scope="row" class="figures">([^<]*)</th>', html)


def test_the_open_sheet_has_every_station_in_dial_order_and_room_for_more() -> None:
    """Each station of the list has one line, ascending, then numbered lines for what is not on the list."""
    baseline = records.baseline(names=("Harbour Nine", "The Kettle"))
    html = report.sheet_page([baseline], blind=False)
    listed = [f"{channel / 1e6:.1f}" for channel in sorted(baseline.stations["channel_hz"])]
    assert rows(html) == listed + [str(number) for number in range(1, MORE_LINES + 1)]
    assert "Harbour Nine" in Reader(html).words


def test_the_blind_sheet_names_no_station() -> None:
    """Neither channel nor name of any station is on it, and it has more lines than the list has stations."""
    baseline = records.baseline(names=("Harbour Nine", "The Kettle"))
    html = report.sheet_page([baseline], blind=True)
    assert rows(html) == [str(number) for number in range(1, 60 + MORE_LINES + 1)]
    words = Reader(html).words
    assert "Harbour Nine" not in words
    assert not re.search(r"\b\d{2,3}\.\d\b", words.replace(f"bandscan {baseline.version}", ""))


def test_each_line_has_a_box_for_every_grade_and_lamp_where_there_is_one() -> None:
    """The boxes are the grades that a sheet's file knows; AM has no lamp."""
    fm, am = (report.sheet_page([records.baseline(band, 12)], blind=False) for band in ("fm", "am"))
    grades = '<ul class="boxes">' + "".join(f"<li>{grade}</li>" for grade in GRADES) + "</ul>"
    assert fm.count(grades) == am.count(grades) == 12 + MORE_LINES
    assert fm.count("<li>on</li>") == 12 + MORE_LINES
    assert "<li>on</li>" not in am


def test_dial_numerals_stand_where_their_stretch_begins() -> None:
    """A numeral is printed once, at the first station at or after it: 88 with 88.1 to 91.9, 92 with 92.1 and so on."""
    marked = [(line.numeral, float(line.station)) for line in lines(records.baseline()) if line.numeral]
    assert [numeral for numeral, _ in marked] == ["88", "92", "96", "100", "104"]
    assert all(float(numeral) <= station < float(numeral) + 4 for numeral, station in marked)


def test_the_header_is_that_of_the_sheet_s_file() -> None:
    """Paper and file share their words, so that typing a sheet in is copying: every key, in the file's order."""
    assert list(HEADER) == list(KEYS)
    assert {"dial", "grade", "lamp", "remark"} <= set(COLUMNS)
    words = Reader(report.sheet_page([records.baseline()], blind=True, header={"antenna": "loft wire"})).words
    assert "loft wire" in words
    assert "bench whip" in words  # the rig of the only list


def test_fm_comes_before_am_and_lists_of_two_rigs_name_none() -> None:
    """Each band has its part; where lists are of two rigs the sheet's line stays open."""
    other = replace(records.baseline("am", 20), rig="attic")
    words = Reader(report.sheet_page([other, records.baseline()], blind=True)).words
    assert words.index("FM, continued") < words.index("AM, continued")
    assert "attic" not in words
    assert "bench whip" not in words


def test_the_bench_s_cautions_are_on_the_sheet() -> None:
    """Who fills it in stands before a powered set."""
    words = Reader(report.sheet_page([records.baseline()], blind=True)).words
    for part in ("polarity, voltage and fuse", "dangerous voltages", "local codes"):
        assert part in words
