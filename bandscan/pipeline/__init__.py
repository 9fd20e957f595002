"""The whole path in order, one function per command; no arithmetic."""

from __future__ import annotations

from bandscan.pipeline.capturing import capture
from bandscan.pipeline.capturing_order import Order
from bandscan.pipeline.capturing_rounds import Timetable, rounds
from bandscan.pipeline.capturing_run import Progress as CaptureProgress
from bandscan.pipeline.capturing_run import Step
from bandscan.pipeline.checking import Checked, check
from bandscan.pipeline.files import write_files
from bandscan.pipeline.listing import Listed, baseline, newest_sheet, sheet
from bandscan.pipeline.looking import contents, reprint
from bandscan.pipeline.measuring import worker_pool
from bandscan.pipeline.place import dongle_lines, open_shop, setup
from bandscan.pipeline.surveying import Surveyed, survey
from bandscan.pipeline.texts import contents_text, survey_text
from bandscan.report import baseline_text, check_text
from bandscan.shop import Rig, Shop, make_shop
from bandscan.shop import load as load_shop
from bandscan.source import RawFormat

__all__ = [
    "CaptureProgress",
    "Checked",
    "Listed",
    "Order",
    "RawFormat",
    "Rig",
    "Shop",
    "Step",
    "Surveyed",
    "Timetable",
    "baseline",
    "baseline_text",
    "capture",
    "check",
    "check_text",
    "contents",
    "contents_text",
    "dongle_lines",
    "load_shop",
    "make_shop",
    "newest_sheet",
    "open_shop",
    "reprint",
    "rounds",
    "setup",
    "sheet",
    "survey",
    "survey_text",
    "worker_pool",
    "write_files",
]
