"""What stands on the pages: the facts in words and tables, whole and escaped, without a browser."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pandas as pd
import pytest
from report import records
from report.reader import Reader

from bandscan import report, tables
from bandscan.errors import TableError, UsageError
from bandscan.model import BandCheck, Expected, Interval, RadioCheck, Reference
from bandscan.radio import Limits, judge, read_sheet
from bandscan.report import page
from bandscan.report.check import check_page, facts
from bandscan.report.page import script_json
from bandscan.report.strip import telling_misses


@pytest.fixture(autouse=True)
def without_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    """The plot library's 5 MB tell nothing here; test_size.py and the browser have them."""
    monkeypatch.setattr(page, "plot_library", lambda: "")


def occupancy(stations: pd.DataFrame, **more: object) -> str:
    facts = {"title": "Wednesday", "region": "us", "rig": "bench whip", "started_utc": "2031-05-03T10:00:00Z"}
    return report.occupancy_page(stations, **{**facts, "cautions": [], "forged": False, **more})  # type: ignore[arg-type]


def hostile_pages() -> dict[str, str]:
    lists = {"fm": records.baseline(names=records.HOSTILE), "am": records.baseline("am", 45, levels=False)}
    return {
        "occupancy": occupancy(records.stations(names=records.HOSTILE), title=records.HOSTILE[0], rig=records.HOSTILE[8]),
        "baseline": report.baseline_page(lists["fm"]),
        "check": report.check_page(records.radio_check(hostile=True), lists),
        "change": report.change_page(records.change(hostile=True)),
        "customer": report.customer_page(records.radio_check(hostile=True), lists),
        "record": report.record_page(records.radio_check(hostile=True), lists, "\n".join(records.HOSTILE)),
        "sheet": report.sheet_page(
            [lists["fm"]], blind=False, header=dict.fromkeys(("job", "antenna"), records.HOSTILE[0]), shop=records.HOSTILE[8]
        ),
    }


def plots(html: str) -> list[dict[str, object]]:
    return [json.loads(text) for text in re.findall(r'<script type="application/json">(.*?)</script>', html, re.DOTALL)]


@pytest.mark.parametrize("kind", ["occupancy", "baseline", "change", "check", "customer", "record", "sheet"])
def test_hostile_text_stays_text(kind: str) -> None:
    """Names with markup add no element, no address and no template value; all scripts are the page's own."""
    html = hostile_pages()[kind]
    reader = Reader(html)
    assert reader.count("img") == 0
    assert all(
        attributes.get("href", "#").startswith(("#", "data:,")) for tag, attributes in reader.tags if tag in ("a", "link")
    )
    assert not any(key.startswith("on") for _, attributes in reader.tags for key in attributes)
    assert "document.title=" not in "".join(script for script in reader.scripts if not script.startswith("{"))
    assert "\u202e" not in html
    assert "\x1b" not in html
    assert "W" * 700 not in html
    assert "{{ 7 * 7 }}" in html or "{{ 7 * 7 }}" in reader.words or kind not in ("occupancy", "check")


def test_the_band_s_facts_stand_in_words_and_table() -> None:
    """With scripts off the page still tells each station, its level with unit and doubt, and what the rest holds."""
    stations = records.stations(how_many=12)
    words = " ".join(Reader(occupancy(stations, cautions=["2 % of the samples at full scale"])).words.split())
    assert "101 channels covered, 12 stations" in words
    assert "1 sideband, 1 phantom, 1 spur, 1 unsure, 85 empty" in words
    assert "dBFS, uncalibrated" in words
    assert "2 % of the samples at full scale" in words
    first = stations[stations["holds"] == "station"].iloc[0]
    assert f"{first['channel_hz'] / 1e6:.1f} {first['level_dbfs']:.1f} 0.3" in words
    assert "edge; truncated" in words


def test_audio_signal_to_noise_is_told_with_its_doubt() -> None:
    """Mono with its standard uncertainty, and stereo, where the survey has them; without them there is no column."""
    stations = records.stations(how_many=12)
    assert "audio S/N" not in Reader(occupancy(stations)).words
    heard = stations["holds"] == "station"
    stations.loc[heard, ["audio_snr_db", "audio_sd_db", "stereo_snr_db"]] = [41.6, 1.23, 18.2]
    words = " ".join(Reader(occupancy(stations)).words.split())
    first = stations[heard].iloc[0]
    assert f"{first['channel_hz'] / 1e6:.1f} {first['level_dbfs']:.1f} 0.3 {first['noise_dbfs']:.1f}" in words
    assert f"{first['snr_db']:.0f} 42 1.2 18" in words
    facts = {"title": "", "rig": "", "started_utc": "", "cautions": [], "forged": False}
    assert "42" in report.occupancy_text(stations, **facts)  # type: ignore[arg-type]


def test_tables_name_their_rows_and_columns() -> None:
    """Each table has a caption, each column and row a heading with its scope."""
    reader = Reader(report.check_page(records.radio_check(), {"fm": records.baseline()}))
    assert reader.count("table") == reader.count("caption") > 3
    scopes = [attributes.get("scope") for tag, attributes in reader.tags if tag == "th"]
    assert set(scopes) == {"col", "row"}
    assert scopes.count("row") >= 60


def test_each_channel_that_holds_something_has_one_stem() -> None:
    """The wide plot draws every level once, with the sign of what the channel holds; empty channels have none."""
    stations = records.stations(how_many=20)
    wide = plots(occupancy(stations))[0]
    heads = sum(len(trace["x"]) for trace in wide["data"] if trace["type"] == "scatter")  # type: ignore[attr-defined]
    assert heads == 24
    assert not any("lines" in trace.get("mode", "") for trace in wide["data"])  # type: ignore[attr-defined]


def test_calibrated_levels_are_shown_in_dbuv() -> None:
    """Where every station has a calibrated level the page is in dBuV, noise lifted alike; no word of uncalibrated is left."""
    stations = records.stations(how_many=10)
    stations["level_dbuv"] = stations["level_dbfs"] + 100.0
    html = occupancy(stations)
    words = " ".join(Reader(html).words.split())
    assert "uncalibrated" not in words
    assert "8 dBuV (median of the channels" in words  # noise -92 dBFS lifted by 100 dB


def test_one_station_without_calibration_keeps_the_page_uncalibrated() -> None:
    """Two units cannot share an axis."""
    stations = records.stations(how_many=10)
    stations["level_dbuv"] = stations["level_dbfs"] + 100.0
    stations.loc[stations["holds"] == "station", "level_dbuv"] = [float("nan"), *[50.0] * 9]
    assert "dBFS, uncalibrated" in Reader(occupancy(stations)).words


def test_a_radio_s_threshold_is_told_with_its_interval() -> None:
    """The line across the stems is named, with unit and 95 % interval."""
    html = occupancy(records.stations(), threshold={"fm": Interval(-62.0, -65.0, -59.0)})
    assert "-62 dBFS (95 %: -65 to -59)" in Reader(html).words
    assert "-62 dBFS (95 %: -65 to -59); grey: its two-sided 95 % interval" in Reader(html).words
    shapes = plots(html)[0]["layout"]["shapes"]  # type: ignore[index]
    assert [(shape["y0"], shape["y1"]) for shape in shapes] == [(-65.0, -59.0), (-62.0, -62.0)]


def test_a_list_shows_the_share_of_surveys_that_saw_each_station() -> None:
    """Each station has a bar of its share, filled where it is steady; a list from one survey has no such strip."""
    baseline = records.baseline()
    bars = [trace for trace in plots(report.baseline_page(baseline))[0]["data"] if trace["type"] == "bar"]  # type: ignore[attr-defined]
    assert [round(share) for share in bars[0]["y"]] == [round(100 * seen / 3) for seen in baseline.stations["seen"]]
    filled = [colour == "#000000" for colour in bars[0]["marker"]["color"]]
    assert filled == [word == "steady" for word in baseline.stations["steadiness"]]
    once = replace(baseline, stations=baseline.stations.assign(seen=1, surveys=1))
    assert not [trace for trace in plots(report.baseline_page(once))[0]["data"] if trace["type"] == "bar"]  # type: ignore[attr-defined]


def test_hours_of_the_day_are_small_strips_of_one_scale() -> None:
    """Each station has a bar in the strip of each part of the day, as high as its share of the surveys, filled from 80 % on."""
    hours = records.hours()
    html = report.baseline_page(records.baseline(), hours=hours, zone="America/Denver")
    strip = next(plot for plot in plots(html) if "06–09" in plot["layout"]["yaxis"].get("ticktext", []))  # type: ignore[index]
    bars = strip["data"][0]  # type: ignore[index]
    assert len(bars["x"]) == 180
    assert sorted(set(bars["base"])) == [0.0, 1.0, 2.0]
    top = [round(high / 0.78, 2) for high in bars["y"]]
    assert [share for share in top if share > 0.1] == [round(seen / 5, 2) for seen in hours["seen"] if seen]
    assert [colour == "#000000" for colour in bars["marker"]["color"]] == [seen >= 4 for seen in hours["seen"]]
    words = " ".join(Reader(html).words.split())
    assert "Local time (America/Denver): 06 to 09 h 5 surveys, 12 to 15 h 5 surveys, 21 to 24 h 5 surveys." in words
    text = report.baseline_text(records.baseline(), hours=hours, zone="America/Denver")
    first = f"{hours['seen'].iloc[0]} of 5"
    assert first in words
    assert first in text


def test_surveys_of_one_hour_make_no_strips() -> None:
    """With surveys of one part of the day only, or none, neither page nor text says a word of hours."""
    for hours in (None, records.hours(parts=(9,))):
        words = Reader(report.baseline_page(records.baseline(), hours=hours)).words
        text = report.baseline_text(records.baseline(), hours=hours)
        assert "by the hour" not in words + text


def test_the_noise_stands_in_a_list_as_a_level() -> None:
    """A dotted line at the median of level less signal-to-noise; a list without levels has none."""
    stations = records.baseline().stations
    made = replace(records.baseline(), stations=stations.assign(snr_db=stations["level_db"] + 92.0))
    shapes = plots(report.baseline_page(made))[0]["layout"]["shapes"]  # type: ignore[index]
    assert [(shape["y0"], shape["line"]["dash"]) for shape in shapes] == [(pytest.approx(-92.0), "dot")]
    assert "Noise in a channel's width: -92 dBFS (median of the stations)." in Reader(report.baseline_page(made)).words
    made = replace(
        made, stations=made.stations.assign(snr_db=stations["level_db"] + [90.0, 95.0, *[92.0] * (len(stations) - 2)])
    )
    assert "-92 dBFS (median of the stations, which are from -95 to -90)" in Reader(report.baseline_page(made)).words


def test_no_table_is_shown_that_has_no_row() -> None:
    """A band without a station, and a list without one, show what there is and no bare head of a table."""
    bare = records.stations(how_many=0)
    for html in (
        occupancy(bare),
        occupancy(bare[bare["holds"] == "empty"]),
        report.baseline_page(replace(records.baseline(), stations=tables.empty(tables.BASELINE))),
        report.check_page(replace(records.radio_check(), bands={"fm": replace(records.band_check(), stations=())}), {}),
    ):
        tags = [tag for tag, _ in Reader(html).tags if tag in ("table", "tbody", "td")]
        assert all(after == "td" for tag, after in pairwise([*tags, ""]) if tag == "tbody")
    facts = {"title": "", "rig": "", "started_utc": "", "cautions": [], "forged": False}
    text = report.occupancy_text(bare, **facts)  # type: ignore[arg-type]
    assert "FM stations." not in text
    assert "FM channels that hold something" in text
    assert "over noise" not in report.occupancy_text(bare[bare["holds"] == "empty"], **facts)  # type: ignore[arg-type]


def test_a_radio_s_threshold_is_drawn_into_a_list_with_levels() -> None:
    """The line and its interval stand at the threshold, within the axis; a list without levels has none."""
    html = report.baseline_page(records.baseline(), threshold=Interval(-110.0, -115.0, -105.0))
    layout = plots(html)[0]["layout"]
    drawn = [shape["y0"] for shape in layout["shapes"] if shape["line"].get("dash") != "dot"]  # type: ignore[index]
    assert drawn == [-115.0, -110.0]
    assert layout["yaxis"]["range"][0] < -115.0  # type: ignore[index]
    assert "this radio follows half of the stations at -110 dBFS, uncalibrated (95 %: -115 to -105)" in Reader(html).words
    bare = report.baseline_page(records.baseline("am", 45, levels=False), threshold=Interval(-110.0, -115.0, -105.0))
    assert "shapes" not in plots(bare)[0]["layout"]  # type: ignore[operator]
    assert "this radio" not in Reader(bare).words


def test_made_signals_say_so_on_every_page_and_text() -> None:
    """Nothing forged can be taken for a reception."""
    stations, radio = records.stations(how_many=5), replace(records.radio_check(), forged=True)
    baseline = replace(records.baseline(), forged=True)
    for html in (occupancy(stations, forged=True), report.baseline_page(baseline), report.check_page(radio, {"fm": baseline})):
        assert "Made signals." in Reader(html).words
    for text in (
        report.occupancy_text(stations, title="", rig="", started_utc="", cautions=[], forged=True),
        report.baseline_text(baseline),
        report.check_text(radio),
    ):
        assert "MADE SIGNALS" in text
    assert "Made signals." not in Reader(occupancy(stations)).words


def test_the_check_begins_with_verdict_reason_and_next_test() -> None:
    """Each band's verdict, why and next stand before anything else of the page's body."""
    words = " ".join(Reader(report.check_page(records.radio_check(), {"fm": records.baseline()})).words.split())
    body = words.index("Radio check")
    places = [
        words.index(part, body)
        for part in ("FM falls short", "12 dB deafer than the known-good sets", "swap the antenna lead", "AM cannot tell")
    ]
    assert places == sorted(places)
    assert max(places) < words.index("by the dial", body)


def test_the_check_says_what_it_does_not_prove_and_what_can_hurt() -> None:
    """The limits, the bench's cautions and the sheet's own are on every check page."""
    words = " ".join(Reader(report.check_page(records.radio_check(), {})).words.split())
    for part in (
        "What this does not prove",
        "ground polarity",
        "local codes",
        "licensed or qualified person",
        "supply_v is not noted on the sheet",
    ):
        assert part in words


def test_missed_heard_and_extra_are_drawn_apart() -> None:
    """The strip's signs count what the record says: hollow for missed, filled for heard, numbered crosses for extras."""
    band = records.band_check("fm")
    html = report.check_page(replace(records.radio_check(), bands={"fm": band}), {"fm": records.baseline()})
    above = [trace for trace in plots(html)[0]["data"] if trace.get("yaxis") != "y2"]  # type: ignore[attr-defined]
    hollow = sum(len(trace["x"]) for trace in above if trace["marker"]["color"] == "#ffffff" and trace["mode"] == "markers")
    assert hollow == sum(one.heard is False for one in band.stations)
    below = [trace for trace in plots(html)[0]["data"] if trace.get("yaxis") == "y2"]  # type: ignore[attr-defined]
    crosses = [trace for trace in below if trace["marker"]["symbol"] == "x-thin"]
    assert [len(trace["x"]) for trace in crosses] == [2]  # the third extra has no place on the dial
    assert "image of 100.7 MHz" in Reader(html).words


def test_every_figure_of_a_finding_is_shown() -> None:
    """A finding shows its text, evidence, weight and next test, and its evidence has a row of its own in the strip."""
    html = report.check_page(records.radio_check(), {"fm": records.baseline()})
    words = " ".join(Reader(html).words.split())
    assert "deaf: stations below -60 dBFS are lost" in words
    assert "Weight 5.2." in words
    assert "Next test: swap lead and whip" in words
    assert plots(html)[0]["layout"]["yaxis2"]["ticktext"][-2:] == ["<b>A</b>", "<b>B</b>"]  # type: ignore[index]


def test_a_finding_that_nothing_speaks_for_is_not_shown_as_evidence() -> None:
    """Weight 0 or less: no letter, no row in the strip, no list of channels and no test on page, in terminal and record."""
    band = records.band_check("fm")
    first = band.findings[0]
    rival = replace(first, fault="weak-high-end", text="weak towards the high end", weight=-0.6, next_test="peak the trimmers")
    radio = replace(records.radio_check(), bands={"fm": replace(band, findings=(first, rival))})
    html = report.check_page(radio, {"fm": records.baseline()})
    assert plots(html)[0]["layout"]["yaxis2"]["ticktext"][-1] == "<b>A</b>"  # type: ignore[index]
    for words in (Reader(html).words, report.check_text(radio), Reader(report.record_page(radio, {})).words):
        words = " ".join(words.split())
        assert "swap lead and whip" in words
        assert "weak-high-end" in words
        assert "-0.6" in words
        assert "peak the trimmers" not in words
    assert "weak towards" not in Reader(html).words
    assert "weak-high-end leads" not in Reader(report.record_page(radio, {})).words


def bare(**more: object) -> BandCheck:
    """A band judged from a bare total: no list, no dial, no levels."""
    band = replace(records.band_check("fm", threshold_db=None, verdict="cannot tell"), stations=(), extras=(), findings=())
    return replace(band, dial_points=(), lamp_expected=None, lamp_lit=None, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(lambda band: bare(), id="bare total"),
        pytest.param(lambda band: bare(expected=Expected(3, 4.0, 6)), id="bare total with a reference"),
        pytest.param(lambda band: replace(band, stations=band.stations[:1]), id="one station"),
        pytest.param(lambda band: replace(band, spread_db=None), id="no fitted curve"),
        pytest.param(lambda band: replace(band, threshold_db=Interval(-58.0, None, -50.0)), id="one-sided"),
        pytest.param(
            lambda band: replace(band, stations=(replace(band.stations[0], level_db=None), *band.stations[1:])),
            id="one level missing",
        ),
        pytest.param(lambda band: replace(band, unit='<b>dBFS"</b>'), id="a strange unit"),
        pytest.param(lambda band: replace(band, findings=band.findings * 5), id="ten findings"),
    ],
)
def test_thin_evidence_still_makes_a_page(change: Callable[[BandCheck], BandCheck]) -> None:
    """Whatever a record leaves empty, page and text are made, and nothing reads nan or None."""
    radio: RadioCheck = replace(records.radio_check(), bands={"fm": change(records.band_check("fm"))})
    for text in (Reader(check_page(radio, {})).words, report.check_text(radio)):
        assert not re.search(r"\b(nan|None|NA)\b", text)
        assert "<NA>" not in text


def test_an_empty_survey_says_so() -> None:
    """No channel, no plot, and a sentence that says why."""
    html = occupancy(tables.empty(tables.STATIONS))
    assert "No channel was covered" in Reader(html).words
    assert not plots(html)


def test_a_band_without_levels_is_drawn_and_says_so() -> None:
    """A list made from sweeps has stations but no levels."""
    html = report.baseline_page(records.baseline("am", 45, levels=False))
    assert "The list has no levels: it was made from sweeps." in Reader(html).words
    assert plots(html)[0]["layout"]["yaxis"]["title"]["text"] == "no levels"  # type: ignore[index]


def test_wrong_input_is_refused() -> None:
    """A table without its columns and an unknown region are errors, not pages."""
    with pytest.raises(TableError, match=r"stations.csv: columns missing"):
        occupancy(records.stations().drop(columns="holds"))
    with pytest.raises(UsageError, match="no band plan 'mars' 'fm'"):
        occupancy(records.stations(), region="mars")


def test_a_figure_cannot_end_its_script_element() -> None:
    """A title with markup is data: no `<` is left in the text that stands inside the script element."""
    text = script_json({"data": [], "layout": {"title": {"text": "</script><script>alert(1)</script><!--"}}})
    assert "<" not in text
    assert json.loads(text)["layout"]["title"]["text"].startswith("</script>")


def test_misses_that_tell_are_those_the_reference_follows() -> None:
    """A missed station below the reference's threshold tells nothing and is not listed; without a reference all are."""
    band = records.band_check("fm")
    missed = {one.channel_hz: one.level_db for one in band.stations if one.heard is False}
    telling = [one.channel_hz for one in telling_misses(band)]
    assert set(telling) == {channel for channel, level in missed.items() if level is not None and level >= -70.0}
    assert 0 < len(telling) < len(missed)
    without = replace(band, reference=Reference(None, None, "none", ""))
    assert {one.channel_hz for one in telling_misses(without)} == set(missed)


def test_a_band_without_a_list_has_a_count_and_no_other_figure() -> None:
    """No list: nothing was laid over anything, and no word is said of dial, reference or threshold."""
    sheet = read_sheet("band,dial,grade\nfm,98.1,2\nfm,101.3,3\n", "s.csv")
    band = judge(sheet, {}, {}, Limits(), "2026-03-14T12:00:00Z", "0").bands["fm"]
    assert facts(band) == [("heard", "2 counted")]
