"""An attenuator in line: what the pages hold against the threshold, and that they say so."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
from report import records
from report.reader import Reader

from bandscan import report
from bandscan.model import BandCheck, Interval, Reference
from bandscan.radio import from_json, to_json
from bandscan.report import change_words, page
from bandscan.report.change import stations_grid
from bandscan.report.check import facts
from bandscan.report.strip import plug_db, telling_misses
from bandscan.report.words import through


@pytest.fixture(autouse=True)
def without_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    """The plot library's 5 MB tell nothing here."""
    monkeypatch.setattr(page, "plot_library", lambda: "")


def padded(pad_db: float = 20.0, **more: object) -> BandCheck:
    return replace(records.band_check("fm"), pad_db=pad_db, **more)  # type: ignore[arg-type]


def words(html: str) -> str:
    return " ".join(Reader(html).words.split())


def test_what_the_attenuator_hid_is_not_missed() -> None:
    """Behind 20 dB a reference at -70 dBFS follows what stands at -50 dBFS or more in the list: no other miss tells."""
    band = padded()
    missed = {one.channel_hz: one.level_db for one in band.stations if one.heard is False and one.level_db is not None}
    telling = {one.channel_hz for one in telling_misses(band)}
    assert telling == {channel for channel, level in missed.items() if level >= -50.0}
    assert any(-70.0 <= level < -50.0 for level in missed.values())
    weak = tuple(replace(one, level_db=-51.0, heard=False) for one in band.stations)
    assert telling_misses(replace(band, stations=weak)) == []
    assert len(telling_misses(replace(band, stations=weak, pad_db=0.0))) == len(weak)


def test_every_page_says_through_which_attenuator() -> None:
    """Check, record, terminal and owner's page; without one none of them speaks of it."""
    for pad_db in (20.0, 0.0):
        strong = replace(records.band_check("fm").stations[0], level_db=-30.0, heard=False)
        band = padded(pad_db=pad_db, counted=5, stations=(strong, *records.band_check("fm").stations[1:]))
        check, lists = replace(records.radio_check(), bands={"fm": band}), {"fm": records.baseline()}
        told = {
            "page": words(report.check_page(check, lists)),
            "record": words(report.record_page(check, lists)),
            "terminal": " ".join(report.check_text(check).split()),
            "owner": words(report.customer_page(check, lists)),
        }
        assert {name for name, text in told.items() if "attenuator" in text} == (set(told) if pad_db else set())
        if pad_db:
            for name in ("page", "record", "terminal"):
                assert "5 counted through a 20 dB attenuator; expected 44 to 53" in told[name], name
            for name in ("page", "terminal"):
                missed = "issed through a 20 dB attenuator though above the reference's threshold behind it"
                assert missed in told[name], name
            for name in ("page", "record"):
                assert "of the reference list, as heard through a 20 dB attenuator. Spread" in told[name], name
            assert (
                "5 heard through an attenuator, which weakens every station on purpose,"
                " of about 48 that a good radio is expected to hear through it (44 to 53, 19 times in 20)"
            ) in told["owner"]
            assert not re.search(r"\bdB", told["owner"])  # of decibels the owner reads nothing


def test_plots_draw_levels_behind_the_attenuator() -> None:
    """Stems, points and the lamp stand 20 dB lower; the thresholds, which the sweep told behind it, stay; a note says so."""
    drawn = []
    for band in (padded(), padded(pad_db=0.0)):
        html = report.check_page(replace(records.radio_check(), bands={"fm": band}), {"fm": records.baseline()})
        plots = [json.loads(one) for one in re.findall(r'<script type="application/json">(.*?)</script>', html, re.DOTALL)]
        drawn.append((plots, words(html)))
    (behind, said), (bare, unsaid) = drawn
    assert said.count("levels: behind the 20 dB attenuator") == 3  # strip, heard against level, lamp
    assert "attenuator" not in unsaid

    def of(plot: dict, axis: str) -> list[float]:  # type: ignore[type-arg]
        marks = [trace for trace in plot["data"] if "markers" in trace["mode"] and trace.get("yaxis") != "y2"]
        return sorted(value for trace in marks for value in trace[axis])

    strip, thresholds = (behind[0], bare[0]), {-58.0, -70.0}
    lowest, highest = (min(of(strip[1], "y")), max(of(strip[1], "y")))
    assert (min(of(strip[0], "y")), max(of(strip[0], "y"))) == pytest.approx((lowest - 20.0, highest - 20.0))
    for plot in strip:
        assert thresholds <= {shape["y0"] for shape in plot["layout"]["shapes"]}
    titles = [[one["layout"]["yaxis"]["title"]["text"] for one in plots] for plots in (behind, bare)]
    heard = [plots[title.index("chance of following it, %")] for plots, title in zip((behind, bare), titles, strict=True)]
    assert of(heard[0], "x") == pytest.approx([level - 20.0 for level in of(heard[1], "x")])
    lamp = [
        next(one for one in plots if one["layout"]["yaxis"].get("ticktext") == ["dark", "flickers", "lit"])
        for plots in (behind, bare)
    ]
    assert of(lamp[0], "x") == pytest.approx([level - 20.0 for level in of(lamp[1], "x")])


def test_thick_stems_are_what_the_reference_follows_behind_it() -> None:
    """As many thick stems as the list has stations at -50 dBFS or more, where -70 dBFS is the reference and 20 dB the pad."""
    html = report.check_page(replace(records.radio_check(), bands={"fm": padded()}), {"fm": records.baseline()})
    strip = json.loads(re.findall(r'<script type="application/json">(.*?)</script>', html, re.DOTALL)[0])
    thick = 0
    for trace in strip["data"]:
        if trace.get("yaxis") != "y2" and trace.get("error_y", {}).get("thickness") == 2.4:
            thick += len(trace["x"])
    assert thick > 0
    assert thick == sum((one.level_db or -99.0) >= -50.0 for one in padded().stations)


def test_the_article_of_an_attenuator() -> None:
    """`a 20 dB`, `an 8 dB`, `an 11 dB`; nothing where none was in line."""
    assert [through(pad_db) for pad_db in (0.0, 20.0, 8.0, 11.0, 10.5, 18.0, 1.8)] == [
        "",
        " through a 20 dB attenuator",
        " through an 8 dB attenuator",
        " through an 11 dB attenuator",
        " through a 10.5 dB attenuator",
        " through an 18 dB attenuator",
        " through a 1.8 dB attenuator",
    ]


def test_check_json_keeps_the_attenuator_and_older_checks_have_none() -> None:
    """`pad_db` goes and comes back; a check that was issued before it was kept reads as without one."""
    check = replace(records.radio_check(), bands={"fm": padded()})
    record = to_json(check)
    assert record["bands"]["fm"]["pad_db"] == 20.0
    assert from_json(record).bands["fm"].pad_db == 20.0
    del record["bands"]["fm"]["pad_db"]
    assert from_json(record).bands["fm"].pad_db == 0.0


def test_am_through_an_attenuator_is_compared_with_nothing() -> None:
    """Its facts blame no missing reference: the attenuator is why."""
    unknown = Interval(None, None, None)
    band = replace(
        records.band_check("am"), pad_db=10.0, counted=2, expected=None, against_reference_db=None, threshold_db=unknown
    )
    told = dict(facts(band))
    assert told["heard"] == "2 counted through a 10 dB attenuator; how many a good set follows so is not known"
    assert told["sensitivity"] == "cannot be compared: AM was swept through an attenuator"
    assert band.reference == Reference(-70.0, 2.0, "known-good", "dBFS", 2, "2031-05-04T09:00:00Z")
    assert {one.channel_hz for one in telling_misses(band)} == {one.channel_hz for one in band.stations if one.heard is False}
    assert [plug_db(one, band) for one in band.stations] == [one.level_db for one in band.stations]
    check = replace(records.radio_check(), bands={"am": band})
    assert "above the reference" not in report.check_text(check)
    said = words(report.check_page(check, {"am": records.baseline("am")}))
    assert "This radio: cannot be compared: AM was swept through an attenuator." in said
    assert "points at no fault" not in said
    assert "No finding: the attenuator's doing cannot be told from a fault's" in said
    assert "levels: before the 10 dB attenuator" in said


def test_sweeps_through_two_attenuators_gain_and_lose_nothing() -> None:
    """One line why, no chance, no plot of gained and lost, no word of them in the table; the counts say the attenuator."""
    one = replace(records.band_change(), gained=(), lost=(), p_value=None, pad_after_db=20.0)
    assert change_words.stations(one) == (
        "not compared, as another attenuator was in line, none before and 20 dB after: sweep both times through the same"
    )
    assert dict(change_words.facts(one))["counted"] == "before: 31; after: 38 through a 20 dB attenuator"
    grid = stations_grid(one)
    place = [head.words for head in grid.heads].index("change")
    assert {row[place] for row in grid.rows} == {"", "off the air"}
    html = report.change_page(replace(records.change(), bands={"fm": one}))
    assert "gained and lost" not in html
    assert "McNemar" not in html
