"""What an AM channel holds, from one recording's READINGS: a carrier on the raster, and whether it is modulated."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from bandscan.plans import BandPlan
from bandscan.survey.holds_fm import DOUBTFUL_SHARE, MADE_SHARE
from bandscan.survey.judgement import Judgement

LEAST_SNR_DB = -10.0  # carrier over the noise of the whole channel: weaker ones are listed by nobody
CLOCK_ERROR = 60e-6  # of a receiver whose own error has not been found yet
COMMON_SNR_DB = 3.0
LEAST_COMMON = 3
COMMON_WITHIN_HZ = 60.0  # 20 Hz each way (47 CFR 73.1545), and 100 ppm over the band
COMMON_SHARE = 0.6
NEIGHBOUR_DB = 20.0  # a neighbour weaker than the receiver's line by more leaves nothing on it that passes for modulation
CARRIER_ONLY_SNR_DB = 15.0  # from here up two seconds show talk of a depth of 0.2 (by simulation)
# sidebands of a transmitter hold no more power than its carrier (at 100 % modulation, textbook); above it by what is uncertain
MOST_SIDEBAND_DB = 1.5


def judge_am(readings: pd.DataFrame, plan: BandPlan) -> list[Judgement]:
    """One judgement for each row of one capture's READINGS, in order."""
    rows = readings.to_dict("records")
    common_hz = _common_error_hz(readings)
    level_db = {int(row["channel_hz"]): float(row["level_dbfs"]) for row in rows}
    return [_judge(row, plan, common_hz, level_db) for row in rows]


def _common_error_hz(readings: pd.DataFrame) -> float:
    """What most carriers are off by together: the receiver's or upconverter's error, no station's. [Hz]"""
    errors = readings.loc[readings["snr_db"] >= COMMON_SNR_DB, "carrier_error_hz"].dropna()
    if len(errors) < LEAST_COMMON:
        return 0.0
    middle = float(errors.median())
    return middle if ((errors - middle).abs() <= COMMON_WITHIN_HZ).mean() > COMMON_SHARE else 0.0


def _judge(row: Mapping[Hashable, Any], plan: BandPlan, common_hz: float, level_db: Mapping[int, float]) -> Judgement:
    snr_db, carrier_hz = float(row["snr_db"]), float(row["carrier_error_hz"])
    if "fm-fold-over" in str(row["remarks"]):
        # without a carrier nothing but the folded emission stands there; with one it may be the emission's own or a station's
        return Judgement("phantom" if math.isnan(snr_db) else "unsure")
    if math.isnan(snr_db) or snr_db < LEAST_SNR_DB:
        return Judgement("empty")
    if abs(carrier_hz - common_hz) > plan.carrier_tolerance_hz + CLOCK_ERROR * row["channel_hz"]:
        return Judgement("spur", f"off-raster;at{carrier_hz:+.0f}Hz")
    remarks = set(str(row["remarks"]).split(";"))
    if "samples-missing" in remarks:
        return Judgement("unsure")
    if row["image_share"] >= MADE_SHARE:
        return Judgement("phantom", "image")
    if row["image_share"] >= DOUBTFUL_SHARE:
        return Judgement("unsure", "partly-image")
    stereo = not pd.isna(row["am_stereo"]) and bool(row["am_stereo"])
    modulated = stereo or not math.isnan(float(row["sideband_db"]))
    at_centre, uneven = "receiver-centre" in remarks, "uneven-sidebands" in remarks
    if at_centre and (not modulated or uneven or _beside_stronger(row, plan, level_db)):
        return Judgement("unsure")
    if not stereo and row["sideband_db"] > MOST_SIDEBAND_DB:
        return Judgement("unsure", "sidebands-over-carrier")
    if modulated and not stereo and {"hum-only", "comb"} & remarks:
        return Judgement("unsure")
    if modulated:
        return Judgement("station")
    if snr_db >= CARRIER_ONLY_SNR_DB and {"sidebands-out-of-phase", "unsteady-carrier"} & remarks:
        return Judgement("unsure")
    if snr_db >= CARRIER_ONLY_SNR_DB:
        return Judgement("spur", "carrier-only")
    return Judgement("unsure", "too-weak-for-sidebands")


def _beside_stronger(row: Mapping[Hashable, Any], plan: BandPlan, level_db: Mapping[int, float]) -> bool:
    """Whether a neighbour stands next to the receiver's centre line: its sideband and that one's image pass for modulation."""
    near = [level_db.get(int(row["channel_hz"]) + side * plan.step_hz, math.nan) for side in (-1, 1)]
    return any(level > float(row["level_dbfs"]) - NEIGHBOUR_DB for level in near)
