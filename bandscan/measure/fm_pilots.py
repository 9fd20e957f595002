"""Pilots of a recording that lost samples on the way, which turn all of them alike."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

WHOLE_PILOT, GIVEN_BACK = 0.99, 0.1  # share in one line of an unbroken recording's pilots at least; doubt of what is given back


def give_back(rows: Sequence[dict[str, Any]], strays: Sequence[tuple[float, float]]) -> None:
    """The part of every pilot's power that left its line is given back, as far as the wholest of the strong ones tells.

    strays: where these stand [Hz], and the share of each that is in its line.
    """
    whole = max((share for _, share in strays), default=1.0)
    if whole >= WHOLE_PILOT:
        return
    for row in rows:
        if "pilot_dev_hz" in row:
            lost_hz = row["pilot_dev_hz"] * (1.0 / np.sqrt(whole) - 1.0)
            row["pilot_dev_hz"] += lost_hz
            row["pilot_dev_sd_hz"] = float(np.hypot(row["pilot_dev_sd_hz"], GIVEN_BACK * lost_hz))
