"""Surveys -> the shop's reference station list, and that list as files."""

from __future__ import annotations

from bandscan.baseline.distil import NOT_COUNTED, distil
from bandscan.baseline.files import from_files, to_files

__all__ = ["NOT_COUNTED", "distil", "from_files", "to_files"]
