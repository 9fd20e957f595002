"""Surveys -> the reference station list of one band and rig.

A channel is in the list if at least one survey held a station there. Its level is the median over the surveys that held it, its
spread their standard deviation. Steadiness, from the share of the surveys covering the channel that held it, without those in
doubt about it (see `cover`):

- `steady`: at least 80 % (common practice);
- `fading`: at least a third, or its level spreads by more than 6 dB from survey to survey;
- `occasional`: the rest.

The grade is A unless something speaks against it; the worst of what does is the grade, all of it is the reason:

- B: one or two surveys; all of them within one day; recordings without a start time; channels that no survey covered; levels
  that moved together, noise over the usual, or next to nothing held, or all in the wrong place, up to the newest survey;
- C: more than half of the channels uncovered, no station at all.

A survey with overload (more than 0.1 % of a recording at full scale) never enters a list: its stations are doubtful. Nor does
one that is deaf (see `deaf`) or whose stations stand in the wrong place (see `places`), one of an unusual day (see `changes`)
or one more than a year older than the newest. A station that went is no longer listed, one that came counts from then on.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import timedelta

import pandas as pd

from bandscan import tables
from bandscan.baseline.changes import look
from bandscan.baseline.cover import tells
from bandscan.baseline.deaf import deaf_surveys
from bandscan.baseline.identity import shared_said, with_claims
from bandscan.baseline.places import misplaced_surveys
from bandscan.errors import BaselineError
from bandscan.model import OVERLOAD_SHARE, Baseline, Survey, parse_utc
from bandscan.plans import plan_for, spans_text

STEADY_SHARE = 0.8
FADING_SHARE = 1 / 3
FADING_SPREAD_DB = 6.0
ANOTHER_DAY = timedelta(hours=20)  # the same time of the next day, or near it
YEAR = timedelta(days=366)
NOT_COUNTED = "not-counted"  # remark of a station that names.csv leaves out of the count


def distil(surveys: Sequence[Survey], names: pd.DataFrame, made_utc: str, version: str, hours: str | None = None) -> Baseline:
    """The reference station list of the surveys.

    Args:
        surveys: of one band, region and rig, at least one.
        names: NAMES, the shop's own names.
        made_utc: the moment of making, ISO 8601.
        version: version of bandscan.
        hours: AM: `day` or `night`, when all of the surveys were made; None where that is not known.

    Raises:
        BaselineError: there is no survey, they do not belong together, or all of them are overloaded.
    """
    if not surveys:
        raise BaselineError("no survey to make a station list from", do="run `bandscan survey` on recordings of this rig first")
    kinds = {(one.band, one.region, one.rig, one.forged) for one in surveys}
    if len(kinds) > 1:
        raise BaselineError(
            "surveys of different bands, regions or rigs, or forged and received ones, make no common list",
            where=", ".join(sorted(" ".join(str(part) for part in kind[:3]) for kind in kinds)),
            accepted="one band and one rig",
        )
    sound, cautions = _sound(sorted(surveys, key=lambda one: (one.started_utc, one.id)))
    sound, said = _seeing(sound)
    cautions += said
    newest: list[str] = []
    for unusable in (misplaced_surveys, deaf_surveys):
        wrong, said = unusable(sound)
        cautions += said
        newest += said[-1:] if wrong[-1] else []
        sound = [one for one, left_out in zip(sound, wrong, strict=True) if not left_out]
    used, said = _of_one_gain(sound)
    cautions += said
    used, said = _of_a_year(used)
    cautions += said
    changes = look(used)
    used, first = list(changes.kept), used[0]
    cautions += changes.said
    plan = plan_for(first.region, first.band)
    every = pd.concat([one.stations.assign(survey=row) for row, one in enumerate(used)], ignore_index=True)
    uncovered = tuple(sorted(set(plan.channels_hz) - set(every["channel_hz"])))
    counted = every[
        ~every["channel_hz"].isin(changes.gone_hz) & (every["survey"] >= every["channel_hz"].map(changes.since).fillna(0))
    ]
    valid = "any" if first.band == "fm" else hours or "day"
    stations = with_claims(_stations(counted.drop(columns="survey"), first.band, names).assign(valid=valid), first.region)
    cautions += shared_said(stations, first.band)
    overload = max(one.overload_share for one in used)
    grade, reason = _grade(used, len(stations), uncovered, plan.channels_hz, (*changes.against, *newest))
    if first.band == "am" and hours is None:
        cautions.append(
            "taken as a daytime list; that the surveys were made from 2 h after sunrise to 2 h before sunset is not checked"
            " (latitude and longitude in shop.toml let it be)"
        )
    if first.forged:
        cautions.append("forged: made from signals that were made, not received")
    return Baseline(
        band=first.band,
        region=first.region,
        rig=first.rig,
        stations=stations,
        surveys=len(used),
        first_utc=min((one.started_utc for one in used if one.started_utc), default=""),
        last_utc=max((one.ended_utc for one in used if one.ended_utc), default=""),
        made_utc=made_utc,
        grade=grade,
        grade_reason=reason,
        overload_share=overload,
        uncovered_hz=uncovered,
        version=version,
        forged=first.forged,
        cautions=tuple(cautions),
        survey_ids=tuple(one.id for one in used),
    )


def _sound(surveys: list[Survey]) -> tuple[list[Survey], list[str]]:
    """The surveys without overload, and what to say of the others."""
    sound = [one for one in surveys if one.overload_share <= OVERLOAD_SHARE]
    hot = [one for one in surveys if one.overload_share > OVERLOAD_SHARE]
    if not hot:
        return sound, []
    worst = max(one.overload_share for one in hot)
    said = f"{len(hot)} of {len(surveys)} surveys left out for overload: up to {100 * worst:.2g} % of the samples at full scale"
    if not sound:
        raise BaselineError(said, where=f"{surveys[0].band} with rig {surveys[0].rig}", do="lower the gain and survey again")
    return sound, [said]


def _seeing(surveys: list[Survey]) -> tuple[list[Survey], list[str]]:
    """The surveys without rows of recordings that tell nothing, and what to say of these: what they lack is not missed."""
    blind = [tables.blind(one.stations) for one in surveys]
    count = sum(bool(rows.any()) for rows in blind)
    if not count:
        return surveys, []
    said = f"{count} of {len(surveys)} surveys hold recordings without a signal or with a centre or rate in doubt"
    seeing = [replace(one, stations=one.stations[~rows]) for one, rows in zip(surveys, blind, strict=True)]
    return seeing, [f"{said}: what these lack does not count"]


def _of_one_gain(surveys: list[Survey]) -> tuple[list[Survey], list[str]]:
    """The surveys at the newest one's gain, and what to say of the others: their levels are another rig's."""
    gains = [one.gain_db for one in surveys if one.gain_db is not None]
    if not gains:
        return surveys, []
    used = [one for one in surveys if one.gain_db is None or abs(one.gain_db - gains[-1]) < 0.05]
    left_out = len(surveys) - len(used)
    if not left_out:
        return used, []
    others = ", ".join(f"{gain:.1f}" for gain in sorted({gain for gain in gains if abs(gain - gains[-1]) >= 0.05}))
    return used, [f"{left_out} survey(s) at a gain of {others} dB left out: the newest was made at {gains[-1]:.1f} dB"]


def _of_a_year(surveys: list[Survey]) -> tuple[list[Survey], list[str]]:
    """The surveys of the year up to the newest one, and what to say of the others: stations and antennas change."""
    starts = [parse_utc(one.started_utc) for one in surveys]
    newest = max((start for start in starts if start is not None), default=None)
    if newest is None:
        return surveys, []
    used = [one for one, start in zip(surveys, starts, strict=True) if start is None or newest - start <= YEAR]
    left_out = len(surveys) - len(used)
    return used, [f"{left_out} survey(s) left out: more than a year older than the newest"] if left_out else []


def _stations(every: pd.DataFrame, band: str, names: pd.DataFrame) -> pd.DataFrame:
    own = names[names["band"] == band]
    own_name = dict(zip(own["channel_hz"], own["name"], strict=True))
    not_counted = set(own["channel_hz"][own["count"] == "no"])
    covered = every[tells(every)].groupby("channel_hz").size().to_dict()
    held = every[every["holds"] == "station"]
    in_dbuv = bool(len(held)) and bool(held["level_dbuv"].notna().all())
    listed = []
    for channel, rows in held.groupby("channel_hz", sort=True):
        levels = rows["level_dbuv" if in_dbuv else "level_dbfs"][~rows["remarks"].map(_of_other_gain)].dropna()
        spread = float(levels.std(ddof=1)) if len(levels) > 1 else None
        share = len(rows) / covered[channel]
        remarks = _usual_remarks(rows["remarks"])
        if channel in not_counted:
            remarks.append(NOT_COUNTED)
        pilots = rows["pilot"].dropna()
        listed.append(
            {
                "band": band,
                "channel_hz": channel,
                "level_db": levels.median() if len(levels) else None,
                "level_unit": ("dBuV" if in_dbuv else "dBFS") if len(levels) else None,
                "spread_db": spread,
                "snr_db": rows["snr_db"].median(),
                "seen": len(rows),
                "surveys": covered[channel],
                "stereo": float(pilots.mean()) if band == "fm" and len(pilots) else None,
                "identity": _identity(rows),
                "name": own_name.get(channel),
                "steadiness": steadiness(share, spread),
                "valid": "any",
                "remarks": ";".join(sorted(remarks)),
            }
        )
    return tables.check(pd.DataFrame(listed, columns=tables.BASELINE.names), tables.BASELINE)


def _of_other_gain(remarks: str | None) -> bool:
    """Whether `survey` marked the row's level as taken at another gain than the rig's."""
    return not pd.isna(remarks) and "other-gain" in str(remarks).split(";")


def steadiness(share: float, spread_db: float | None) -> str:
    """How steady a station is, from the share of the surveys that held it and the spread of its level, None if not known."""
    if share >= STEADY_SHARE:
        return "steady"
    if share >= FADING_SHARE or (spread_db is not None and spread_db > FADING_SPREAD_DB):
        return "fading"
    return "occasional"


def _usual_remarks(remarks: pd.Series) -> list[str]:
    """Words that at least half of the surveys said of the station."""
    count = Counter(word for text in remarks.dropna() for word in set(text.split(";")) if word)
    return [word for word, times in count.items() if 2 * times >= len(remarks)]


def _identity(rows: pd.DataFrame) -> str | None:
    """The programme code that most surveys claim, with the name sent beside it."""
    code = _commonest(rows["rds_pi"].dropna())
    sent = _commonest(rows["rds_ps"][rows["rds_pi"] == code].dropna()) if code else None
    return " ".join(part.strip() for part in (code, sent) if part) or None


def _commonest(texts: Iterable[str]) -> str | None:
    found = Counter(texts)
    return min(found, key=lambda text: (-found[text], text)) if found else None


def _grade(
    surveys: Sequence[Survey], stations: int, uncovered: Sequence[int], channels: Sequence[int], changes: Sequence[str]
) -> tuple[str, str]:
    against = [("B", text) for text in changes]
    count = len(surveys)
    if count < 3:
        against.append(("B", f"{count} survey(s): from three on it shows what fades or is off the air at times"))
    starts = [start for one in surveys if (start := parse_utc(one.started_utc)) is not None]
    if count > 1 and starts and max(starts) - min(starts) < ANOTHER_DAY:
        against.append(("B", "all surveys within one day: they show nothing of other days"))
    undated = sum(not one.started_utc for one in surveys)
    if undated:
        against.append(("B", f"{undated} of {count} surveys without a start time"))
    if uncovered:
        half = 2 * len(uncovered) > len(channels)
        spans = spans_text(surveys[0].band, uncovered, channels)
        against.append(("C" if half else "B", f"{len(uncovered)} of {len(channels)} channels not covered: {spans}"))
    if not stations:
        against.append(("C", "no station found"))
    if not against:
        return "A", f"{count} surveys, every channel covered, no overload"
    return max(grade for grade, _ in against), "; ".join(text for _, text in against)
