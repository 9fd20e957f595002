"""READINGS of many recordings -> surveys: which recordings belong together, what each channel holds, one row per channel."""

from __future__ import annotations

from bandscan.survey.gather import NEIGHBOUR_GAP_S, gather, group
from bandscan.survey.holds import decide

__all__ = ["NEIGHBOUR_GAP_S", "decide", "gather", "group"]
