"""The text twins: the page's facts for a terminal, plain, within its width."""

from __future__ import annotations

from report import records

from bandscan import report


def check_plain(text: str, width: int) -> None:
    assert text.endswith("\n")
    for line in text.splitlines():
        assert line.isprintable()
        assert len(line) <= width


def test_the_check_s_text_tells_verdict_reason_and_next_test() -> None:
    """A terminal reader gets verdict, why, next, counts, threshold and findings without opening the page."""
    text = report.check_text(records.radio_check())
    assert "FM  FALLS SHORT" in text
    assert "AM  CANNOT TELL" in text
    for part in (
        "12 dB deafer than the known-good sets",
        "swap the antenna lead and the whip",
        "38 counted; expected 44 to 53",
        "-58 dBFS, uncalibrated (95 %: -61 to -55)",
        "finding A     deaf:",
        "next test: swap lead and whip",
        "twice the intermediate frequency",
        "local codes",
    ):
        assert part in text
    check_plain(text, 100)


def test_hostile_text_cannot_steer_a_terminal() -> None:
    """Escape sequences, markup of the terminal library and long names leave plain lines of bounded width."""
    names = (*records.HOSTILE, "[bold red]x[/] [link=http://invalid.example]y[/link]")
    text = report.occupancy_text(
        records.stations(how_many=30, names=names), title=names[5], rig=names[4], started_utc="", cautions=names, forged=False
    )
    check_plain(text, 100)
    assert "[bold red]x[/]" in text[: text.index("caution")]
    check_plain(report.check_text(records.radio_check(hostile=True), width=80), 80)
    check_plain(report.baseline_text(records.baseline(names=names)), 100)


def test_tables_fit_the_terminal() -> None:
    """A narrow terminal gets narrow tables."""
    text = report.occupancy_text(
        records.stations(how_many=5, names=("Harbour Nine",)),
        title="t",
        rig="r",
        started_utc="",
        cautions=[],
        forged=False,
        width=60,
    )
    check_plain(text, 60)
    assert "Harbour" in text
