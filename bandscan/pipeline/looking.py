"""`bandscan log`: what the shop's log holds, and its checks as issued."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from bandscan.baseline import from_files
from bandscan.errors import InputError, UsageError
from bandscan.pipeline.files import Text, csv_text, file_name, write_files
from bandscan.pipeline.issuing import again
from bandscan.pipeline.papers import papers
from bandscan.plans import BANDS, plan_for
from bandscan.radio import from_json
from bandscan.shop import Shop
from bandscan.store import Issued, Log
from bandscan.units import channel_text_unit


@dataclass(frozen=True, eq=False)
class History:
    """What surveys held in one channel; `rows` as `Log.history` gives them."""

    band: str
    channel_hz: int
    rows: pd.DataFrame


def reprint(shop: Shop | None, job: str, out: Path | None = None) -> tuple[list[Issued], list[Path]]:
    """The checks of a job as issued, and with `out` their files, to the letter, in a folder of the job's name in it.

    Raises:
        UsageError: there is no shop.
        InputError: there is no check of that job.
    """
    if shop is None:
        raise UsageError("there is no shop here, so no log", do="name one with --shop DIR")
    with Log(shop.log_path) as log:
        issued = log.checks(job)
        jobs = sorted({str(row[0]) for row in log.contents()["checks"]})
    if not issued:
        raise InputError(f"no check of job {job!r} in the log", where=shop.log_path, accepted=", ".join(jobs) or "none yet")
    files: list[Path] = []
    folder = out / file_name(job) if out is not None else None
    for number, one in enumerate(issued, 1):
        if folder is not None and out is not None:
            own = folder / str(number) if len(issued) > 1 else folder
            files += write_files(own, again(one.papers, own, out) if one.papers else _drawn(one), top=out)
            files += write_files(own, {"sheet.csv": one.sheet})
    return issued, files


def _drawn(one: Issued) -> dict[str, Text]:
    """The files of a check of which the log has the facts only: one that an earlier bandscan issued."""
    lists = {band: from_files(texts["baseline.csv"], texts["baseline.json"]) for band, texts in one.lists.items()}
    return papers(from_json(json.loads(one.json)), lists, record=one.json, sheet=one.sheet)


def contents(shop: Shop | None) -> dict[str, list[tuple[Any, ...]]]:
    """What the shop's log holds, see `Log.contents`.

    Raises:
        UsageError: there is no shop.
    """
    if shop is None:
        raise UsageError("there is no shop here, so no log", do="name one with --shop DIR")
    with Log(shop.log_path) as log:
        return log.contents()


def station_history(
    shop: Shop | None, dial: str, rig: str | None = None, out: Path | None = None
) -> tuple[History, list[Path]]:
    """What every survey held in one channel, and with `out` the same as `station.csv`.

    Args:
        shop: the shop whose log is asked.
        dial: the channel as a dial reads it: `97.5` is MHz of FM, `1400` kHz of AM.
        rig: of this rig; None means of all.
        out: folder to write into.

    Raises:
        UsageError: there is no shop, or the dial names no channel of the shop's region.
        LogError: the log cannot be read.
        InputError: the file cannot be written.
    """
    if shop is None:
        raise UsageError("there is no shop here, so no log", do="name one with --shop DIR")
    band, channel_hz = _channel(dial, shop.region)
    with Log(shop.log_path) as log:
        rows = log.history(band, channel_hz, rig)
    files = write_files(out, {"station.csv": csv_text(rows)}) if out is not None else []
    return History(band, channel_hz, rows), files


def _channel(dial: str, region: str) -> tuple[str, int]:
    """The channel that a dial's reading names. [Hz]"""
    try:
        reading = float(dial.replace(",", "."))
    except ValueError:
        reading = 0.0
    for band, unit_hz in (("fm", 1e6), ("am", 1e3)):
        plan = plan_for(region, band)
        channel_hz = round(reading * unit_hz) if math.isfinite(reading) else 0
        if channel_hz in plan.channels_hz:
            return band, channel_hz
    spans = [
        f"{channel_text_unit(band, plan.channels_hz[0])} to {channel_text_unit(band, plan.channels_hz[-1])}"
        for band, plan in ((band, plan_for(region, band)) for band in BANDS)
    ]
    raise UsageError(f"--station {dial} is no channel of region {region}", accepted=f"{' or '.join(spans)}, as 97.5 or 1400")
