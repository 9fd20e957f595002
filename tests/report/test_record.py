"""The shop's record: every figure a dispute may turn on, with where it comes from."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace

import pandas as pd
from report import records
from report.reader import Reader

from bandscan import report
from bandscan.baseline import to_files
from bandscan.model import Baseline, RadioCheck

SHEET = "# job: 1042\nband,dial,grade,lamp,pad_db,sweep,name,remark\nfm,89.2,3,on,0,1,,hums\nfm,94.95,2,off,0,1,,\n"


def told(check: RadioCheck, baseline: Baseline, sheet: str = "") -> str:
    return " ".join(Reader(report.record_page(check, {"fm": baseline}, sheet)).words.split())


def test_the_list_is_named_by_what_its_file_holds() -> None:
    """The list's id is the SHA-256 of the baseline.csv that the shop keeps: sha256sum tells whether it is the same."""
    baseline = records.baseline()
    digest = hashlib.sha256(to_files(baseline)["baseline.csv"].encode()).hexdigest()
    assert f"{digest[:16]} (SHA-256 of baseline.csv" in told(records.radio_check(), baseline)


def test_age_validity_rig_noise_and_overload_of_the_list_are_told() -> None:
    """What the list rests on stands with its figures and units."""
    check = replace(records.radio_check(), baseline={"fm": {"age_days": 12.4}})
    words = told(check, records.baseline())
    for part in (
        "12 days after its last survey",
        "any (60)",
        "bench whip",
        "B: 3 surveys; no second gain",
        "dBFS, uncalibrated in a channel's width (median of the list's stations; -93 to -91)",
        "0.02% of the samples at full scale",
        "60 stations from 3 surveys, 2031-05-03 10:00 UTC to 2031-05-05 15:30 UTC",
        "by version 0.1.0",
    ):
        assert part in words


def test_threshold_reference_pointer_and_findings_stand_with_their_doubts() -> None:
    """Threshold with interval, one-sided bounds against the reference, pointer with intervals, runner-up with its distance."""
    words = told(records.radio_check(), records.baseline())
    for part in (
        "-58 dBFS, uncalibrated (95 %: -61 to -55)",
        "one-sided 95 % bounds: 7 to 17 dB deafer",
        "240 kHz high at 106.0 MHz (95 %: 160 to 320 kHz)",
        "deaf leads the runner-up, pointer-stretch, by 2.8",
        "swap lead and whip",
        "supply_v is not noted on the sheet",
    ):
        assert part in words


def test_what_is_left_out_is_named_with_its_reason() -> None:
    """A channel that no survey covered, and a station that the shop leaves out of the count."""
    baseline = records.baseline()
    stations = baseline.stations.copy()
    stations.loc[0, "remarks"] = "not-counted;edge"
    words = told(records.radio_check(), replace(baseline, stations=stations))
    assert f"{stations.loc[0, 'channel_hz'] / 1e6:.1f} not-counted; edge" in words
    assert "107.9 not covered by a survey" in words


def test_the_sheet_stands_as_written() -> None:
    """Raw readings in the order heard, and by what the sheet's file is known; a sheet past the limit says how much is left."""
    words = told(records.radio_check(), records.baseline(), SHEET)
    assert "fm,89.2,3,on,0,1,,hums fm,94.95,2,off,0,1,," in words
    assert f"4 lines, SHA-256 {hashlib.sha256(SHEET.encode()).hexdigest()[:16]}" in words
    long = told(records.radio_check(), records.baseline(), SHEET + "fm,99.9,3,on,0,1,,\n" * 500)
    assert "504 lines" in long
    assert "104 further lines are in the sheet's file" in long


def test_thin_evidence_still_makes_a_record() -> None:
    """No list, no age, no finding: nothing reads nan or None, and what is missing is said."""
    check = records.radio_check()
    bare = replace(check, bands={"am": replace(check.bands["am"], stations=(), extras=(), dial_points=())})
    words = " ".join(Reader(report.record_page(bare, {})).words.split())
    assert "none was given" in words
    assert "No finding." in words
    known = told(check, replace(records.baseline(levels=False), overload_share=None, first_utc="", last_utc="", version=""))
    assert "not known: the list has no levels" in known
    assert "age at sweepnot known" in known
    for one in (words, known):
        assert not re.search(r"\b(nan|None|NA)\b", one)
        assert str(pd.NA) not in one
