"""The sun over the shop: what hour an AM station list is good for.

By day the ground wave alone arrives; with the sun down distant stations come in and many change their power. The two hours
after sunrise and before sunset are the critical hours, 47 CFR 73.14.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from astral import Observer
from astral.sun import elevation, sunrise, sunset

from bandscan.shop.settings import Shop

DAY, NIGHT, CRITICAL = "day", "night", "critical"
CRITICAL_SPAN = timedelta(hours=2)
# the sun's centre as it rises and sets: refraction 34', radius 16' (the usual convention, US Naval Observatory; from memory)
_RISING_DEG = -0.833


@dataclass(frozen=True)
class SunDay:
    """One local day: sunrise and sunset by the shop's clock; None where there is none. `up` is whether the sun is, at noon."""

    sunrise: datetime | None
    sunset: datetime | None
    up: bool

    def __str__(self) -> str:
        """`sunrise 06:12, sunset 17:20`, or that there is none."""
        if self.sunrise is None and self.sunset is None:
            return "no sunset" if self.up else "no sunrise"
        told = (("sunrise", self.sunrise), ("sunset", self.sunset))
        return ", ".join(f"{name} {clock(when)}" if when is not None else f"no {name}" for name, when in told)


def clock(when: datetime) -> str:
    """Hours and minutes, to the nearest minute."""
    return f"{when + timedelta(seconds=30):%H:%M}"


def sun_day(shop: Shop, day: date) -> SunDay | None:
    """The sun on a local day; None where the shop does not tell its latitude and longitude."""
    where = _observer(shop)
    if where is None:
        return None
    zone = ZoneInfo(shop.time_zone)
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=zone)
    return SunDay(_event(sunrise, where, day, zone), _event(sunset, where, day, zone), _up(where, noon))


def hour_of(shop: Shop, moment: datetime) -> str | None:
    """`day`, `night` or `critical` for AM; None where the shop does not tell its latitude and longitude.

    Args:
        shop: the shop.
        moment: with its time zone.
    """
    where = _observer(shop)
    if where is None:
        return None
    if not _up(where, moment):
        return NIGHT
    zone = ZoneInfo(shop.time_zone)
    local = moment.astimezone(zone).date()
    days = [local + timedelta(days=shift) for shift in (-1, 0, 1)]
    since = [moment - when for when in (_event(sunrise, where, day, zone) for day in days) if when is not None]
    until = [when - moment for when in (_event(sunset, where, day, zone) for day in days) if when is not None]
    return CRITICAL if any(abs(span) < CRITICAL_SPAN for span in (*since, *until)) else DAY


def _observer(shop: Shop) -> Observer | None:
    if shop.latitude is None or shop.longitude is None:
        return None
    return Observer(shop.latitude, shop.longitude, 0.0)  # sea level: a height would move the horizon's dip, not the radio's sky


def _up(where: Observer, moment: datetime) -> bool:
    return elevation(where, moment, with_refraction=False) > _RISING_DEG


def _event(event: Callable[..., Any], where: Observer, day: date, zone: ZoneInfo) -> datetime | None:
    try:
        found: datetime = event(where, date=day, tzinfo=zone)
    except ValueError:  # astral's word for a day on which it does not happen
        return None
    return found
