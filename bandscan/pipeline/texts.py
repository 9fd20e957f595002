"""Records as plain text for a terminal."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from bandscan.model import BeforeAfter, Survey, SweepOf
from bandscan.pipeline.looking import History
from bandscan.report import change_words, occupancy_text
from bandscan.report.grid import Grid, Head, as_text, entry, filled
from bandscan.report.words import channels, name, plain
from bandscan.units import channel_text_unit


def survey_text(survey: Survey, width: int) -> str:
    """A survey: what each channel holds, and cautions; at most `width` columns."""
    return occupancy_text(
        survey.stations,
        title=f"Survey {survey.id}",
        rig=survey.rig,
        started_utc=survey.started_utc,
        cautions=survey.cautions,
        forged=survey.forged,
        width=width,
    )


def contents_text(contents: Mapping[str, Sequence[Sequence[Any]]], width: int) -> str:
    """Surveys, reference lists and checks, oldest first, as plain text; see `Log.contents`."""

    def cells(*values: object) -> tuple[str, ...]:
        return tuple(plain(value) for value in values)

    surveys = Grid(
        "Surveys",
        (
            Head("band"),
            Head("rig"),
            Head("started", "UTC"),
            Head("recordings", figures=True),
            Head("stations", figures=True),
            Head("survey"),
        ),
        tuple(
            cells(band, rig, started.rstrip("Z").replace("T", " ") or "undated", recordings, stations, survey)
            for survey, band, rig, started, recordings, stations in contents["surveys"]
        ),
    )
    lists = Grid(
        "Reference lists",
        (Head("band"), Head("rig"), Head("made", "UTC")),
        tuple(cells(band, rig, made.rstrip("Z").replace("T", " ")) for band, rig, made in contents["lists"]),
    )
    checks = Grid(
        "Checks",
        (Head("job"), Head("radio"), Head("family"), Head("made", "UTC"), Head("verdict")),
        tuple(
            cells(job, radio, family, made.rstrip("Z").replace("T", " "), _verdicts(text))
            for job, radio, family, made, text in contents["checks"]
        ),
    )
    return "\n".join(as_text(grid, width) if grid.rows else f"{grid.caption}: none\n" for grid in (surveys, lists, checks))


def history_text(history: History, width: int) -> str:
    """One station through the surveys, a row for each, plain text."""

    def cell(value: Any, form: str = "") -> str:
        return "" if pd.isna(value) else plain(format(value, form))

    rows: list[dict[str, Any]] = [{str(key): value for key, value in row.items()} for row in history.rows.to_dict("records")]
    grid = Grid(
        f"{channel_text_unit(history.band, history.channel_hz)}: what surveys held there; levels are uncalibrated",
        (
            Head("rig"),
            Head("started", "UTC"),
            Head("holds"),
            Head("level", "dBFS", figures=True),
            Head("give or take", "dB", figures=True),
            Head("over noise", "dB", figures=True),
            Head("stereo"),
            Head("claims"),
        ),
        tuple(
            (
                plain(row["rig"]),
                plain(row["started_utc"].rstrip("Z").replace("T", " ")) or "undated",
                plain(row["holds"]),
                cell(row["level_dbfs"], ".1f"),
                "under 0.1" if cell(row["level_sd_db"], ".1f") == "0.0" else cell(row["level_sd_db"], ".1f"),
                cell(row["snr_db"], ".1f"),
                "" if pd.isna(row["pilot"]) else "yes" if row["pilot"] else "no",
                " ".join(part for part in (cell(row["rds_pi"]), cell(row["rds_ps"])) if part),
            )
            for row in rows
        ),
    )
    return as_text(filled(grid), width) if grid.rows else f"{grid.caption}: no survey covered it\n"


def change_text(change: BeforeAfter, width: int) -> str:
    """Two sweeps of one radio: what changed between them, plain text."""
    two = change_words.sides(change)
    first, second = _sweep(change.before), _sweep(change.after)
    what = "" if two == change_words.BEFORE_AFTER else ", two listeners"
    lines = [f"Job {name(change.job)}: {two[0]} ({first}) and {two[1]} ({second}){what}"]
    for band, one in change.bands.items():
        lines += ["", f"{band.upper()}  {change_words.title(one, two)[0].upper()}"]
        lines += entry("change" if not what else "difference", change_words.difference(one, two), width)
        for term, words in change_words.facts(one, two):
            lines += entry(term, words, width)
        only = ("gained", "lost") if not what else (f"only {two[1]}", f"only {two[0]}")
        for term, channels_hz in zip(only, (one.gained, one.lost), strict=True):
            if channels_hz:
                lines += entry(term, channels(band, sorted(channels_hz)), width)
    lines.append("")
    for caution in change.cautions:
        lines += entry("caution", caution, width)
    return "\n".join(lines) + "\n"


def _sweep(sweep: SweepOf) -> str:
    return name(sweep.swept) or f"judged {name(sweep.made_utc)}"


def _verdicts(text: str) -> str:
    bands = json.loads(text)["bands"]
    return "; ".join(f"{band.upper()} {one['verdict']}" for band, one in bands.items())
