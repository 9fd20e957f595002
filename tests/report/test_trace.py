"""What came in and could not be followed is told as that, not as missed."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
from report import records
from report.reader import Reader

from bandscan import report
from bandscan.model import BandCheck, StationHeard
from bandscan.report import page
from bandscan.report.strip import telling_lines
from bandscan.report.words import answer


@pytest.fixture(autouse=True)
def without_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    """The plot library's 5 MB tell nothing here."""
    monkeypatch.setattr(page, "plot_library", lambda: "")


def station(channel_hz: int, grade: str, *, heard: bool | None = False, level_db: float = -40.0) -> StationHeard:
    dial = f"{channel_hz / 1e6:.1f}" if grade else ""
    return StationHeard(channel_hz, level_db, heard, 0.98 if heard else 0.0, dial, grade, "")


def band(*stations: StationHeard) -> BandCheck:
    return replace(records.band_check("fm"), stations=stations, findings=(), extras=())


SOME = (
    station(98_100_000, "3", heard=True),
    station(98_500_000, "1"),
    station(98_900_000, ""),
    station(99_300_000, "M"),
    station(99_700_000, "1", level_db=-75.0),  # under the reference's -70 dBFS: tells nothing
    station(100_100_000, "1", heard=None),
)


def test_what_became_of_a_station() -> None:
    """A trace is not followed, which is not missed; where the alignment cannot say, the grade tells nothing."""
    assert [answer(one) for one in SOME] == [
        "heard",
        "not followed (a trace)",
        "missed",
        "not followed (two at once)",
        "not followed (a trace)",
        "cannot say",
    ]


def test_traces_have_a_line_of_their_own() -> None:
    """Missed stations first, then traces, then two at once, each with its channels; without any, one line as ever."""
    assert telling_lines(band(*SOME)) == [
        "missed though above the reference's threshold: 98.9 MHz",
        "not followed (a trace) though above the reference's threshold: 98.5 MHz",
        "not followed (two at once) though above the reference's threshold: 99.3 MHz",
    ]
    assert telling_lines(band(SOME[2])) == ["missed though above the reference's threshold: 98.9 MHz"]
    assert telling_lines(band(SOME[0])) == []
    assert telling_lines(replace(band(SOME[1]), pad_db=10.0)) == [
        "not followed (a trace) through a 10 dB attenuator though above the reference's threshold behind it: 98.5 MHz"
    ]


def test_no_page_calls_a_trace_missed() -> None:
    """Terminal, page and record: a set whose only failings are traces has no station missed."""
    check = replace(records.radio_check(), bands={"fm": band(SOME[0], SOME[1], SOME[4])})
    lists = {"fm": records.baseline()}
    text = report.check_text(check)
    html = report.check_page(check, lists)
    said = " ".join(Reader(html).words.split())
    assert "  not followed  not followed (a trace) though above" in text
    assert "Of 3 stations on the list 1 heard, 0 missed, 2 not followed (a trace)." in said
    assert "Not followed (a trace) though above the reference's threshold: 98.5 MHz." in said
    assert "FM: not followed though above the reference's threshold." in said
    record = " ".join(Reader(report.record_page(check, lists)).words.split())
    for told in (said, record):
        assert re.search(r"98\.5 -40\.0 (\S+ )?not followed \(a trace\)", told)
    for told in (text, said.replace("0 missed", "").replace("what was heard and missed", ""), record):
        assert "missed" not in told


def test_a_trace_hangs_at_its_grade() -> None:
    """Below the dial the trace stands at depth 1 with the mark of what was not followed; one that was missed has none."""
    html = report.check_page(replace(records.radio_check(), bands={"fm": band(*SOME[:3])}), {"fm": records.baseline()})
    strip = json.loads(re.findall(r'<script type="application/json">(.*?)</script>', html, re.DOTALL)[0])
    below = [trace for trace in strip["data"] if trace.get("yaxis") == "y2"]
    assert [(trace["marker"]["line"]["color"], trace["y"]) for trace in below] == [("#000000", [-3.0]), ("#9b1c1c", [-1.0])]
