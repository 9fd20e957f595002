"""The page of two sweeps of one radio: what changed, by how much, and which stations were gained and lost along the dial."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from bandscan._version import __version__
from bandscan.model import BandChange, BeforeAfter, Interval, StationTwice, SweepOf
from bandscan.report import change_words, ink, page
from bandscan.report.dial import Dial, dial_for
from bandscan.report.grid import Grid, Head, filled
from bandscan.report.words import BAND_NAMES, channels, counted, hover, instant, name, number, plain, unit_words
from bandscan.units import channel_text, channel_text_unit

_KINDS = ("gained", "lost", "both", "neither", "unsaid")


def change_page(change: BeforeAfter, *, region: str = "us", library: str = "") -> str:
    """The page of two sweeps, HTML.

    Parameters:
        change: what `radio.compare` found.
        region: of the dial that it is drawn on.
        library: address, from the page, of a file that holds `plot_library()`; empty puts the library into the page.
    """
    two = change_words.sides(change)
    listeners = two != change_words.BEFORE_AFTER
    form = "Two listeners" if listeners else "Before and after"
    first, second = change_words.of_order(two)
    return page.render(
        "change.html",
        plots=True,
        library=library,
        form=form,
        tab=f"Job {name(change.job)}: {form.lower()}",
        heading=f"Job {name(change.job) or 'unnamed'}",
        forged=change.forged,
        slip=[
            ("shop", name(change.shop)),
            ("radio", name(change.radio)),
            (first, _sweep(change.before)),
            (second, _sweep(change.after)),
        ],
        term="difference" if listeners else "change",
        bands=[_band(one, dial_for(region, band), two) for band, one in change.bands.items()],
        cautions=[plain(caution) for caution in change.cautions],
        version=__version__,
    )


def _sweep(sweep: SweepOf) -> str:
    when = name(sweep.swept) or f"judged {instant(sweep.made_utc)}"
    return f"{when}, by {name(sweep.by)}" if name(sweep.by) else when


def _band(change: BandChange, dial: Dial, two: tuple[str, str]) -> dict[str, Any]:
    title, slug = change_words.title(change, two)
    plots = (_strip(change, dial, two), _thresholds(change, two))
    return {
        "code": change.band,
        "name": BAND_NAMES[change.band],
        "title": title,
        "slug": slug,
        "difference": change_words.difference(change, two),
        "facts": change_words.facts(change, two),
        "plots": [plot for plot in plots if plot is not None],
        "stations": stations_grid(change, two),
    }


def kind_of(station: StationTwice) -> str:
    """What the two sweeps say of a station: gained, lost, both, neither or unsaid."""
    if not station.told:
        return "unsaid"
    if station.heard_after:
        return "both" if station.heard_before else "gained"
    return "lost" if station.heard_before else "neither"


def _words(kind: str, two: tuple[str, str]) -> str:
    """What the kind of a station is called."""
    then, now = change_words.by_sides(two)
    return {"gained": f"heard {now} only", "lost": f"heard {then} only"}.get(kind, ink.CHANGED[kind].words)


def stations_grid(change: BandChange, two: tuple[str, str] = change_words.BEFORE_AFTER) -> Grid:
    """Every station of both lists: its level in each, and what was heard of it."""
    said = {True: "heard", False: "missed", None: "cannot say"}
    then, now = change_words.by_sides(two)
    words = ("gained", "lost") if two == change_words.BEFORE_AFTER else (f"only {now}", f"only {then}")
    changed = {**dict.fromkeys(change.gained, words[0]), **dict.fromkeys(change.lost, words[1])}
    first, second = change_words.of_order(two)
    heads = (
        Head("channel", "MHz" if change.band == "fm" else "kHz", figures=True),
        Head(f"level {first}", unit_words(change.unit), figures=True),
        Head(f"level {second}", unit_words(change.unit), figures=True),
        Head(two[0]),
        Head(two[1]),
        Head("change"),
        Head("name"),
    )
    rows = tuple(
        (
            channel_text(change.band, one.channel_hz),
            number(one.level_before_db),
            number(one.level_after_db),
            said[one.heard_before],
            said[one.heard_after],
            "off the air" if one.off_air else changed.get(one.channel_hz, ""),
            name(one.name),
        )
        for one in change.stations
    )
    return filled(Grid(f"{BAND_NAMES[change.band]}: the {counted(len(rows), 'station')} of both lists", heads, rows))


def _strip(change: BandChange, dial: Dial, two: tuple[str, str]) -> ink.Plot | None:
    if not change.stations or change.p_value is None:  # across attenuators, rigs or hours nothing is gained or lost
        return None
    here = {kind_of(one) for one in change.stations}
    gained, lost = (f"{channels(change.band, some)}" for some in (change.gained, change.lost))
    then, now = change_words.by_sides(two)
    what = "gained and lost" if two == change_words.BEFORE_AFTER else "heard by one only"
    return ink.Plot(
        title=f"{BAND_NAMES[change.band]} by the dial ({dial.scale}): {what}.",
        summary=f"Heard {now} only: {gained}. Heard {then} only: {lost}.",
        figures=ink.folded(dial, lambda stretch, form: _strip_figure(change, stretch, form, two)),
        key=tuple(replace(ink.CHANGED[kind], words=_words(kind, two)) for kind in _KINDS if kind in here),
        notes=("height: the level in the later list",) if _levels(change) else (),
    )


def _levels(change: BandChange) -> list[float]:
    return [level for one in change.stations if (level := _level(one)) is not None]


def _level(station: StationTwice) -> float | None:
    return station.level_before_db if station.level_after_db is None else station.level_after_db


def _strip_figure(change: BandChange, dial: Dial, form: ink.Form, two: tuple[str, str]) -> ink.Figure:
    levels = _levels(change)
    foot, top = (min(levels) - 6, max(levels)) if levels else (0.0, 1.0)
    ceiling = top + (top - foot) * (0.2 if form is ink.WIDE else 0.28)  # room for the labels of the highest heads
    height, above, below = (320 if form is ink.WIDE else 250), 46, 10
    layout = ink.sheet(height, left=form.left_px, top=above, bottom=below)
    layout["xaxis"] = ink.numerals(dial, form)
    layout["yaxis"] = ink.rule(
        unit_words(change.unit) if levels else "no levels", foot, ceiling, **({} if levels else ink.BARE)
    )
    no_level = foot + 2 if levels else 1.0
    stemmed = [
        (one, no_level if (level := _level(one)) is None else level) for one in change.stations if dial.holds(one.channel_hz)
    ]
    data = []
    for kind in _KINDS:
        some = [(one, high) for one, high in stemmed if kind_of(one) == kind]
        if some:
            points = ink.heads(
                ink.CHANGED[kind],
                [dial.at(one.channel_hz) for one, _ in some],
                [high for _, high in some],
                [_hover(one, change, two) for one, _ in some],
                11 if kind in ("gained", "lost") else 8,
            )
            data.append(ink.stems(points, foot, 2.4 if kind in ("gained", "lost") else 0.9))
    layout["annotations"] += _labels(stemmed, dial, form, foot, (height - above - below) / (ceiling - foot))
    return {"data": data, "layout": layout}


def _labels(
    stemmed: Sequence[tuple[StationTwice, float]], dial: Dial, form: ink.Form, foot: float, px_per_db: float
) -> list[ink.Figure]:
    points = [(dial.at(one.channel_hz) * form.dial_px, (high - foot) * px_per_db) for one, high in stemmed]
    free = ink.free_labels(points, wanted=[kind_of(one) in ("gained", "lost") for one, _ in stemmed])
    return [
        ink.upright(dial.at(one.channel_hz), high, channel_text(dial.band, one.channel_hz), form.label_px)
        for one, high in (stemmed[index] for index in free)
    ]


def _hover(station: StationTwice, change: BandChange, two: tuple[str, str]) -> str:
    level = _level(station)
    return hover(
        channel_text_unit(change.band, station.channel_hz),
        _words(kind_of(station), two),
        f"{number(level)} {unit_words(change.unit)}" if level is not None else "",
        "off the air on one of the days" if station.off_air else "",
        name(station.name),
    )


def _thresholds(change: BandChange, two: tuple[str, str]) -> ink.Plot | None:
    """Both thresholds over their own day's reference, and the difference, with their 95 % intervals."""
    first, second = change_words.of_order(two)
    rows = [(first, change.before_db), (second, change.after_db), (f"{second} less {first}", change.difference_db)]
    some = [(words, found) for words, found in rows if found is not None and not (found.low is None and found.high is None)]
    if not some:
        return None
    ends = [end for _, found in some for end in (found.value, found.low, found.high) if end is not None] + [0.0]
    room = max(0.15 * (max(ends) - min(ends)), 2.0)
    low, high = min(ends) - room, max(ends) + room
    layout = ink.sheet(50 + 44 * len(some) + 20, left=130, bottom=48)
    layout["xaxis"] = ink.rule("dB; to the right: deafer", low, high)
    places = [float(len(some) - row) for row in range(len(some))]
    layout["yaxis"] = ink.rule("", 0.4, len(some) + 0.6, tickvals=places, ticktext=[words for words, _ in some], showgrid=False)
    layout["shapes"].append(
        {
            "type": "line",
            "x0": 0,
            "x1": 0,
            "yref": "paper",
            "y0": 0,
            "y1": 1,
            "line": {"color": ink.INK, "width": 1, "dash": "dot"},
        }
    )
    data = [_bar(found, place, words, (low, high)) for (words, found), place in zip(some, places, strict=True)]
    return ink.Plot(
        title=f"{BAND_NAMES[change.band]}: threshold over its own day's reference.",
        summary="; ".join(f"{words}: {change_words.over_reference(found)}" for words, found in some) + ".",
        figures=((None, {"data": data, "layout": layout}),),
        notes=("dotted: as the reference, or no change", "a bar that runs to the edge is open on that side"),
    )


def _bar(found: Interval, place: float, words: str, span: tuple[float, float]) -> ink.Figure:
    """An estimate with its interval; a side without a bound runs to the plot's edge, and no estimate has no head."""
    low = span[0] if found.low is None else found.low
    high = span[1] if found.high is None else found.high
    middle = (low + high) / 2 if found.value is None else found.value
    points = ink.heads(ink.HEARD[True], [middle], [place], [hover(words, change_words.over_reference(found))], 10)
    points["marker"]["opacity"] = 0 if found.value is None else 1
    error = {"type": "data", "symmetric": False, "array": [high - middle], "arrayminus": [middle - low]}
    return {**points, "error_x": {**error, "thickness": 2, "width": 7, "color": ink.INK}}
