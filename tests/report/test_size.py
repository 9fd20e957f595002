"""A page is one file of bounded size with the plot library in it once; pages of a folder share the library."""

from __future__ import annotations

from report import records

from bandscan import report

LIMIT_BYTES = 6_000_000
FOLDER_LIMIT_BYTES = 10_000_000


def test_a_check_of_both_bands_is_one_file_below_six_megabytes() -> None:
    """The largest page, of 105 stations with hostile names, holds the library once and stays within the limit."""
    lists = {"fm": records.baseline(names=records.HOSTILE), "am": records.baseline("am", 45, levels=False)}
    html = report.check_page(records.radio_check(hostile=True), lists)
    assert len(html.encode()) < LIMIT_BYTES
    assert html.count("plotly.js v") == 1
    assert " src=" not in html[: html.index("plotly.js v")].replace("&lt;img src=", "")


def test_ten_checks_of_a_folder_share_one_library_below_ten_megabytes() -> None:
    """Ten such pages with the library beside them stay within 10 MB, and each names the file and holds no copy."""
    lists = {"fm": records.baseline(names=records.HOSTILE), "am": records.baseline("am", 45, levels=False)}
    html = report.check_page(records.radio_check(hostile=True), lists, library="../plots.js")
    assert html.count('<script src="../plots.js"></script>') == 1
    assert "plotly.js v" not in html
    assert 10 * len(html.encode()) + len(report.plot_library().encode()) < FOLDER_LIMIT_BYTES
