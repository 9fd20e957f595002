"""A count sheet held against a reference list: what a signal generator would have told, with its uncertainty."""

from bandscan.radio.blank import blank_sheet
from bandscan.radio.compare import compare
from bandscan.radio.family import GoodSweep, apart_from, reference_from, stray_sets
from bandscan.radio.judge import judge
from bandscan.radio.limits import Limits
from bandscan.radio.planning import Plan, Tells, plan_bench, plan_words
from bandscan.radio.record import change_to_json, from_json, to_json, to_rows
from bandscan.radio.sheet import read_sheet, totals_sheet

__all__ = [
    "GoodSweep",
    "Limits",
    "Plan",
    "Tells",
    "apart_from",
    "blank_sheet",
    "change_to_json",
    "compare",
    "from_json",
    "judge",
    "plan_bench",
    "plan_words",
    "read_sheet",
    "reference_from",
    "stray_sets",
    "to_json",
    "to_rows",
    "totals_sheet",
]
