"""What changed between two sweeps of one radio, in words: no change is claimed that the sweeps do not bear."""

from __future__ import annotations

from bandscan.model import BandChange, Interval
from bandscan.report.words import counted, name, number, plain, through

OUTCOMES = {
    "better": ("more sensitive now", "in-line"),
    "worse": ("less sensitive now", "falls-short"),
    "gained": ("stations gained, sensitivity not told apart", "look-closer"),
    "lost": ("stations lost, sensitivity not told apart", "look-closer"),
    "same": ("no change told", "look-closer"),
    "unknown": ("cannot be compared", "cannot-tell"),
}
"""Outcome: its name, and the kind of box that it is shown in."""
UNEVEN = 0.05  # a split of gained and lost that luck makes more seldom is a change, as 95 % are sure for the decibels


def outcome(change: BandChange) -> str:
    """A key of `OUTCOMES`: a change is told where the 95 % interval leaves nothing else, else where the stations tell one."""
    found = change.difference_db
    if found is None or (found.low is None and found.high is None):
        return "unknown"
    if found.high is not None and found.high < 0:
        return "better"
    if found.low is not None and found.low > 0:
        return "worse"
    before, after = change.dead_end
    if bool(before) != bool(after):
        return "lost" if after else "gained"
    if change.p_value is not None and change.p_value < UNEVEN:
        return "gained" if len(change.gained) > len(change.lost) else "lost"
    return "same"


def difference(change: BandChange) -> str:
    """After against before in dB with its interval or bound, or why there is no such figure."""
    found, what = change.difference_db, outcome(change)
    if found is None or what == "unknown":
        return f"no figure: {plain(change.no_difference) or 'the evidence bounds neither side'}"
    if found.low is not None and found.high is not None:
        span = _span(found.low, found.high)
        if found.value is None:
            return f"{span} sensitive now than before (95 %)"
        return f"{_sensitive(found.value)} before (95 %: {span})"
    bound = found.high if found.high is not None else found.low or 0.0
    side = "less" if bound > 0 else "more"
    least = "at least" if what in ("better", "worse") else "at most"
    told = f"{least} {number(abs(bound), 0)} dB {side} sensitive now than before (95 %)"
    return told if least == "at least" else f"{told}; the other side is open"


def _sensitive(difference_db: float) -> str:
    if abs(difference_db) < 0.5:
        return "as sensitive now as"
    return f"{abs(difference_db):.0f} dB {'less' if difference_db > 0 else 'more'} sensitive now than"


def _span(low_db: float, high_db: float) -> str:
    """The interval's ends, the more sensitive one first."""
    if low_db < 0 < high_db:
        return f"{number(-low_db, 0)} dB more to {number(high_db, 0)} dB less"
    ends = sorted((abs(low_db), abs(high_db)))
    return f"{number(ends[0], 0)} to {number(ends[1], 0)} dB {'less' if high_db > 0 else 'more'}"


def stations(change: BandChange) -> str:
    """How many stations were gained and lost, and how often luck alone does that."""
    if change.p_value is None and change.pad_before_db == change.pad_after_db:
        return "not compared, for the same reason"
    if change.p_value is None:
        pads = " and ".join(
            f"{pad_db:g} dB {when}" if pad_db else f"none {when}"
            for pad_db, when in ((change.pad_before_db, "before"), (change.pad_after_db, "after"))
        )
        return f"not compared, as another attenuator was in line, {pads}: sweep both times through the same"
    if not change.both:
        return "no station that both sweeps tell of"
    words = f"of {counted(change.both, 'station')} that both sweeps tell of, {len(change.gained)} were heard only after, "
    words += f"{len(change.lost)} only before"
    if not change.gained and not change.lost:
        return words
    chance = f"{change.p_value:.2f}" if change.p_value >= 0.01 else "under 0.01"
    return f"{words}; if neither sweep were better, so uneven a split or more: probability {chance} (exact McNemar, two-sided)"


def _counts(change: BandChange) -> str:
    before = f"before: {change.counted_before}{through(change.pad_before_db)}"
    return f"{before}; after: {change.counted_after}{through(change.pad_after_db)}"


def over_reference(found: Interval | None) -> str:
    """A sweep's threshold over its own day's reference, with its interval; negative is keener than the reference."""
    if found is None or (found.low is None and found.high is None):
        return "not known"
    if found.low is not None and found.high is not None and found.value is not None:
        return f"{number(found.value, 0)} dB (95 %: {number(found.low, 0)} to {number(found.high, 0)})"
    if found.low is None:
        return f"at most {number(found.high, 0)} dB (95 %)"
    return f"at least {number(found.low, 0)} dB (95 %)"


def facts(change: BandChange) -> list[tuple[str, str]]:
    """What is told of a band beside the difference."""
    rows = [
        ("verdict", f"before: {name(change.verdict_before)}; after: {name(change.verdict_after)}"),
        ("counted", _counts(change)),
        ("stations", stations(change)),
        (
            "threshold",
            f"over its own day's reference, before: {over_reference(change.before_db)}; "
            f"after: {over_reference(change.after_db)}",
        ),
    ]
    if any(change.dead_end):
        before, after = (plain(words) or "none" for words in change.dead_end)
        rows.append(("dead end", f"before: {before}; after: {after}"))
    if change.level_shift_db is not None:
        shift = f"{number(change.level_shift_db)} {name(change.unit) or 'dB'}".replace("dBFS", "dB").replace("dBuV", "dB")
        rows.append(
            ("air", f"the stations' levels moved by {shift} from list to list (median); that is no change of the radio")
        )
    return rows
