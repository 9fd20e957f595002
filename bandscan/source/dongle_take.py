"""The dongle as the survey sees it: tuned, read and looked at step by step; what may pass is tried again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from bandscan.errors import DeviceError
from bandscan.source import dongle_checks as checks
from bandscan.source.dongle_faults import DriverError, explain
from bandscan.source.dongle_link import ANSWER_S, Link
from bandscan.source.dongle_plan import samples_of

TRIES = 3
SAME_GAIN_DB = 0.05
# number in the driver -> name and lowest frequency it tunes to [Hz]; the driver's documentation, from memory
TUNERS = {
    1: ("E4000", 52e6),
    2: ("FC0012", 22e6),
    3: ("FC0013", 22e6),
    4: ("FC2580", 146e6),
    5: ("R820T", 24e6),
    6: ("R828D", 24e6),
}
CONVERTS = 6  # dongles with this tuner may have a converter that their driver switches in by itself
_NOT_LOCKED = "pll not locked"
# words for the rows of a recording that has them, and what they mean
UNLOCKED, LOST, STALE = "unlocked", "lost-samples", "stale-start"
_FLAWS = {
    UNLOCKED: "the tuner does not lock",
    LOST: "samples were lost on their way",
    STALE: "samples of the step before came first",
}

Say = Callable[[str], None]


class StepError(DeviceError):
    """One step cannot be had; the others may."""


@dataclass(frozen=True)
class Setting:
    """How the dongle is set up. `direct` is `i`, `q` or empty; `offset_hz` is what an upconverter adds. [Hz, ppm, s]"""

    rate_hz: int
    serial: str = ""
    ppm: int = 0
    direct: str = ""
    offset_hz: int = 0
    settle_s: float = 0.1
    answer_s: float = ANSWER_S


@dataclass(frozen=True, eq=False)
class Taken:
    """Samples of one dwell as cu8, and what is known of them. `started_s` is seconds since 1970 in UTC."""

    stored: bytearray
    started_s: float
    rate_hz: float
    gain_db: float | None
    swing: checks.Swing
    remarks: tuple[str, ...] = ()


class Dongle:
    """One dongle, opened when it is first needed and opened anew after a failure. Use it in a `with` statement."""

    def __init__(self, setting: Setting, say: Say = lambda line: None) -> None:
        self.setting = setting
        self._say = say
        self._link: Link | None = None
        self._before: tuple[int, checks.Spectrum] | None = None  # centre and end of the last dwell
        self.serial = ""
        self.rate_hz = float(setting.rate_hz)
        self.gains_db: tuple[float, ...] = ()
        self.tuner = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    @property
    def name(self) -> str:
        """Tuner and serial number in words."""
        return f"RTL2832U with {TUNERS.get(self.tuner, ('an unknown tuner', 0.0))[0]}, serial {self.serial or 'unknown'}"

    def open(self) -> None:
        """Open and set up the dongle; harmless where it is open.

        Raises:
            DeviceError: there is none, or it cannot be opened.
        """
        try:
            self._opened()
        except DriverError as fault:
            raise explain(fault) from fault

    def _opened(self) -> Link:
        if self._link is not None:
            return self._link
        setting = self.setting
        link = Link(setting.answer_s)
        serials = link.ask("look")[0]["serials"]
        try:
            index = _index(serials, setting.serial)
        except DriverError:
            link.close()
            raise
        told, _, _ = link.ask("open", index=index, rate_hz=setting.rate_hz, ppm=setting.ppm, direct=setting.direct)
        self.serial, self.rate_hz, self.tuner = serials[index], float(told["rate_hz"]), int(told["tuner"])
        self.gains_db = tuple(told["gains_db"])
        self._link = link
        return link

    def close(self) -> None:
        """Let the dongle go, in order."""
        if self._link is not None:
            self._link.close()
            self._link = None

    def take(self, centre_hz: int, gain_db: float | None, seconds: float, where: str = "dongle") -> Taken:
        """Samples around a frequency on the air; `where` names the step in messages.

        Raises:
            StepError: this step cannot be had: the tuner does not lock.
            DeviceError: the dongle is gone, or does not work.
        """
        settle_s = self.setting.settle_s
        failed = DeviceError("")
        for attempt in range(1, TRIES + 1):
            try:
                return self._once(centre_hz, gain_db, seconds, settle_s, last=attempt == TRIES)
            except DriverError as fault:
                self._link = None  # its process has ended
                failed = explain(fault, where)
                if fault.absent and self.serial:
                    failed = DeviceError("the dongle is lost: unplugged, or its port lost power", where=where, do="plug it in")
                if fault.absent or not fault.passing:
                    raise failed from fault
            except _FlawError as flaw:
                failed = flaw.said(where)
                if flaw.word == STALE:
                    settle_s = max(4 * settle_s, 0.1)
            if attempt < TRIES:
                self._say(f"{where}: {failed.what}; tried again")
        raise failed

    def _once(self, centre_hz: int, gain_db: float | None, seconds: float, settle_s: float, *, last: bool) -> Taken:
        """One try; the last one is taken with its flaws marked where it is of use all the same."""
        link = self._opened()
        tuned_hz = centre_hz + self.setting.offset_hz
        told, _, said = link.ask("tune", centre_hz=tuned_hz, gain_db=gain_db)
        if any(_NOT_LOCKED in line.lower() for line in said):
            raise _FlawError(UNLOCKED)
        has_db = told["gain_db"]
        if gain_db is not None and has_db is not None and abs(has_db - gain_db) > SAME_GAIN_DB:
            raise _FlawError("gain", f"the tuner's gain is {has_db:.1f} dB where {gain_db:.1f} dB was set")
        want, skip = 2 * samples_of(seconds, self.rate_hz), 2 * samples_of(settle_s, self.rate_hz)
        told, stored, _ = link.ask("read", takes_s=seconds + settle_s, skip_bytes=skip, want_bytes=want)
        end = checks.spectrum(stored, at_end=True)
        flaws = []
        if told["short"] or checks.lost_s([(count, when) for count, when in told["arrivals"]], self.rate_hz):
            flaws.append(LOST)
        before = self._before
        if before is not None and before[0] != tuned_hz and checks.stale(checks.spectrum(stored), end, before[1]):
            flaws.append(STALE)
        if flaws and not last:
            raise _FlawError(flaws[0])
        self._before = tuned_hz, end
        return Taken(stored, told["started_s"], self.rate_hz, has_db, checks.swing(stored), tuple(flaws))


class _FlawError(Exception):
    """Something that tuning or reading again may mend."""

    def __init__(self, word: str, text: str = "") -> None:
        super().__init__(word)
        self.word, self.text = word, text or _FLAWS[word]

    def said(self, where: str) -> DeviceError:
        if self.word == UNLOCKED:
            return StepError(self.text, where=where, do="left out; let the dongle cool, or try another")
        return DeviceError(self.text, where=where, do="unplug the dongle and plug it in again: levels would not compare")


def _index(serials: Sequence[str], wanted: str) -> int:
    """The place of the dongle that is meant.

    Raises:
        DriverError: there is none, or it is not clear which is meant.
    """
    if not serials:
        raise DriverError("open", devices=0)
    listed = ", ".join(serials)
    if not wanted:
        if len(serials) > 1:
            raise DriverError("serial", detail=f"{len(serials)} dongles are plugged in", accepted=f"serial numbers {listed}")
        return 0
    found = [index for index, serial in enumerate(serials) if serial == wanted]
    if len(found) != 1:
        what = "no dongle" if not found else f"{len(found)} dongles"
        raise DriverError("serial", detail=f"{what} with serial number {wanted}", accepted=f"serial numbers {listed}")
    return found[0]
