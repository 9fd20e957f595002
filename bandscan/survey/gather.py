"""Measured recordings -> surveys: which belong together, and one row per channel out of all that covered it.

The merging rule, for each channel of one survey:

1. rows at the rig's gain (or of unknown gain); others only where there is none, with the remark `other-gain`; where recordings
   that do not tell their gain stand a common step apart, those of the higher gain count, unless it overloads the receiver;
2. of these, rows that have the channel in the flat middle of their recording; others only where there is none (`edge`);
3. level and noise are averages of power over these rows, each weighted by its recording's length; the remark
   `not-in-every-recording` says that a station's level could not be measured in all of them;
4. the level's uncertainty is that of the weighted mean, scaled up where the rows scatter more than they claim
   (Particle Data Group, Review of Particle Physics, section "Unconstrained averaging": scale factor S >= 1);
5. audio figures are medians over these rows; the remark `under-30-dB-audio` says that a mono listener at this receiver gets
   less than 30 dB of audio signal-to-noise from the station;
6. yes-or-no findings by the majority of the recorded time, yes at a tie, since a weak signal hides a pilot but makes none.
"""

from __future__ import annotations

import hashlib
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Protocol, TypeVar

import numpy as np
import pandas as pd

from bandscan import tables
from bandscan.errors import TableError
from bandscan.model import FLAT_SHARE, OVERLOAD_SHARE, Measured, Survey, parse_utc, utc_text
from bandscan.plans import plan_for, spans_text
from bandscan.survey.clock import without_clock_error
from bandscan.survey.gains import Step, gain_steps
from bandscan.survey.holds import decide as decide_holds
from bandscan.survey.identity import with_claims, with_relays
from bandscan.units import db, from_db

NEIGHBOUR_GAP_S = 30 * 60.0
_SAME_GAIN_DB = 0.05
# what only a station tells (see the contract): empty in the rows of all other channels
_OF_STATIONS = (
    *("pilot", "pilot_dev_hz", "rds_pi", "rds_ps", "am_stereo"),
    *("audio_snr_db", "audio_sd_db", "stereo_snr_db", "level_30db_dbfs"),
)
_DB_PER_NEPER = 10.0 / float(np.log(10.0))  # d(10 log10 P) = 4.343 dP / P


class Placed(Protocol):
    """What decides to which survey a recording belongs."""

    @property
    def band(self) -> str:
        """`fm` or `am`."""

    @property
    def region(self) -> str:
        """Region of the band plan."""

    @property
    def rig(self) -> str:
        """Name of the rig."""

    @property
    def forged(self) -> bool:
        """Whether the signals were made, not received."""

    @property
    def survey_id(self) -> str:
        """Survey id that the recording carries, or empty."""

    @property
    def started_utc(self) -> str:
        """Start, ISO 8601, or empty."""


Item = TypeVar("Item", bound=Placed)
Decide = Callable[[Sequence[Measured], Sequence[Step]], pd.DataFrame]


def group(items: Sequence[Item]) -> list[list[Item]]:
    """Recordings that make up one survey each: by band, region, rig, then survey id, else by neighbouring starts.

    Undated recordings without a survey id are one group per band and rig: give those of one call only.
    """
    marked: dict[tuple[object, ...], list[Item]] = defaultdict(list)
    dated: dict[tuple[object, ...], list[tuple[datetime, Item]]] = defaultdict(list)
    for item in items:
        place = (item.band, item.region, item.rig, item.forged)
        start = parse_utc(item.started_utc)
        if item.survey_id or start is None:
            marked[*place, item.survey_id].append(item)
        else:
            dated[place].append((start, item))
    groups = list(marked.values())
    for pairs in dated.values():
        pairs.sort(key=lambda pair: pair[0])
        last = None
        for start, item in pairs:
            if last is None or (start - last).total_seconds() > NEIGHBOUR_GAP_S:
                groups.append([])
            groups[-1].append(item)
            last = start
    return groups


def gather(
    measured: Sequence[Measured], rig_gain_db: Mapping[str, float] | None = None, decide: Decide = decide_holds
) -> list[Survey]:
    """Surveys of the recordings, oldest first; the same recordings give the same surveys in any order.

    Args:
        measured: recordings of any bands and rigs; of undated ones those of one call.
        rig_gain_db: the receiver gain that belongs to a rig by its name; else the gain of most of the recorded time. [dB]
        decide: one survey's recordings, and its pairs of two gains -> SURVEY rows.
    """
    surveys = [_survey(members, (rig_gain_db or {}).get(members[0].rig), decide) for members in group(measured)]
    return sorted(surveys, key=lambda survey: (survey.started_utc, survey.band, survey.id))


def _survey(members: list[Measured], gain_db: float | None, decide: Decide) -> Survey:
    members = _distinct(sorted(members, key=lambda one: (one.started_utc, one.recording, one.digest)))
    first = members[0]
    plan = plan_for(first.region, first.band)
    steps = gain_steps(members)
    rows = with_claims(with_relays(tables.check(decide(members, steps), tables.SURVEY)), first.region)
    rows, clock = without_clock_error(rows, plan)
    if gain_db is None:
        gain_db = _usual_gain(members)
    untold = _untold_gains(members, steps)
    at_gain = {
        one.recording: one.recording not in untold
        and (one.gain_db is None or gain_db is None or abs(one.gain_db - gain_db) < _SAME_GAIN_DB)
        for one in members
    }
    stations = _stations(rows, members, at_gain)
    starts = [start for one in members if (start := parse_utc(one.started_utc)) is not None]
    ends = [start + timedelta(seconds=one.duration_s) for one in members if (start := parse_utc(one.started_utc)) is not None]
    return Survey(
        id=_identity(members, starts),
        band=first.band,
        region=first.region,
        rig=first.rig,
        started_utc=utc_text(min(starts)) if starts else "",
        ended_utc=utc_text(max(ends)) if ends else "",
        gain_db=gain_db,
        forged=first.forged,
        overload_share=max(one.overload_share for one in members),
        rows=rows,
        stations=stations,
        cautions=(
            *_cautions(members, gain_db, untold, stations, len(starts)),
            *([clock.said()] if clock and clock.significant else []),
        ),
        clock_ppm=clock.ppm if clock and not clock.fixed_hz else None,
        clock_sd_ppm=clock.sd if clock and not clock.fixed_hz else None,
    )


def _distinct(members: list[Measured]) -> list[Measured]:
    """Recordings of one name from two folders get a number, so that a row tells which it means."""
    count: Counter[str] = Counter()
    named = []
    for one in members:
        count[one.recording] += 1
        if count[one.recording] > 1:
            name = f"{one.recording} ({count[one.recording]})"
            one = replace(one, recording=name, readings=one.readings.assign(recording=name))
        named.append(one)
    return named


def _usual_gain(members: Sequence[Measured]) -> float | None:
    recorded_s: dict[float, float] = defaultdict(float)
    for one in members:
        if one.gain_db is not None:
            recorded_s[one.gain_db] += one.duration_s
    # at a tie the higher gain: it is the one that hears the weak stations
    return max(recorded_s, key=lambda gain: (recorded_s[gain], gain)) if recorded_s else None


def _untold_gains(members: Sequence[Measured], steps: Sequence[Step]) -> dict[str, float]:
    """Recordings that stand a common step from one whose levels count, though a gain is not told: name -> step. [dB]"""
    if all(one.gain_db is not None for one in members):
        return {}
    found: dict[str, float] = {}
    for step in steps:
        if step.high.gain_db is None and (step.low.gain_db is not None or step.high.overload_share > OVERLOAD_SHARE):
            found[step.high.recording] = step.step_db
        elif step.low.gain_db is None:
            found[step.low.recording] = -step.step_db
    return found


def _identity(members: Sequence[Measured], starts: Sequence[datetime]) -> str:
    first = members[0]
    if first.survey_id:
        when = first.survey_id.removeprefix(f"{first.band}-")  # whoever made it may have named the band already
    elif starts:
        when = min(starts).strftime("%Y%m%dT%H%M%SZ")
    else:
        content = [one.digest or f"{one.recording} {one.centre_hz} {one.rate_hz} {one.duration_s}" for one in members]
        when = "undated-" + hashlib.blake2b("\n".join(sorted(content)).encode(), digest_size=6).hexdigest()
    return f"{first.band}-{when}-{first.rig}{'-forged' if first.forged else ''}"


def _cautions(
    members: Sequence[Measured], gain_db: float | None, untold: Mapping[str, float], stations: pd.DataFrame, dated: int
) -> tuple[str, ...]:
    first = members[0]
    said = []
    if dated < len(members) and not first.survey_id:
        together = ": taken as one survey because they came in one call" if len(members) > 1 else ""
        said.append(f"no start time in {_names(members)}{together}")
    gains = sorted({one.gain_db for one in members if one.gain_db is not None})
    if len(gains) > 1:
        listed = ", ".join(f"{gain:.1f}" for gain in gains)
        said.append(f"recorded at gains of {listed} dB: levels are those at {gain_db:.1f} dB")
    if untold:
        aside = [one for one in members if one.recording in untold]
        steps = ", ".join(sorted({f"{step:+.0f}" for step in untold.values()}))
        said.append(f"at another gain, {steps} dB by the stations' common step: {_names(aside)}; the levels are the others'")
    channels = plan_for(first.region, first.band).channels_hz
    covered = set(stations["channel_hz"])
    if missing := [channel for channel in channels if channel not in covered]:
        said.append(f"not covered: {spans_text(first.band, missing, channels)}")
    if not (stations["holds"] == "station").any():
        said.append(f"no station in {len(stations)} channels: if there should be some, look at the antenna, lead and receiver")
    hot = [one for one in members if one.overload_share > OVERLOAD_SHARE]
    if hot:
        worst = max(hot, key=lambda one: one.overload_share)
        said.append(
            f"overload in {_names(hot)}: up to {100 * worst.overload_share:.2g} % of the samples at full scale, levels and weak"
            " stations are doubtful; lower the gain and record again"
        )
    if first.forged:
        said.append("forged: these signals were made, not received")
    said += [note for one in members for note in one.notes]
    return tuple(dict.fromkeys(said))


def _names(members: Sequence[Measured], shown: int = 3) -> str:
    names = [one.recording for one in members]
    more = len(names) - shown
    return ", ".join(names[:shown]) + (f" and {more} more" if more > 0 else "")


def _stations(rows: pd.DataFrame, members: Sequence[Measured], at_gain: Mapping[str, bool]) -> pd.DataFrame:
    """STATIONS: one row per channel, by the rule at the top of this module."""
    of = {one.recording: one for one in members}
    if strangers := sorted(set(rows["recording"]) - set(of)):
        raise TableError(f"rows of recordings that are not in the survey: {strangers}", where="survey.csv")
    takers = [of[name] for name in rows["recording"]]
    offset = np.array([abs(hz - one.centre_hz) / one.rate_hz for hz, one in zip(rows["channel_hz"], takers, strict=True)])
    rows = rows.assign(
        weight=[one.duration_s for one in takers],
        at_gain=[at_gain[one.recording] for one in takers],
        flat=offset <= FLAT_SHARE,
    )
    # most channels are empty: nothing is to be merged there of what only a station tells
    telling = set(rows["channel_hz"][rows[list(_OF_STATIONS)].notna().any(axis=1)])
    merged = [_merge(channel_rows, channel_hz in telling) for channel_hz, channel_rows in rows.groupby("channel_hz", sort=True)]
    return tables.check(pd.DataFrame(merged, columns=tables.STATIONS.names), tables.STATIONS)


def _merge(rows: pd.DataFrame, telling: bool) -> dict[str, object]:
    """One channel's rows as one. `telling` is whether any of them has something that only a station tells."""
    holds = rows["holds"].iloc[0]
    if (rows["holds"] != holds).any():
        raise TableError(f"channel {rows['channel_hz'].iloc[0]} holds two things in one survey", where="survey.csv")
    remarks = {word for text in rows["remarks"].dropna() for word in text.split(";") if word}
    best = rows
    for quality, else_remark in (("at_gain", "other-gain"), ("flat", "edge")):
        if best[quality].any():
            best = best[best[quality]]
        else:
            remarks.add(else_remark)
    level, level_sd = _mean_db(best["level_dbfs"], best["weight"], best["level_sd_db"])
    noise, _ = _mean_db(best["noise_dbfs"], best["weight"])
    level_dbuv, _ = _mean_db(best["level_dbuv"], best["weight"])
    if holds == "station" and best["level_dbfs"].isna().any():
        remarks.add("not-in-every-recording")
    programme: dict[str, Any] = _programme(rows, best) if telling else dict.fromkeys(_OF_STATIONS)
    if telling and level < programme["level_30db_dbfs"]:
        remarks.add("under-30-dB-audio")
    return {
        "band": rows["band"].iloc[0],
        "channel_hz": rows["channel_hz"].iloc[0],
        "holds": holds,
        "level_dbfs": level,
        "level_sd_db": level_sd,
        "noise_dbfs": noise,
        "snr_db": level - noise,
        "level_dbuv": level_dbuv,
        **programme,
        "name": None,
        "recordings": rows["recording"].nunique(),
        "remarks": ";".join(sorted(remarks)),
    }


def _programme(rows: pd.DataFrame, best: pd.DataFrame) -> dict[str, Any]:
    """Pilot, data service and audio of one channel: its rows, and of these the best."""
    pilot = _majority(best["pilot"], best["weight"])
    with_pilot = best[best["pilot"].fillna(value=False) & best["pilot_dev_hz"].notna()]
    pilot_dev = np.average(with_pilot["pilot_dev_hz"], weights=with_pilot["weight"]) if pilot and len(with_pilot) else np.nan
    return {
        "pilot": pilot,
        "pilot_dev_hz": pilot_dev,
        "rds_pi": _commonest(rows["rds_pi"]),
        "rds_ps": _commonest(rows["rds_ps"]),
        "am_stereo": _majority(best["am_stereo"], best["weight"]),
        "audio_snr_db": _middle(best["audio_snr_db"]),
        "audio_sd_db": _middle(best["audio_sd_db"]),
        "stereo_snr_db": _middle(best["stereo_snr_db"]) if pilot else np.nan,
        "level_30db_dbfs": _middle(best["level_30db_dbfs"]),
    }


def _middle(figures: pd.Series) -> float:
    """Median of those that are known; nan for none."""
    return float(figures.dropna().median()) if figures.notna().any() else np.nan


def _mean_db(levels_db: pd.Series, weight: pd.Series, sd_db: pd.Series | None = None) -> tuple[float, float]:
    """Decibels of the weighted mean power, and its standard uncertainty; nan where there is nothing to average."""
    known = levels_db.notna().to_numpy()
    if not known.any():
        return np.nan, np.nan
    power = from_db(levels_db.to_numpy(dtype=np.float64)[known])
    share = weight.to_numpy(dtype=np.float64)[known]
    share = share / share.sum() if share.sum() > 0 else np.full(len(power), 1 / len(power))
    mean = float(np.sum(share * power))
    if sd_db is None:
        return db(mean), np.nan
    sd = sd_db.to_numpy(dtype=np.float64)[known] / _DB_PER_NEPER * power
    claimed = float(np.sqrt(np.sum((share * sd) ** 2)))
    scatter = 0.0
    if len(power) > 1:
        # variance of a weighted mean from the scatter of its members about it
        scatter = float(np.sqrt(np.sum(share**2 * (power - mean) ** 2) * len(power) / (len(power) - 1)))
    worst = np.nanmax([claimed, scatter]) if not np.isnan(claimed) or len(power) > 1 else np.nan
    return db(mean), float(worst / mean * _DB_PER_NEPER) if mean > 0 else np.nan


def _majority(answers: pd.Series, weight: pd.Series) -> bool | None:
    known = answers.notna()
    if not known.any():
        return None
    yes = float(weight[known & answers.fillna(value=False)].sum())
    return yes >= float(weight[known].sum()) / 2


def _commonest(texts: pd.Series) -> str | None:
    found = Counter(texts.dropna())
    return min(found, key=lambda text: (-found[text], text)) if found else None
