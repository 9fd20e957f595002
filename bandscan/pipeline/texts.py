"""Records as plain text for a terminal."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from bandscan.model import Survey
from bandscan.report import occupancy_text
from bandscan.report.grid import Grid, Head, as_text
from bandscan.report.words import plain


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
            cells(band, rig, started.rstrip("Z").replace("T", " ") or "undated", recordings, stations, name)
            for name, band, rig, started, recordings, stations in contents["surveys"]
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


def _verdicts(text: str) -> str:
    bands = json.loads(text)["bands"]
    return "; ".join(f"{band.upper()} {one['verdict']}" for band, one in bands.items())
