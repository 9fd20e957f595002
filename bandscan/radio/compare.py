"""Two sweeps of one radio, or two listeners at one: what changed, and whether that is more than chance.

Each sweep is taken against its own day's reference, so that a day's noise or a list made anew is no change of the radio.
"""

from __future__ import annotations

import math
from statistics import median

from bandscan.model import UNKNOWN_DAY_SD_DB, BandChange, BandCheck, BeforeAfter, Interval, RadioCheck, StationTwice, SweepOf
from bandscan.radio.belongs import parted
from bandscan.radio.header import swept_time
from bandscan.radio.limits import Limits
from bandscan.radio.verdict import dead_beyond

_TWO_SIDED = 1.96
_SHIFT_DB = 3.0
_LEAST_STATIONS = 3


def compare(before: RadioCheck, after: RadioCheck, limits: Limits | None = None) -> BeforeAfter:
    """What changed from one check to the other, for the bands that both have."""
    limits = limits or Limits()
    bands = {
        band: _change(one, after.bands[band], before, after, limits)
        for band, one in before.bands.items()
        if band in after.bands
    }
    return BeforeAfter(
        after.job,
        after.radio,
        SweepOf(before.swept, before.by, before.made_utc),
        SweepOf(after.swept, after.by, after.made_utc),
        bands,
        tuple(_cautions(before, after, bands)),
        before.forged or after.forged,
        after.shop,
    )


def _change(first: BandCheck, second: BandCheck, before: RadioCheck, after: RadioCheck, limits: Limits) -> BandChange:
    silent = {hz for check in (before, after) for hz in _of_day(check, first.band).get("off_air_hz", ())}
    stations = _twice(first, second, silent)
    shifts = [
        one.level_after_db - one.level_before_db
        for one in stations
        if one.level_before_db is not None and one.level_after_db is not None
    ]
    same_pad = first.pad_db == second.pad_db  # else the attenuator makes stations come and go, not the radio
    apart = _apart(first, second, before, after)
    alike = same_pad and not apart
    told = [one for one in stations if one.told and alike]
    gained = tuple(one.channel_hz for one in told if one.heard_after and not one.heard_before)
    lost = tuple(one.channel_hz for one in told if one.heard_before and not one.heard_after)
    why_not = apart or _why_not(first, second)
    difference = None if why_not else _difference(first, second, _doubt_db(first, second, before, after, limits))
    if not why_not and difference is None:
        why_not = "the sweeps bound the change on neither side"
        why_not += ": sweep through a 10 or 20 dB attenuator" if first.band == "fm" else ""
    return BandChange(
        band=first.band,
        unit=second.unit,
        verdict_before=first.verdict,
        verdict_after=second.verdict,
        counted_before=first.counted,
        counted_after=second.counted,
        before_db=None if parted(first) else _over_reference(first),
        after_db=None if parted(second) else _over_reference(second),
        difference_db=difference,
        no_difference=why_not,
        level_shift_db=median(shifts) if len(shifts) >= _LEAST_STATIONS else None,
        stations=stations,
        gained=gained,
        lost=lost,
        p_value=mcnemar(len(gained), len(lost)) if alike else None,
        pad_before_db=first.pad_db,
        pad_after_db=second.pad_db,
        dead_end=("", "") if apart else (_dead_end(first), _dead_end(second)),
    )


def _dead_end(check: BandCheck) -> str:
    dead = dead_beyond(check.findings)
    return dead.text if dead is not None else ""


def _twice(first: BandCheck, second: BandCheck, silent: set[int]) -> tuple[StationTwice, ...]:
    """The stations of both lists, ascending."""
    before = {station.channel_hz: station for station in first.stations}
    after = {station.channel_hz: station for station in second.stations}
    return tuple(
        StationTwice(
            hz,
            after[hz].name or before[hz].name,
            before[hz].level_db,
            after[hz].level_db,
            before[hz].heard,
            after[hz].heard,
            hz in silent,
        )
        for hz in sorted(set(before) & set(after))
    )


def mcnemar(gained: int, lost: int) -> float:
    """Exact two-sided p of so many gained and lost, were either as likely."""
    from scipy.stats import binomtest  # takes a second to import, which a tally need not wait for

    return float(binomtest(gained, gained + lost, 0.5).pvalue) if gained + lost else 1.0


def _of_day(check: RadioCheck, band: str) -> dict[str, list[int]]:
    return (check.today or {}).get(band, {})


def _apart(first: BandCheck, second: BandCheck, before: RadioCheck, after: RadioCheck) -> str:
    """Why neither decibels nor stations can be compared: of other rigs or hours; empty where they can."""
    for when, check in (("before", first), ("after", second)):
        if (other := parted(check)) is not None:
            again = f"; {other.next_test}" if check is second else ""
            return f"the sheet {when} and its list do not belong together, {other.text}{again}"
    rigs = [check.baseline.get(first.band, {}).get("rig", "") for check in (before, after)]
    if rigs[0] != rigs[1]:
        return f"the lists are of two rigs, {rigs[0]} and {rigs[1]}, which are never compared"
    return ""


def _why_not(first: BandCheck, second: BandCheck) -> str:
    """Why no difference of thresholds can be given; empty where one can."""
    if first.band == "am" and (first.pad_db or second.pad_db):
        return "AM was swept through an attenuator: sweep AM without it"
    if not first.unit or first.unit != second.unit:
        return "the lists have no levels, or not in one unit"
    if first.reference.threshold_db is None or second.reference.threshold_db is None:
        return "a reference is missing: sweep a known-good radio"
    return ""


def _doubt_db(first: BandCheck, second: BandCheck, before: RadioCheck, after: RadioCheck, limits: Limits) -> float:
    """Standard uncertainty of the difference besides the sweeps' own: reference, day and listener. [dB]

    What both sweeps share falls out: a reference that rests on the same sets, a day, a listener.
    """
    one, two = first.reference, second.reference
    if (one.basis, one.sets, one.made_utc) == (two.basis, two.sets, two.made_utc):
        # the same sets: only the days' parts differ, each evenly doubted from none to twice of what it moved the threshold
        moved_db = abs((two.threshold_db or 0.0) - (one.threshold_db or 0.0)) / math.sqrt(3.0)
        reference_db = max(moved_db, math.sqrt(abs((two.sd_db or 0.0) ** 2 - (one.sd_db or 0.0) ** 2)))
    else:
        reference_db = math.hypot(one.sd_db or 0.0, two.sd_db or 0.0)
    days = [swept_time({"swept": check.swept}) for check in (before, after)]
    same_day = days[0] is not None and days[1] is not None and days[0].date() == days[1].date()
    parts = [reference_db]
    if not same_day:
        parts += [limits.day_sd_db if _of_day(check, first.band) else UNKNOWN_DAY_SD_DB for check in (before, after)]
    if not before.by or before.by != after.by:
        parts += [limits.listener_sd_db] * 2
    return math.hypot(*parts)


def _over_reference(check: BandCheck) -> Interval | None:
    """The threshold over the reference, two-sided 95 %, without the reference's own doubt. [dB]"""
    own, reference_db = check.threshold_db, check.reference.threshold_db
    if reference_db is None or (own.low is None and own.high is None):
        return None
    return Interval(*(None if db is None else db - reference_db for db in (own.value, own.low, own.high)))


def _difference(first: BandCheck, second: BandCheck, doubt_db: float) -> Interval | None:
    """After less before; half widths of independent doubts add as squares, bounds where one side only is known plainly. [dB]"""
    a, b = _over_reference(first), _over_reference(second)
    if a is None or b is None:
        return None
    wide_db = _TWO_SIDED * doubt_db
    if None not in (a.value, a.low, a.high, b.value, b.low, b.high):
        middle = (b.value or 0.0) - (a.value or 0.0)
        below = math.hypot((a.high or 0.0) - (a.value or 0.0), (b.value or 0.0) - (b.low or 0.0), wide_db)
        above = math.hypot((a.value or 0.0) - (a.low or 0.0), (b.high or 0.0) - (b.value or 0.0), wide_db)
        return Interval(middle, middle - below, middle + above)
    low = None if b.low is None or a.high is None else b.low - a.high - wide_db
    high = None if b.high is None or a.low is None else b.high - a.low + wide_db
    return None if low is None and high is None else Interval(None, low, high)


def _cautions(before: RadioCheck, after: RadioCheck, bands: dict[str, BandChange]) -> list[str]:
    said = []
    if before.radio.casefold() != after.radio.casefold():
        said.append(f"the sheets name two radios, {before.radio or 'none'} and {after.radio or 'none'}: is this one radio?")
    for band, one in bands.items():
        if one.level_shift_db is not None and abs(one.level_shift_db) >= _SHIFT_DB:
            said.append(
                f"{band.upper()}: the stations stand {one.level_shift_db:+.0f} dB in the later list against the earlier:"
                " stations gained or lost may be the antenna's doing"
            )
        silent = sum(station.off_air for station in one.stations)
        if silent:
            few = "1 station" if silent == 1 else f"{silent} stations"
            said.append(f"{band.upper()}: {few} off the air on one of the days left out of gained and lost")
        missing = [when for when, check in (("before", before), ("after", after)) if not _of_day(check, band)]
        if missing and one.p_value is not None:
            said.append(
                f"{band.upper()}: no survey of the day {' and '.join(missing)}: a station off the air counts as lost or gained"
            )
    return said
