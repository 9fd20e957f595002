"""The verdict by the contract's rule, in its order, with one sentence why and one thing to do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bandscan.model import Finding, Interval, Reference
from bandscan.radio.findings import EXPLANATIONS
from bandscan.radio.limits import Limits
from bandscan.radio.planning import Plan

IN_LINE, LOOK_CLOSER, FALLS_SHORT, CANNOT_TELL = "in line", "look closer", "falls short", "cannot tell"
STRONG_PILOTS = 4
WEIGHTY = 2.0
DEAD = 1.3  # a band is dead beyond a place at 20 to 1: as sure as the bounds of the interval, which are one-sided 95 %
HINT = 1.0  # a set in line whose best finding is likelier than nothing wrong by so much, log10, is not told to be without fault
SILENT = 0.01  # a silence that a good set has in fewer of all sweeps is a dead band


# after a sweep through an attenuator that was silent
WITHOUT_PAD = "take the attenuator out and sweep again: most deaf sets are heard then, a dead one is not"


@dataclass(frozen=True)
class Evidence:
    """What the rule looks at. `apart` says why sheet and list do not belong together, with what to do, or is empty."""

    band: str
    against_db: Interval | None
    reference: Reference
    findings: Sequence[Finding]
    strong_dark: int
    apart: tuple[str, str] | None
    has_levels: bool
    plan: Plan | None
    pad_db: float
    bare_total: bool = False
    graded: bool = False  # grades and readings are there already
    readings: bool = False
    silence: float | None = None  # the chance that a good set follows nothing either, where nothing was heard
    known_good: bool = False
    # what is said of many ticks beside the list, or of a silent sweep that another speaks against, and what to do
    unweighed: tuple[str, str] | None = None
    timed: bool = True  # the hour at which it was swept or counted is known


def decide(seen: Evidence, limits: Limits) -> tuple[str, str, str]:
    """Verdict, why, and what to do next."""
    if seen.apart is not None:
        return CANNOT_TELL, *seen.apart
    if not seen.has_levels:
        return (
            CANNOT_TELL,
            "the reference list has no levels, so missed and extra stations can be told but no decibels",
            _MAKE_LEVELS,
        )
    if seen.against_db is None:
        return CANNOT_TELL, f"there is no reference threshold for {seen.band.upper()} on this bench", _measure(seen)
    lo = -math.inf if seen.against_db.low is None else seen.against_db.low
    hi = math.inf if seen.against_db.high is None else seen.against_db.high
    span = span_words(seen.against_db, (limits.look_db, limits.fail_db))
    bare = ""
    if seen.bare_total:
        span += ", by a bare total in which repeats and phantoms count as stations"
        bare = "; of other faults a total tells nothing"
    if seen.bare_total and seen.band == "am" and not seen.timed:
        return (
            CANNOT_TELL,
            f"{span}, if counted at the list's hour; the hour is not known, and AM changes with the sun",
            ONE_A_STOP,
        )
    silent = seen.silence is not None and seen.silence <= SILENT
    # behind an attenuator a set may be silent that is little deaf: only one that falls short by its decibels is
    little = seen.silence is not None and seen.pad_db > 0.0 and lo <= limits.look_db
    dead = None if little else dead_beyond(seen.findings, silent=silent)
    if lo <= 0.0 and hi >= limits.fail_db:
        why = f"{span}: a good set and one {limits.fail_db:g} dB deaf both fit{bare}"
        if dead is None:
            return CANNOT_TELL, why, _what_would_tell(seen, limits)
        return CANNOT_TELL, f"{why}; but {dead.text}", dead.next_test
    best = next((finding for finding in seen.findings if over_nothing(finding) > 0.0), None)
    if dead is not None:
        return FALLS_SHORT, dead.text, dead.next_test
    # stations of AM come and go with the hour, and which ones were counted a total does not tell: it condemns no set
    if lo > limits.look_db and not (seen.bare_total and seen.band == "am"):
        told = ONE_A_STOP if seen.bare_total else _next(best, _CONFIRM)
        return FALLS_SHORT, f"{span}, where {limits.look_db:g} dB is the limit", told
    if seen.strong_dark >= STRONG_PILOTS:
        lamp = next((finding for finding in seen.findings if finding.fault == "lamp-never"), None)
        return FALLS_SHORT, f"the lamp never lit on {seen.strong_dark} strong stereo stations", _next(lamp, _CONFIRM)
    weighty = [finding for finding in seen.findings if over_nothing(finding) >= WEIGHTY]
    if hi < limits.fail_db and not weighty:
        if seen.bare_total:
            return IN_LINE, f"{span}{bare}", ONE_A_STOP
        return _in_line(seen, span)
    if weighty:
        return LOOK_CLOSER, f"{weighty[0].text} ({span})", weighty[0].next_test
    unclear = "a count alone condemns no AM set" if lo > limits.look_db else "not clearly good and not clearly deaf"
    return LOOK_CLOSER, f"{span}: {unclear}", _what_would_tell(seen, limits)


def _in_line(seen: Evidence, span: str) -> tuple[str, str, str]:
    """What is suspected too weakly to count is told all the same, and tested where it is far likelier than nothing wrong."""
    # a pointer that is off is told with the dial: it costs no station
    others = [finding for finding in seen.findings if not finding.fault.startswith("pointer")]
    suspected = max(others, key=over_nothing, default=None)
    if suspected is None or over_nothing(suspected) < HINT:
        if seen.unweighed is not None:
            return IN_LINE, f"{span}; but {seen.unweighed[0]}", seen.unweighed[1]
        surely = seen.against_db is not None and seen.against_db.low is not None and seen.against_db.low > 0.0
        done = f"a little deaf, within the limit: to be sure, {_CONFIRM}" if surely else _DONE[seen.band]
        return IN_LINE, f"{span}; nothing else speaks against it", done
    return IN_LINE, f"{span}; suspected, too weakly to count: {suspected.text}", f"to be sure: {suspected.next_test}"


def dead_beyond(findings: Sequence[Finding], *, silent: bool = False) -> Finding | None:
    """The finding that the band is dead beyond a frequency, where that is sure enough and nothing explains the sweep better.

    Where the sweep is `silent` as a good set's is not, the whole band is.
    """
    dead = next((finding for finding in findings if finding.fault == "dead-beyond"), None)
    if dead is None or silent or over_nothing(dead) < DEAD:
        return dead if silent else None
    # stations beside another raster are lost wherever they stand
    rivals = [over_nothing(one) for one in findings if one.fault in EXPLANATIONS or one.fault == "raster"]
    return dead if over_nothing(dead) >= max(rivals) else None


def over_nothing(finding: Finding) -> float:
    """log10 of the odds against "nothing wrong", rivals aside: whether there is a fault, not which."""
    return finding.weight if finding.against_nothing is None else finding.against_nothing


def span_words(against: Interval, limits_db: Sequence[float] = ()) -> str:
    """`between 2 dB better and 7 dB deafer than the reference`, as the interval allows, in whole dB.

    Args:
        against: deafer than the reference by so much [dB].
        limits_db: on which no bound may seem to lie that does not: there it is told to a tenth [dB].
    """
    low, high = (None if value is None else _rounded(value, limits_db) for value in (against.low, against.high))
    if low is None and high is None:
        return "the sweep bounds the threshold on neither side"
    if low is None:
        edge = "no" if not high else "at most" if high > 0 else "at least"
        return f"{edge} {_side(high, 'deafer')} the reference"
    if high is None:
        edge = "no" if not low else "at least" if low > 0 else "at most"
        open_end = "" if low > 0 else ", and how much deafer is not bounded"
        return f"{edge} {_side(low, 'better')} the reference{open_end}"
    if low > 0 or high < 0:
        near, far = sorted((abs(low), abs(high)))
        return f"{near:g} to {far:g} dB {'deafer' if low > 0 else 'better'} than the reference"
    return f"between {_side(low).removesuffix(' than')} and {_side(high)} the reference"


def _rounded(value: float, limits_db: Sequence[float]) -> float:
    whole = round(value)
    if whole not in limits_db or value == whole:
        return whole
    return (math.floor(10.0 * value) if value < whole else math.ceil(10.0 * value)) / 10.0


def _side(value: float | None, even: str = "") -> str:
    """`7 dB deafer than`, or what stands for nought."""
    if not value:
        return f"{even} than" if even else "level with"
    return f"{abs(value):g} dB {'deafer' if value > 0 else 'better'} than"


_DONE = {
    "fm": "nothing more on this bench",
    # the trimmer belongs to AM: it is peaked on the antenna that it will work with (trade practice)
    "am": "nothing more on this bench; re-peak the antenna trimmer in the car",
}
ONE_A_STOP = "sweep with a count sheet, one row a stop: a total proves little either way"
_RECORD = "record its sheet: bandscan check SHEET --known-good"
_KNOWN_GOOD = f"sweep a known-good radio on this bench and {_RECORD}"
_MAKE_LEVELS = "survey the band with a receiver, so that the list has levels"
_CONFIRM = "confirm with a signal generator through the dummy antenna"


def _next(finding: Finding | None, otherwise: str) -> str:
    return finding.next_test if finding is not None else otherwise


def _what_would_tell(seen: Evidence, limits: Limits) -> str:
    """The one thing that narrows the interval most."""
    if seen.silence is not None and seen.pad_db > 0.0:
        return WITHOUT_PAD
    if seen.reference.basis in ("assumed", "none"):
        return _measure(seen)
    if seen.bare_total:
        return ONE_A_STOP
    plan = seen.plan
    if plan is not None and seen.pad_db < plan.best.pad_db and plan.best.fail > plan.now.fail + 0.1:
        chance = f"{100.0 * plan.best.fail:.0f} of 100"
        through = f"sweep again through a {plan.best.pad_db:g} dB attenuator"
        return f"{through}: that tells {chance} sets that are {limits.fail_db:g} dB deaf"
    if _reference_doubts(seen):
        sets = "one set" if seen.reference.sets == 1 else f"{seen.reference.sets} sets"
        return f"sweep another known-good radio, since the reference rests on {sets}, and {_RECORD}"
    if seen.graded and seen.readings:
        return "sweep once more, in the other direction: two sweeps tell more than one"
    grades = "" if seen.graded else ", with grades 3, 2 and 1"
    return f"sweep again{grades}{'' if seen.readings else ', and read the dial at every stop'}"


def _measure(seen: Evidence) -> str:
    """Where there is no measure: a known-good set's sweep, which this one may be itself."""
    return "sweep it once more on another day: two sweeps are a surer measure" if seen.known_good else _KNOWN_GOOD


def _reference_doubts(seen: Evidence) -> bool:
    """Whether most of the doubt is the reference's own."""
    against, sd_db = seen.against_db, seen.reference.sd_db
    if against is None or against.low is None or against.high is None or sd_db is None:
        return False
    return sd_db**2 > 0.5 * ((against.high - against.low) / (2.0 * 1.644854)) ** 2
