"""A capture's order, journal, clock and timetable, without a dongle: pipeline/capturing_*.py."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from bandscan.cli.capture import span_s, until
from bandscan.errors import RecordingError, UsageError
from bandscan.pipeline.capturing_journal import Begun, Journal
from bandscan.pipeline.capturing_keep import sweep
from bandscan.pipeline.capturing_order import Feed, Order, feed_of
from bandscan.pipeline.capturing_rounds import Timetable
from bandscan.pipeline.capturing_watch import Watch
from bandscan.plans import plan_for
from bandscan.shop import Rig
from bandscan.source.dongle_plan import route
from bandscan.source.dongle_take import Setting


def begun(survey_id: str = "20260414T180500Z", band: str = "fm") -> Begun:
    """A plan as a capture writes it down."""
    way = route(plan_for("us", band), [28.0, 19.7] if band == "fm" else [None])
    return Begun(survey_id, band, "us", "loft", "iq", Feed("q", 0, "direct"), Setting(2_400_000, "S1", 3, "q"), way)


def test_a_journal_gives_back_the_plan(tmp_path: Path) -> None:
    """What is read is what was written, with the steps that were left out."""
    plan = begun()
    journal = Journal.start(plan, tmp_path)
    journal.leave_out(plan.route.dwells[4], "the tuner does not lock")
    found = Journal.newest(tmp_path, "")
    assert found is not None
    assert found.begun == plan
    assert found.left_out == {5}
    journal.end()
    assert Journal.newest(tmp_path, "") is None


def test_the_newest_journal_of_a_band(tmp_path: Path) -> None:
    """By the time of its start, whatever the band's name; of one band where one is named."""
    for survey_id, band in (("20260414T180500Z", "fm"), ("20260414T190000Z", "am"), ("20260414T183000Z", "fm")):
        Journal.start(begun(survey_id, band), tmp_path)
    newest, fm = Journal.newest(tmp_path, ""), Journal.newest(tmp_path, "fm")
    assert newest is not None
    assert newest.begun.band == "am"
    assert fm is not None
    assert fm.begun.survey_id == "20260414T183000Z"


def test_a_journal_that_was_cut_off_while_it_was_written(tmp_path: Path) -> None:
    """A last line without its end is no entry; a file without a plan is named."""
    plan = begun()
    journal = Journal.start(plan, tmp_path)
    path = tmp_path / "fm-20260414T180500Z.journal"
    with path.open("a") as file:
        file.write('{"left_out": 7, "wh')
    found = Journal.newest(tmp_path, "fm")
    assert found is not None
    assert found.left_out == set()
    path.write_text("nonsense\n")
    with pytest.raises(RecordingError, match=r"journal: is no journal of a capture: .*; move it away"):
        Journal.newest(tmp_path, "fm")
    assert journal.begun == plan


def test_halves_of_recordings_go_and_nothing_else(tmp_path: Path) -> None:
    """Data without metadata, and drafts, of a capture's names; whole pairs and other people's files stay."""
    name = "fm-20260414T180500Z-00{}-088600k.sigmf-{}"
    for number, endings in ((1, ("data", "meta")), (2, ("data",)), (3, ("data.part",)), (4, ("data", "data.part"))):
        for ending in endings:
            (tmp_path / name.format(number, ending)).write_bytes(b"x")
    (tmp_path / "mine.sigmf-data").write_bytes(b"x")
    sweep(tmp_path, 600.0)
    assert len(list(tmp_path.iterdir())) == 7  # they may be being written just now
    sweep(tmp_path, 0.0)
    left = sorted(path.name for path in tmp_path.iterdir())
    assert left == [name.format(1, "data"), name.format(1, "meta"), "mine.sigmf-data"]


def clocks(*readings: tuple[float, float]) -> tuple[Callable[[], float], Callable[[], float]]:
    """A wall clock and a steady one that show these times one after the other."""
    wall, steady = iter([one for one, _ in readings]), iter([other for _, other in readings])
    return lambda: next(wall), lambda: next(steady)


def test_a_clock_that_jumps() -> None:
    """A clock set forward or back, or a computer that slept, is noticed once; a slow second is not."""
    wall, steady = clocks((1000.0, 0.0), (1010.5, 10.0), (4620.5, 20.0), (4630.5, 30.0), (1040.0, 40.0))
    watch = Watch(wall, steady)
    assert watch.jump() is None
    assert (watch.jump() or "").startswith("the clock jumped by +3600 s (it was set, or the computer slept): start times")
    assert watch.jump() is None
    assert (watch.jump() or "").startswith("the clock jumped by -3600 s (it was set back)")


def test_a_timetable() -> None:
    """Rounds at even times from the first on; one that took too long costs those it covered; none starts after the end."""
    table = Timetable(1800.0, until=10_000.0 + 4 * 1800.0)
    assert table.next_after(10_000.0, 10_000.0, 10_000.0) == 11_800.0
    assert table.next_after(10_000.0, 10_000.0, 11_800.0) == 11_800.0
    assert table.next_after(10_000.0, 11_800.0, 11_800.0) == 13_600.0
    assert table.next_after(10_000.0, 10_000.0, 15_000.0) == 15_400.0
    assert table.next_after(10_000.0, 15_400.0, 17_201.0) is None
    assert Timetable(60.0).next_after(0.0, 1e9, 1e9) is not None
    with pytest.raises(UsageError, match="--every of nothing"):
        Timetable(0.0)


def test_spans_and_ends_as_they_are_typed() -> None:
    """30m, 1h30m, 90s; an hour of the day is the next one that the wall clock shows."""
    assert [span_s(text) for text in ("30m", "1h30m", "90s", "2h")] == [1800.0, 5400.0, 90.0, 7200.0]
    now = datetime(2026, 4, 14, 12, 0).astimezone()
    assert until("18:00", now) - now.timestamp() == 6 * 3600
    assert until("11:30", now) - now.timestamp() == 23.5 * 3600
    assert until("2026-04-14T18:00", now) == until("18:00", now)


def test_how_am_gets_to_the_receiver() -> None:
    """What is asked for comes before what the rig says; an upconverter's frequency cannot be guessed."""
    assert feed_of(Order("am", direct="i"), Rig("r", am_feed="upconverter")).direct == "i"
    assert feed_of(Order("am"), Rig("r", am_feed="direct")).direct == "q"
    assert feed_of(Order("am", upconverter_hz=125_000_000), Rig("r")).offset_hz == 125_000_000
    assert feed_of(Order("am"), Rig("r")) == Feed()
    assert feed_of(Order("fm"), Rig("r", am_feed="direct")) == Feed()
    with pytest.raises(UsageError, match="accepted: --upconverter 125M, as printed on it"):
        feed_of(Order("am"), Rig("r", am_feed="upconverter"))
