"""The reference station list as files: `baseline.csv`, and what else is known of it in `baseline.json`."""

from __future__ import annotations

import json
from typing import Any

import pandas as pd

from bandscan import tables
from bandscan.errors import BaselineError, TableError
from bandscan.model import Baseline
from bandscan.plans import BANDS, REGIONS, plan_for

_CSV, _JSON = "baseline.csv", "baseline.json"


def to_files(baseline: Baseline) -> dict[str, str]:
    """File names and texts of a list: `baseline.csv`, and what else is known of it in `baseline.json`."""
    about = {
        "band": baseline.band,
        "region": baseline.region,
        "rig": baseline.rig,
        "valid": baseline.valid or None,
        "surveys": baseline.surveys,
        "first_utc": baseline.first_utc,
        "last_utc": baseline.last_utc,
        "made_utc": baseline.made_utc,
        "grade": baseline.grade,
        "grade_reason": baseline.grade_reason,
        "overload_share": baseline.overload_share,
        "uncovered_hz": list(baseline.uncovered_hz),
        "version": baseline.version,
        "forged": baseline.forged,
        "cautions": list(baseline.cautions),
    }
    if baseline.survey_ids is not None:
        about["survey_ids"] = list(baseline.survey_ids)
    return {_CSV: tables.to_csv(baseline.stations, tables.BASELINE), _JSON: json.dumps(about, indent=2) + "\n"}


def from_files(csv_text: str, json_text: str | None, *, where: str = _CSV) -> Baseline:
    """The list that `to_files` wrote; without the second text what it would tell is unknown, and a caution says so.

    Args:
        csv_text: the list.
        json_text: what else is known of it, or None.
        where: name of the list's file, for messages.

    Raises:
        BaselineError: the texts are no such list, or do not belong together.
    """
    try:
        stations = tables.from_csv(csv_text.removeprefix("\ufeff"), tables.BASELINE)
    except TableError as error:
        raise BaselineError(error.what, where=where, accepted="the baseline.csv of `bandscan baseline`") from error
    stations = stations.sort_values("channel_hz", ignore_index=True)
    bands = sorted(set(stations["band"]))
    if len(bands) > 1:
        raise BaselineError("holds two bands", where=where, accepted="one list for each band")
    if stations["channel_hz"].duplicated().any():
        twice = int(stations["channel_hz"][stations["channel_hz"].duplicated()].iloc[0])
        raise BaselineError(f"channel {twice} stands there twice", where=where, accepted="one row per station")
    if json_text is None:
        return _unexplained(stations, bands, where)
    about = _about(json_text, where)
    if bands and about["band"] != bands[0]:
        raise BaselineError(f"holds {bands[0]}, its baseline.json says {about['band']}", where=where)
    about["uncovered_hz"], about["cautions"] = tuple(about["uncovered_hz"]), tuple(about["cautions"])
    about["survey_ids"] = None if about["survey_ids"] is None else tuple(about["survey_ids"])
    return Baseline(stations=stations, **about)


# what `to_files` writes beside the list, and what each must be
_ABOUT: dict[str, type | tuple[type, ...]] = {
    **dict.fromkeys(("rig", "first_utc", "last_utc", "made_utc", "grade", "grade_reason", "version", "band", "region"), str),
    "surveys": int,
    "overload_share": (int, float, type(None)),
    "uncovered_hz": list,
    "forged": bool,
    "cautions": list,
    "survey_ids": (list, type(None)),  # a list made before they were kept has none
}


def _about(json_text: str, where: str) -> dict[str, Any]:
    beside = where.removesuffix(".csv") + ".json"
    try:
        about = json.loads(json_text.removeprefix("\ufeff"))
    except (json.JSONDecodeError, RecursionError) as error:
        raise BaselineError(f"not JSON: {error}", where=beside, do="make the list anew with `bandscan baseline`") from error
    if not isinstance(about, dict):
        raise BaselineError("not a JSON object", where=beside, accepted="the baseline.json of `bandscan baseline`")
    wrong = sorted(
        key
        for key, kind in _ABOUT.items()
        if not isinstance(about.get(key), kind) or (kind is int and isinstance(about[key], bool))
    )
    wrong += [key for key, words in (("band", BANDS), ("region", REGIONS)) if key not in wrong and about[key] not in words]
    wrong += [key for key in ("uncovered_hz",) if key not in wrong and not all(type(hz) is int for hz in about[key])]
    wrong += [
        key
        for key in ("cautions", "survey_ids")
        if key not in wrong and not all(isinstance(text, str) for text in about.get(key) or ())
    ]
    if wrong:
        raise BaselineError(
            f"missing or wrong: {', '.join(wrong)}", where=beside, do="make the list anew with `bandscan baseline`"
        )
    return {key: about.get(key) for key in _ABOUT}


def _unexplained(stations: pd.DataFrame, bands: list[str], where: str) -> Baseline:
    if not bands:
        raise BaselineError("holds no station", where=where, do="make a list with `bandscan baseline`")
    band = bands[0]
    fitting = [region for region in REGIONS if set(stations["channel_hz"]) <= set(plan_for(region, band).channels_hz)]
    if not fitting:
        raise BaselineError("its channels are in no region's band plan", where=where, accepted=f"regions {', '.join(REGIONS)}")
    return Baseline(
        band=band,
        region=fitting[0],
        rig="",
        stations=stations,
        surveys=int(stations["surveys"].max()),
        first_utc="",
        last_utc="",
        made_utc="",
        grade="unknown",
        grade_reason="no baseline.json beside the list",
        overload_share=None,
        uncovered_hz=(),
        version="",
        cautions=(
            "no baseline.json beside the list: rig, span of time, grade, overload and uncovered channels are unknown;"
            f" region {fitting[0]} is guessed from its channels",
        ),
    )
