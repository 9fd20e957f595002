"""Heard against level with the fitted curve, the lamp against level, and the pointer's error along the dial."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bandscan.model import BandCheck, DialPoint, StationHeard
from bandscan.report import ink
from bandscan.report.dial import Dial
from bandscan.report.strip import level_notes, plug_db, reference_db
from bandscan.report.words import BAND_NAMES, answer, by_fits, counted, hover, interval, name, number, sensitivity, unit_words
from bandscan.units import channel_text_unit

_STEPS = 80
_COARSE_HZ = 50_000.0  # a pointer error whose interval is wider than this is told to 10 kHz
_CHANNEL_HZ = {"fm": 200_000.0, "am": 10_000.0}


def heard_plot(check: BandCheck) -> ink.Plot | None:
    """Each station of the list at its level, heard or missed, and the fitted chance of following it; None without levels."""
    some = [station for station in check.stations if station.level_db is not None and station.heard is not None]
    if not some:
        return None
    levels = [_level(station, check) for station in some]
    low, high = min(levels) - 4, max(levels) + 4
    data: list[ink.Figure] = []
    notes = []
    found, spread = check.threshold_db, check.spread_db
    if spread and found.low is not None and found.high is not None:
        data += _interval(found.low, found.high, spread, (low, high))
        notes.append("hatched: its 95 % interval")
    if spread and found.value is not None:
        data.append(_curve(found.value, spread, (low, high), "solid", 2.6))
        notes.append(f"line: fitted chance (probit, spread {spread:.0f} dB)")
    good_db = reference_db(check)
    if spread and good_db is not None:
        data.append(_curve(good_db, spread, (low, high), "dash", 1.6))
        notes.append(f"dashed: the reference ({name(check.reference.basis)}), drawn with the same spread")
    if not spread:
        notes.append("no curve: the evidence does not fix one")
    for heard, place in ((True, 104.0), (False, -4.0)):
        of_these = [station for station in some if station.heard is heard]
        hovers = [_hover(station, check) for station in of_these]
        data.append(ink.heads(ink.HEARD[heard], [_level(one, check) for one in of_these], [place] * len(of_these), hovers, 8))
    layout = ink.sheet(300, left=58, bottom=48)
    layout["xaxis"] = ink.rule(unit_words(check.unit), low, high)
    layout["yaxis"] = ink.rule("chance of following it, %", -9, 109, tickvals=[0, 25, 50, 75, 100])
    figure = {"data": data, "layout": layout}
    return ink.Plot(
        title=f"{BAND_NAMES[check.band]}: heard against level.",
        summary=f"Half heard at {interval(found, unit_words(check.unit))}. This radio: {sensitivity(check)}.",
        figures=((None, figure),),
        key=(ink.HEARD[True], ink.HEARD[False]),
        notes=(*notes, *level_notes(check)),
    )


def _level(station: StationHeard, check: BandCheck) -> float:
    return plug_db(station, check) or 0.0


def _chance(level_db: float, threshold_db: float, spread_db: float) -> float:
    """The probit's chance. [%]"""
    return 50.0 * (1.0 + math.erf((level_db - threshold_db) / spread_db / math.sqrt(2.0)))


def _run(threshold_db: float, spread_db: float, span: tuple[float, float]) -> tuple[list[float], list[float]]:
    levels = [span[0] + (span[1] - span[0]) * step / _STEPS for step in range(_STEPS + 1)]
    return levels, [_chance(level, threshold_db, spread_db) for level in levels]


def _curve(threshold_db: float, spread_db: float, span: tuple[float, float], dash: str, width: float) -> ink.Figure:
    x, y = _run(threshold_db, spread_db, span)
    line = {"color": ink.INK, "width": width, "dash": dash}
    return {"type": "scatter", "mode": "lines", "x": x, "y": y, "line": line, "hoverinfo": "skip"}


def _interval(low_db: float, high_db: float, spread_db: float, span: tuple[float, float]) -> list[ink.Figure]:
    """The room between the curves of both ends of the interval, hatched."""
    edge = {"color": ink.SOFT, "width": 0.8}
    early, late = _run(low_db, spread_db, span), _run(high_db, spread_db, span)
    common = {"type": "scatter", "mode": "lines", "line": edge, "hoverinfo": "skip"}
    hatch = {"shape": "/", "fgcolor": ink.SOFT, "bgcolor": ink.PAPER, "size": 7, "solidity": 0.12}
    return [
        {**common, "x": early[0], "y": early[1]},
        {**common, "x": late[0], "y": late[1], "fill": "tonexty", "fillcolor": ink.PAPER, "fillpattern": hatch},
    ]


def _hover(station: StationHeard, check: BandCheck) -> str:
    return hover(
        channel_text_unit(check.band, station.channel_hz),
        f"{number(plug_db(station, check))} {unit_words(check.unit)}",
        answer(station),
        name(station.name),
    )


def lamp_plot(check: BandCheck) -> ink.Plot | None:
    """The stereo lamp against level; None where no lamp was noted or the list has no levels."""
    rows = {"on": 2, "flicker": 1, "off": 0}
    some = [station for station in check.stations if station.lamp in rows and station.level_db is not None]
    if not some:
        return None
    lit = {True: ink.HEARD[True], False: ink.HOLDS["mono"]}
    data = []
    for on, mark in lit.items():
        of_these = [station for station in some if (station.lamp == "on") is on]
        hovers = [hover(channel_text_unit(check.band, one.channel_hz), f"lamp {one.lamp}", name(one.name)) for one in of_these]
        data.append(ink.heads(mark, [_level(one, check) for one in of_these], [rows[one.lamp] for one in of_these], hovers, 8))
    levels = [_level(one, check) for one in check.stations if one.level_db is not None]
    layout = ink.sheet(170, left=70, bottom=48)
    layout["xaxis"] = ink.rule(unit_words(check.unit), min(levels) - 4, max(levels) + 4)
    layout["yaxis"] = ink.rule("", -0.5, 2.5, tickvals=[0, 1, 2], ticktext=["dark", "flickers", "lit"])
    if check.lamp_threshold_db is not None:
        at_db = check.lamp_threshold_db.value
        line = {"type": "line", "x0": at_db, "x1": at_db, "yref": "paper", "y0": 0, "y1": 1}
        layout["shapes"].append({**line, "line": {"color": ink.INK, "width": 1.6, "dash": "dash"}})
    figure = {"data": data, "layout": layout}
    notes = tuple(level_notes(check))
    return ink.Plot("Stereo lamp against level.", f"The lamp {lamp_words(check)}.", ((None, figure),), notes=notes)


def lamp_words(check: BandCheck) -> str:
    """What the lamp did, in words; empty where it was not noted."""
    if check.lamp_lit is None and check.lamp_expected is None:
        return ""
    words = f"was lit on {check.lamp_lit if check.lamp_lit is not None else 'an unnoted number'}"
    words += by_fits(check)
    words += (
        f" of {counted(check.lamp_expected, 'station')} followed that have a pilot" if check.lamp_expected is not None else ""
    )
    if check.lamp_threshold_db is not None:
        words += f"; it lights from {interval(check.lamp_threshold_db, unit_words(check.unit))}"
    return words


def pointer_plot(check: BandCheck, dial: Dial) -> ink.Plot | None:
    """The pointer's error along the dial; None where no dial was read."""
    if not check.dial_points:
        return None
    points = sorted(check.dial_points, key=lambda point: point.at_hz)
    return ink.Plot(
        title=f"{BAND_NAMES[check.band]}: pointer error along the dial.",
        summary=f"The pointer {pointer_words(check)}.",
        figures=((None, _pointer(points, dial, check.band)),),
    )


def _pointer(points: Sequence[DialPoint], dial: Dial, band: str) -> ink.Figure:
    errors = [point.error_hz / 1e3 for point in points]
    ends = [end / 1e3 for point in points for end in (point.low, point.high, point.error_hz)] + [0.0]
    room = max(0.15 * (max(ends) - min(ends)), 2.0)
    places = [dial.at(point.at_hz) for point in points]
    data: list[ink.Figure] = [
        {
            **ink.heads(ink.HOLDS["pilot"], places, errors, [hover(_point_words(point, band)) for point in points]),
            "mode": "markers+lines",
            "line": {"color": ink.INK, "width": 1, "dash": "dot"},
            "error_y": {
                "type": "data",
                "symmetric": False,
                "array": [point.high / 1e3 - error for point, error in zip(points, errors, strict=True)],
                "arrayminus": [error - point.low / 1e3 for point, error in zip(points, errors, strict=True)],
                "thickness": 1.6,
                "width": 6,
                "color": ink.INK,
            },
        }
    ]
    layout = ink.sheet(300, left=66, top=50, bottom=12)
    layout["xaxis"] = ink.numerals(dial, ink.NARROW)
    layout["yaxis"] = ink.rule("reads low … high, kHz", min(ends) - room, max(ends) + room)
    layout["shapes"].append(ink.level_line(0.0, "solid"))
    return {"data": data, "layout": layout}


def _point_words(point: DialPoint, band: str) -> str:
    error_hz, where, step_khz = _seen_error(point, band), _where(point, band), _step_khz(point)
    if not error_hz:
        return f"right at {where}" if error_hz == 0.0 else f"no error seen at {where}"
    error_khz = step_khz * max(1, round(abs(error_hz) / 1e3 / step_khz))
    return f"{error_khz} kHz {'high' if error_hz > 0 else 'low'} at {where}"


def _seen_error(point: DialPoint, band: str) -> float | None:
    """What a pointer is off, 0 where it is right as far as a channel goes; None where the sweep cannot tell. [Hz]"""
    if not point.low <= 0.0 <= point.high:
        return point.error_hz
    return 0.0 if max(-point.low, point.high) <= _CHANNEL_HZ[band] else None


def _where(point: DialPoint, band: str) -> str:
    step_khz = _step_khz(point)
    low_khz, high_khz = (step_khz * round(end / 1e3 / step_khz) for end in (point.low, point.high))
    return f"{channel_text_unit(band, point.at_hz)} (95 %: {low_khz} to {high_khz} kHz)"


def _step_khz(point: DialPoint) -> int:
    """An error that is known to a hundred kilohertz has no single kilohertz worth telling."""
    return 10 if point.high - point.low > _COARSE_HZ else 1


def pointer_words(check: BandCheck) -> str:
    """Where the pointer reads wrong, in words; where no error shows, how far it could be off all the same."""
    if not check.dial_points:
        return "digits, no pointer to judge" if check.dial_model == "digits" else "no dial readings"
    told = [_point_words(point, check.band) for point in check.dial_points if _seen_error(point, check.band) is not None]
    unseen = [_where(point, check.band) for point in check.dial_points if _seen_error(point, check.band) is None]
    parts = [f"reads {', '.join(told)}"] if told else []
    return "; ".join([*parts, f"shows no error at {', '.join(unseen)}"] if unseen else parts)
