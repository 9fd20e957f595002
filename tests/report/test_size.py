"""A page is one file of bounded size, with the plot library in it once."""

from __future__ import annotations

from report import records

from bandscan import report

LIMIT_BYTES = 6_000_000


def test_a_check_of_both_bands_is_one_file_below_six_megabytes() -> None:
    """The largest page, of 105 stations with hostile names, holds the library once and stays within the limit."""
    lists = {"fm": records.baseline(names=records.HOSTILE), "am": records.baseline("am", 45, levels=False)}
    html = report.check_page(records.radio_check(hostile=True), lists)
    assert len(html.encode()) < LIMIT_BYTES
    assert html.count("plotly.js v") == 1
    assert " src=" not in html[: html.index("plotly.js v")].replace("&lt;img src=", "")
