"""The day of a sweep: the survey that tells its conditions, and what a check owes to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from bandscan.baseline import NEAR_S, Conditions, conditions, unknown_day
from bandscan.model import Baseline, RadioCheck, Reference, Sheet, utc_text
from bandscan.radio.header import swept_hour, swept_time
from bandscan.shop import Shop
from bandscan.store import Log

_OVERLOAD_SHARE = 0.001  # a survey with more of this is no measure of the day either (common practice)
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

    def spoken(self, check: RadioCheck) -> RadioCheck:
        """The check with what is to be said of the day."""
        said = [caution for band, one in self.told.items() if band in check.bands for caution in one.cautions]
        bands = dict(check.bands)
        for band, one in check.bands.items():
            if band in self.told or band not in self.lists:
                continue
            if self.told:
                said.append(f"there is no survey of today for {band.upper()}: a station off the air counts against the radio")
            if one.verdict in _OPEN and one.against_reference_db is not None and one.reference.basis in _MEASURED:
                quick = f"run `bandscan capture --band {band} --quick` at the hour of the sweep, so that the day is known"
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
            sound = [survey for survey in found if survey.overload_share <= _OVERLOAD_SHARE]
            if sound:
                told[band] = conditions(one, sound[-1])
    return Day({band: told[band].baseline if band in told else one for band, one in baselines.items()}, told)


def swept_utc(sheet: Sheet, shop: Shop | None) -> datetime | None:
    """The moment of the sweep by the shop's clock; None where the sheet does not tell the hour."""
    local = swept_time(sheet.header)
    if local is None or swept_hour(sheet.header) is None:
        return None
    return local.replace(tzinfo=ZoneInfo(shop.time_zone) if shop is not None else UTC).astimezone(UTC)
