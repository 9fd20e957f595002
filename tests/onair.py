"""Surveys of invented stations put straight into a shop's log: no samples, no measuring."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pandas as pd
from made import measured

from bandscan import tables
from bandscan.model import Survey, parse_utc, utc_text
from bandscan.plans import plan_for
from bandscan.shop import Shop
from bandscan.store import Log


def survey(
    band: str,
    started_utc: str,
    levels: Mapping[int, float],
    *,
    rig: str = "bench",
    noise_dbfs: float = -90.0,
    minutes: float = 5.0,
) -> Survey:
    """A survey of the whole band that holds stations of these levels, all in stereo on FM. [dBFS]"""
    channels = plan_for("us", band).channels_hz
    table = pd.DataFrame({name: pd.Series([None] * len(channels), dtype=object) for name in tables.STATIONS.names})
    table = table.assign(band=band, channel_hz=channels, noise_dbfs=noise_dbfs, recordings=1)
    table["level_dbfs"] = table["channel_hz"].map(levels)
    table["holds"] = table["level_dbfs"].map(lambda level: "empty" if pd.isna(level) else "station")
    table["snr_db"] = table["level_dbfs"] - noise_dbfs
    if band == "fm":
        table["pilot"] = table["level_dbfs"].notna()
    start = parse_utc(started_utc)
    ended = utc_text(start + timedelta(minutes=minutes)) if start is not None else ""
    name = f"{band}-{started_utc}-{rig}"
    stations = tables.check(table, tables.STATIONS)
    return Survey(name, band, "us", rig, started_utc, ended, 20.0, False, 0.0, tables.empty(tables.SURVEY), stations)


def keep(shop: Shop, *surveys: Survey) -> None:
    """Put surveys into the shop's log, each with the one recording that a log asks for."""
    with Log(shop.log_path) as log:
        for one in surveys:
            bare = measured(one.id, one.started_utc, rig=one.rig, digest=one.id)
            member = replace(bare, band=one.band, readings=tables.empty(tables.READINGS))
            log.keep_measured(one.id, "s", Path("x"), [member], complete=True, now_utc=one.ended_utc)
            with log.transaction():
                log.put_survey(one, [member], "0.1.0", one.ended_utc)
