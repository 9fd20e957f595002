"""Records to pages and to words for the terminal: records in, text out; no file of the user's is opened or written."""

from bandscan.report.baseline import baseline_page, baseline_text
from bandscan.report.change import change_page
from bandscan.report.check import check_page
from bandscan.report.check_text import check_text
from bandscan.report.customer import customer_page
from bandscan.report.occupancy import occupancy_page, occupancy_text
from bandscan.report.page import plot_library
from bandscan.report.record import record_page
from bandscan.report.sheet import sheet_page

__all__ = [
    "baseline_page",
    "baseline_text",
    "change_page",
    "check_page",
    "check_text",
    "customer_page",
    "occupancy_page",
    "occupancy_text",
    "plot_library",
    "record_page",
    "sheet_page",
]
