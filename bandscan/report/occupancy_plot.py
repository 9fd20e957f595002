"""The plot of a band: one stem per channel under the dial's numerals, the noise as the ground it stands in."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from bandscan.model import Interval
from bandscan.report import ink
from bandscan.report.dial import Dial
from bandscan.report.words import BAND_NAMES, counted, doubt, hover, interval, name, noise_words, unit_words
from bandscan.units import channel_text, channel_text_unit


def unit_of(rows: pd.DataFrame) -> str:
    """dBuV only where every station has one: two units cannot share an axis."""
    held = rows[rows["holds"] == "station"]
    return "dBuV" if len(held) and held["level_dbuv"].notna().all() else "dBFS"


def ready(rows: pd.DataFrame) -> pd.DataFrame:
    """STATIONS of one band, ascending, with `level` and `noise` in the unit of `unit_of` and `mark`, a key of `ink.HOLDS`."""
    rows = rows.sort_values("channel_hz")
    level, noise = rows["level_dbfs"].to_numpy(float), rows["noise_dbfs"].to_numpy(float)
    if unit_of(rows) == "dBuV":
        # the calibration is known where a level is; between those channels it is taken to run straight
        channel, lift = rows["channel_hz"].to_numpy(float), rows["level_dbuv"].to_numpy(float) - level
        known = np.isfinite(lift)
        lift = np.interp(channel, channel[known], lift[known])
        level, noise = level + lift, noise + lift
    return rows.assign(level=level, noise=noise, mark=[_mark(row) for row in records(rows)])


def records(rows: pd.DataFrame) -> list[Any]:
    """The rows as records with the columns as attributes."""
    return list(rows.itertuples(index=False))


def _mark(row: Any) -> str:
    if row.holds != "station":
        return str(row.holds)
    if row.band == "am":
        return "station"
    return "pilot" if row.pilot is not pd.NA and row.pilot else "mono"


def summary(rows: pd.DataFrame, band: str) -> str:
    """What the plot shows, in words. `rows` as `ready` gives them."""
    held = rows[rows["holds"] == "station"]
    unit = unit_of(rows)
    stations = counted(len(held), "station")
    if band == "fm":
        stations += f" ({int((held['mark'] == 'pilot').sum())} with stereo pilot)"
    others = [(kind, int((rows["holds"] == kind).sum())) for kind in ("sideband", "phantom", "spur", "unsure", "empty")]
    parts = [f"{counted(len(rows), 'channel')} covered", stations, *(f"{many} {kind}" for kind, many in others if many)]
    words = ", ".join(parts) + "."
    levelled = held[held["level"].notna()]
    if len(levelled):
        strongest = records(levelled.sort_values("level"))[-1]
        words += f" Strongest {channel_text_unit(band, strongest.channel_hz)} at {strongest.level:.0f} {unit_words(unit)}."
    if rows["noise"].notna().any():
        words += f" {noise_words(rows['noise'].dropna(), unit, 'channels')}"
    return words


def occupancy_plot(rows: pd.DataFrame, dial: Dial, threshold: Interval | None) -> ink.Plot:
    """The plot. `rows` as `ready` gives them; `threshold` in the same unit."""
    unit = unit_of(rows)
    figures = rows[["level", "noise"]].to_numpy(float)
    figures = figures[np.isfinite(figures)]
    span = (float(figures.min()) - 8, float(figures.max())) if figures.size else (-100.0, 0.0)
    found = set(rows["mark"])
    notes = ["hatched: noise in the channel's width; no hatch: not covered"]
    notes += threshold_notes(threshold, unit)
    return ink.Plot(
        title=f"{BAND_NAMES[dial.band]} by the dial ({dial.scale}).",
        summary=summary(rows, dial.band),
        figures=ink.folded(dial, lambda stretch, form: _figure(rows, stretch, span, threshold, form)),
        key=tuple(mark for kind, mark in ink.HOLDS.items() if kind in found),
        notes=tuple(notes),
    )


def threshold_notes(threshold: Interval | None, unit: str) -> list[str]:
    """What `ink.threshold_lines` draws, in words."""
    if threshold is None:
        return []
    if threshold.value is None:
        return [f"this radio follows half of the stations at {interval(threshold, unit)}: no line is drawn"]
    grey = "; grey: its two-sided 95 % interval" if threshold.low is not None and threshold.high is not None else ""
    return [f"solid line: this radio follows half of the stations at {interval(threshold, unit)}{grey}"]


def _figure(
    rows: pd.DataFrame, dial: Dial, span: tuple[float, float], threshold: Interval | None, form: ink.Form
) -> ink.Figure:
    foot, top = span
    unit = unit_of(rows)
    rows = rows[[dial.holds(row.channel_hz) for row in records(rows)]]
    data = [_ground(rows[rows["noise"].notna()], dial, foot, unit)]
    for kind, mark in ink.HOLDS.items():
        held = records(rows[(rows["mark"] == kind) & rows["level"].notna()])
        if held:
            places, levels = [dial.at(row.channel_hz) for row in held], [row.level for row in held]
            heads = ink.heads(mark, places, levels, [_hover(row, unit, mark) for row in held])
            data.append(ink.stems(heads, foot, 2.2 if kind in ("pilot", "mono", "station") else 1.0))
    height, above, below = (430 if form is ink.WIDE else 300), 54, 10
    layout = ink.sheet(height, left=form.left_px, top=above, bottom=below)
    layout["xaxis"] = ink.numerals(dial, form)
    ceiling = top + (top - foot) * (0.13 if form is ink.WIDE else 0.2)  # room for the labels that stand on the highest heads
    layout["yaxis"] = ink.rule(unit_words(unit), foot, ceiling)
    layout["bargap"] = 0
    shown = records(rows[rows["level"].notna()])
    px_per_db = (height - above - below) / (ceiling - foot)
    points = [(dial.at(row.channel_hz) * form.dial_px, (row.level - foot) * px_per_db) for row in shown]
    for index in ink.free_labels(points, wanted=[row.holds == "station" for row in shown]):
        row = shown[index]
        label = ink.upright(dial.at(row.channel_hz), row.level, channel_text(dial.band, row.channel_hz), form.label_px)
        layout["annotations"].append(label)
    layout["shapes"] += ink.threshold_lines(threshold)
    return {"data": data, "layout": layout}


def _ground(rows: pd.DataFrame, dial: Dial, foot: float, unit: str) -> ink.Figure:
    """The noise, hatched from the foot of the plot up to its level, one bar per channel."""
    channels = records(rows)
    return {
        "type": "bar",
        "x": [dial.at(row.channel_hz) for row in channels],
        "y": [row.noise - foot for row in channels],
        "base": foot,
        "width": [dial.width(row.channel_hz) for row in channels],
        "marker": {
            "color": ink.PAPER,
            "line": {"width": 0},
            "pattern": {"shape": "/", "fgcolor": ink.SOFT, "bgcolor": ink.PAPER, "size": 6, "solidity": 0.14},
        },
        "hovertext": [
            hover(channel_text_unit(dial.band, row.channel_hz), f"noise {row.noise:.1f} {unit} in the channel's width")
            for row in channels
        ],
        "hoverinfo": "text",
    }


def _hover(row: Any, unit: str, mark: ink.Mark) -> str:
    doubtful = f", standard uncertainty {doubt(row.level_sd_db)} dB" if row.level_sd_db == row.level_sd_db else ""
    return hover(
        channel_text_unit(row.band, row.channel_hz),
        mark.words,
        f"{row.level:.1f} {unit_words(unit)}{doubtful}",
        f"{row.snr_db:.0f} dB over noise" if row.snr_db == row.snr_db else "",
        name(row.name),
        f"claims to be {name(row.rds_ps)}" if name(row.rds_ps) else "",
        name(row.remarks),
    )
