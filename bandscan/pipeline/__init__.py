"""The whole path in order, one function per command; no arithmetic.

Names are imported when they are first used: no command pays for the libraries of another.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bandscan.pipeline.capturing import capture
    from bandscan.pipeline.capturing_order import Order
    from bandscan.pipeline.capturing_rounds import Timetable, rounds
    from bandscan.pipeline.capturing_run import Progress as CaptureProgress
    from bandscan.pipeline.capturing_run import Step
    from bandscan.pipeline.checking import Checked, check
    from bandscan.pipeline.exporting import backup, export
    from bandscan.pipeline.files import share_plots, write_files
    from bandscan.pipeline.forgetting import Forgotten, forget
    from bandscan.pipeline.listing import Listed, baseline, newest_sheet, sheet
    from bandscan.pipeline.looking import History, contents, reprint, station_history
    from bandscan.pipeline.place import dongle_lines, open_shop, setup
    from bandscan.pipeline.printing import print_pages
    from bandscan.pipeline.surveying import Surveyed, survey
    from bandscan.pipeline.tallying import Tally, left_tally, tally
    from bandscan.pipeline.texts import change_text, contents_text, history_text, survey_text
    from bandscan.pipeline.workers import measuring_pool, worker_pool
    from bandscan.report import baseline_text, check_text
    from bandscan.shop import Rig, Shop, make_shop
    from bandscan.shop import load as load_shop
    from bandscan.source import RawFormat

__all__ = [
    "CaptureProgress",
    "Checked",
    "Forgotten",
    "History",
    "Listed",
    "Order",
    "RawFormat",
    "Rig",
    "Shop",
    "Step",
    "Surveyed",
    "Tally",
    "Timetable",
    "backup",
    "baseline",
    "baseline_text",
    "capture",
    "change_text",
    "check",
    "check_text",
    "contents",
    "contents_text",
    "dongle_lines",
    "export",
    "forget",
    "history_text",
    "left_tally",
    "load_shop",
    "make_shop",
    "measuring_pool",
    "newest_sheet",
    "open_shop",
    "print_pages",
    "reprint",
    "rounds",
    "setup",
    "share_plots",
    "sheet",
    "station_history",
    "survey",
    "survey_text",
    "tally",
    "worker_pool",
    "write_files",
]

# name -> the module that it comes from, and its name there where that is another
_FROM = {
    "capture": "pipeline.capturing",
    "Order": "pipeline.capturing_order",
    **dict.fromkeys(("Timetable", "rounds"), "pipeline.capturing_rounds"),
    "Step": "pipeline.capturing_run",
    **dict.fromkeys(("Checked", "check"), "pipeline.checking"),
    **dict.fromkeys(("backup", "export"), "pipeline.exporting"),
    **dict.fromkeys(("share_plots", "write_files"), "pipeline.files"),
    **dict.fromkeys(("Forgotten", "forget"), "pipeline.forgetting"),
    **dict.fromkeys(("Listed", "baseline", "newest_sheet", "sheet"), "pipeline.listing"),
    **dict.fromkeys(("History", "contents", "reprint", "station_history"), "pipeline.looking"),
    **dict.fromkeys(("dongle_lines", "open_shop", "setup"), "pipeline.place"),
    **dict.fromkeys(("Surveyed", "survey"), "pipeline.surveying"),
    **dict.fromkeys(("Tally", "left_tally", "tally"), "pipeline.tallying"),
    "print_pages": "pipeline.printing",
    **dict.fromkeys(("change_text", "contents_text", "history_text", "survey_text"), "pipeline.texts"),
    **dict.fromkeys(("measuring_pool", "worker_pool"), "pipeline.workers"),
    **dict.fromkeys(("baseline_text", "check_text"), "report"),
    **dict.fromkeys(("Rig", "Shop", "make_shop"), "shop"),
    "RawFormat": "source",
}
_ITS_NAME = {"CaptureProgress": ("pipeline.capturing_run", "Progress"), "load_shop": ("shop", "load")}


def __getattr__(name: str) -> object:
    """PEP 562: import a public name's module when the name is first asked for."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, called = _ITS_NAME.get(name) or (_FROM[name], name)
    found = getattr(import_module(f"bandscan.{module}"), called)
    globals()[name] = found
    return found
