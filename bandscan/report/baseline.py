"""The shop's reference station list: its page, and the same facts for a terminal."""

from __future__ import annotations

from typing import Any

import pandas as pd

from bandscan import tables
from bandscan.model import Baseline, Interval
from bandscan.report import ink, page
from bandscan.report.dial import Dial, dial_for
from bandscan.report.grid import Grid, Head, as_text, entry, filled
from bandscan.report.hours import hours_grid, hours_plot, tells
from bandscan.report.occupancy_plot import records, threshold_notes
from bandscan.report.words import (
    BAND_NAMES,
    channels,
    counted,
    hover,
    instant,
    name,
    noise_words,
    number,
    plain,
    remarks,
    unit_words,
)
from bandscan.units import channel_text, channel_text_unit

_SHARE_PX, _SHARE_GAP_PX = 84, 14  # of the strip that shows the share of the surveys, and between it and the levels
_STEREO_SHARE = 0.8  # the lamp is judged on stations whose pilot was there in at least this share of the surveys


def baseline_page(
    baseline: Baseline,
    *,
    hours: pd.DataFrame | None = None,
    zone: str = "UTC",
    radio: str = "",
    threshold: Interval | None = None,
    library: str = "",
) -> str:
    """The page of a reference station list, HTML: levels, their spread, and the share of the surveys that saw each station.

    Parameters:
        hours: HOURS of the same band, told in the time zone `zone`; drawn where they are of two parts of the day or more.
        radio: the radio whose threshold is drawn, in words.
        threshold: the level at which that radio follows half of the stations, in the unit of the list's levels.
        library: address, from the page, of a file that holds `plot_library()`; empty puts the library into the page.

    Raises:
        TableError: a table is not BASELINE or not HOURS.
    """
    rows = tables.check(baseline.stations, tables.BASELINE).sort_values("channel_hz")
    dial = dial_for(baseline.region, baseline.band)
    parted = tables.check(hours, tables.HOURS) if hours is not None and tells(hours) else None
    return page.render(
        "baseline.html",
        plots=True,
        library=library,
        form="Reference station list",
        heading=f"{BAND_NAMES[baseline.band]} as rig {name(baseline.rig) or 'unnamed'} has it",
        forged=baseline.forged,
        slip=_facts(baseline)[:4],
        facts=_facts(baseline)[4:],
        radio=name(radio),
        plot=_plot(rows, dial, threshold),
        hours_plot=hours_plot(parted, dial, zone) if parted is not None else None,
        stations=_grid(rows, baseline.band),
        hours=hours_grid(parted, baseline.band, zone) if parted is not None else None,
        cautions=[plain(caution) for caution in baseline.cautions],
        version=name(baseline.version),
    )


def baseline_text(baseline: Baseline, width: int = 100, *, hours: pd.DataFrame | None = None, zone: str = "UTC") -> str:
    """The same facts for a terminal, plain text. `hours` and `zone` as for the page.

    Raises:
        TableError: a table is not BASELINE or not HOURS.
    """
    rows = tables.check(baseline.stations, tables.BASELINE).sort_values("channel_hz")
    lines = [f"{BAND_NAMES[baseline.band]} reference station list"]
    lines += ["MADE SIGNALS: the recordings were computed, not received."] if baseline.forged else []
    for term, words in (*_facts(baseline), ("stations", _summary(rows, baseline.band))):
        lines += entry(term, words, width)
    lines += ["", as_text(_grid(rows, baseline.band), width)] if len(rows) else []
    if hours is not None and tells(hours):
        lines += [as_text(hours_grid(tables.check(hours, tables.HOURS), baseline.band, zone), width)]
    for caution in baseline.cautions:
        lines += entry("caution", caution, width)
    return "\n".join(lines).rstrip() + "\n"


def _facts(baseline: Baseline) -> list[tuple[str, str]]:
    overload = "not known" if baseline.overload_share is None else f"{baseline.overload_share:.2%} of the samples at full scale"
    uncovered = channels(baseline.band, sorted(baseline.uncovered_hz)) if baseline.uncovered_hz else "nothing"
    return [
        ("surveys", f"{baseline.surveys}, {_day(baseline.first_utc)} to {_day(baseline.last_utc)}"),
        ("rig", name(baseline.rig) or "unnamed"),
        ("region", name(baseline.region)),
        ("grade", f"{name(baseline.grade)}: {plain(baseline.grade_reason)}"),
        ("overload", overload),
        ("not covered", uncovered),
        ("made", instant(baseline.made_utc)),
    ]


def _day(utc: str) -> str:
    return name(utc)[:10] or "undated"


def _unit(rows: pd.DataFrame) -> str:
    units = sorted(set(rows["level_unit"].dropna()))
    return name(units[0]) if len(units) == 1 else ""


def _mark(row: Any) -> tuple[str, bool]:
    return row.steadiness, bool(row.stereo == row.stereo and row.stereo >= _STEREO_SHARE)


def _summary(rows: pd.DataFrame, band: str) -> str:
    if not len(rows):
        return "The list is empty."
    many = {word: int((rows["steadiness"] == word).sum()) for word in tables.STEADINESS}
    words = f"{counted(len(rows), 'station')}: " + ", ".join(f"{count} {word}" for word, count in many.items() if count) + "."
    if band == "fm":
        words += f" {int((rows['stereo'] >= _STEREO_SHARE).sum())} with a stereo pilot in at least 80 % of the surveys."
    levels = rows["level_db"].dropna()
    if len(levels):
        words += f" Levels {levels.min():.0f} to {levels.max():.0f} {unit_words(_unit(rows))}."
        noise = _noise(rows)
        return f"{words} {noise_words(noise, _unit(rows), 'stations')}" if len(noise) else words
    return f"{words} The list has no levels: it was made from sweeps."


def _plot(rows: pd.DataFrame, dial: Dial, threshold: Interval | None) -> ink.Plot:
    marks = {_mark(row) for row in records(rows)}
    notes = []
    if rows["level_db"].notna().any():
        notes.append("cross line at a head: spread of its level from survey to survey (one standard deviation each way)")
        if len(_noise(rows)):
            notes.append("dotted: noise in a channel's width (median of the stations)")
        notes += threshold_notes(threshold, unit_words(_unit(rows)))
    if _many(rows):
        notes.append("below: share of the surveys that saw the station, of those that covered its channel; filled: steady")
    return ink.Plot(
        title=f"{BAND_NAMES[dial.band]} by the dial ({dial.scale}).",
        summary=_summary(rows, dial.band),
        figures=ink.folded(dial, lambda stretch, form: _figure(rows, threshold, stretch, form)),
        key=tuple(
            ink.HOLDS["station"] if dial.band == "am" and kind == ("steady", False) else mark
            for kind, mark in ink.STEADY.items()
            if kind in marks
        ),
        notes=tuple(notes),
    )


def _many(rows: pd.DataFrame) -> bool:
    """Whether a share of the surveys says anything: some channel was covered more than once."""
    return bool((rows["surveys"] > 1).any())


def _figure(rows: pd.DataFrame, threshold: Interval | None, dial: Dial, form: ink.Form) -> ink.Figure:
    unit, levels = _unit(rows), rows["level_db"].dropna()
    levelled = len(levels) > 0
    threshold = threshold if levelled else None
    ends = [*(rows["level_db"] + rows["spread_db"].fillna(0.0)).dropna(), *_drawn(threshold)]
    noise = _noise(rows)
    noise_db = float(noise.median()) if len(noise) else None
    foot, top = (min([*levels, *_drawn(threshold), *_drawn(noise_db)]) - 10, max(ends)) if levelled else (0.0, 1.0)
    height, above, below = (400 if form is ink.WIDE else 290), 54, 10
    share_px = _SHARE_PX if _many(rows) else 0
    area_px = height + share_px - above - below
    fold = share_px / area_px
    ceiling = top + (top - foot) * (0.15 if form is ink.WIDE else 0.22)  # room for the labels that stand on the highest heads
    layout = ink.sheet(height + share_px, left=form.left_px, top=above, bottom=below)
    layout["xaxis"] = ink.numerals(dial, form) | {"anchor": "y"}
    layout["yaxis"] = ink.rule(unit_words(unit), foot, ceiling, domain=[fold, 1])
    if not levelled:
        layout["yaxis"] = ink.rule("no levels", foot, ceiling, domain=[fold, 1], **ink.BARE)
    layout["shapes"] += ink.threshold_lines(threshold)
    if noise_db is not None:
        layout["shapes"].append(ink.level_line(noise_db, "dot"))
    tops = rows.assign(top=rows["level_db"].fillna(foot + 3) if levelled else 1.0, spread=rows["spread_db"].fillna(0.0))
    here = [row for row in records(tops) if dial.holds(row.channel_hz)]
    data = []
    for kind, mark in ink.STEADY.items():
        some = [row for row in here if _mark(row) == kind]
        if some:
            places, hovers = [dial.at(row.channel_hz) for row in some], [_hover(row) for row in some]
            data.append(_spread(places, some))
            heads = ink.heads(mark, places, [row.top for row in some], hovers)
            data.append(ink.stems(heads, foot, 2.2 if kind[0] == "steady" else 1.0))
    if share_px:
        crown = (share_px - _SHARE_GAP_PX) / area_px
        layout["yaxis2"] = ink.rule("seen, %", 0, 100, domain=[0, crown], anchor="x", tickvals=[0, 50, 100])
        data.append(_share(here, dial))
    px_per_db = (area_px - share_px) / (ceiling - foot)
    points = [(dial.at(row.channel_hz) * form.dial_px, (row.top + row.spread - foot) * px_per_db) for row in here]
    heads_px = [(dial.at(row.channel_hz) * form.dial_px, (row.top - foot) * px_per_db) for row in here]
    for index in ink.free_labels(points, wanted=[True] * len(here), heads=heads_px):
        row = here[index]
        label = ink.upright(
            dial.at(row.channel_hz), row.top + row.spread, channel_text(dial.band, row.channel_hz), form.label_px
        )
        layout["annotations"].append(label)
    return {"data": data, "layout": layout}


def _drawn(line: Interval | float | None) -> list[float]:
    """Levels of a line that the plot has to hold."""
    some = (line.value, line.low, line.high) if isinstance(line, Interval) else (line,)
    return [level for level in some if level is not None]


def _noise(rows: pd.DataFrame) -> pd.Series:
    """Noise in a channel's width under each station, in the unit of their levels; empty where the list has none."""
    return (rows["level_db"] - rows["snr_db"]).dropna()


def _share(rows: list[Any], dial: Dial) -> ink.Figure:
    """The share of the surveys that saw each station, as a bar from the foot of its own axis."""
    return {
        "type": "bar",
        "yaxis": "y2",
        "x": [dial.at(row.channel_hz) for row in rows],
        "y": [100 * row.seen / row.surveys for row in rows],
        "width": [0.6 * dial.width(row.channel_hz) for row in rows],
        "marker": {
            "color": [ink.INK if row.steadiness == "steady" else ink.PAPER for row in rows],
            "line": {"color": ink.INK, "width": 1},
        },
        "hovertext": [_hover(row) for row in rows],
        "hoverinfo": "text",
    }


def _spread(places: list[float], rows: list[Any]) -> ink.Figure:
    """The spread of each level as a thin capped line through its head."""
    return {
        "type": "scatter",
        "mode": "markers",
        "x": places,
        "y": [row.top for row in rows],
        "marker": {"size": 1, "color": ink.INK},
        "error_y": {
            "type": "data",
            "array": [row.spread for row in rows],
            "thickness": 1,
            "width": 4,
            "color": ink.INK,
        },
        "hoverinfo": "skip",
    }


def _hover(row: Any) -> str:
    spread = f" ±{row.spread_db:.1f} dB from survey to survey" if row.spread_db == row.spread_db else ""
    return hover(
        channel_text_unit(row.band, row.channel_hz),
        f"{row.level_db:.1f} {unit_words(row.level_unit)}{spread}" if row.level_db == row.level_db else "no level",
        f"seen in {row.seen} of {row.surveys}, {row.steadiness}",
        name(row.name),
    )


def _grid(rows: pd.DataFrame, band: str) -> Grid:
    heads = (
        Head("channel", "MHz" if band == "fm" else "kHz", figures=True),
        Head("level", unit_words(_unit(rows)), figures=True),
        Head("spread", "dB", figures=True),
        Head("over noise", "dB", figures=True),
        Head("seen", "of surveys", figures=True),
        Head("pilot", "% of surveys", figures=True),
        Head("steadiness"),
        Head("valid"),
        Head("claims to be"),
        Head("name"),
        Head("remarks"),
    )
    cells = tuple(
        (
            channel_text(band, row.channel_hz),
            number(row.level_db),
            number(row.spread_db),
            number(row.snr_db, 0),
            f"{row.seen} of {row.surveys}",
            number(100 * row.stereo, 0),
            row.steadiness,
            row.valid,
            name(row.identity),
            name(row.name),
            remarks(row.remarks, band),
        )
        for row in records(rows)
    )
    return filled(Grid(f"{BAND_NAMES[band]} stations of the list. Level: median of the surveys that held it.", heads, cells))
