"""The day and hour of a sweep: the survey that tells its conditions, the sun, and what a check owes to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from bandscan.baseline import NEAR_S, Conditions, conditions, unknown_day
from bandscan.errors import BaselineError
from bandscan.model import OVERLOAD_SHARE, Baseline, RadioCheck, Reference, Sheet, Survey, parse_utc, utc_text
from bandscan.radio import Limits
from bandscan.radio.belongs import why_apart
from bandscan.radio.header import swept_hour, swept_time
from bandscan.shop import Shop
from bandscan.shop.sun import CRITICAL, CRITICAL_SPAN, DAY, NIGHT, SunDay, clock, hour_of, sun_day
from bandscan.store import Log

_NEW = "on the air today, not in the list"
_OPEN = ("look closer", "cannot tell")
_MEASURED = ("known-good", "other family", "calibrated")


@dataclass(frozen=True)
class Day:
    """Reference lists as they stand on the day of the sweep, and today's conditions of those bands that a survey tells."""

    lists: Mapping[str, Baseline]
    told: Mapping[str, Conditions]

    @property
    def facts(self) -> dict[str, dict[str, Any]] | None:
        """What goes with the check; None where no band has a survey of the day."""
        return {band: one.facts for band, one in self.told.items()} or None

    def measures(self, given: Mapping[str, Reference]) -> dict[str, Reference]:
        """Thresholds of good sets as they are today; with a wider doubt where the day of a band is not known."""
        return {band: self.told[band].reference(one) if band in self.told else unknown_day(one) for band, one in given.items()}

    def spoken(self, check: RadioCheck, header: Mapping[str, str], limits: Limits) -> RadioCheck:
        """The check with what is to be said of the day. A day that is known mends no list that the sheet does not belong to."""
        said = [caution for band, one in self.told.items() if band in check.bands for caution in one.cautions]
        bands = dict(check.bands)
        for band, one in check.bands.items():
            if band in self.told:
                new_hz = self.told[band].facts["new_hz"]
                extras = [replace(extra, explained_by=_NEW) if extra.channel_hz in new_hz else extra for extra in one.extras]
                bands[band] = replace(one, extras=tuple(extras))
            if band in self.told or band not in self.lists:
                continue
            if self.told:
                said.append(f"there is no survey of today for {band.upper()}: a station off the air counts against the radio")
            together = why_apart(self.lists[band], header, check.made_utc, limits) is None
            measured = one.against_reference_db is not None and one.reference.basis in _MEASURED
            if one.verdict in _OPEN and together and measured:
                quick = f"run `bandscan capture --band {band} --quick` beside the next sweep, so that its day is known"
                bands[band] = replace(one, do_next=f"{one.do_next}; {quick}")
        return replace(check, bands=bands, cautions=(*check.cautions, *said))


def day_of(sheet: Sheet, baselines: Mapping[str, Baseline], log: Log | None, shop: Shop | None) -> Day:
    """The newest survey of the list's rig within two hours of the sweep, for each band that has one."""
    told: dict[str, Conditions] = {}
    moment = swept_utc(sheet, shop) if log is not None and shop is not None else None
    if log is not None and moment is not None:
        low, high = (utc_text(moment + timedelta(seconds=sign * NEAR_S)) for sign in (-1, 1))
        for band, one in baselines.items():
            found = log.surveys_between(band, one.rig, one.region, low, high)
            sound = [survey for survey in found if survey.overload_share <= OVERLOAD_SHARE]
            if sound:
                told[band] = conditions(one, sound[-1])
    return Day({band: told[band].baseline if band in told else one for band, one in baselines.items()}, told)


def swept_utc(sheet: Sheet, shop: Shop | None) -> datetime | None:
    """The moment of the sweep by the shop's clock; None where the sheet does not tell the hour."""
    local = swept_time(sheet.header)
    if local is None or swept_hour(sheet.header) is None:
        return None
    return local.replace(tzinfo=ZoneInfo(shop.time_zone) if shop is not None else UTC).astimezone(UTC)


def local_text(now_utc: str, shop: Shop | None) -> str:
    """A moment by the shop's clock, as a sheet's `swept` tells it; empty where it is none."""
    moment = parse_utc(now_utc)
    zone = ZoneInfo(shop.time_zone if shop is not None else "UTC")
    return f"{moment.astimezone(zone):%Y-%m-%d %H:%M}" if moment is not None else ""


def sweep_hour(sheet: Sheet, shop: Shop) -> tuple[str, str]:
    """What the sun says of a sweep: `day`, `night`, `critical` or empty, and the day's sunrise and sunset in words."""
    moment = swept_utc(sheet, shop)
    hour = hour_of(shop, moment) if moment is not None else None
    local = swept_time(sheet.header)
    return (hour, str(sun_day(shop, local.date()))) if hour is not None and local is not None else ("", "")


def by_sun(surveys: Sequence[Survey], shop: Shop) -> tuple[dict[str | None, list[Survey]], list[str]]:
    """Surveys of one band and rig that make one list each, by the hours for which it is meant, and what to say of the others.

    The key is None for FM, and for AM where the shop does not tell its latitude and longitude.

    Raises:
        BaselineError: no AM survey was made by day or by night.
    """
    if not surveys or surveys[0].band != "am" or shop.latitude is None:
        return {None: list(surveys)}, []
    hours = [survey_hour(one, shop) for one in surveys]
    found: dict[str | None, list[Survey]] = {
        hour: [one for one, own in zip(surveys, hours, strict=True) if own == hour] for hour in (DAY, NIGHT) if hour in hours
    }
    said = []
    for hour, what in ((CRITICAL, "made within two hours of sunrise or sunset"), (None, "without a start time")):
        if hour in hours:
            said.append(f"AM: {hours.count(hour)} of {len(hours)} surveys left out: {what}")
    if not found:
        raise BaselineError("; ".join(said), do="survey AM in the middle of the day, for a list by day")
    return found, said


def survey_hour(survey: Survey, shop: Shop) -> str | None:
    """`day` or `night` where all of the survey was made then, else `critical`; None where it has no date."""
    start = parse_utc(survey.started_utc)
    end = parse_utc(survey.ended_utc) or start
    if start is None or end is None:
        return None
    first, last = hour_of(shop, start), hour_of(shop, end)
    return first if first == last else CRITICAL


def validity(made: Baseline, shop: Shop, now_utc: str) -> str:
    """For what hours a list is meant, by today's sun, and how old its newest survey is."""
    now, newest = parse_utc(now_utc), parse_utc(made.last_utc)
    told = []
    if made.band == "am" and made.valid and now is not None:
        local = now.astimezone(ZoneInfo(shop.time_zone)).date()
        told.append(f"valid by {made.valid}{_span(made.valid, shop, local)}")
    if now is not None and newest is not None:
        days = (now - newest).days
        told.append(f"newest survey {days} day{'' if days == 1 else 's'} old")
    return f"{made.band.upper()} list: {', '.join(told)}" if told else ""


def _span(valid: str, shop: Shop, day: date) -> str:
    sun: SunDay | None = sun_day(shop, day)
    if sun is None or sun.sunrise is None or sun.sunset is None:
        return f" ({sun} today)" if sun is not None else ""
    if valid == NIGHT:
        if sun.sunset < sun.sunrise:  # far north in early summer it sets after midnight
            return f" (today from {clock(sun.sunset)} to {clock(sun.sunrise)})"
        return f" (today before {clock(sun.sunrise)} and after {clock(sun.sunset)})"
    return f" (today from {clock(sun.sunrise + CRITICAL_SPAN)} to {clock(sun.sunset - CRITICAL_SPAN)}; {sun})"
