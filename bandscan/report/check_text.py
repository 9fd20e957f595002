"""The check for a terminal: verdict, reason, next test, figures, findings. Plain text, no escape codes."""

from __future__ import annotations

from bandscan.model import BandCheck, RadioCheck
from bandscan.report.check import extras_grid, facts
from bandscan.report.grid import as_text, entry
from bandscan.report.strip import telling_lines
from bandscan.report.words import BAND_NAMES, channels, denied, letter_of, name, plain, speaking, weighed

_BENCH = (
    "Before any wiring: read the polarity label, fuse and limit the supply, tube sets hold dangerous voltages; "
    "the maker's instructions, local codes and licensed people come first."
)


def check_text(check: RadioCheck, width: int = 100) -> str:
    """A check in a few lines for each band, plain text of at most `width` columns."""
    lines = [f"Job {name(check.job)}: {name(check.radio) or 'radio not named'}"]
    if check.forged:
        lines.append("MADE SIGNALS: the recordings were computed, not received.")
    for band in check.bands.values():
        lines += ["", *_band(band, width)]
    lines.append("")
    for caution in check.cautions:
        lines += entry("caution", caution, width)
    lines += entry("bench", _BENCH, width)
    return "\n".join(lines) + "\n"


def _band(check: BandCheck, width: int) -> list[str]:
    lines = [f"{BAND_NAMES[check.band]}  {name(check.verdict).upper()}"]
    for term, words in (("why", check.why), ("next", check.do_next), *facts(check)):
        lines += entry(term, words, width)
    for line in telling_lines(check):
        lines += entry("missed" if line.startswith("missed") else "not followed", line, width)
    for row, finding in enumerate(speaking(check)):
        evidence = channels(check.band, sorted(finding.evidence))
        lines += entry(f"finding {letter_of(row)}", f"{name(finding.fault)}: {plain(finding.text)}", width)
        lines += entry("", f"evidence: {evidence}; weight {weighed(finding)}", width)
        lines += entry("", f"next test: {plain(finding.next_test)}", width)
    if denied(check):
        lines += entry("no finding", denied(check), width)
    if check.extras:
        lines += ["", *as_text(extras_grid(check), width).splitlines()]
    return lines
