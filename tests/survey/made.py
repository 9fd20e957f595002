"""READINGS written by hand, to hold the rules of decision against, and the recordings they stand in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from bandscan import tables
from bandscan.model import Measured
from bandscan.survey.holds import decide

NOISE_DBFS = {"fm": -53.0, "am": -66.0}

# a station 20 dB over the noise as `measure` sees one; the envelope of a carrier of ratio r in noise scatters by
# (2 r + 1) / (r + 1)^2 (Rice distribution, textbook): 0.0197 at 20 dB
FM_STATION: dict[str, Any] = {
    "snr_db": 20.0,
    "width_hz": 70e3,
    "centroid_hz": 0.0,
    "line_share": 0.05,
    "envelope_scatter": 0.02,
    "carrier_error_hz": 300.0,
    "pilot": True,
    "pilot_dev_hz": 6750.0,
    "pilot_line_db": 40.0,
    "image_share": 0.0,
    "audio_snr_db": 45.0,
}
AM_STATION: dict[str, Any] = {
    "snr_db": 20.0,
    "carrier_error_hz": 3.0,
    "am_stereo": False,
    "sideband_db": -10.0,
    "am_depth": 0.8,
}
NOTHING: dict[str, Any] = {"snr_db": None}


def recording(
    rows: Mapping[int, Mapping[str, Any]],
    *,
    band: str = "fm",
    region: str = "us",
    name: str = "one",
    centre_hz: float | None = None,
    rate_hz: float = 2.4e6,
    gain_db: float | None = 20.0,
    overload_share: float = 0.0,
) -> Measured:
    """A recording of the channels {channel_hz: figures}; level and core follow from snr_db unless given."""
    made = []
    for channel_hz, figures in sorted(rows.items()):
        row: dict[str, Any] = dict.fromkeys(tables.READINGS.names)
        row |= {
            "recording": name,
            "band": band,
            "channel_hz": channel_hz,
            "noise_dbfs": NOISE_DBFS[band],
            "overload_share": overload_share,
        }
        if figures.get("snr_db") is not None:
            row["level_dbfs"] = row["core_dbfs"] = NOISE_DBFS[band] + figures["snr_db"]
            row["level_sd_db"] = 0.1
        if band == "am":
            row["core_dbfs"] = None
        made.append(row | dict(figures))
    frame = pd.DataFrame(made)
    middle = sum(rows) / len(rows) if centre_hz is None else centre_hz
    return Measured(
        recording=name,
        band=band,
        region=region,
        rig="bench",
        started_utc="2026-03-01T10:00:00Z",
        duration_s=1.0,
        survey_id="",
        gain_db=gain_db,
        forged=False,
        rate_hz=rate_hz,
        centre_hz=middle,
        overload_share=overload_share,
        readings=tables.check(frame, tables.READINGS),
    )


def said(rows: Mapping[int, Mapping[str, Any]], channel_hz: int, **of_recording: Any) -> tuple[str, str]:
    """Word and remarks for one channel of one recording."""
    row = decide([recording(rows, **of_recording)]).set_index("channel_hz").loc[channel_hz]
    return str(row["holds"]), "" if pd.isna(row["remarks"]) else str(row["remarks"])
