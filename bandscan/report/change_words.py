"""What changed between two sweeps of one radio, in words: no change is claimed that the sweeps do not bear."""

from __future__ import annotations

from bandscan.model import BandChange, BeforeAfter, Interval
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
_BY_EAR = {
    "better": "more sensitive by {1}'s ear than by {0}'s",
    "worse": "less sensitive by {1}'s ear than by {0}'s",
    "gained": "stations heard by {1} that {0} missed, sensitivity not told apart",
    "lost": "stations heard by {0} that {1} missed, sensitivity not told apart",
    "same": "no difference told",
}
BEFORE_AFTER = ("before", "after")
UNEVEN = 0.05  # a split of gained and lost that luck makes more seldom is a change, as 95 % are sure for the decibels


def sides(change: BeforeAfter) -> tuple[str, str]:
    """What the two sweeps are called: before and after, or where two people listened their names."""
    first, second = name(change.before.by), name(change.after.by)
    return (first, second) if first and second and first.casefold() != second.casefold() else BEFORE_AFTER


def by_sides(two: tuple[str, str]) -> tuple[str, str]:
    """Before and after, or by whom it was heard."""
    return two if two == BEFORE_AFTER else (f"by {two[0]}", f"by {two[1]}")


def of_order(two: tuple[str, str]) -> tuple[str, str]:
    """Before and after, or which sweep came first: short, for what the listener has no part in."""
    return two if two == BEFORE_AFTER else ("first", "second")


def title(change: BandChange, two: tuple[str, str] = BEFORE_AFTER) -> tuple[str, str]:
    """An outcome's name and kind of box; of two listeners it is not said that the radio has changed."""
    found = outcome(change)
    words, box = OUTCOMES[found]
    return (_BY_EAR.get(found, words).format(*two) if two != BEFORE_AFTER else words), box


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


def difference(change: BandChange, two: tuple[str, str] = BEFORE_AFTER) -> str:
    """After against before in dB with its interval or bound, or why there is no such figure."""
    found, what = change.difference_db, outcome(change)
    if found is None or what == "unknown":
        return f"no figure: {plain(change.no_difference) or 'the evidence bounds neither side'}"
    now, then = ("now", "before") if two == BEFORE_AFTER else (f"by {two[1]}'s ear", f"by {two[0]}'s")
    if found.low is not None and found.high is not None:
        span = _span(found.low, found.high)
        if found.value is None:
            return f"{span} sensitive {now} than {then} (95 %)"
        if abs(found.value) < 0.5:
            return f"as sensitive {now} as {then} (95 %: {span})"
        side = "less" if found.value > 0 else "more"
        return f"{abs(found.value):.0f} dB {side} sensitive {now} than {then} (95 %: {span})"
    bound = found.high if found.high is not None else found.low or 0.0
    side = "less" if bound > 0 else "more"
    least = "at least" if what in ("better", "worse") else "at most"
    told = f"{least} {number(abs(bound), 0)} dB {side} sensitive {now} than {then} (95 %)"
    return told if least == "at least" else f"{told}; the other side is open"


def _span(low_db: float, high_db: float) -> str:
    """The interval's ends, the more sensitive one first."""
    if low_db < 0 < high_db:
        return f"{number(-low_db, 0)} dB more to {number(high_db, 0)} dB less"
    ends = sorted((abs(low_db), abs(high_db)))
    return f"{number(ends[0], 0)} to {number(ends[1], 0)} dB {'less' if high_db > 0 else 'more'}"


def stations(change: BandChange, two: tuple[str, str] = BEFORE_AFTER) -> str:
    """How many stations were gained and lost, and how often luck alone does that."""
    then, now = by_sides(two)
    if change.p_value is None and change.pad_before_db == change.pad_after_db:
        return "not compared, for the same reason"
    if change.p_value is None:
        pads = " and ".join(
            f"{pad_db:g} dB {when}" if pad_db else f"none {when}"
            for pad_db, when in ((change.pad_before_db, then), (change.pad_after_db, now))
        )
        return f"not compared, as another attenuator was in line, {pads}: sweep both times through the same"
    if not change.both:
        return "no station that both sweeps tell of"
    words = f"of {counted(change.both, 'station')} that both sweeps tell of, {len(change.gained)} were heard only {now}, "
    words += f"{len(change.lost)} only {then}"
    if not change.gained and not change.lost:
        return words
    chance = f"{change.p_value:.2f}" if change.p_value >= 0.01 else "under 0.01"
    return f"{words}; if neither sweep were better, so uneven a split or more: probability {chance} (exact McNemar, two-sided)"


def _both(two: tuple[str, str], first: object, second: object) -> str:
    """What is told of each of the two sweeps."""
    return f"{two[0]}: {first}; {two[1]}: {second}"


def over_reference(found: Interval | None) -> str:
    """A sweep's threshold over its own day's reference, with its interval; negative is keener than the reference."""
    if found is None or (found.low is None and found.high is None):
        return "not known"
    if found.low is not None and found.high is not None and found.value is not None:
        return f"{number(found.value, 0)} dB (95 %: {number(found.low, 0)} to {number(found.high, 0)})"
    if found.low is None:
        return f"at most {number(found.high, 0)} dB (95 %)"
    return f"at least {number(found.low, 0)} dB (95 %)"


def facts(change: BandChange, two: tuple[str, str] = BEFORE_AFTER) -> list[tuple[str, str]]:
    """What is told of a band beside the difference."""
    counts = (
        f"{change.counted_before}{through(change.pad_before_db)}",
        f"{change.counted_after}{through(change.pad_after_db)}",
    )
    over = _both(two, over_reference(change.before_db), over_reference(change.after_db))
    rows = [
        ("verdict", _both(two, name(change.verdict_before), name(change.verdict_after))),
        ("counted", _both(two, *counts)),
        ("stations", stations(change, two)),
        ("threshold", f"over its own day's reference, {over}"),
    ]
    if two != BEFORE_AFTER:
        ears = f"{two[0]} and {two[1]} swept one radio: this is the difference between two listeners"
        rows.insert(0, ("listeners", f"{ears}, and of the radio only if it was worked on in between"))
    if any(change.dead_end):
        rows.append(("dead end", _both(two, *(plain(words) or "none" for words in change.dead_end))))
    if change.level_shift_db is not None:
        shift = f"{number(change.level_shift_db)} {name(change.unit) or 'dB'}".replace("dBFS", "dB").replace("dBuV", "dB")
        rows.append(
            ("air", f"the stations' levels moved by {shift} from list to list (median); that is no change of the radio")
        )
    return rows
