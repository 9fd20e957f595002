"""One capture under way: its dwells taken, measured and kept one after the other."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from bandscan.errors import DeviceError, LogError, RecordingError
from bandscan.measure import measure
from bandscan.model import OVERLOAD_SHARE, Capture, Measured, utc_text
from bandscan.pipeline.capturing_journal import Begun, Journal
from bandscan.pipeline.capturing_order import out_of_reach
from bandscan.pipeline.capturing_watch import Watch
from bandscan.pipeline.measuring import Outcome, Wish, digest_of, measure_path
from bandscan.pipeline.surveying import Keeper, Surveyed
from bandscan.plans import BandPlan, plan_for
from bandscan.shop import Shop
from bandscan.source import Heading, write
from bandscan.source.dongle_checks import CU8, Swing
from bandscan.source.dongle_plan import Dwell
from bandscan.source.dongle_samples import HeldSamples
from bandscan.source.dongle_take import TUNERS, Dongle, StepError, Taken
from bandscan.units import channel_text_unit

CARRIER_SNR_DB = 3.0  # noise alone makes weaker carriers now and then


@dataclass(frozen=True)
class Step:
    """How far a capture is: the dwell that just ended, of how many, and what it showed. [s, dBFS]"""

    dwell: Dwell
    band: str
    turns: int
    of: int
    left_s: float
    peak_dbfs: float
    overload: bool


Say = Callable[[str], None]
Progress = Callable[[Step], None]


class Run:
    """One capture under way."""

    def __init__(
        self,
        journal: Journal,
        dongle: Dongle,
        shop: Shop | None,
        folder: Path | None,
        keeper: Keeper,
        done: Surveyed,
        say: Say,
        progress: Progress,
    ) -> None:
        begun = self._begun = journal.begun
        self._journal, self._dongle, self._keeper, self._done = journal, dongle, keeper, done
        self._say, self._progress = say, progress
        self._folder = folder / begun.name if folder is not None and begun.keep == "iq" else None
        self._plan: BandPlan = plan_for(begun.region, begun.band)
        # as a later survey of the kept recordings would ask, so that it finds them measured
        self._wish = Wish(
            begun.region, usual_rig=shop.rig if shop is not None else "", forged=False if shop is not None else None
        )
        self._watch = Watch()
        self.digests: set[str] = set()
        self.measured: list[Measured] = []  # without a log; the log's own need not be held

    def go(self) -> None:
        """All dwells that are not done yet; what stops them is among the errors."""
        dwells = self._begun.route.dwells
        todo = [one for one in dwells if not self._is_done(one)]
        if len(todo) < len(dwells):
            self._say(f"{len(dwells) - len(todo)} of {len(dwells)} steps are done already")
        begun, turn, turn_begun = time.monotonic(), 0, time.monotonic()
        planned = _planned(todo, self._begun)
        try:
            for place, dwell in enumerate(todo):
                if dwell.turn != turn:
                    if turn:
                        self._pause(turn_begun)
                    turn, turn_begun = dwell.turn, time.monotonic()
                swing = self._dwell(dwell)
                if (jumped := self._watch.jump()) is not None:
                    self._done.notes.append(f"{self._where(dwell)}: {jumped}")
                spent = time.monotonic() - begun
                left_s = planned[place + 1] * (spent / max(planned[0] - planned[place + 1], 1e-9))
                if swing is not None:
                    overload = swing.clipped_share > OVERLOAD_SHARE
                    self._progress(
                        Step(dwell, self._plan.band, self._begun.route.turns, len(dwells), left_s, swing.peak_dbfs, overload)
                    )
        except (DeviceError, RecordingError, LogError) as error:
            self._done.errors.append(error)
            finished = sum(self._is_done(one) for one in dwells) if self._keeper.log is not None else len(self.measured)
            if self._journal.path is not None:
                self._done.notes.append(
                    f"{finished} of {len(dwells)} steps are measured and kept; to go on run: bandscan capture --resume"
                )
            return
        if not any(isinstance(error, LogError) for error in self._done.errors):
            self._journal.end()

    def _pause(self, turn_begun: float) -> None:
        wait_s = turn_begun + self._begun.route.pause_s - time.monotonic()
        if wait_s > 0:
            self._say(f"the next pass begins in {wait_s:.0f} s")
            time.sleep(wait_s)

    def _where(self, dwell: Dwell) -> str:
        at = channel_text_unit(self._plan.band, dwell.centre_hz)
        return f"{self._plan.band.upper()} pass {dwell.turn} step {dwell.step} of {dwell.of} ({at})"

    def _digest(self, dwell: Dwell) -> str:
        """Of a recording that is not kept: nothing else will ever have it."""
        named = f"{self._begun.recording(dwell)} {self._begun.rig}"
        return hashlib.blake2b(named.encode(), digest_size=16).hexdigest()

    def _is_done(self, dwell: Dwell) -> bool:
        """Whether this dwell is in the log; one that was kept and did not come that far is measured from its file."""
        if dwell.number in self._journal.left_out:
            return True
        if self._keeper.log is None:
            return False
        digest = self._digest(dwell)
        path = self._path(dwell)
        if self._folder is not None:
            if not path.exists():
                return False
            digest = digest_of(path)
            if self._keeper.known(digest, self._wish.settings) is None:
                self._keep(measure_path(path, digest, self._wish))
        elif self._keeper.known(digest, self._wish.settings) is None:
            return False
        self.digests.add(digest)
        return True

    def _path(self, dwell: Dwell) -> Path:
        """Where the metadata of a kept recording lies; the name of one that is not kept."""
        name = f"{self._begun.recording(dwell)}.sigmf-meta"
        return self._folder / name if self._folder is not None else Path(name)

    def _dwell(self, dwell: Dwell) -> Swing | None:
        """One dwell, measured and kept; what is handed on is how far it swings. None where it had to be left out."""
        where = self._where(dwell)
        try:
            taken = self._dongle.take(dwell.centre_hz, dwell.gain_db, dwell.seconds, where)
        except StepError as error:
            self._refuse_band_out_of_reach(error)
            self._done.errors.append(error)
            self._journal.leave_out(dwell, error.what)
            return None
        except DeviceError as error:
            self._refuse_band_out_of_reach(error)
            raise
        one = self._capture(dwell, taken)
        measured = measure(one, self._plan)
        self._refuse_nothing(measured)
        digest = self._digest(dwell)
        if self._folder is not None:
            self._folder.mkdir(parents=True, exist_ok=True)
            digest = digest_of(write(self._path(dwell).with_suffix(""), self._heading(one), [taken.stored]))
        self._keep(Outcome(self._path(dwell), digest, (replace(measured, digest=digest),), ()))
        self.digests.add(digest)
        return taken.swing

    def _keep(self, outcome: Outcome) -> None:
        if self._keeper.log is None:
            self.measured += outcome.measured
            return
        self._keeper.keep(outcome, self._wish.settings)
        if self._keeper.log is None:  # it was lost with this one; its error is told already
            raise self._done.errors.pop()

    def _capture(self, dwell: Dwell, taken: Taken) -> Capture:
        return Capture(
            name=self._begun.recording(dwell),
            path=self._path(dwell),
            samples=HeldSamples(taken.stored, CU8),
            rate_hz=taken.rate_hz,
            centre_hz=float(dwell.centre_hz),
            started_utc=utc_text(datetime.fromtimestamp(taken.started_s, UTC)),
            survey_id=self._begun.survey_id,
            rig=self._begun.rig,
            gain_db=taken.gain_db,
            remarks=taken.remarks,
        )

    def _heading(self, one: Capture) -> Heading:
        return Heading(
            CU8.name,
            one.rate_hz,
            one.centre_hz,
            one.started_utc,
            rig=one.rig,
            survey_id=one.survey_id,
            gain_db=one.gain_db,
            description=self._begun.feed.words,
            hardware=self._dongle.name,
            ppm=float(self._begun.setting.ppm),
            remarks=one.remarks,
        )

    def _refuse_band_out_of_reach(self, error: DeviceError) -> None:
        """A tuner below its range does not lock, or refuses: that is no broken step."""
        feed = self._begun.feed
        name, lowest_hz = TUNERS.get(self._dongle.tuner, ("unknown", 0.0))
        if not self.digests and not feed.direct and self._plan.channels_hz[0] + feed.offset_hz < lowest_hz:
            raise out_of_reach(name, lowest_hz, self._plan) from error

    def _refuse_nothing(self, measured: Measured) -> None:
        """By direct sampling, a band without a single carrier is an input that is not there, or a dead lead."""
        direct = self._begun.feed.direct
        if direct and not self.digests and not (measured.readings["snr_db"] >= CARRIER_SNR_DB).any():
            other = "i" if direct == "q" else "q"
            raise DeviceError(
                f"not one carrier on {self._plan.band.upper()} by direct sampling, branch {direct}: this dongle has no input"
                " there, or nothing is fed to it",
                where="dongle",
                do=f"check the lead, try --direct {other}, or use --upconverter HZ",
            )


def _planned(dwells: Sequence[Dwell], begun: Begun) -> list[float]:
    """Planned seconds from each dwell to the end; one more entry, 0, for the end."""
    left = [0.0]
    for one in reversed(dwells):
        left.append(left[-1] + one.seconds + begun.setting.settle_s)
    return left[::-1]
