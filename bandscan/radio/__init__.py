"""A count sheet held against a reference list: what a signal generator would have told, with its uncertainty."""

from bandscan.radio.blank import blank_sheet
from bandscan.radio.expected import reference_from
from bandscan.radio.judge import judge
from bandscan.radio.record import from_json, to_json, to_rows
from bandscan.radio.sheet import read_sheet, totals_sheet
from bandscan.radio.verdict import Limits

__all__ = ["Limits", "blank_sheet", "from_json", "judge", "read_sheet", "reference_from", "to_json", "to_rows", "totals_sheet"]
