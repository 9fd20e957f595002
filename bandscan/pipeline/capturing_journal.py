"""A capture's journal: its plan, beside the recordings, so that it can be taken up again after whatever stopped it.

What is done of it is in the shop's log; the journal adds the steps that were left out. It goes when the capture is whole.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from bandscan.errors import RecordingError
from bandscan.pipeline.capturing_order import Feed
from bandscan.source.dongle_plan import Dwell, Route
from bandscan.source.dongle_take import Setting

ENDING = ".journal"


@dataclass(frozen=True)
class Begun:
    """A capture's plan: everything that is needed to go on with it."""

    survey_id: str
    band: str
    region: str
    rig: str
    keep: str
    feed: Feed
    setting: Setting
    route: Route

    @property
    def name(self) -> str:
        """Name of its folder and journal."""
        return f"{self.band}-{self.survey_id}"

    def recording(self, dwell: Dwell) -> str:
        """Name of the recording of one dwell."""
        return f"{self.name}-{dwell.number:03d}-{dwell.centre_hz // 1000:06d}k"


@dataclass
class Journal:
    """The journal of one capture; with no path nothing is kept."""

    begun: Begun
    path: Path | None
    left_out: set[int] = field(default_factory=set)

    @classmethod
    def start(cls, begun: Begun, folder: Path | None) -> Journal:
        """A new journal.

        Raises:
            RecordingError: it cannot be written.
        """
        journal = cls(begun, folder / (begun.name + ENDING) if folder is not None else None)
        journal._add({"plan": asdict(begun)})
        return journal

    @classmethod
    def newest(cls, folder: Path, band: str) -> Journal | None:
        """The newest capture that was not ended, of this band or, with an empty one, of any; None where there is none.

        Raises:
            RecordingError: it cannot be read.
        """
        found = sorted(folder.glob(f"{band or '*'}-*{ENDING}"), key=lambda path: path.stem.partition("-")[2])
        return cls._read(found[-1]) if found else None

    @classmethod
    def _read(cls, path: Path) -> Journal:
        left_out: set[int] = set()
        begun = None
        try:
            for line in path.read_text(encoding="utf-8").splitlines(keepends=True):
                if not line.endswith("\n"):
                    break  # the program was stopped while it wrote
                entry = json.loads(line)
                if "plan" in entry:
                    begun = _begun(entry["plan"])
                else:
                    left_out.add(int(entry["left_out"]))
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise RecordingError(f"is no journal of a capture: {error}", where=path, do="move it away") from error
        if begun is None:
            raise RecordingError("is no journal of a capture: it has no plan", where=path, do="move it away")
        return cls(begun, path, left_out)

    def leave_out(self, dwell: Dwell, why: str) -> None:
        """Note a step that cannot be had.

        Raises:
            RecordingError: it cannot be written.
        """
        self.left_out.add(dwell.number)
        self._add({"left_out": dwell.number, "why": why})

    def _add(self, entry: dict[str, Any]) -> None:
        if self.path is None:
            return
        with _writing(self.path):
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with self.path.open("a", encoding="utf-8") as file:
                file.write(json.dumps(entry) + "\n")
                file.flush()
                os.fsync(file.fileno())

    def end(self) -> None:
        """The capture is whole."""
        if self.path is not None:
            with _writing(self.path):
                self.path.unlink(missing_ok=True)


@contextmanager
def _writing(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise RecordingError(
            f"cannot be written: {error.strerror or error}", where=path, do="check the folder and the disk"
        ) from error


def _begun(plan: dict[str, Any]) -> Begun:
    told = plan["route"]
    route = Route(**{**told, "dwells": tuple(Dwell(**one) for one in told["dwells"])})
    return Begun(**{**plan, "feed": Feed(**plan["feed"]), "setting": Setting(**plan["setting"]), "route": route})
