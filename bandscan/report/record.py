"""The shop's record of a check: all that a dispute needs, as words and tables that print and file well."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

import pandas as pd

from bandscan import tables
from bandscan.model import BandCheck, Baseline, RadioCheck
from bandscan.report import page
from bandscan.report.check import extras_grid, facts, stations_grid
from bandscan.report.grid import Grid, Head, filled
from bandscan.report.words import (
    BAND_NAMES,
    channels,
    counted,
    day_words,
    instant,
    letter_of,
    name,
    number,
    over_nothing,
    plain,
    remarks,
    speaking,
    unit_words,
)
from bandscan.units import channel_text

_SHEET_LINES, _SHEET_LINE = 400, 160  # of the sheet as written; a sweep has some 60 lines


def record_page(check: RadioCheck, baselines: Mapping[str, Baseline], sheet: str = "") -> str:
    """The shop's record of one radio, HTML: its lists, figures with their doubts, findings, every station, raw readings.

    `baselines` are those it was judged against, by band; `sheet` is the count sheet's text as written, empty for bare totals.
    """
    lines = sheet.splitlines()
    return page.render(
        "record.html",
        plots=False,
        form="Record of a radio check",
        tab=f"Job {name(check.job)}: record",
        heading=f"Job {name(check.job) or 'unnamed'}",
        forged=check.forged,
        slip=[
            ("shop", name(check.shop)),
            ("radio", name(check.radio)),
            ("family", name(check.family)),
            ("swept, local time", name(check.swept)),
            ("by", name(check.by)),
            ("judged", instant(check.made_utc)),
        ],
        bands=[_band(check, one, baselines.get(band)) for band, one in check.bands.items()],
        cautions=[plain(caution) for caution in check.cautions],
        sheet=[plain(line, _SHEET_LINE) for line in lines[:_SHEET_LINES]],
        sheet_id=fingerprint(sheet) if sheet else "",
        sheet_more=max(0, len(lines) - _SHEET_LINES),
        version=name(check.version),
    )


def fingerprint(text: str) -> str:
    """SHA-256 of a text as its file holds it in UTF-8: first 16 hex digits, by which the file can be told from any other."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _band(check: RadioCheck, band: BandCheck, baseline: Baseline | None) -> dict[str, Any]:
    spread = f"{number(band.spread_db, 0)} dB (standard deviation of the fitted probit)" if band.spread_db else ""
    about = check.baseline.get(band.band, {})
    return {
        "code": band.band,
        "name": BAND_NAMES[band.band],
        "verdict": name(band.verdict),
        "judged": [
            ("why", plain(band.why)),
            ("next", plain(band.do_next)),
            *facts(band),
            *([("spread", spread)] if spread else []),
        ],
        "list": _list(about, baseline),
        "left_out": _left_out(band.band, baseline),
        "findings": _findings(band),
        "lead": _lead(band),
        "stations": stations_grid(band, baseline),
        "extras": extras_grid(band),
        "today": day_words(band.band, (check.today or {}).get(band.band, {})),
    }


def _list(about: Mapping[str, Any], baseline: Baseline | None) -> list[tuple[str, str]]:
    """What the reference list is, how old it was, and how good its air was."""
    if baseline is None:
        return [("list", "none was given")]
    rows = baseline.stations
    age = number(about.get("age_days"), 0)
    valid = [f"{word} ({int(count)})" for word, count in rows["valid"].value_counts().items()]
    overload = baseline.overload_share
    found = [
        ("id", f"{fingerprint(tables.to_csv(rows, tables.BASELINE))} (SHA-256 of baseline.csv, first 16 digits)"),
        ("made", f"{instant(baseline.made_utc) or 'not noted'} by version {name(baseline.version) or 'not noted'}"),
        (
            "rests on",
            f"{counted(len(rows), 'station')} from {counted(baseline.surveys, 'survey')}, "
            f"{instant(baseline.first_utc) or 'undated'} to {instant(baseline.last_utc) or 'undated'}",
        ),
        ("age at sweep", f"{age} days after its last survey" if age else "not known"),
        ("valid", ", ".join(valid)),
        ("rig", name(baseline.rig) or "unnamed"),
        ("grade", f"{name(baseline.grade)}: {plain(baseline.grade_reason)}"),
        ("noise", _noise(rows)),
        ("overload", "not known" if overload is None else f"{overload:.2%} of the samples at full scale"),
    ]
    if baseline.forged:
        found.append(("signals", "made, not received"))
    return found


def _noise(rows: pd.DataFrame) -> str:
    noise = (rows["level_db"] - rows["snr_db"]).dropna()
    if not len(noise):
        return "not known: the list has no levels"
    unit = unit_words(str(rows["level_unit"].dropna().iloc[0]))
    span = f"{number(noise.min(), 0)} to {number(noise.max(), 0)}"
    return f"{number(noise.median(), 0)} {unit} in a channel's width (median of the list's stations; {span})"


def _left_out(band: str, baseline: Baseline | None) -> Grid:
    """Channels and stations of the list that carry a reservation, with its reason."""
    heads = (Head("channel", "MHz" if band == "fm" else "kHz", figures=True), Head("reason"))
    reasons: dict[int, str] = {}
    if baseline is not None:
        reasons = dict.fromkeys(baseline.uncovered_hz, "not covered by a survey")
        listed = zip(baseline.stations["channel_hz"], baseline.stations["remarks"], strict=True)
        reasons |= {int(channel): remarks(words, band) for channel, words in listed if not pd.isna(words)}
    rows = tuple((channel_text(band, channel), reason) for channel, reason in sorted(reasons.items()))
    return Grid(f"{BAND_NAMES[band]}: channels without a place in the list, and stations in it under reserve", heads, rows)


def _findings(check: BandCheck) -> Grid:
    heads = (
        Head("letter"),
        Head("fault"),
        Head("against nothing wrong", "log10 odds", figures=True),
        Head("against rivals too", "log10 odds", figures=True),
        Head("what was seen"),
        Head("evidence"),
        Head("next test"),
    )
    letters = {id(finding): letter_of(row) for row, finding in enumerate(speaking(check))}
    rows = tuple(
        (
            letters.get(id(finding), ""),
            name(finding.fault),
            number(over_nothing(finding)),
            number(finding.weight),
            plain(finding.text),
            channels(check.band, sorted(finding.evidence)) if id(finding) in letters else "none that speaks for it",
            plain(finding.next_test) if id(finding) in letters else "",
        )
        for finding in check.findings
    )
    return filled(
        Grid(
            f'{BAND_NAMES[check.band]}: what was looked for, weighed; from 2 against "nothing wrong" on it counts',
            heads,
            rows,
        )
    )


def _lead(check: BandCheck) -> str:
    """How far the first finding stands before the runner-up."""
    found = speaking(check)
    if not found:
        return "No finding."
    first, *others = found
    if not others:
        return f"{name(first.fault)} is the only finding: there is no runner-up."
    lead = number(first.weight - others[0].weight)
    return (
        f"{name(first.fault)} leads the runner-up, {name(others[0].fault)}, by {lead} "
        "(log10 of odds): 1 is ten to one, below that take both as open."
    )
