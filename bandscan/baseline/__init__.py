"""Surveys -> the shop's reference station list, and that list as files."""

from __future__ import annotations

from bandscan.baseline.distil import NOT_COUNTED, YEAR, distil
from bandscan.baseline.files import from_files, to_files
from bandscan.baseline.sweeps import Sweep, from_sweeps
from bandscan.baseline.today import NEAR_S, Conditions, conditions, loses_db, moved, unknown_day

__all__ = [
    "NEAR_S",
    "NOT_COUNTED",
    "YEAR",
    "Conditions",
    "Sweep",
    "conditions",
    "distil",
    "from_files",
    "from_sweeps",
    "loses_db",
    "moved",
    "to_files",
    "unknown_day",
]
