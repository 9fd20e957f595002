"""The dial strip: what was expected above, what was heard below, in dial order, and where each finding shows."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from bandscan.model import BandCheck, Extra, Finding, StationHeard
from bandscan.report import ink
from bandscan.report.dial import Dial
from bandscan.report.words import (
    BAND_NAMES,
    am_through_pad,
    answer,
    chance,
    channels,
    counted,
    hover,
    letter_of,
    name,
    number,
    partly,
    speaking,
    through,
    unit_words,
)
from bandscan.units import channel_text, channel_text_unit

FINDINGS_SHOWN = 4  # more rows than this under a strip, and none of them is looked at
_DEPTH = {"3": 3.0, "2": 2.0, "1": 1.0}  # of a heard station's stem, by its grade
_OTHER_DEPTH = 1.5  # two at once, a whistle, a repeat, or no grade noted
_MARGIN_PX, _ROW_PX = 46, 20


def strip_plot(check: BandCheck, dial: Dial) -> ink.Plot:
    """The strip of one band."""
    findings = speaking(check)[:FINDINGS_SHOWN]
    key = [ink.HEARD[heard] for heard in (True, False, None) if any(one.heard is heard for one in check.stations)]
    key += [ink.EXTRA] if check.extras else []
    key += [ink.EVIDENCE] if any(finding.evidence for finding in findings) else []
    if _has_levels(check):
        key += [ink.RADIO_LINE] if check.threshold_db.value is not None else []
        key += [ink.REFERENCE_LINE] if reference_db(check) is not None else []
    notes = ["depth below: the grade heard"]
    if reference_db(check) is not None:
        notes.append("thick stem: above the reference's threshold")
    if check.threshold_db.low is not None and check.threshold_db.high is not None:
        notes.append("grey: its 95 % interval")
    notes += level_notes(check)
    return ink.Plot(
        title=f"{BAND_NAMES[check.band]} by the dial ({dial.scale}): expected above, heard below.",
        summary=_summary(check),
        figures=ink.folded(dial, lambda stretch, form: _figure(check, findings, stretch, form)),
        key=tuple(key),
        notes=tuple(notes),
    )


def telling_misses(check: BandCheck) -> list[StationHeard]:
    """Stations not followed, the strongest first; where a reference is known, those that it should have followed."""
    missed = [station for station in check.stations if station.heard is False and _followed_by_reference(station, check)]
    return sorted(missed, key=lambda station: -math.inf if station.level_db is None else -station.level_db)


def telling_lines(check: BandCheck) -> list[str]:
    """`telling_misses` in words with their channels: missed ones, then those of which a part came in."""
    said: dict[str, list[int]] = {}
    for station in sorted(telling_misses(check), key=lambda one: (partly(one), one.channel_hz)):
        said.setdefault(answer(station), []).append(station.channel_hz)
    return [f"{telling_words(check, what)}: {channels(check.band, some)}" for what, some in said.items()]


def telling_words(check: BandCheck, what: str = "missed") -> str:
    """What `telling_misses` lists, in words; `what` became of them."""
    missed = f"{what}{through(check.pad_db)}"
    if reference_db(check) is None:
        return missed
    return f"{missed} though above the reference's threshold{' behind it' if check.pad_db else ''}"


def _followed_by_reference(station: StationHeard, check: BandCheck) -> bool:
    """Whether the reference follows the station rather than not; true where that is not known."""
    threshold_db, level_db = reference_db(check), plug_db(station, check)
    return threshold_db is None or level_db is None or level_db >= threshold_db


def plug_db(station: StationHeard, check: BandCheck) -> float | None:
    """The station's level behind the attenuator, where thresholds are told; None where the list has no level.

    On AM an attenuator takes nobody knows what: there the level is the list's, and no threshold is told.
    """
    lost_db = 0.0 if am_through_pad(check) else check.pad_db
    return None if station.level_db is None else station.level_db - lost_db


def level_notes(check: BandCheck) -> list[str]:
    """What is to be said of the levels that a plot draws."""
    if not check.pad_db or not _has_levels(check):
        return []
    return [f"levels: {'before' if am_through_pad(check) else 'behind'} the {check.pad_db:g} dB attenuator"]


def _has_levels(check: BandCheck) -> bool:
    return any(station.level_db is not None for station in check.stations)


def reference_db(check: BandCheck) -> float | None:
    """The reference threshold where it is in the unit of the levels drawn and levels can be held against it."""
    return check.reference.threshold_db if check.reference.unit == check.unit and not am_through_pad(check) else None


def _summary(check: BandCheck) -> str:
    if not check.stations:
        return "There is no reference list: nothing can be held against the dial."
    had = Counter(answer(one) for one in check.stations)
    words = f"Of {counted(len(check.stations), 'station')} on the list {had['heard']} heard, {had['missed']} missed"
    words += "".join(f", {had[what]} {what}" for what in sorted(had) if what.startswith("not followed"))
    words += through(check.pad_db)
    words += f", {had['cannot say']} cannot be said" if had["cannot say"] else ""
    words += f"; {counted(len(check.extras), 'tick')} that the list does not explain." if check.extras else "."
    return words + "".join(f" {line[0].upper()}{line[1:]}." for line in telling_lines(check))


def _figure(check: BandCheck, findings: Sequence[Finding], dial: Dial, form: ink.Form) -> ink.Figure:
    stations = [station for station in check.stations if dial.holds(station.channel_hz)]
    levels = [level for one in check.stations if (level := plug_db(one, check)) is not None]
    thresholds = [level for level in (check.threshold_db.value, reference_db(check)) if level is not None]
    foot, top = (min(levels + thresholds) - 6, max(levels + thresholds)) if levels else (0.0, 1.0)
    ceiling = top + (top - foot) * (0.2 if form is ink.WIDE else 0.28)  # room for the labels of the highest heads
    rows_px = _ROW_PX * len(findings)
    above_px, grades_px = (200, 84) if form is ink.WIDE else (170, 84)
    below_px = grades_px + rows_px
    layout = ink.sheet(_MARGIN_PX + above_px + below_px + 10, left=form.left_px, top=_MARGIN_PX, bottom=10)
    fold = below_px / (above_px + below_px)
    unit_px = grades_px / 3.6
    floor = -3.6 - rows_px / unit_px
    layout["xaxis"] = ink.numerals(dial, form) | {"anchor": "y"}
    layout["yaxis"] = ink.rule(f"expected, {unit_words(check.unit)}", foot, ceiling, domain=[fold, 1])
    if not levels:
        layout["yaxis"] = ink.rule("expected, no levels", foot, ceiling, domain=[fold, 1], **ink.BARE)
    layout["yaxis2"] = _grades(findings, floor, unit_px, form) | {"domain": [0, fold], "anchor": "x"}
    layout["shapes"] += [_line(0, 1, 0, "solid", 2, "y2"), *(_thresholds(check) if levels else [])]
    no_level = foot + 2 if levels else 1.0
    stemmed = [(station, no_level if (level := plug_db(station, check)) is None else level) for station in stations]
    data = _expected(stemmed, dial, foot, check)
    data += [trace for heard in (True, False) for trace in _heard(stations, dial, heard=heard)]
    extras = [(number, one) for number, one in enumerate(check.extras, 1) if one.channel_hz and dial.holds(one.channel_hz)]
    if extras:
        data.append(_extras(extras, dial, check.band) | {"yaxis": "y2"})
        layout["annotations"] += [_extra_number(order, extra, dial) for order, extra in extras]
    for row, finding in enumerate(findings):
        data.append(_evidence(finding, dial, check.band, floor + (rows_px - (row + 0.5) * _ROW_PX) / unit_px) | {"yaxis": "y2"})
    layout["annotations"] += _labels(stemmed, dial, (foot, above_px / (ceiling - foot)), form, check.band)
    return {"data": data, "layout": layout}


def _grades(findings: Sequence[Finding], floor: float, unit_px: float, form: ink.Form) -> ink.Figure:
    """The axis of what was heard: grades hang downwards, a row for each finding's evidence under them."""
    rows = [floor + (len(findings) - row - 0.5) * _ROW_PX / unit_px for row in range(len(findings))]
    letters = [f"<b>{letter_of(row)}</b>" for row in range(len(findings))]
    grades = ["1", "2", "3"] if form is ink.NARROW else ["1 trace", "2 words", "3 clean"]
    return ink.rule(
        "heard" if form is ink.NARROW else "",
        floor,
        0.0,
        tickmode="array",
        tickvals=[-1, -2, -3, *rows],
        ticktext=[*grades, *letters],
        showgrid=False,
    )


def _line(x0: float, x1: float, y: float, dash: str, width: float, axis: str) -> ink.Figure:
    place = {"xref": "paper", "x0": x0, "x1": x1, "yref": axis, "y0": y, "y1": y}
    return {"type": "line", **place, "line": {"color": ink.INK, "width": width, "dash": dash}}


def _thresholds(check: BandCheck) -> list[ink.Figure]:
    shapes: list[ink.Figure] = []
    found, good_db = check.threshold_db, reference_db(check)
    if found.low is not None and found.high is not None:
        band = {"xref": "paper", "x0": 0, "x1": 1, "yref": "y", "y0": found.low, "y1": found.high}
        shapes.append({"type": "rect", **band, "fillcolor": "#e3e3e3", "line": {"width": 0}, "layer": "below"})
    if found.value is not None:
        shapes.append(_line(0, 1, found.value, "solid", 1.6, "y"))
    if good_db is not None:
        shapes.append(_line(0, 1, good_db, "dash", 1.6, "y"))
    return shapes


def _expected(stemmed: Sequence[tuple[StationHeard, float]], dial: Dial, foot: float, check: BandCheck) -> list[ink.Figure]:
    """The stations on stems as high as their levels, thick where the reference follows the station."""
    data = []
    for heard, mark in ink.HEARD.items():
        for followed in (True, False):
            of_these = [(one, top) for one, top in stemmed if one.heard is heard]
            some = [(one, top) for one, top in of_these if _followed_by_reference(one, check) is followed]
            if some:
                places, hovers = [dial.at(one.channel_hz) for one, _ in some], [_hover(one, check) for one, _ in some]
                points = ink.heads(mark, places, [top for _, top in some], hovers)
                data.append(ink.stems(points, foot, 2.4 if followed else 0.9))
    return data


def _heard(stations: Sequence[StationHeard], dial: Dial, *, heard: bool) -> list[ink.Figure]:
    """What came in, hanging by its grade: of stations that were followed, or the parts of those that were not."""
    some = [station for station in stations if (station.heard if heard else partly(station))]
    if not some:
        return []
    places = [dial.at(station.channel_hz) for station in some]
    hovers = [
        hover(
            channel_text_unit(dial.band, station.channel_hz),
            f"{answer(station)}, grade {name(station.grade) or 'not noted'}",
            f"dial read {name(station.dial)}" if station.dial else "",
            f"lamp {name(station.lamp)}" if station.lamp else "",
        )
        for station in some
    ]
    points = ink.heads(ink.HEARD[heard], places, [-_DEPTH.get(station.grade, _OTHER_DEPTH) for station in some], hovers, 7)
    return [ink.stems(points, 0.0, 2.4) | {"yaxis": "y2"}]


def _extras(extras: Sequence[tuple[int, Extra]], dial: Dial, band: str) -> ink.Figure:
    hovers = [
        hover(f"extra {order}: near {channel_text_unit(band, one.channel_hz or 0)}", name(one.explained_by) or "unexplained")
        for order, one in extras
    ]
    return ink.heads(ink.EXTRA, [dial.at(one.channel_hz or 0) for _, one in extras], [-0.6] * len(extras), hovers, 10)


def _extra_number(order: int, extra: Extra, dial: Dial) -> ink.Figure:
    label = ink.upright(dial.at(extra.channel_hz or 0), -0.6, f"{order}", 12, below=True)
    return label | {"textangle": 0, "yref": "y2", "yshift": -5, "font": {"family": ink.SANS, "size": 12, "color": ink.RED}}


def _evidence(finding: Finding, dial: Dial, band: str, y: float) -> ink.Figure:
    some = [channel for channel in finding.evidence if dial.holds(channel)]
    hovers = [hover(f"{name(finding.fault)}: {channel_text_unit(band, channel)}") for channel in some]
    return ink.heads(ink.EVIDENCE, [dial.at(channel) for channel in some], [y] * len(some), hovers, 9)


def _labels(
    stemmed: Sequence[tuple[StationHeard, float]], dial: Dial, scale: tuple[float, float], form: ink.Form, band: str
) -> list[ink.Figure]:
    """The channels of the missed stations over their heads, where there is room. `scale`: the stems' foot and px per dB."""
    foot, px_per_db = scale
    points = [(dial.at(one.channel_hz) * form.dial_px, (top - foot) * px_per_db) for one, top in stemmed]
    free = [stemmed[index] for index in ink.free_labels(points, wanted=[one.heard is False for one, _ in stemmed])]
    return [ink.upright(dial.at(one.channel_hz), top, channel_text(band, one.channel_hz), form.label_px) for one, top in free]


def _hover(station: StationHeard, check: BandCheck) -> str:
    return hover(
        channel_text_unit(check.band, station.channel_hz),
        "cannot say whether heard" if station.heard is None else answer(station),
        f"{number(plug_db(station, check))} {unit_words(check.unit)}" if station.level_db is not None else "",
        f"chance that it was heard {chance(station.probability)} %",
        name(station.name),
    )
