"""Recordings as `measure` hands them on, made by hand for the tests of the later rooms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pandas as pd

from bandscan import tables
from bandscan.model import Measured

CHANNELS = (97_900_000, 98_100_000, 98_300_000)


def measured(
    name: str,
    started: str = "2026-03-01T10:00:00Z",
    *,
    rig: str = "bench",
    gain: float | None = 20.0,
    centre: float = 98_100_000,
    duration: float = 2.0,
    levels: Sequence[float | None] = (-40.0, -30.0, -50.0),
    sd: float | None = 0.1,
    pilot: bool | None = True,
    **more: object,
) -> Measured:
    """A recording of three channels, as `measure` hands it on."""
    readings = pd.DataFrame({name: pd.Series([None] * len(CHANNELS), dtype=object) for name in tables.READINGS.names})
    readings["recording"] = name
    readings["started_utc"] = started
    readings["band"] = "fm"
    readings["channel_hz"] = CHANNELS
    readings["level_dbfs"] = levels
    readings["level_sd_db"] = sd
    readings["noise_dbfs"] = -70.0
    readings["pilot"] = pilot
    readings["pilot_dev_hz"] = 6750.0 if pilot else None
    readings["overload_share"] = more.get("overload_share", 0.0)
    one = Measured(
        recording=name,
        band="fm",
        region="us",
        rig=rig,
        started_utc=started,
        duration_s=duration,
        survey_id="",
        gain_db=gain,
        forged=False,
        rate_hz=2_400_000.0,
        centre_hz=centre,
        overload_share=0.0,
        readings=tables.check(readings, tables.READINGS),
    )
    return replace(one, **more)  # type: ignore[arg-type]


def all_stations(members: Sequence[Measured], steps: Sequence[object] = ()) -> pd.DataFrame:
    """A stand-in for `decide`: everything is a station, as measured."""
    rows = pd.concat([one.readings for one in members], ignore_index=True)
    rows["holds"] = "station"
    return tables.check(rows.reindex(columns=tables.SURVEY.names), tables.SURVEY)
