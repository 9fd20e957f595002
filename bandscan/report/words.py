"""Text fit for a page, a plot and a terminal: names may hold anything, so nothing reaches a reader unwashed.

Also the figures as words: each with its unit, and with its uncertainty where it is an estimate.
"""

from __future__ import annotations

import html
import math
import re
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from bandscan.model import BandCheck, Expected, Finding, Interval, Reference, StationHeard
from bandscan.plans.relays import BY_AUDIO, BY_CODE, same_programme_hz, without_relays
from bandscan.units import channel_text

BAND_NAMES = {"fm": "FM", "am": "AM"}
VERDICT_LIMIT = 280  # characters of a reason or a next test, so that both stay on the first screen
NAME_LIMIT = 40  # characters of a name or remark that a table cell shows
LINE_LIMIT = 600  # characters of a sentence that a page shows
_GET_REFERENCE = "check a known-good radio on this bench first (bandscan check SHEET --known-good)"
_TOLD = 0.05  # of a finding's weight, below which it shows as 0.0: evidence for nothing
COUNTS = 2.0  # the contract's weight, against nothing wrong, from which a finding counts
_PARTLY = {"1": "a trace", "M": "two at once"}  # grades of what is there and cannot be followed
_JOBS = 5  # of known-good sets that are named
_MARKS_IN_A_ROW = 2  # combining marks kept on one letter: real spelling needs two, a flood of them covers the lines above


def plain(text: object, limit: int = LINE_LIMIT) -> str:
    """One line of visible text without control, direction or escape characters; empty for a missing value."""
    if text is None or text is pd.NA or (isinstance(text, float) and text != text):
        return ""
    kept: list[str] = []
    marks = 0
    # a hostile text may be megabytes long; ten times the limit leaves room for what is dropped
    for character in str(text)[: 10 * limit]:
        category = unicodedata.category(character)
        marks = marks + 1 if category in ("Mn", "Me") else 0
        if category in ("Cf", "Cs", "Co", "Cn") or marks > _MARKS_IN_A_ROW:
            continue
        kept.append(" " if category in ("Cc", "Zl", "Zp", "Zs") else character)
    line = " ".join("".join(kept).split())
    if len(line) > limit or len(str(text)) > 10 * limit:
        return line[: limit - 1].rstrip() + "…"
    return line


def name(text: object) -> str:
    """A name, remark or reading, washed and short enough for a table cell."""
    return plain(text, NAME_LIMIT)


def remarks(text: object, band: str) -> str:
    """Remarks of a table as words, set apart, short enough for a cell; what two channels share is told as a claim."""
    found = [part.strip() for part in without_relays(text).split(";")]
    shared = ((BY_CODE, "same code as"), (BY_AUDIO, "probably the same programme as"))
    for how, what in shared:
        found += [f"{what} {channel_text(band, other)}" for other in same_programme_hz(text, band, how)]
    return plain("; ".join(plain(part) for part in found if part), 2 * NAME_LIMIT)


def counted(how_many: int, thing: str) -> str:
    """`1 station`, `2 stations`."""
    return f"{how_many} {thing}{'' if how_many == 1 else 's'}"


def partly(station: StationHeard) -> str:
    """What came in of a station that was not followed: `a trace`, `two at once`; else empty."""
    return _PARTLY.get(station.grade, "") if station.heard is False else ""


def answer(station: StationHeard) -> str:
    """What this radio had of a station: `heard`, `missed`, `not followed (a trace)`, `cannot say`."""
    if part := partly(station):
        return f"not followed ({part})"
    return {True: "heard", False: "missed", None: "cannot say"}[station.heard]


def by_fits(check: BandCheck) -> str:
    """` (6 of them by fits)`: of the stations that lit the lamp, those on which it flickered; empty where it did on none."""
    flickered = min(sum(one.heard is True and one.lamp == "flicker" for one in check.stations), check.lamp_lit or 0)
    return f" ({flickered} of them by fits)" if flickered else ""


def through(pad_db: float) -> str:
    """` through a 20 dB attenuator`, with a blank before it; empty where none was in line."""
    text = f"{pad_db:g}"
    article = "an" if text.startswith("8") or text.partition(".")[0] in ("11", "18") else "a"
    return f" through {article} {text} dB attenuator" if pad_db else ""


def am_through_pad(check: BandCheck) -> bool:
    """Whether AM was swept through an attenuator: the list's levels do not tell what reached the set then."""
    return check.band == "am" and check.pad_db > 0.0


def only_counted(check: BandCheck) -> bool:
    """Whether stations were counted and of none it is told whether it was heard, as by a bare total."""
    return check.counted > 0 and all(station.heard is None for station in check.stations)


def speaking(check: BandCheck) -> list[Finding]:
    """Findings that are likelier than nothing wrong, if only a little; each bears a letter, A the first."""
    return [finding for finding in check.findings if over_nothing(finding) >= _TOLD]


def letter_of(row: int) -> str:
    """The letter of a finding: A for the first."""
    return chr(ord("A") + row)


def denied(check: BandCheck) -> str:
    """Faults that are no likelier than nothing wrong, in words; empty where there are none."""
    some = [
        f"{name(finding.fault)} ({number(over_nothing(finding))})"
        for finding in check.findings
        if over_nothing(finding) < _TOLD
    ]
    what = f"Looked for{' as well' if speaking(check) else ''}, and no likelier than nothing wrong (weight 0 or less)"
    return f"{what}: {', '.join(some)}" if some else ""


def over_nothing(finding: Finding) -> float:
    """log10 of a finding's odds against "nothing wrong" alone."""
    return finding.weight if finding.against_nothing is None else finding.against_nothing


def weighed(finding: Finding) -> str:
    """The weight of a finding, and whether that counts."""
    alone = over_nothing(finding)
    told = number(finding.weight)
    if number(alone) != told:
        told += f" with its rivals, {number(alone)} against nothing wrong alone"
    return told if alone >= COUNTS else f"{told}, too little to count by itself"


def day_words(band: str, facts: Mapping[str, Any]) -> str:
    """What the survey of the sweep's day said, in words; empty where there was none. `facts` as a check keeps them."""
    told = []
    if "survey" in facts:
        told.append(f"survey {name(facts['survey'])}, {instant(str(facts.get('started_utc', ''))) or 'undated'}")
    if "off_air_hz" in facts:
        told.append(f"off the air: {channels(band, sorted(facts['off_air_hz']))}")
    if facts.get("new_hz"):
        told.append(f"on the air and not in the list: {channels(band, sorted(facts['new_hz']))}")
    for key, what in (("level_db", "stations"), ("noise_db", "noise")):
        if facts.get(key) is not None:
            told.append(f"{what} {number(facts[key])} dB over the list's (median)")
    return plain("; ".join(told))


def channels(band: str, some_hz: Sequence[int], at_most: int = 12) -> str:
    """A list of channels with its unit, cut after `at_most`."""
    if not some_hz:
        return "none"
    shown = ", ".join(channel_text(band, channel) for channel in some_hz[:at_most])
    more = f" and {len(some_hz) - at_most} more" if len(some_hz) > at_most else ""
    return f"{shown} {'MHz' if band == 'fm' else 'kHz'}{more}"


def hover(*lines: str) -> str:
    """Lines of a plot's hover box: plotly understands a few tags, so the text's own are spelled out."""
    return "<br>".join(html.escape(line, quote=False) for line in lines if line)


def number(value: object, decimals: int = 1) -> str:
    """A figure without its unit; empty where there is none."""
    if value is None or value is pd.NA:
        return ""
    figure = float(value)  # type: ignore[arg-type]
    if figure != figure:
        return ""
    text = f"{figure:.{decimals}f}"
    return text.lstrip("-") if float(text) == 0 else text


def doubt(value: object) -> str:
    """A standard uncertainty in dB without its unit; never a bare zero."""
    told = number(value)
    return "under 0.1" if told == "0.0" else told


def yes_no(value: object) -> str:
    """`yes`, `no`, or empty where nobody knows."""
    if value is None or value is pd.NA:
        return ""
    return "yes" if bool(value) else "no"


def instant(iso: str) -> str:
    """`2031-05-03T10:00:00Z` as `2031-05-03 10:00 UTC`; anything else as it stands."""
    washed = name(iso)
    if len(washed) >= 17 and washed[10] == "T" and washed.endswith("Z"):
        return f"{washed[:10]} {washed[11:16]} UTC"
    return washed


def unit_words(unit: str) -> str:
    """The unit of a level, saying so where it is not calibrated."""
    return "dBFS, uncalibrated" if unit == "dBFS" else name(unit) or "no unit"


def noise_words(noise: pd.Series, unit: str, of: str) -> str:
    """Noise of several channels or stations, `of` which it is the median, and how far they lie apart; `unit` as of levels."""
    low, middle, high = (f"{noise.quantile(share):.0f}" for share in (0.0, 0.5, 1.0))
    span = "" if low == high else f", which are from {low} to {high}"
    return f"Noise in a channel's width: {middle} {unit} (median of the {of}{span})."


def interval(found: Interval, unit: str) -> str:
    """An estimate with its two-sided 95 % interval, or its one-sided 95 % bound where the evidence bounds one side only."""
    low, high = number(found.low, 0), number(found.high, 0)
    if found.low is None and found.high is None:
        return "a level that the evidence bounds on neither side"
    if found.low is None:
        return f"no higher than {high} {unit} (one-sided 95 % bound)"
    if found.high is None:
        return f"no lower than {low} {unit} (one-sided 95 % bound)"
    middle = f"{number(found.value, 0)} {unit}" if found.value is not None else f"between {low} and {high} {unit}"
    return f"{middle} (95 %: {low} to {high})"


def against(found: Interval | None, why: str = "") -> str:
    """How a set compares with the reference, in words; each bound holds with 95 % on its own, as the verdict's rule asks.

    `why` is the verdict's sentence, which tells a bound beside a limit to a tenth: the two stand in one box and round alike.
    """
    if found is None:
        return "cannot be compared: there is no reference"
    if found.low is None and found.high is None:
        return "cannot be compared: the evidence bounds neither side"
    if found.low is None or found.high is None:
        return f"{_edge(found.low, found.high, why)} the reference (one-sided 95 % bound; the other side is open)"
    span = f"one-sided 95 % bounds: {_bounds(found.low, found.high, why)}"
    if found.value is None:
        return f"against the reference {span}"
    if abs(found.value) < 0.5:
        return f"the same as the reference ({span})"
    return f"{_deafer(found.value)} than the reference ({span})"


def sensitivity(check: BandCheck) -> str:
    """How the set compares with the reference, in words, or why it cannot be compared."""
    if am_through_pad(check):
        return "cannot be compared: AM was swept through an attenuator"
    if check.against_reference_db is None and check.reference.threshold_db is not None:
        # left in the middle, or a list of hardly a level: the verdict's sentence says which
        return f"cannot be compared: {plain(check.why)}"
    # a total of AM stations does not tell at which hour they were counted
    told = against(check.against_reference_db, check.why)
    undated = check.band == "am" and only_counted(check) and not told.startswith("cannot")
    return f"{told}, if counted at the list's hour" if undated else told


def _edge(low_db: float | None, high_db: float | None, why: str) -> str:
    """The only bound there is: what is no less than 10 dB better is at most 10 dB better."""
    end_db, more, even = (high_db, "at most", "no deafer than") if low_db is None else (low_db, "at least", "no better than")
    if end_db is None or abs(end_db) < 0.5:
        return even
    less = "at least" if more == "at most" else "at most"
    return f"{more if end_db > 0 else less} {_deafer(end_db, why)} than"


def _bounds(low_db: float, high_db: float, why: str) -> str:
    """Both ends, the word said once where both lie on one side."""
    if low_db >= 0.5 or high_db <= -0.5:
        near, far = sorted((abs(low_db), abs(high_db)))
        return f"{_size(near, why)} to {_size(far, why)} dB {'deafer' if low_db > 0 else 'better'}"
    return f"{_deafer(low_db, why)} to {_deafer(high_db, why)}"


def _deafer(difference_db: float, why: str = "") -> str:
    if abs(difference_db) < 0.5:
        return "0 dB"
    return f"{_size(abs(difference_db), why)} dB {'deafer' if difference_db > 0 else 'better'}"


def _size(size_db: float, why: str) -> str:
    """Whole dB, or the tenth next to it where `why` tells that."""
    tenths = (f"{round_to(10.0 * size_db) / 10.0:g}" for round_to in (math.floor, math.ceil))
    told = (one for one in tenths if "." in one and re.search(rf"(?<![\d.]){re.escape(one)}(?![\d.])", why))
    return next(told, f"{size_db:.0f}")


def chance(probability: float) -> str:
    """A probability in percent without its unit; never 0 or 100, since no model is that sure."""
    return "over 99" if probability > 0.99 else "under 1" if probability < 0.01 else f"{100 * probability:.0f}"


def expected(band: Expected | None) -> str:
    """How many stations this bench should give, or how to get such a figure."""
    if band is None:
        return f"how many to expect is not known: {_GET_REFERENCE}"
    return f"expected {band.low} to {band.high} (95 %; middle {band.mid:.0f})"


def reference(found: Reference) -> str:
    """What the comparison rests on, in words."""
    if found.basis == "none" or found.threshold_db is None:
        return f"none: {_GET_REFERENCE}"
    doubt = "" if found.sd_db is None else f" ±{found.sd_db:.0f} dB (standard uncertainty)"
    sets = f", {counted(found.sets, 'set')}" if found.sets else ""
    sets += f" in {counted(found.sweeps, 'sweep')}" if found.sets and found.sweeps else ""
    jobs = f" (job {', '.join(name(job) for job in found.jobs[:_JOBS])}{' …' if len(found.jobs) > _JOBS else ''})"
    sets += jobs if found.jobs else ""
    spread = f", spread {found.spread_db:.0f} dB from set to set and day to day" if found.spread_db is not None else ""
    made = f", newest {instant(found.made_utc)}" if found.made_utc else ""
    basis = {"assumed": "assumed, not measured"}.get(found.basis, found.basis)
    return f"{basis}: half heard at {found.threshold_db:.0f} {unit_words(found.unit)}{doubt}{sets}{spread}{made}"
