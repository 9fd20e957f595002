"""A day's logging through the stand-in: rounds at even times, a dongle that is pulled out and comes back."""

from __future__ import annotations

import shutil
from collections import namedtuple
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import pytest
from device.conftest import Bench

from bandscan.pipeline import Order, Surveyed, Timetable
from bandscan.pipeline.capturing_rounds import Clock, rounds
from bandscan.source.dongle_faults import DriverError, explain

# at this rate the band is nine steps
ORDER = Order("fm", gain="28", quick=True, rate_hz=3_200_000, dwell_s=0.12, settle_s=0.0)
STEPS = 9


@dataclass
class Day:
    """A clock that waiting moves on, and what happens at some moments of it."""

    now_s: float = 1_000_000.0
    order: Order = ORDER
    events: list[tuple[float, Callable[[], None]]] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    came: list[Surveyed] = field(default_factory=list)

    def sleep(self, seconds: float) -> None:
        """Time goes by, and things happen."""
        self.now_s += seconds
        for event in [one for one in self.events if one[0] <= self.now_s]:
            self.events.remove(event)
            event[1]()

    def run(self, bench: Bench, every_s: float, until_s: float) -> list[str]:
        """Rounds of this day; gives what failed, in words."""
        clock = Clock(lambda: self.now_s, self.sleep)
        table = Timetable(every_s, until_s)
        errors = rounds([self.order], table, shop=bench.shop, say=self.said.append, came=self.came.append, clock=clock)
        return [str(error) for error in errors]


def test_rounds_until_the_end(bench: Bench) -> None:
    """A survey each half hour, the last at the end itself; each is a survey of its own in the log."""
    day = Day()
    assert day.run(bench, 1800.0, day.now_s + 1800.0) == []
    assert len(day.came) == 2
    assert sum("the next round begins at" in line for line in day.said) == 1
    assert day.now_s == 1_001_800.0
    assert len(bench.logged()) == 2 * STEPS


def test_a_dongle_that_is_pulled_out_and_comes_back(bench: Bench) -> None:
    """It is waited for, said so, and the capture it was lost in is taken up; in the end nothing failed and no step is twice."""
    day = Day()
    bench.stand_in.order("lose 5 99 0")
    day.events.append((day.now_s + 25.0, bench.stand_in.order))
    assert day.run(bench, 1800.0, day.now_s) == []
    assert "waiting for the dongle; it is looked for every 10 s" in day.said
    assert "the dongle is there: going on" in day.said
    assert any("step 5 of 9 (98.6 MHz): the dongle is lost" in line for line in day.said)
    assert day.now_s == 1_000_030.0
    assert len(bench.logged()) == STEPS
    assert bench.stand_in.calls().count("read 262144") == STEPS + 1


def test_a_dongle_that_does_not_come_back(bench: Bench) -> None:
    """The round is given up at its end, with its line; the next one is tried all the same."""
    day = Day()
    bench.stand_in.order("count 0 99 0")
    day.events.append((day.now_s + 100.0, bench.stand_in.order))
    errors = day.run(bench, 60.0, day.now_s + 120.0)
    # rounds at 0, 60 and 120 s: the first has no dongle, the second gets one, the third is whole
    assert len(errors) == 1
    assert "no RTL2832U dongle found" in errors[0]
    assert "the dongle did not come back in this round" in day.said
    assert len(bench.logged()) == 2 * STEPS


def test_a_computer_that_sleeps(bench: Bench) -> None:
    """Rounds that were slept through are missed and said so; it goes on at the next even time."""
    day = Day()

    def sleep_for_an_hour() -> None:
        day.now_s += 5500.0

    day.events.append((day.now_s + 900.0, sleep_for_an_hour))
    assert day.run(bench, 1800.0, day.now_s + 7200.0) == []
    assert len(day.came) == 3  # at 0, at 6400 s when it woke, at 7200 s
    assert "the round begins 4600 s late: the computer slept, or its clock was set" in day.said
    assert "2 rounds missed: the ones before took longer, or the computer slept" in day.said
    assert len(bench.logged()) == 3 * STEPS


def test_a_disk_that_is_full_for_a_while(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A round without room is said and passed over; the next one finds room and is whole."""
    usage = namedtuple("usage", "total used free")
    free = [10**6, 10**12]
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage(10**12, 0, free.pop(0)))
    day = Day(order=replace(ORDER, keep="iq"))
    errors = day.run(bench, 1800.0, day.now_s + 1800.0)
    assert len(errors) == 1
    assert "0.00 GB are free and 0.06 GB are needed" in errors[0]
    assert errors[0] in day.said
    assert len(bench.logged()) == len(bench.recordings()) == STEPS


def test_rounds_as_they_are_typed(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """`--every 1s --until TIME` makes rounds, prints each survey, and ends with status 0; without a shop it is refused."""
    from datetime import datetime, timedelta

    end = (datetime.now() + timedelta(seconds=8)).isoformat(timespec="seconds")
    line = f"capture --band fm --gain 28 --quick --rate 3.2M --dwell 0.06 --settle 0 --every 4s --until {end}"
    assert bench.type(line) == 0
    assert bench.out.count("Survey fm-") >= 2
    assert "next: the day is over; 0 things failed" in bench.err
    monkeypatch.chdir(bench.shop.folder.parent)
    assert bench.type(line) == 2
    assert "--every logs into a shop, and there is no shop here" in bench.err


def test_without_a_driver_the_day_ends_at_once(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """No waiting and no further round brings a library: one line with what to install, and it is what failed."""

    def missing(*_: object, **__: object) -> Surveyed:
        raise explain(DriverError("load", kind="ModuleNotFoundError"))

    monkeypatch.setattr("bandscan.pipeline.capturing_rounds.capture", missing)
    day = Day()
    (failed,) = day.run(bench, 1800.0, day.now_s + 7200.0)
    assert "install the driver with" in failed
    assert day.said == [failed]
    assert day.now_s == 1_000_000.0
