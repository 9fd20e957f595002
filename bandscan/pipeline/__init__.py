"""The whole path in order, one function per command; no arithmetic."""

from __future__ import annotations

from bandscan.pipeline.checking import Checked, check
from bandscan.pipeline.listing import Listed, baseline, sheet
from bandscan.pipeline.looking import contents, reprint
from bandscan.pipeline.place import open_shop
from bandscan.pipeline.surveying import Surveyed, survey

__all__ = ["Checked", "Listed", "Surveyed", "baseline", "check", "contents", "open_shop", "reprint", "sheet", "survey"]
