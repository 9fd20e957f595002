"""The way through this room: a sheet and a reference list in, a judged radio out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from bandscan.model import BandCheck, Baseline, Finding, Interval, RadioCheck, Reference, Sheet
from bandscan.plans import BANDS
from bandscan.radio.align import Sweeps, followed_count, repeat_weights
from bandscan.radio.belongs import age_days, cautions, pad_doubted, why_apart, with_belonging
from bandscan.radio.bench import bench_of, blocks_of, dial_to_hz, names_unknown
from bandscan.radio.deaf_list import deaf_list
from bandscan.radio.doubles import marked_repeats
from bandscan.radio.expected import expected_count, reference_for
from bandscan.radio.findings import Judged, find_faults, listed, model_words, pointer_findings
from bandscan.radio.header import ground_caution, number, swept_bands, swept_hour
from bandscan.radio.hearing import LISTENER_DB, grading_of
from bandscan.radio.lamp import Lamp, judge_lamp
from bandscan.radio.limits import Limits
from bandscan.radio.lost import with_losses
from bandscan.radio.planning import plan_bench
from bandscan.radio.pointer import dial_of
from bandscan.radio.repeated import repeated_finding, sharing
from bandscan.radio.shown import MARKED_REPEAT, REAL, dial_points, extras_shown, names_overruled, stations_shown
from bandscan.radio.silent import silence_chance, with_silence
from bandscan.radio.strays import strangers, stray_words, strays_of
from bandscan.radio.suspects import GONE, healthy_thresholds
from bandscan.radio.threshold import Fit, fit
from bandscan.radio.totals import bare_total, more_than_listed, total_curve, total_said, within_band
from bandscan.radio.verdict import CANNOT_TELL, Evidence, dead_beyond, decide
from bandscan.radio.whistles import raster_findings, whistle_findings
from bandscan.radio.whole import in_one, whole_sweeps

FloatArray = npt.NDArray[np.float64]

_LEAST_ALIVE = 8
_NAMES_TOLD = 3
_IF_KHZ = (100.0, 600.0)  # intermediate frequencies of AM sets: 175 to 470 kHz (common practice), with room
_FEW = 0.25  # so small a share of what is expected may be a sheet that nobody finished


def judge(
    sheet: Sheet,
    baselines: Mapping[str, Baseline],
    references: Mapping[str, Reference],
    limits: Limits,
    made_utc: str,
    version: str,
    today: Mapping[str, Mapping[str, Any]] | None = None,
    *,
    known_good: bool = False,
    unfinished: Mapping[str, tuple[str, str]] | None = None,
) -> RadioCheck:
    """Every band of the sheet held against its reference list.

    `references` are thresholds of good sets by band; where one is missing, FM assumes one and AM has none. `today` is what the
    newest survey said of today's conditions, kept with the check as it is given. A `known_good` set is a measure itself.
    `unfinished` says by band why it is not swept to its end, and what to do.

    Raises:
        SheetError: a total is more than the band has channels.
    """
    rows = set(sheet.ticks["band"]) | set(sheet.totals) | set(swept_bands(sheet.header)) | {one[0] for one in sheet.silent}
    bands, overruled, unfinished = {}, [], unfinished or {}
    for band in (one for one in BANDS if one in rows):
        of_today = (today or {}).get(band, {})
        bands[band], names = _judge_band(
            band, sheet, baselines.get(band), references.get(band), limits, made_utc, of_today, known_good, unfinished.get(band)
        )
        overruled += names
    used = {band: baselines[band] for band in bands if band in baselines}
    warned = [ground] if (ground := ground_caution(sheet.header)) else []
    warned += [*sheet.cautions, *overruled, *(_not_judged(band, sheet) for band in BANDS if band not in bands)]
    for band, reference in references.items():
        if band in bands and reference.threshold_db is not None and bands[band].unit not in ("", reference.unit):
            units = f"{reference.unit}, the list in {bands[band].unit}"
            warned.append(f"the {reference.basis} threshold of {band.upper()} is in {units}: not used")
    for band, baseline in used.items():
        warned += cautions(baseline, sheet.header, made_utc, limits)
        expected = bands[band].expected
        if band not in (*sheet.totals, *unfinished) and expected is not None and 0 < bands[band].counted < _FEW * expected.mid:
            few = f"{bands[band].counted} counted where about {expected.mid:.0f} are expected"
            warned.append(f"{band.upper()}: {few}: judged as a whole sweep; if the sheet is not finished, finish it first")
        if (pad := pad_doubted(bands[band], sheet.ticks)) is not None:
            warned.append(pad)
        if unknown := names_unknown(sheet.ticks, bench_of(baseline)):
            said = ", ".join(repr(one) for one in unknown[:_NAMES_TOLD])
            more = f" and {len(unknown) - _NAMES_TOLD} more" if len(unknown) > _NAMES_TOLD else ""
            warned.append(f"{band.upper()}: named by ear, but not one station of the list: {said}{more}; taken as not named")
        if sheet.totals.get(band):
            warned += total_said(bench_of(baseline), sheet.totals[band], bands[band], limits)
    if "am" in bands and number(sheet.header, "if_khz") is not None and _if_hz(sheet.header) is None:
        usual = f"{_IF_KHZ[0]:g} to {_IF_KHZ[1]:g} kHz"
        warned.append(f"if_khz {sheet.header['if_khz']} is no AM set's intermediate frequency ({usual}): not used")
    if today is None:
        warned.append("there is no survey of today: a station off the air counts against the radio (bandscan capture --quick)")
    return RadioCheck(
        job=sheet.job,
        radio=sheet.header.get("radio", ""),
        family=sheet.header.get("family", ""),
        swept=sheet.header.get("swept", ""),
        by=sheet.header.get("by", ""),
        bands=bands,
        cautions=tuple(dict.fromkeys(warned)),
        baseline={band: _origin(one, sheet.header, made_utc) for band, one in used.items()},
        today=None if today is None else {band: dict(one) for band, one in today.items()},
        made_utc=made_utc,
        version=version,
        forged=any(one.forged for one in used.values()),
    )


def _not_judged(band: str, sheet: Sheet) -> str:
    """A band of which the sheet has nothing, and how to say that it was silent."""
    if sheet.totals:
        return f"no {band.upper()} total: not judged (add --count {band}=0 if the band was swept and silent)"
    if swept_bands(sheet.header):
        return f"{band.upper()} was not swept, by the sheet's `bands`: not judged"
    return f"no {band.upper()} row: not judged (write `# bands: fm, am` in the header if the band was swept and silent)"


def _origin(baseline: Baseline, header: Mapping[str, str], made_utc: str) -> dict[str, Any]:
    """What a reader of the check has to know about the list."""
    days = age_days(baseline, header, made_utc)
    return {
        "rig": baseline.rig,
        "region": baseline.region,
        "stations": len(baseline.stations),
        "surveys": baseline.surveys,
        "first_utc": baseline.first_utc,
        "last_utc": baseline.last_utc,
        "made_utc": baseline.made_utc,
        "age_days": None if days is None else round(days, 1),
        "grade": baseline.grade,
        "grade_reason": baseline.grade_reason,
        "overload_share": baseline.overload_share,
        "version": baseline.version,
    }


def _judge_band(
    band: str,
    sheet: Sheet,
    baseline: Baseline | None,
    given: Reference | None,
    limits: Limits,
    made_utc: str,
    today: Mapping[str, Any],
    known_good: bool,
    unfinished: tuple[str, str] | None,
) -> tuple[BandCheck, list[str]]:
    """The band's check, and lines for the user about its rows."""
    if baseline is None or not len(baseline.stations):
        return _without_list(band, sheet), []
    bench = bench_of(baseline)
    blocks, aside = blocks_of(sheet.ticks, bench, sheet.header, sheet.silent)
    # a total of nothing is a silent sweep: it holds no repeat and no phantom
    blocks, joined = in_one(bench, blocks)
    blocks, left_out, against_silence = whole_sweeps(bench, blocks)
    left_out = [*joined, *left_out]
    total = sheet.totals.get(band, 0)
    within_band(bench.plan, total)
    if total or not blocks:
        # rows that were heard to be no station went through an attenuator as well
        lone_db = float(aside["pad_db"].min()) if len(aside) and not total else 0.0
        blocks = [replace(bare_total(total), pad_db=lone_db)]
    sweeps = Sweeps(
        bench,
        tuple(blocks),
        grading_of([grade for block in blocks for grade in block.grade]),
        dial_of(bench, blocks, sheet.header),
        repeat_weights(tuple(blocks), LISTENER_DB, float(np.median(bench.spread_db))),
        () if total else marked_repeats(aside, blocks, bench, sheet.header),
    )
    if sheet.header.get("dial", "").lower() == "digits" and sweeps.dial.kind == "pointer":
        left_out.append(
            f"{band.upper()}: readings are not where a digital set stops on this list: judged as a pointer's; a display is off"
        )
    fitted = fit(sweeps)
    reference = reference_for(bench, given)
    if fitted.curve is not None and total:
        fitted = replace(fitted, curve=total_curve(bench, total, fitted.curve.at_db, reference.threshold_db))
    pad_db = blocks[0].pad_db
    levels_hold, surplus = band == "fm" or not pad_db, more_than_listed(bench, blocks, total)
    expected = expected_count(bench, reference, pad_db, limits.doubt_db) if levels_hold else None
    # what reached the set is not known, or what it heard, or would hear of the rest: no level is told from it
    if not levels_hold or unfinished is not None or surplus is not None:
        fitted = replace(fitted, curve=None)
    doubt_db = float(np.hypot(reference.sd_db or 0.0, limits.doubt_db))
    follows_db = None if reference.threshold_db is None else (reference.threshold_db, doubt_db)
    lamp = judge_lamp(fitted, follows_db) if band == "fm" else Lamp(None, None, None, 0, ())
    heard_nothing = not total and not len(aside) and not any(len(block) for block in blocks)
    silence = silence_chance(bench, reference, pad_db, limits.doubt_db) if heard_nothing and levels_hold else None
    # a total has no pattern that could point at a fault
    judged = Judged((), {})
    if not total:
        whistles = [
            dial_to_hz(rows["dial_hz"].to_numpy(dtype=np.float64), bench, sheet.header)
            for _, rows in aside[aside["grade"] == "W"].groupby(["pad_db", "sweep"])
        ]
        judged = _findings(fitted, reference, doubt_db, lamp, sheet.header, whistles)
        fitted = with_losses(_live_part(fitted, judged))
        if surplus is None and dead_beyond(judged.findings) is None:
            surplus = strangers(fitted, expected)
            if surplus is not None:
                fitted, judged = replace(fitted, curve=None), Judged((), {})
    shared = sharing(baseline.stations, band)
    stations, extras = stations_shown(fitted), extras_shown(fitted, judged, aside, sheet.header, shared)
    if total:  # which ones they were it does not tell
        stations, extras = tuple(replace(one, heard=None, grade="") for one in stations), ()
    # what was off the air, or is not swept yet, was not missed
    off_air = set(today.get("off_air_hz", ())) if unfinished is None else {one.channel_hz for one in stations}
    stations = tuple(replace(one, heard=None) if one.heard is False and one.channel_hz in off_air else one for one in stations)
    findings = judged.findings
    if silence is not None and expected is not None and fitted.curve is not None:
        healthy = healthy_thresholds(reference.threshold_db, doubt_db, fitted.curve.quantiles(9))
        findings = with_silence(findings, fitted, healthy, expected)
    new_hz = today.get("new_hz", ())
    unexplained = [extra for extra in extras if extra.explained_by.startswith(REAL)]
    findings = deaf_list(fitted, findings, unexplained, new_hz, _if_hz(sheet.header))
    strays = strays_of(extras, new_hz, bench.plan.step_hz, len(blocks)) if fitted.curve is not None else 0
    stray = stray_words(band, strays) if strays else None
    findings = with_belonging(baseline, sheet.header, limits, findings, extras, strays)
    against = None if surplus is None else Interval(None, None, None)
    if fitted.curve is not None and reference.threshold_db is not None:
        against = fitted.curve.smeared(reference.threshold_db, doubt_db).interval(one_sided=True)
    verdict, why, do_next = decide(
        Evidence(
            band,
            against,
            reference,
            findings,
            lamp.strong_dark,
            unfinished
            or why_apart(baseline, sheet.header, made_utc, limits, pad_db=pad_db, dated=band not in sheet.totals)
            or surplus,
            bench.has_levels,
            plan_bench(baseline, reference, limits),
            pad_db,
            total > 0,
            sweeps.grading.clean or sweeps.grading.traces,
            sweeps.dial.kind != "none",
            silence,
            known_good,
            against_silence if stray is None else (stray[0], stray[2]),
            swept_hour(sheet.header) is not None,
        ),
        limits,
    )
    marked = [extra.channel_hz for extra in extras if extra.explained_by.startswith(MARKED_REPEAT)]
    repeated = repeated_finding(band, stations, shared, marked)
    one = BandCheck(
        band=band,
        counted=followed_count(blocks[0]),
        expected=expected,
        reference=reference,
        threshold_db=Interval(None, None, None) if fitted.curve is None else fitted.curve.interval(one_sided=False),
        unit=bench.unit,
        bound="none" if fitted.curve is None else fitted.curve.bound(),
        against_reference_db=against,
        dial_model=model_words(fitted),
        dial_points=dial_points(fitted),
        lamp_expected=lamp.expected,
        lamp_lit=lamp.lit,
        lamp_threshold_db=lamp.threshold_db,
        stations=stations,
        extras=extras,
        findings=listed(findings if repeated is None else _best_first([*findings, repeated])),
        verdict=verdict,
        why=why,
        do_next=do_next,
        spread_db=None if fitted.curve is None else fitted.spread_db,
        pad_db=pad_db,
    )
    said = [f"{band.upper()}: {stray[0]}: {stray[1]}; {stray[2]}"] if stray is not None else []
    return one, [] if total else [*left_out, *names_overruled(fitted), *said]


def _without_list(band: str, sheet: Sheet) -> BandCheck:
    """A band for which there is no reference list: counted, and no more."""
    mine = sheet.ticks[sheet.ticks["band"] == band]
    pad_db = min([*mine["pad_db"].astype(float), *(one[2] for one in sheet.silent if one[0] == band)], default=0.0)
    mine = mine[mine["pad_db"] == pad_db]
    return BandCheck(
        band=band,
        counted=sheet.totals.get(band, int(mine["grade"].isin(["2", "3"]).sum())),
        expected=None,
        reference=Reference(None, None, "none", ""),
        threshold_db=Interval(None, None, None),
        unit="",
        bound="none",
        against_reference_db=None,
        dial_model="not fitted",
        dial_points=(),
        lamp_expected=None,
        lamp_lit=None,
        lamp_threshold_db=None,
        stations=(),
        extras=(),
        findings=(),
        verdict=CANNOT_TELL,
        why=f"there is no reference list of {band.upper()} for this bench",
        do_next=f"survey {band.upper()} with a receiver, or make a list from sweeps of known-good radios",
        pad_db=pad_db,
    )


def _findings(
    fitted: Fit,
    reference: Reference,
    doubt_db: float,
    lamp: Lamp,
    header: Mapping[str, str],
    whistles_hz: Sequence[FloatArray],
) -> Judged:
    """Everything that is suspected, best first."""
    if_hz = _if_hz(header)
    found = [*pointer_findings(fitted), *raster_findings(fitted), *whistle_findings(fitted, whistles_hz, if_hz)]
    found += lamp.findings
    faults = Judged((), {})
    if fitted.curve is not None:
        healthy = healthy_thresholds(reference.threshold_db, doubt_db, fitted.curve.quantiles(9))
        faults = find_faults(fitted, healthy, if_hz)
        found += faults.findings
    return replace(faults, findings=_best_first(found))


def _best_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda finding: -finding.weight))


def _if_hz(header: Mapping[str, str]) -> float | None:
    if_khz = number(header, "if_khz")
    return None if if_khz is None or not _IF_KHZ[0] <= if_khz <= _IF_KHZ[1] else if_khz * 1e3


def _live_part(fitted: Fit, judged: Judged) -> Fit:
    """The fit again without the dead end of the dial, where there is one and enough stays: that says nothing of the rest."""
    bench, dead = fitted.sweeps.bench, judged.dead
    if dead is None or dead_beyond(judged.findings) is None:
        return fitted
    if (np.isfinite(bench.level_db) & ~dead).sum() < _LEAST_ALIVE:
        return fitted
    alive = replace(bench, air=np.where(dead, GONE * bench.air, bench.air))
    return fit(replace(fitted.sweeps, bench=alive))
