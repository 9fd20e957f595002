"""A day's logging: captures at even times, through unplugging, sleep and a full disk."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from bandscan.errors import BandscanError, DeviceError, DriverMissingError, UsageError
from bandscan.pipeline.capturing import capture
from bandscan.pipeline.capturing_order import Order, rig_of_capture
from bandscan.pipeline.capturing_run import Progress, Say
from bandscan.pipeline.surveying import Surveyed
from bandscan.shop import Shop
from bandscan.source.dongle_look import plugged_in
from bandscan.source.dongle_take import StepError

LOOK_EVERY_S = 10.0
_NAP_S = 20.0  # a computer that slept is noticed this soon after it woke
_NO_LOSS = (StepError, DriverMissingError)  # what no waiting for the dongle mends


@dataclass(frozen=True)
class Clock:
    """The computer's clock, and waiting. [s since 1970, s]"""

    now: Callable[[], float] = time.time
    sleep: Callable[[float], None] = time.sleep


@dataclass(frozen=True)
class Timetable:
    """Rounds every so often from the first one on, until a moment or for ever. [s, s since 1970]"""

    every_s: float
    until: float | None = None

    def __post_init__(self) -> None:
        if not self.every_s > 0:
            raise UsageError("--every of nothing", accepted="--every 30m, 1h, 90s")

    def next_after(self, first: float, last: float, now: float) -> float | None:
        """When the round after the one of `last` is due that is not over `now`; None where the day is over then."""
        number = max(round((last - first) / self.every_s) + 1, math.ceil((now - first) / self.every_s))
        due = first + number * self.every_s
        return due if self.until is None or due <= self.until else None


def local_text(moment: float) -> str:
    """A moment as the wall clock shows it, with its offset from UTC."""
    here = datetime.fromtimestamp(moment).astimezone()
    return f"{here:%H:%M:%S} (UTC{here:%z})"


def rounds(
    orders: Sequence[Order],
    timetable: Timetable,
    *,
    shop: Shop,
    out: Path | None = None,
    say: Say = lambda line: None,
    progress: Progress = lambda step: None,
    came: Callable[[Surveyed], object] = lambda surveyed: None,
    clock: Clock | None = None,
) -> list[BandscanError]:
    """Captures in rounds; gives what failed and could not be made good.

    A dongle that is lost is waited for, and the capture it was lost in is taken up; anything else that fails is said, and the
    next round is tried.

    Args:
        orders: what each round captures, one after the other.
        timetable: when.
        shop: the shop, whose log and journal make going on possible.
        out: where to write each survey's files.
        say: called with lines for the user.
        progress: called after each dwell.
        came: called with what each capture gave.
        clock: the time and waiting; None means the computer's.

    Raises:
        UsageError: it cannot be done as asked.
    """
    clock = clock or Clock()
    failed: list[BandscanError] = []
    first = clock.now()
    due: float | None = first
    while due is not None:
        following = timetable.next_after(first, due, due)
        for order in orders:
            day = _Round(order, due + timetable.every_s, shop, out, say, progress, clock)
            done, errors = day.run()
            failed += errors
            for one in done:
                came(one)
            if any(isinstance(one, DriverMissingError) for one in errors):
                return failed
        now = clock.now()
        due = timetable.next_after(first, due, now)
        if following is not None and due != following:
            missed = max(round(((due or now) - following) / timetable.every_s), 1)
            say(f"{missed} round{'s' if missed > 1 else ''} missed: the ones before took longer, or the computer slept")
        if due is not None:
            say(f"the next round begins at {local_text(due)}")
            while (left := due - clock.now()) > 0:
                clock.sleep(min(left, _NAP_S))
            if (late := clock.now() - due) > 2 * _NAP_S:
                say(f"the round begins {late:.0f} s late: the computer slept, or its clock was set")
    return failed


@dataclass(frozen=True)
class _Round:
    order: Order
    end: float
    shop: Shop
    out: Path | None
    say: Say
    progress: Progress
    clock: Clock

    def run(self) -> tuple[list[Surveyed], list[BandscanError]]:
        """One capture, taken up as often as the dongle comes back before the round's end."""
        given: list[Surveyed] = []
        resume = False
        while True:
            errors: list[BandscanError] = []
            try:
                done = capture(self.order, shop=self.shop, out=self.out, resume=resume, say=self.say, progress=self.progress)
                given.append(done)
                errors = done.errors
            except UsageError:
                raise
            except BandscanError as error:
                errors = [error]
            else:
                resume = True
            lost = [one for one in errors if isinstance(one, DeviceError) and not isinstance(one, _NO_LOSS)]
            if not lost:
                if not given or given[-1].errors is not errors:  # else they are told with what the capture gave
                    for one in errors:
                        self.say(str(one))
                return given, errors
            if given and given[-1].errors is errors:
                given[-1].errors = [one for one in errors if one not in lost]
            self.say(str(lost[0]))
            if not self._came_back():
                return given, errors

    def _came_back(self) -> bool:
        """Wait for the dongle until this round's end."""
        self.say(f"waiting for the dongle; it is looked for every {LOOK_EVERY_S:.0f} s")
        serial = self.order.serial or rig_of_capture(self.order, self.shop).receiver
        while self.clock.now() + LOOK_EVERY_S < self.end:
            self.clock.sleep(LOOK_EVERY_S)
            if plugged_in(serial):
                self.say("the dongle is there: going on")
                return True
        self.say("the dongle did not come back in this round")
        return False
