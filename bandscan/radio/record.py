"""A check as `check.json` and `check.csv`, and back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import pandas as pd

from bandscan.errors import InputError
from bandscan.model import (
    BandCheck,
    BeforeAfter,
    DialPoint,
    Expected,
    Extra,
    Finding,
    Interval,
    RadioCheck,
    Reference,
    StationHeard,
)

ROW_COLUMNS = ("band", "channel_hz", "name", "level_db", "level_unit", "heard", "probability", "dial", "grade", "lamp")


def to_json(check: RadioCheck) -> dict[str, Any]:
    """The check as the contract's `check.json`: plain values, ready for `json.dumps(..., allow_nan=False)`."""
    return {
        "job": check.job,
        "radio": check.radio,
        "family": check.family,
        "swept": check.swept,
        "by": check.by,
        "bands": {band: _band_to_json(one) for band, one in check.bands.items()},
        "cautions": list(check.cautions),
        "baseline": _plain(check.baseline),
        "today": _plain(check.today),
        "made_utc": check.made_utc,
        "version": check.version,
        "forged": check.forged,
        "shop": check.shop,
    }


def change_to_json(change: BeforeAfter) -> dict[str, Any]:
    """The comparison of two sweeps as `before-after.json`: plain values, ready for `json.dumps(..., allow_nan=False)`."""
    record: dict[str, Any] = _plain(asdict(change))
    for band, one in change.bands.items():
        record["bands"][band]["both"] = one.both
        # a small probability is no nought
        record["bands"][band]["p_value"] = None if one.p_value is None else float(f"{one.p_value:.3g}")
    return record


def _band_to_json(check: BandCheck) -> dict[str, Any]:
    lamp = check.lamp_threshold_db
    return _plain(  # type: ignore[no-any-return]
        {
            "counted": check.counted,
            "pad_db": check.pad_db,
            "expected": None if check.expected is None else asdict(check.expected),
            "reference": asdict(check.reference),
            "threshold_db": {**asdict(check.threshold_db), "unit": check.unit, "bound": check.bound},
            "against_reference_db": None if check.against_reference_db is None else asdict(check.against_reference_db),
            "spread_db": check.spread_db,
            "dial": {"model": check.dial_model, "points": [asdict(point) for point in check.dial_points]},
            "lamp": {
                "expected": check.lamp_expected,
                "lit": check.lamp_lit,
                "threshold_db": None if lamp is None else lamp.value,
            },
            "lamp_bounds_db": None if lamp is None else (lamp.low, lamp.high),
            "stations": [asdict(station) for station in check.stations],
            "extras": [asdict(extra) for extra in check.extras],
            "findings": [asdict(finding) for finding in check.findings],
            "verdict": check.verdict,
            "why": check.why,
            "do_next": check.do_next,
        }
    )


def _plain(value: Any) -> Any:
    """Numbers rounded to what they are worth, tuples as lists, no NaN."""
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(one) for one in value]
    if isinstance(value, float):
        return None if not math.isfinite(value) else round(value, 3)
    return value


def from_json(record: Mapping[str, Any]) -> RadioCheck:
    """The check that `to_json` wrote.

    Raises:
        InputError: the record is no check.
    """
    try:
        return RadioCheck(
            job=record["job"],
            radio=record["radio"],
            family=record["family"],
            swept=record["swept"],
            by=record["by"],
            bands={band: _band_from_json(band, one) for band, one in record["bands"].items()},
            cautions=tuple(record["cautions"]),
            baseline=record["baseline"],
            today=record["today"],
            made_utc=record["made_utc"],
            version=record["version"],
            forged=record["forged"],
            shop=record.get("shop", ""),  # checks issued before it was kept
        )
    except (KeyError, TypeError, AttributeError) as error:
        raise InputError(f"not a check: {error!r}", accepted="what `bandscan check` wrote as check.json") from error


def _band_from_json(band: str, record: Mapping[str, Any]) -> BandCheck:
    threshold, against, lamp = record["threshold_db"], record["against_reference_db"], record["lamp"]
    lamp_bounds = record.get("lamp_bounds_db") or (None, None)  # older checks have none
    return BandCheck(
        band=band,
        counted=record["counted"],
        expected=None if record["expected"] is None else Expected(**record["expected"]),
        reference=Reference(**{**record["reference"], "jobs": tuple(record["reference"].get("jobs", ()))}),
        threshold_db=Interval(threshold["value"], threshold["low"], threshold["high"]),
        unit=threshold["unit"],
        bound=threshold["bound"],
        against_reference_db=None if against is None else Interval(**against),
        dial_model=record["dial"]["model"],
        dial_points=tuple(DialPoint(**point) for point in record["dial"]["points"]),
        lamp_expected=lamp["expected"],
        lamp_lit=lamp["lit"],
        lamp_threshold_db=None if lamp["threshold_db"] is None else Interval(lamp["threshold_db"], *lamp_bounds),
        stations=tuple(StationHeard(**station) for station in record["stations"]),
        extras=tuple(Extra(**extra) for extra in record["extras"]),
        findings=tuple(Finding(**{**finding, "evidence": tuple(finding["evidence"])}) for finding in record["findings"]),
        verdict=record["verdict"],
        why=record["why"],
        do_next=record["do_next"],
        spread_db=record["spread_db"],
        pad_db=record.get("pad_db", 0.0),  # older checks do not tell
    )


def to_rows(check: RadioCheck) -> pd.DataFrame:
    """One row per station of the list and per extra tick, in dial order within the band: the table of `check.csv`."""
    rows: list[dict[str, Any]] = []
    for band, one in check.bands.items():
        heard = [
            {
                "band": band,
                "channel_hz": station.channel_hz,
                "name": station.name,
                "level_db": station.level_db,
                "level_unit": one.unit,
                "heard": {True: "yes", False: "no", None: "unsure"}[station.heard],
                "probability": round(station.probability, 3),
                "dial": station.dial,
                "grade": station.grade,
                "lamp": station.lamp,
            }
            for station in one.stations
        ]
        extra = [
            {"band": band, "channel_hz": extra.channel_hz, "name": extra.explained_by, "heard": "extra", "dial": extra.dial}
            for extra in one.extras
        ]
        rows += sorted([*heard, *extra], key=lambda row: (row["channel_hz"] is None, row["channel_hz"] or 0))
    frame = pd.DataFrame(rows, columns=list(ROW_COLUMNS))
    return frame.astype({"channel_hz": "Int64", "level_db": "float64", "probability": "float64"})
