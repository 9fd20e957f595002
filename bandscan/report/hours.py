"""The hours of the day as small strips, one over the other under one dial: how often each station was there in each."""

from __future__ import annotations

from typing import Any

import pandas as pd

from bandscan.report import ink
from bandscan.report.dial import Dial
from bandscan.report.grid import Grid, Head
from bandscan.report.occupancy_plot import records
from bandscan.report.words import BAND_NAMES, counted, hover, name
from bandscan.units import channel_text, channel_text_unit

_STRIP_PX, _MARGIN_PX = 40, 54
_STRIP_SHARE = 0.78  # of a strip's height that the tallest bar takes
_LEAST_BAR = 0.03  # a station that was looked for and never there leaves a mark
_STEADY_SHARE = 0.8


def spans(hours: pd.DataFrame) -> list[tuple[int, int]]:
    """The parts of the day that HOURS has, ascending. [h]"""
    return sorted(set(zip(hours["from_hour"], hours["to_hour"], strict=True)))


def tells(hours: pd.DataFrame | None) -> bool:
    """Whether the hours say anything: surveys of two parts of the day at least."""
    return hours is not None and len(spans(hours)) > 1


def hours_plot(hours: pd.DataFrame, dial: Dial, zone: str) -> ink.Plot:
    """HOURS of one band as strips, the earliest on top."""
    parts = spans(hours)
    return ink.Plot(
        title=f"{BAND_NAMES[dial.band]} by the hour: share of the surveys that saw each station.",
        summary=_summary(hours, parts, zone),
        figures=ink.folded(dial, lambda stretch, form: _figure(hours, parts, stretch, form)),
        notes=(
            "a full bar: in all surveys of those hours",
            "filled: in at least 80 %",
            "a mark at the foot: looked for, not there",
        ),
    )


def _most(hours: pd.DataFrame, span: tuple[int, int]) -> int:
    return int(hours.loc[hours["from_hour"] == span[0], "surveys"].max())


def _summary(hours: pd.DataFrame, parts: list[tuple[int, int]], zone: str) -> str:
    told = ", ".join(f"{_span(span)} h {counted(_most(hours, span), 'survey')}" for span in parts)
    share = hours["seen"] / hours["surveys"]
    per_station = share.groupby(hours["channel_hz"])
    changing = int(((per_station.max() >= _STEADY_SHARE) & (per_station.min() < 0.5)).sum())
    words = f"Local time ({name(zone)}): {told}."
    stations = counted(changing, "station")
    return f"{words} {stations} seen in at least 80 % of the surveys at some hours and in less than half of them at others."


def _span(span: tuple[int, int]) -> str:
    return f"{span[0]:02d} to {span[1]:02d}"


def _figure(hours: pd.DataFrame, parts: list[tuple[int, int]], dial: Dial, form: ink.Form) -> ink.Figure:
    layout = ink.sheet(_MARGIN_PX + _STRIP_PX * len(parts) + 10, left=form.left_px, top=_MARGIN_PX, bottom=10)
    layout["xaxis"] = ink.numerals(dial, form)
    feet = [float(len(parts) - 1 - row) for row in range(len(parts))]
    labels = [f"{span[0]:02d}–{span[1]:02d}" for span in parts]
    middles = [foot + _STRIP_SHARE / 2 for foot in feet]
    layout["yaxis"] = ink.rule("", 0.0, float(len(parts)), tickvals=middles, ticktext=labels, showgrid=False, ticks="")
    layout["shapes"] += [ink.level_line(foot, "solid") | {"line": {"color": ink.SOFT, "width": 0.8}} for foot in feet]
    rows = [row for row in records(hours) if dial.holds(row.channel_hz)]
    foot_of = {span[0]: foot for span, foot in zip(parts, feet, strict=True)}
    return {"data": [_bars(rows, foot_of, dial)], "layout": layout}


def _bars(rows: list[Any], foot_of: dict[int, float], dial: Dial) -> ink.Figure:
    shares = [row.seen / row.surveys for row in rows]
    return {
        "type": "bar",
        "x": [dial.at(row.channel_hz) for row in rows],
        "base": [foot_of[row.from_hour] for row in rows],
        "y": [max(_STRIP_SHARE * share, _LEAST_BAR) for share in shares],
        "width": [0.6 * dial.width(row.channel_hz) for row in rows],
        "marker": {
            "color": [ink.INK if share >= _STEADY_SHARE else ink.PAPER for share in shares],
            "line": {"color": ink.INK, "width": 1},
        },
        "hovertext": [
            hover(
                channel_text_unit(dial.band, row.channel_hz),
                f"{_span((row.from_hour, row.to_hour))} h: seen in {row.seen} of {row.surveys}",
            )
            for row in rows
        ],
        "hoverinfo": "text",
    }


def hours_grid(hours: pd.DataFrame, band: str, zone: str) -> Grid:
    """The same as a table: one row per station, one column for each part of the day."""
    parts = spans(hours)
    seen = {(row.channel_hz, row.from_hour): f"{row.seen} of {row.surveys}" for row in records(hours)}
    heads = (
        Head("channel", "MHz" if band == "fm" else "kHz", figures=True),
        *(Head(_span(span), "h", figures=True) for span in parts),
    )
    rows = tuple(
        (channel_text(band, channel), *(seen.get((channel, first), "") for first, _ in parts))
        for channel in sorted(set(hours["channel_hz"]))
    )
    caption = f"{BAND_NAMES[band]} by the hour, local time ({name(zone)}): surveys that saw the station, of those that looked"
    return Grid(caption, heads, rows)
