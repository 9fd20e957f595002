"""The count sheet on paper: the list's stations by the dial with boxes to tick, or blind lines in the order heard."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bandscan.model import Baseline
from bandscan.plans import BANDS
from bandscan.report import page
from bandscan.report.dial import dial_for
from bandscan.report.occupancy_plot import records
from bandscan.report.words import BAND_NAMES, name, plain
from bandscan.units import channel_text

MORE_LINES = 12  # stops beyond what the list has: extras on an open sheet, room on a blind one
_NAME_LIMIT = 20
# what the header of a sheet's file may say, in its words, so that typing it in is copying
HEADER = (
    "job",
    "radio",
    "family",
    "swept",
    "by",
    "antenna",
    "rig",
    "bands",
    "seen_list",
    "warm_up_min",
    "supply_v",
    "ground",
    "dial",
    "numerals",
    "raster_khz",
    "if_khz",
    "pad_db",
)


@dataclass(frozen=True)
class Line:
    """One line to fill in: the dial's numeral where a stretch of it begins, the station, its name; empty on a blind sheet."""

    numeral: str = ""
    station: str = ""
    named: str = ""


def sheet_page(
    baselines: Sequence[Baseline],
    *,
    blind: bool,
    header: Mapping[str, str] | None = None,
    shop: str = "",
    told: Mapping[str, str] | None = None,
) -> str:
    """An empty count sheet to print, HTML: one part for each band, FM before AM.

    Blind it names no station, since seeing the list makes people hear it (from memory). `header` fills in header lines, `told`
    says by band what the bench can tell today.

    Raises:
        UsageError: a list is of a region without a band plan.
    """
    known = dict(header or {})
    rigs = {baseline.rig for baseline in baselines}
    if len(rigs) == 1:
        known.setdefault("rig", rigs.pop())
    if not blind:
        known.setdefault("seen_list", "yes")
    ordered = sorted(baselines, key=lambda one: BANDS.index(one.band))
    return page.render(
        "sheet.html",
        plots=False,
        form="Count sheet, blind" if blind else "Count sheet, stations by the dial",
        heading=name(shop) or "Count sheet",
        forged=any(baseline.forged for baseline in baselines),
        slip=[],
        header=[(key, name(known.get(key, ""))) for key in HEADER],
        blind=blind,
        bands=[
            {
                "code": baseline.band,
                "name": BAND_NAMES[baseline.band],
                "unit": "MHz" if baseline.band == "fm" else "kHz",
                "scale": dial_for(baseline.region, baseline.band).scale,
                "told": (told or {}).get(baseline.band, ""),
                "lines": [Line()] * (len(baseline.stations) + MORE_LINES) if blind else lines(baseline),
                "spare": [] if blind else [Line()] * MORE_LINES,
            }
            for baseline in ordered
        ],
        version=name(ordered[0].version) if ordered else "",
    )


def lines(baseline: Baseline) -> list[Line]:
    """The stations of a list in dial order; the first after a numeral of the dial bears that numeral."""
    dial = dial_for(baseline.region, baseline.band)
    marks = dial.numerals_at(gap=0.0)
    found: list[Line] = []
    passed = ""
    for row in records(baseline.stations.sort_values("channel_hz")):
        under = [text for place, text in marks if place <= dial.at(row.channel_hz)]
        numeral = under[-1] if under else ""
        named = plain(row.name, _NAME_LIMIT) or plain(row.identity, _NAME_LIMIT)
        found.append(Line(numeral if numeral != passed else "", channel_text(baseline.band, row.channel_hz), named))
        passed = numeral
    return found
