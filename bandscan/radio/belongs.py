"""Whether a sheet and a reference list belong together: rig, hour, age, overload."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import pandas as pd

from bandscan.model import BandCheck, Baseline, Extra, Finding
from bandscan.radio.deaf_list import RIVALS, together
from bandscan.radio.findings import EXPLANATIONS, MOST_EVIDENCE
from bandscan.radio.header import swept_hour, swept_time
from bandscan.radio.limits import Limits
from bandscan.radio.strays import night_weight
from bandscan.radio.verdict import WEIGHTY, over_nothing

_OLD_DAYS = 60.0
_TOO_GOOD_DB = 10.0  # half of what the usual attenuator of 20 dB takes
# a header's hour or rig is a slip of the pen, or a wrong clock, in one sheet of a hundred (from memory): log10 odds
_WRITTEN = 2.0
# of sheets that call the rig's antenna by other words, how much more often it is another one than the same under another name
# (from memory), and the odds of another antenna before any of that, as of other faults: log10
_OTHER_WORDS, _OTHER_ANTENNA = 1.3, -0.7


def why_apart(
    baseline: Baseline, header: Mapping[str, str], made_utc: str, limits: Limits, *, pad_db: float = 0.0, dated: bool = True
) -> tuple[str, str] | None:
    """Why the sheet cannot be judged against the list, and the one thing to do; None where it can.

    `pad_db` is the least attenuator that was in line [dB]. `dated`: the sheet could say when it was swept, which a bare total
    cannot: that is of now.
    """
    band = baseline.band.upper()
    if baseline.band == "am" and pad_db > 0.0:
        return "AM was swept through an attenuator, and 50 ohm across its lead make any set deaf", "sweep AM without it"
    if (rigs := _other_rig(baseline, header)) is not None:
        return rigs
    if baseline.overload_share is not None and baseline.overload_share > limits.overload_share:
        share = f"{100.0 * baseline.overload_share:.1f} %"
        return (
            f"the receiver was overloaded when the {band} list was made ({share} of the samples)",
            "survey again at less gain",
        )
    if baseline.grade == "C":
        return f"the {band} list is of grade C: {baseline.grade_reason}", f"survey the {band} band again"
    days, ahead = age_days(baseline, header, made_utc), _in_future(header, made_utc)
    if days is not None and abs(days) > limits.max_age_days:
        if ahead is not None and days > 0:
            return ahead
        side, than = "older" if days > 0 else "younger", "than the sweep" if swept_time(header) else "than this check"
        why = f"the {band} list is {abs(days):.0f} days {side} {than}"
        if dated and not swept_time(header):
            return f"{why}, and the sheet has no date", "write when it was swept into the sheet's header, as `# swept:`"
        if days < 0:
            return why, "look whether the sheet's date is right; else sweep the radio again"
        return why, f"survey the {band} band again, then sweep"
    hour = _wrong_hour(baseline, header, limits) if baseline.band == "am" else None
    return hour or ahead


def _in_future(header: Mapping[str, str], made_utc: str) -> tuple[str, str] | None:
    """That the sheet's date has not come yet, and what to do; None where it has. Its time is local: a day is let pass."""
    when, made = swept_time(header), _utc(made_utc)
    if when is None or made is None or when - made <= timedelta(days=1):
        return None
    why = f"the sheet says that it was swept on {when:%Y-%m-%d}, which is in the future ({made:%Y-%m-%d} by this computer)"
    return why, "correct `# swept:` in the sheet's header, or this computer's clock"


def with_belonging(
    baseline: Baseline,
    header: Mapping[str, str],
    limits: Limits,
    findings: Sequence[Finding],
    extras: Sequence[Extra],
    strays: int = 0,
) -> tuple[Finding, ...]:
    """The findings of a radio with what sheet and list say against each other: night-list, other-antenna; best first.

    Where the hour or the rig is another, the levels of the list are no measure: explanations that go by them are left out.
    `strays` are ticks that fit no station of the list, where they are many: the night's, perhaps, where nobody wrote the hour.
    """
    apart = []
    if baseline.band == "am" and (night := _wrong_hour(baseline, header, limits)) is not None:
        heard = sorted({extra.channel_hz for extra in extras if extra.channel_hz is not None})
        apart.append(Finding("night-list", night[0], tuple(heard[:MOST_EVIDENCE]), night[1], _WRITTEN))
    if (rigs := _other_rig(baseline, header)) is not None:
        apart.append(Finding("other-antenna", rigs[0], (), rigs[1], _WRITTEN))
    if apart:
        return (*apart, *(one for one in findings if one.fault not in EXPLANATIONS))
    if strays and baseline.band == "am" and baseline.valid == "day" and not _hour(header, limits):
        findings = _with_night(findings, extras, strays, len(baseline.stations))
    words = antenna_words(baseline, header, limits)
    if not words or not limits.antennas.get(baseline.rig):
        return tuple(findings)
    rest = [one for one in findings if one.fault != "other-antenna"]
    for one in findings:
        if one.fault == "other-antenna":  # the words and what was heard are two witnesses
            own, weight = (round(value + _OTHER_WORDS, 2) for value in (over_nothing(one), one.weight))
            rest.append(replace(one, text=f"{one.text}; {words}", weight=weight, against_nothing=own))
            break
    else:
        weight = round(_OTHER_WORDS + _OTHER_ANTENNA, 2)
        rest.append(Finding("other-antenna", words, (), "ask which antenna the sweep was made with, then sweep again", weight))
    return tuple(sorted(rest, key=lambda one: -one.weight))


def _with_night(findings: Sequence[Finding], extras: Sequence[Extra], strays: int, listed: int) -> tuple[Finding, ...]:
    """The findings with a sweep by night among them where the ticks beside the list speak for it; best first."""
    own = night_weight(strays, listed)
    if own <= 0.0:
        return tuple(findings)
    rivals = [over_nothing(one) for one in findings if one.fault in RIVALS | {"reference-deaf"}]
    heard = sorted({extra.channel_hz for extra in extras if extra.channel_hz is not None})
    text = f"{strays} ticks of a sweep fit no station of the AM list, which is valid by day, and its hour is not known"
    night = Finding(
        "night-list",
        f"{text}: it may have been made by night",
        tuple(heard[:MOST_EVIDENCE]),
        "write the hour of the sweep into the sheet's header, as `# swept:`, or sweep AM again around noon",
        round(own - together(0.0, *rivals), 2),
        round(own, 2),
    )
    return tuple(sorted([*findings, night], key=lambda one: -one.weight))


def parted(check: BandCheck) -> Finding | None:
    """The finding that sheet and list do not belong together, of other hours or rigs, where it is heavy; None where they do."""
    apart = (one for one in check.findings if one.fault in ("night-list", "other-antenna") and one.weight >= WEIGHTY)
    return next(apart, None)


def antenna_words(baseline: Baseline, header: Mapping[str, str], limits: Limits) -> str:
    """That the sheet names an antenna, and no rig, to which nothing in the list's rig answers; else empty."""
    antenna = header.get("antenna", "")
    known = limits.antennas.get(baseline.rig, "")
    if not antenna or header.get("rig") or _words(antenna) & _words(f"{baseline.rig} {known}"):
        return ""
    listed = f"rig {baseline.rig} has {known}" if known else f"the {baseline.band.upper()} list is of rig {baseline.rig}"
    return f"the sheet's antenna is {antenna}, {listed}"


def _words(text: str) -> set[str]:
    return set(re.findall(r"\w{2,}", text.casefold()))


def _other_rig(baseline: Baseline, header: Mapping[str, str]) -> tuple[str, str] | None:
    if not header.get("rig") or header["rig"] == baseline.rig:
        return None
    rigs = f"the sheet is of rig {header['rig']}, the {baseline.band.upper()} list of rig {baseline.rig}"
    return rigs, "make a list with the sheet's rig"


def _wrong_hour(baseline: Baseline, header: Mapping[str, str], limits: Limits) -> tuple[str, str] | None:
    hour = _hour(header, limits)
    sun = f" ({limits.am_sun})" if limits.am_sun else ""
    if baseline.valid == "day" and hour == "night":
        return f"the sweep was made by night{sun} and the AM list is valid by day", "sweep AM again around noon"
    if baseline.valid == "night" and hour in ("day", "critical"):
        return f"the sweep was made by day{sun} and the AM list is valid by night", "survey AM around noon and use that list"
    return None


def _hour(header: Mapping[str, str], limits: Limits) -> str:
    """`day`, `night`, `critical`, or empty where not known: by the sun, else by the clock's sure hours."""
    hour = swept_hour(header)
    if limits.am_hour or hour is None:
        return limits.am_hour
    start, end = limits.am_night_h
    if hour >= start or hour < end:
        return "night"
    return "day" if limits.am_day_h[0] <= hour <= limits.am_day_h[1] else ""


def age_days(baseline: Baseline, header: Mapping[str, str], made_utc: str) -> float | None:
    """Days from the list's last survey to the sweep, or to the check where the sheet has no time; None where not known."""
    last = _utc(baseline.last_utc)
    when = swept_time(header) or _utc(made_utc)
    if last is None or when is None:
        return None
    # the sheet's time is local: within a day of UTC, which is fine for an age
    return (when - last).total_seconds() / 86400.0


def cautions(baseline: Baseline, header: Mapping[str, str], made_utc: str, limits: Limits) -> list[str]:
    """What weakens the comparison without forbidding it."""
    band = baseline.band.upper()
    found = [f"{band} list: {caution}" for caution in baseline.cautions]
    if words := antenna_words(baseline, header, limits):
        found.append(f"{words}: judged as if they were the same (`# rig:` in the sheet tells)")
    days = age_days(baseline, header, made_utc)
    if days is None:
        found.append(f"{band} list: its age at the time of the sweep is not known")
    elif _OLD_DAYS < days <= limits.max_age_days and _in_future(header, made_utc) is None:
        found.append(f"{band} list: {days:.0f} days old at the time of the {'sweep' if swept_time(header) else 'check'}")
    elif -limits.max_age_days <= days < -_OLD_DAYS:
        found.append(f"{band} list: {-days:.0f} days younger than the sweep")
    if baseline.overload_share is None and baseline.stations["level_db"].notna().any():
        found.append(f"{band} list: whether the receiver was overloaded is not known")
    if baseline.surveys == 1:
        found.append(f"{band} list: made from one survey, so it cannot tell steady stations from others")
    if baseline.band == "am":
        hour = swept_hour(header)
        if hour is None:
            found.append("AM: the hour of the sweep is not known, and AM changes with the sun")
        elif limits.am_hour == "critical":
            found.append(
                f"AM: swept in the critical hours, within two hours of sunrise or sunset ({limits.am_sun}):"
                " distant stations come and go"
            )
        elif _hour(header, limits) != "day":
            found.append("AM: swept outside the middle of the day, when distant stations come and go")
    return found


def pad_doubted(check: BandCheck, ticks: pd.DataFrame) -> str | None:
    """What to ask where a set is surely too good through an attenuator that the sheet notes; None where it is not.

    A set cannot be far better than the known-good ones, but a pad that was not in line makes it seem so by its whole loss.
    """
    pad_db = ticks.loc[ticks["band"] == check.band, "pad_db"].max()
    against = check.against_reference_db
    if against is None or against.high is None or against.high > -_TOO_GOOD_DB or not pad_db > 0.0:
        return None
    better = f"{check.band.upper()}: surely {_TOO_GOOD_DB:g} dB or more better than the reference"
    ask = f"was the attenuator of {pad_db:g} dB really in line? If not, empty pad_db in the sheet and check again"
    return f"{better}: {ask}"


def _utc(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text.replace("Z", "+00:00")).replace(tzinfo=None)
    except ValueError:
        return None
