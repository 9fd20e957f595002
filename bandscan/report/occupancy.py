"""What a band holds: the page of a survey, and the same facts for a terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from bandscan import tables
from bandscan._version import __version__
from bandscan.model import Interval
from bandscan.report import page
from bandscan.report.dial import dial_for
from bandscan.report.grid import Grid, Head, as_text, entry, filled
from bandscan.report.occupancy_plot import occupancy_plot, ready, records, summary, unit_of
from bandscan.report.words import BAND_NAMES, counted, doubt, instant, name, number, plain, remarks, unit_words, yes_no
from bandscan.units import channel_text


def occupancy_page(
    stations: pd.DataFrame,
    *,
    title: str,
    region: str,
    rig: str,
    started_utc: str,
    cautions: Sequence[str],
    forged: bool,
    threshold: Mapping[str, Interval] | None = None,
    library: str = "",
) -> str:
    """The occupancy page of a survey, HTML.

    Parameters:
        stations: STATIONS of one band or of both.
        threshold: per band, the level at which a radio follows half of the stations, in the unit of the levels drawn
            (dBuV where every station has one, else dBFS).
        library: address, from the page, of a file that holds `plot_library()`; empty puts the library into the page.

    Raises:
        TableError: the table is not STATIONS.
        UsageError: there is no such region.
    """
    bands = _bands(stations)
    return page.render(
        "occupancy.html",
        plots=True,
        library=library,
        form="Band occupancy",
        heading=name(title) or "Band occupancy",
        forged=forged,
        slip=[
            ("surveyed", instant(started_utc)),
            ("rig", name(rig)),
            ("region", name(region)),
            ("levels", "; ".join(f"{BAND_NAMES[band]} in {unit_words(unit_of(rows))}" for band, rows in bands)),
        ],
        bands=[
            {
                "code": band,
                "heading": f"{BAND_NAMES[band]}: {counted(int((rows['holds'] == 'station').sum()), 'station')}",
                "plot": occupancy_plot(rows, dial_for(region, band, rows["channel_hz"]), (threshold or {}).get(band)),
                "stations": _station_grid(rows, band),
                "others": _other_grid(rows, band),
            }
            for band, rows in bands
        ],
        cautions=[plain(caution) for caution in cautions],
        version=__version__,
    )


def occupancy_text(
    stations: pd.DataFrame,
    *,
    title: str,
    rig: str,
    started_utc: str,
    cautions: Sequence[str],
    forged: bool,
    width: int = 100,
) -> str:
    """The same facts for a terminal, plain text: counts, the tables of the stations and of what else holds something, cautions.

    Raises:
        TableError: the table is not STATIONS.
    """
    lines = [f"{name(title) or 'Band occupancy'}, rig {name(rig) or 'unnamed'}, {instant(started_utc) or 'undated'}"]
    if forged:
        lines.append("MADE SIGNALS: the recordings were computed, not received.")
    for band, rows in _bands(stations):
        lines += ["", *entry(BAND_NAMES[band], summary(rows, band), width), ""]
        lines += [as_text(table, width) for table in (_station_grid(rows, band), _other_grid(rows, band)) if table.rows]
    for caution in cautions:
        lines += entry("caution", caution, width)
    return "\n".join(lines).rstrip() + "\n"


def _bands(stations: pd.DataFrame) -> list[tuple[str, pd.DataFrame]]:
    stations = tables.check(stations, tables.STATIONS)
    found = ((band, stations[stations["band"] == band]) for band in BAND_NAMES)
    return [(band, ready(rows)) for band, rows in found if len(rows)]


def _station_grid(rows: pd.DataFrame, band: str) -> Grid:
    unit = unit_of(rows)
    heads = (
        Head("channel", "MHz" if band == "fm" else "kHz", figures=True),
        Head("level", unit_words(unit), figures=True),
        Head("±", "dB", figures=True),
        Head("noise", unit, figures=True),
        Head("over noise", "dB", figures=True),
        Head("audio S/N", "dB, mono" if band == "fm" else "dB", figures=True),
        Head("±", "dB", figures=True),
        *((Head("in stereo", "dB", figures=True),) if band == "fm" else ()),
        *((Head("pilot", "kHz", figures=True), Head("claims to be")) if band == "fm" else ()),
        *((Head("AM stereo"),) if band == "am" else ()),
        Head("name"),
        Head("remarks"),
    )
    caption = (
        f"{BAND_NAMES[band]} stations. Level and audio signal-to-noise ± standard uncertainty; noise in the channel's width"
    )
    caption += "; pilot: its peak deviation." if band == "fm" else "."
    held = records(rows[rows["holds"] == "station"])
    return filled(Grid(caption, heads, tuple(_station_cells(row) for row in held)))


def _station_cells(row: Any) -> tuple[str, ...]:
    pilot = (_pilot(row), " ".join((name(row.rds_ps), name(row.rds_pi))).strip())
    return (
        channel_text(row.band, row.channel_hz),
        number(row.level),
        doubt(row.level_sd_db),
        number(row.noise),
        number(row.snr_db, 0),
        number(row.audio_snr_db, 0),
        doubt(row.audio_sd_db),
        *((number(row.stereo_snr_db, 0),) if row.band == "fm" else ()),
        *(pilot if row.band == "fm" else (yes_no(row.am_stereo),)),
        name(row.name),
        remarks(row.remarks, row.band),
    )


def _pilot(row: Any) -> str:
    """The pilot's deviation where it is there and known, else whether it is there. [kHz]"""
    there = yes_no(row.pilot)
    return number(row.pilot_dev_hz / 1e3) or there if there == "yes" else there


def _other_grid(rows: pd.DataFrame, band: str) -> Grid:
    heads = (
        Head("channel", "MHz" if band == "fm" else "kHz", figures=True),
        Head("holds"),
        Head("level", unit_words(unit_of(rows)), figures=True),
        Head("over noise", "dB", figures=True),
        Head("remarks"),
    )
    cells = tuple(
        (
            channel_text(band, row.channel_hz),
            row.holds,
            number(row.level),
            number(row.snr_db, 0),
            remarks(row.remarks, row.band),
        )
        for row in records(rows[~rows["holds"].isin(["station", "empty"])])
    )
    return filled(Grid(f"{BAND_NAMES[band]} channels that hold something, but no station of their own.", heads, cells))
