"""How everything is drawn: black ink on white, shapes and fills that survive a photocopier, one red that only helps.

A figure here is a plain dictionary in plotly's own terms; `page` hands it to plotly, which refuses what it does not know.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from bandscan.model import Interval
from bandscan.report.dial import Dial
from bandscan.report.words import hover

INK = "#000000"
SOFT = "#595959"  # 7:1 on white, still grey on paper
RULE = "#bfbfbf"
PAPER = "#ffffff"
RED = "#9b1c1c"
SERIF = "Georgia, 'Times New Roman', 'DejaVu Serif Condensed', 'DejaVu Serif', serif"
SANS = "Arial, Helvetica, 'DejaVu Sans Condensed', 'DejaVu Sans', sans-serif"

_ROOM = 0.012  # of a dial's length beyond both ends, so that no head is cut at a fold

Figure = dict[str, Any]


@dataclass(frozen=True)
class Mark:
    """One sign of a plot: what it means, plotly's symbol (or a letter), and the same sign drawn for the page's key."""

    words: str
    symbol: str
    drawing: str  # SVG, in a box of 16 by 16
    filled: bool = False
    letter: str = ""
    colour: str = INK


def _outline(path: str, colour: str = INK, fill: str = "none") -> str:
    return f'<path d="{path}" fill="{fill}" stroke="{colour}" stroke-width="1.8"/>'


_DISC = f'<circle cx="8" cy="8" r="5.5" fill="{INK}"/>'
_RING = f'<circle cx="8" cy="8" r="5" fill="none" stroke="{INK}" stroke-width="1.8"/>'
_RED_RING = f'<circle cx="8" cy="8" r="5" fill="none" stroke="{RED}" stroke-width="2.4"/>'
_QUERY = f'<text x="8" y="14" text-anchor="middle" font-family="{SERIF}" font-weight="bold" font-size="17">?</text>'

_TRIANGLE, _DIAMOND, _CROSS = "M2.5 13h11L8 3z", "M8 1.5L12.5 8 8 14.5 3.5 8z", "M3 3l10 10M13 3L3 13"

HOLDS = {
    "pilot": Mark("station, stereo pilot", "circle", _DISC, filled=True),
    "mono": Mark("station, no pilot", "circle", _RING),
    "station": Mark("station", "circle", _DISC, filled=True),
    "sideband": Mark("sideband of a neighbour", "triangle-down", _outline("M2.5 4h11L8 13.5z")),
    "phantom": Mark("phantom, made in the receiver", "x-thin", _outline(_CROSS)),
    "spur": Mark("spur, no programme", "diamond-tall", _outline(_DIAMOND)),
    "unsure": Mark("unsure", "", _QUERY, letter="?"),
}
STEADY = {
    ("steady", True): Mark("steady, stereo pilot", "circle", _DISC, filled=True),
    ("steady", False): Mark("steady, no pilot", "circle", _RING),
    ("fading", True): Mark("fading, stereo pilot", "triangle-up", _outline(_TRIANGLE, fill=INK), filled=True),
    ("fading", False): Mark("fading, no pilot", "triangle-up", _outline(_TRIANGLE)),
    ("occasional", True): Mark("occasional, stereo pilot", "diamond-tall", _outline(_DIAMOND, fill=INK), filled=True),
    ("occasional", False): Mark("occasional, no pilot", "diamond-tall", _outline(_DIAMOND)),
}
HEARD = {
    True: Mark("expected and heard", "circle", _DISC, filled=True),
    False: Mark("expected, not followed", "circle", _RED_RING, colour=RED),
    None: Mark("cannot say", "", _QUERY, letter="?"),
}
CHANGED = {
    "gained": Mark("heard after only", "triangle-up", _outline(_TRIANGLE, fill=INK), filled=True),
    "lost": Mark("heard before only", "triangle-down", _outline("M2.5 3h11L8 13z", RED), colour=RED),
    "both": Mark("heard both times", "circle", _DISC, filled=True),
    "neither": Mark("missed both times", "circle", _RING),
    "unsaid": Mark("cannot say", "", _QUERY, letter="?"),
}
EXTRA = Mark("heard, not expected: number in the list", "x-thin", _outline(_CROSS, RED), colour=RED)
RADIO_LINE = Mark("here this radio follows half of the stations", "", _outline("M0 8h16"))
REFERENCE_LINE = Mark(
    "here the reference follows half", "", '<path d="M0 8h16" stroke="#000" stroke-width="1.8" stroke-dasharray="5 3"/>'
)
EVIDENCE = Mark("evidence of finding A, B …", "triangle-up", _outline(_TRIANGLE, fill=INK), filled=True)


@dataclass(frozen=True)
class Form:
    """How a dial is set out at one width of the page: in so many stretches, one under the other.

    `dial_px` is the least length of a stretch, for the room of labels; the style sheet shows each form at its width.
    """

    name: str
    stretches: int
    dial_px: int
    numeral_px: int
    label_px: int
    left_px: int


WIDE = Form("wide", 1, 860, 21, 12, 66)
MIDDLE = Form("middle", 2, 520, 19, 12, 66)  # also on paper
NARROW = Form("narrow", 3, 280, 17, 11, 46)
FORMS = (WIDE, MIDDLE, NARROW)


@dataclass(frozen=True)
class Plot:
    """One plot of a page; a plot of a dial holds the figures of each form, any other plot one figure for all widths.

    `summary` says in words what the plot shows, for those who cannot see it or have scripts off.
    """

    title: str
    summary: str
    figures: tuple[tuple[Form | None, Figure], ...]
    key: tuple[Mark, ...] = field(default=())
    notes: tuple[str, ...] = field(default=())


def folded(dial: Dial, figure: Callable[[Dial, Form], Figure]) -> tuple[tuple[Form | None, Figure], ...]:
    """The figures of a dial in each form, stretch by stretch."""
    return tuple((form, figure(stretch, form)) for form in FORMS for stretch in dial.fold(form.stretches))


def sheet(height: int, *, left: int = 52, right: int = 14, top: int = 14, bottom: int = 40) -> Figure:
    """A layout with nothing on it yet. [px]"""
    return {
        "height": height,
        "margin": {"l": left, "r": right, "t": top, "b": bottom, "pad": 0},
        "paper_bgcolor": PAPER,
        "plot_bgcolor": PAPER,
        "font": {"family": SANS, "size": 13, "color": INK},
        "showlegend": False,
        "hovermode": "closest",
        "dragmode": False,
        "hoverlabel": {
            "bgcolor": PAPER,
            "bordercolor": INK,
            "font": {"family": SANS, "size": 13, "color": INK},
            "align": "left",
        },
        "shapes": [],
        "annotations": [],
    }


BARE = {"showticklabels": False, "ticks": "", "showgrid": False}  # an axis that measures nothing


def rule(title: str, low: float, high: float, **more: Any) -> Figure:
    """An axis of figures: a plain line with ticks, light dotted rules across."""
    return {
        "title": {"text": hover(title), "standoff": 6, "font": {"size": 13}},
        "range": [low, high],
        "fixedrange": True,
        "zeroline": False,
        "showline": True,
        "linecolor": INK,
        "ticks": "outside",
        "ticklen": 5,
        "tickcolor": INK,
        "gridcolor": RULE,
        "griddash": "dot",
        "separatethousands": False,
        **more,
    }


def numerals(dial: Dial, form: Form) -> Figure:
    """The dial as an axis on top: numerals as printed on a set, fine lines between them."""
    places = dial.numerals_at(gap=1.7 * form.numeral_px / form.dial_px)
    return {
        "side": "top",
        "range": [-_ROOM, 1 + _ROOM],
        "fixedrange": True,
        "zeroline": False,
        "showgrid": False,
        "showline": True,
        "linewidth": 2,
        "linecolor": INK,
        "tickmode": "array",
        "tickvals": [place for place, _ in places],
        "ticktext": [text for _, text in places],
        "tickfont": {"family": SERIF, "size": form.numeral_px, "color": INK},
        "tickangle": 0,
        "ticks": "outside",
        "ticklen": 11,
        "tickwidth": 2,
        "minor": {"tickmode": "array", "tickvals": dial.graduations_at, "ticks": "outside", "ticklen": 5, "showgrid": False},
    }


def heads(mark: Mark, x: Sequence[float], y: Sequence[float], hovers: Sequence[str], size: float = 9) -> Figure:
    """The mark at each point."""
    return {
        "type": "scatter",
        "mode": "text" if mark.letter else "markers",
        "x": list(x),
        "y": list(y),
        "text": [f"<b>{mark.letter}</b>"] * len(x) if mark.letter else None,
        "textfont": {"family": SERIF, "size": size * 1.9, "color": mark.colour},
        "textposition": "top center",
        "marker": {
            "symbol": mark.symbol or "circle",
            "size": 0 if mark.letter else size,
            "color": mark.colour if mark.filled else PAPER,
            "line": {"color": mark.colour, "width": 1.8},
            "opacity": 1,
        },
        "hovertext": list(hovers),
        "hoverinfo": "text",
        "cliponaxis": False,
    }


def stems(points: Figure, foot: float, thickness: float, colour: str = INK) -> Figure:
    """The marks of `heads`, each on a stem that grows from `foot`, or hangs from it."""
    return {
        **points,
        "error_y": {
            "type": "data",
            "symmetric": False,
            "array": [max(foot - end, 0.0) for end in points["y"]],
            "arrayminus": [max(end - foot, 0.0) for end in points["y"]],
            "thickness": thickness,
            "width": 0,
            "color": colour,
        },
    }


def free_labels(
    points: Sequence[tuple[float, float]],
    wanted: Sequence[bool],
    letters: int = 5,
    heads: Sequence[tuple[float, float]] | None = None,
) -> list[int]:
    """Which of the wanted points can bear an upright label that touches no other head, no higher stem and so no other label.

    Points are in px, y upwards; `heads` are those of the points where they are lower. A point left out has its figures in the
    table and in the hover box.
    """
    half, reach, head = 6.5, 9 + 6.7 * letters, 6.5
    free: list[int] = []
    for index, (x, y) in enumerate(points):
        others = [point for some in (points, heads or ()) for number, point in enumerate(some) if number != index]
        on_head = any(abs(x - there) < half + head and y - head < high < y + reach + head for there, high in others)
        on_stem = any(abs(x - there) < half + 1 and high > y for there, high in others)
        if wanted[index] and not (on_head or on_stem):
            free.append(index)
    return free


def upright(x: float, y: float, text: str, size: int = 12, *, below: bool = False, **more: Any) -> Figure:
    """A label that stands on its side over (or hangs under) a point, so that neighbours do not touch."""
    return {
        "x": x,
        "y": y,
        "text": text,
        "textangle": -90,
        "showarrow": False,
        "xanchor": "center",
        "yanchor": "top" if below else "bottom",
        "yshift": -7 if below else 7,
        "font": {"family": SANS, "size": size, "color": INK},
        "bgcolor": PAPER,  # a level drawn across the plot must not strike a label through
        "borderpad": 0,
        **more,
    }


def level_line(y: float, dash: str) -> Figure:
    """A level across the whole plot."""
    return {
        "type": "line",
        "xref": "paper",
        "yref": "y",
        "x0": 0,
        "x1": 1,
        "y0": y,
        "y1": y,
        "line": {"color": INK, "width": 1.5, "dash": dash},
    }


def threshold_lines(found: Interval | None) -> list[Figure]:
    """A radio's threshold across the whole plot: grey its interval, where it has both ends, and a solid line."""
    shapes: list[Figure] = []
    if found is None:
        return shapes
    if found.low is not None and found.high is not None:
        place = {"xref": "paper", "x0": 0, "x1": 1, "yref": "y", "y0": found.low, "y1": found.high}
        shapes.append({"type": "rect", **place, "fillcolor": "#e3e3e3", "line": {"width": 0}, "layer": "below"})
    if found.value is not None:
        shapes.append(level_line(found.value, "solid"))
    return shapes
