"""The fitted curve and the pointer as drawn and told."""

from __future__ import annotations

from dataclasses import replace

import pytest
from report import records
from scipy.stats import norm

from bandscan.model import DialPoint
from bandscan.report.curve import heard_plot, lamp_plot, pointer_words


def test_the_curve_is_the_probit_of_threshold_and_spread() -> None:
    """The thick line is the normal distribution function (scipy.stats.norm) at the fitted threshold and spread."""
    plot = heard_plot(records.band_check("fm", threshold_db=-58.0))
    assert plot is not None
    [line] = [trace for trace in plot.figures[0][1]["data"] if trace.get("line", {}).get("width") == 2.6]
    assert line["y"] == pytest.approx(list(100 * norm.cdf(line["x"], -58.0, 4.0)), abs=1e-9)


def test_each_station_with_a_level_and_an_answer_is_a_point() -> None:
    """Heard stations stand at the top, missed ones at the bottom, at their levels; what cannot be said is left out."""
    band = records.band_check("fm")
    plot = heard_plot(band)
    assert plot is not None
    top, bottom = plot.figures[0][1]["data"][-2:]
    assert sorted(top["x"]) == sorted(one.level_db for one in band.stations if one.heard)
    assert sorted(bottom["x"]) == sorted(one.level_db for one in band.stations if one.heard is False)
    assert min(top["y"]) > 100 > 0 > max(bottom["y"])


def test_without_levels_there_is_no_curve() -> None:
    """A list made from sweeps has nothing to draw against."""
    assert heard_plot(records.band_check("am", threshold_db=None)) is None
    assert lamp_plot(records.band_check("am", threshold_db=None)) is None


def test_answers_that_cannot_be_given_make_no_plot() -> None:
    """Where the alignment says nothing of any station there is nothing to draw."""
    band = records.band_check("fm")
    unsaid = tuple(replace(one, heard=None) for one in band.stations)
    assert heard_plot(replace(band, stations=unsaid)) is None


def test_the_lamp_is_drawn_lit_flickering_or_dark() -> None:
    """A filled sign is a lit lamp; a flicker and a dark lamp are hollow, on rows of their own."""
    band = records.band_check("fm")
    band = replace(band, stations=(replace(band.stations[1], lamp="flicker", heard=True), *band.stations[2:]))
    plot = lamp_plot(band)
    assert plot is not None
    lit, dark = plot.figures[0][1]["data"]
    assert (lit["marker"]["color"], dark["marker"]["color"]) == ("#000000", "#ffffff")
    assert set(lit["y"]) == {2}
    assert set(dark["y"]) == {0, 1}


def test_pointer_errors_are_told_as_finely_as_they_are_known() -> None:
    """Kilohertz where the interval is tens wide, tens where it is hundreds wide; high, low or right."""
    points = (
        DialPoint(600_000, 300.0, -4_000.0, 4_000.0),
        DialPoint(1_400_000, -21_700.0, -31_200.0, -12_300.0),
    )
    told = pointer_words(replace(records.band_check("am"), dial_points=points))
    assert told == "reads right at 600 kHz (95 %: -4 to 4 kHz), 22 kHz low at 1400 kHz (95 %: -31 to -12 kHz)"
    coarse = replace(records.band_check("fm"), dial_points=(DialPoint(98_000_000, 456_000.0, 372_000.0, 539_000.0),))
    assert pointer_words(coarse) == "reads 460 kHz high at 98.0 MHz (95 %: 370 to 540 kHz)"


def test_a_pointer_whose_interval_holds_nought_is_not_said_to_be_off() -> None:
    """140 kHz low, give or take 300, is no error that was seen; within a channel it is right; a display has no pointer."""
    fm = records.band_check("fm")
    wide, near = DialPoint(90_000_000, -140e3, -440e3, 160e3), DialPoint(98_000_000, -40e3, -140e3, 60e3)
    off = DialPoint(106_000_000, 240e3, 160e3, 320e3)
    assert pointer_words(replace(fm, dial_points=(wide, near, off))) == (
        "reads right at 98.0 MHz (95 %: -140 to 60 kHz), 240 kHz high at 106.0 MHz (95 %: 160 to 320 kHz);"
        " shows no error at 90.0 MHz (95 %: -440 to 160 kHz)"
    )
    assert pointer_words(replace(fm, dial_points=(wide,))) == "shows no error at 90.0 MHz (95 %: -440 to 160 kHz)"
    assert pointer_words(replace(fm, dial_points=(), dial_model="digits")) == "digits, no pointer to judge"
    assert pointer_words(replace(fm, dial_points=(), dial_model="order only")) == "no dial readings"
