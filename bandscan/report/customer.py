"""The page that goes home with the radio: one side of paper, in plain words."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from textwrap import shorten
from typing import Any

import pandas as pd

from bandscan.model import BandCheck, Baseline, RadioCheck, StationHeard
from bandscan.report import customer_words, page
from bandscan.report.grid import Grid, Head, filled
from bandscan.report.words import BAND_NAMES, counted, instant, name, plain
from bandscan.units import channel_text

EASIEST = 10
# cautions, characters of one and of all, so that the page stays one side; all of them are in the shop's record
CAUTIONS_SHOWN, CAUTION_LIMIT, CAUTIONS_LIMIT = 4, 340, 420
_BID = re.compile(r" \([^()]*(?:`|--)[^()]*\)")  # in brackets, what to write into the sheet or to run
_SOUND = {"3": "clear", "2": "every word", "1": "a trace", "M": "two at once", "W": "whistle", "R": "repeat"}


def customer_page(check: RadioCheck, baselines: Mapping[str, Baseline]) -> str:
    """The owner's page of one radio, HTML, which prints on one side of A4 or Letter paper.

    `baselines` are the lists it was judged against, by band: only the shop's own names of stations are told, not what a data
    service claims.
    """
    bands = [_band(one, baselines.get(band)) for band, one in check.bands.items()]
    # a page without a table of stations has room for twice as much
    listed = any(one["easiest"].rows for one in bands)
    cautions = _cautions(check.cautions, CAUTIONS_LIMIT if listed else 2 * CAUTIONS_LIMIT)
    hidden = len(check.cautions) - len(cautions)
    return page.render(
        "customer.html",
        plots=False,
        form="How this radio receives",
        tab=f"Job {name(check.job)}: for the owner",
        heading=name(check.radio) or f"Job {name(check.job) or 'unnamed'}",
        forged=check.forged,
        slip=[
            ("shop", name(check.shop)),
            ("job", name(check.job)),
            ("tested, local time", name(check.swept)),
            ("by", name(check.by)),
            ("antenna and bench", _benches(check, baselines)),
        ],
        bands=bands,
        cautions=cautions,
        more=f"{counted(hidden, 'further caution')} in the shop's record" if hidden > 0 else "",
        made=instant(check.made_utc),
        version=name(check.version),
    )


def _cautions(some: Sequence[str], room: int) -> list[str]:
    """The first cautions that find room, in characters, whole: the half that decides may be the last one.

    What bids to write something into the sheet is for its writer, not for the owner.
    """
    shown: list[str] = []
    owners = [_BID.sub("", caution) for caution in some]
    for caution in [one for one in owners if "`" not in one][:CAUTIONS_SHOWN]:
        line = shorten(plain(caution), CAUTION_LIMIT, placeholder=" …")
        if sum(map(len, shown)) + len(line) <= room:
            shown.append(line)
    return shown


def _benches(check: RadioCheck, baselines: Mapping[str, Baseline]) -> str:
    rigs = dict.fromkeys(name(baselines[band].rig) or "unnamed" for band in check.bands if band in baselines)
    return ", ".join(rigs)


def _band(check: BandCheck, baseline: Baseline | None) -> dict[str, Any]:
    title, meaning = customer_words.verdict(check)
    return {
        "code": check.band,
        "name": BAND_NAMES[check.band],
        "slug": check.verdict.replace(" ", "-") if check.verdict in customer_words.VERDICTS else "cannot-tell",
        "title": title,
        "meaning": meaning,
        "heard": customer_words.heard(check),
        "lamp": customer_words.lamp(check),
        "dial": customer_words.dial(check),
        "noticed": customer_words.noticed(check),
        "easiest": easiest(check, baseline),
        "no_dial": "cannot be told without a station" if customer_words.nothing_heard(check) else "not noted",
        "no_table": "No station was heard."
        if customer_words.nothing_heard(check)
        else "Which stations were heard is not noted.",
    }


def easiest(check: BandCheck, baseline: Baseline | None) -> Grid:
    """The stations that this radio follows most easily, in dial order: clean ones first, the strongest of them."""

    def ease(station: StationHeard) -> tuple[bool, float]:
        return station.grade not in ("3", "2", ""), 0.0 if station.level_db is None else -station.level_db

    heard = [station for station in check.stations if station.heard]
    some = sorted(sorted(heard, key=ease)[:EASIEST], key=lambda station: station.channel_hz)
    own = {} if baseline is None else dict(zip(baseline.stations["channel_hz"], baseline.stations["name"], strict=True))
    heads = (
        Head("station", "MHz" if check.band == "fm" else "kHz", figures=True),
        Head("on this dial", figures=True),
        Head("sound"),
        Head("lamp"),
        Head("name"),
    )
    rows = tuple(
        (
            channel_text(check.band, station.channel_hz),
            plain(station.dial, 8),
            _SOUND.get(station.grade, ""),
            plain(station.lamp, 8),
            plain("" if pd.isna(named := own.get(station.channel_hz)) else named, 18),
        )
        for station in some
    )
    return filled(
        Grid(f"{BAND_NAMES[check.band]}: {counted(len(rows), 'station')} that came in best, in dial order", heads, rows)
    )
