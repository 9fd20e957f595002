"""What a check says, in words for the owner of the radio: no decibels, no workshop terms, no claim beyond the evidence."""

from __future__ import annotations

from bandscan.model import UNLISTED, BandCheck, DialPoint, Reference
from bandscan.report.words import COUNTS, by_fits, counted, number, only_counted, over_nothing, speaking
from bandscan.units import channel_text

VERDICTS = {
    "in line": ("as it should be", "nothing in this test counts against the radio"),
    "look closer": ("not settled yet", "something has to be looked at again before more can be said"),
    "falls short": ("falls short", "the test found a shortfall that should not be there"),
    "cannot tell": ("cannot be told", "the test says neither that the radio is good nor that it is bad"),
}
"""Verdict: its name for the owner, and what it means."""

NOTICED = {
    "deaf": "weak stations are missing all along the dial, more than should be",
    "weak-high-end": "stations towards the high end of the dial come in weaker than they should",
    "weak-low-end": "stations towards the low end of the dial come in weaker than they should",
    "dead-beyond": "a part of the dial gives no station",
    "pointer-shift": "the dial reads wrong by about the same all along",
    "pointer-stretch": "the dial reads wrong by more and more along its length",
    "image": "some stations seem to appear a second time at a wrong place of the dial",
    "overload-repeats": "strong stations seem to appear again at other places of the dial",
    "neighbours-lost": "weak stations beside strong ones are missing",
    "one-side-lost": "weak stations on one side of strong ones are missing",
    "strongest-missing": "of the strongest stations some are missing",
    "lamp-never": "the stereo lamp did not light where it should",
    "lamp-always": "the stereo lamp also lights where there is no stereo",
    "lamp-late": "the stereo lamp lights on very strong stations only",
    "raster": "the tuning cannot stop at every station of this region",
    "comb": "whistles stand at even distances along the dial",
    "fixed-whistle": "a whistle stays at one place of the dial",
    "sideband-ticked": "some stops may be the hiss beside a strong station, counted as a station",
    "repeated-programme": "some programmes were met more than once",
    "reference-deaf": "more was heard than our list of stations has: the list may be at fault, not the radio",
    "night-list": "the sweep and our list of stations may not be of the same time of day",
    "other-antenna": "the sweep may have been made with another antenna than our list, or with a loose lead",
}
"""Fault word of the contract: what was noticed. A suspicion is told as what was noticed, not as a fault."""


def nothing_heard(check: BandCheck) -> bool:
    """Whether not one stop was noted, of whatever sound."""
    return not check.counted and not check.extras and not any(station.grade for station in check.stations)


def verdict(check: BandCheck) -> tuple[str, str]:
    """The verdict's name for the owner and what it means."""
    title, meaning = VERDICTS.get(check.verdict, VERDICTS["cannot tell"])
    against = check.against_reference_db
    if check.verdict == "in line" and only_counted(check):
        meaning = f"by their number alone, as many stations came in as with {_reference(check.reference)}"
    elif check.verdict == "in line":
        meaning = f"it receives here about as well as {_reference(check.reference)}, and {meaning}"
    elif check.verdict == "falls short" and nothing_heard(check):
        meaning = "not one station came in, where a good radio is expected to hear some"
    elif check.verdict == "falls short" and against is not None and against.low is not None and against.low > 0:
        meaning = f"to be followed here, stations have to be stronger than for {_reference(check.reference)}"
    elif title == VERDICTS["cannot tell"][0] and check.reference.basis == "none":
        meaning = f"this bench has no measure of a good radio yet, so {meaning}"
    return title, f"{meaning[0].upper()}{meaning[1:]}."


def _reference(found: Reference) -> str:
    if found.basis == "known-good":
        return (
            "radios of its kind that are known to be good" if found.sets > 1 else "a radio of its kind that is known to be good"
        )
    if found.basis == "other family":
        return "good radios of another kind"
    if found.basis == "calibrated":
        return "a good radio by published figures"
    return "we assume of a good radio, though none was measured here"


def heard(check: BandCheck) -> str:
    """How many stations were heard, and how many a good radio is expected to hear on this bench, of those on the list."""
    here, counts = "here", f"{check.counted} heard"
    if check.pad_db:  # how many decibels is the workshop's
        here, counts = "through it", f"{check.counted} heard through an attenuator, which weakens every station on purpose,"
    if check.expected is None:
        return f"{counts.rstrip(',')}; how many a good radio hears {here} is not known"
    guess = ", an assumption" if check.reference.basis == "assumed" else ""
    span = f"{check.expected.low} to {check.expected.high}, 19 times in 20{guess}"
    return f"{counts} of about {check.expected.mid:.0f} that a good radio is expected to hear {here} ({span}){_beside(check)}"


def _beside(check: BandCheck) -> str:
    """How many of those heard are not on the list: at most so many, since some may be of another sweep, or a trace."""
    beside = sum(extra.explained_by == UNLISTED and extra.channel_hz is not None for extra in check.extras)
    some = min(beside, check.counted)
    return f"; of those heard up to {some} {'is' if some == 1 else 'are'} not on our list" if some else ""


def lamp(check: BandCheck) -> str:
    """What the stereo lamp did; empty where nobody noted it."""
    if check.lamp_lit is None or check.lamp_expected is None:
        return ""
    if check.lamp_expected == 0:
        return "not judged: no stereo station was heard with the lamp noted"
    stations = counted(check.lamp_expected, "stereo station")
    return f"lit on {check.lamp_lit}{by_fits(check)} of {stations} heard (it needs stronger ones than the ear)"


def dial(check: BandCheck) -> list[str]:
    """How the dial reads at the places where the trade adjusts it, with the 95 % interval."""
    return [_point(point, check.band) for point in sorted(check.dial_points, key=lambda point: point.at_hz)]


def _point(point: DialPoint, band: str) -> str:
    unit_hz, unit, decimals = (1e6, "MHz", 1) if band == "fm" else (1e3, "kHz", 0)
    error = number(abs(point.error_hz) / unit_hz, decimals)
    low, high = (_signed(one / unit_hz, decimals) for one in (point.low, point.high))
    side = "too high" if point.error_hz > 0 else "too low"
    seen = float(error) and not point.low <= 0.0 <= point.high
    told = f"{error} {unit} {side}" if seen else "right, as far as can be told"
    return f"at {channel_text(band, point.at_hz)} {unit}: {told} ({low} to {high})"


def _signed(value: float, decimals: int) -> str:
    text = number(value, decimals)
    return text if text.startswith("-") or not float(text) else f"+{text}"


def noticed(check: BandCheck) -> list[str]:
    """What was noticed of reception, dial and lamp: of each the weightiest finding that counts, where the test can tell at all.

    Findings of one kind are rival explanations of the same sweep: the owner is told one, the workshop all.
    """
    if check.verdict == "cannot tell":
        return []
    if nothing_heard(check):
        return ["the whole band gives no station"]
    first: dict[str, str] = {}
    for finding in speaking(check):
        kind = finding.fault.partition("-")[0]
        if over_nothing(finding) >= COUNTS:
            first.setdefault(kind if kind in ("lamp", "pointer") else "reception", finding.fault)
    return [NOTICED.get(fault, "something that a further test has to show") for fault in first.values()]
