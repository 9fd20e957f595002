"""Recordings to READINGS, each in this process or in one of several, so that one bad recording stops no other."""

from __future__ import annotations

import hashlib
import json
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Future, ProcessPoolExecutor, wait
from contextlib import nullcontext
from dataclasses import asdict, dataclass, replace
from importlib import import_module
from pathlib import Path
from threading import Lock

from bandscan._version import __version__
from bandscan.errors import BandscanError, RecordingError
from bandscan.measure import covered, measure
from bandscan.model import Capture, Measured
from bandscan.pipeline.place import UNNAMED
from bandscan.pipeline.workers import undisturbed, worker_pool
from bandscan.plans import BANDS, plan_for
from bandscan.source import RawFormat, read

_SAMPLED_BYTES = 1 << 18


@dataclass(frozen=True)
class Wish:
    """How recordings are to be measured. `forged` True lets made ones in only, False received ones only, None both.

    `gain_db` is that of recordings that do not tell theirs. [dB]
    """

    region: str
    band: str | None = None
    rig: str | None = None
    usual_rig: str = ""
    raw: RawFormat | None = None
    centre_hz: float | None = None
    forged: bool | None = None
    gain_db: float | None = None

    @property
    def settings(self) -> str:
        """Everything that figures depend on besides the recording, as one text."""
        facts = asdict(self)
        del facts["forged"]
        return json.dumps({"version": __version__, **facts}, sort_keys=True)


@dataclass(frozen=True, eq=False)
class Outcome:
    """What came of one recording."""

    path: Path
    digest: str
    measured: tuple[Measured, ...]
    errors: tuple[BandscanError, ...]


def digest_of(path: Path) -> str:
    """What tells a recording's content from any other's: its files' sizes and their beginning, middle and end.

    Raises:
        RecordingError: a file cannot be read.
    """
    content = hashlib.blake2b(digest_size=16)
    beside = path.with_suffix(".sigmf-data")
    try:
        for file in (path, beside) if path.suffix == ".sigmf-meta" and beside.is_file() else (path,):
            size = file.stat().st_size
            content.update(f"{size};".encode())
            with file.open("rb") as stream:
                for start in (0, size // 2, max(size - _SAMPLED_BYTES, 0)):
                    stream.seek(start)
                    content.update(stream.read(_SAMPLED_BYTES))
    except OSError as error:
        raise RecordingError(f"cannot be read: {error.strerror or error}", where=path) from error
    return content.hexdigest()


def measure_path(path: Path, digest: str, wish: Wish) -> Outcome:
    """All captures of one recording; what cannot be measured is among the errors."""
    measured: list[Measured] = []
    errors: list[BandscanError] = []
    try:
        captures = read(path, wish.raw, wish.centre_hz)
    except RecordingError as error:
        return Outcome(path, digest, (), (error,))
    for capture in captures:
        try:
            _admit(capture, wish, path)
            plan = plan_for(wish.region, wish.band or _band(capture, wish.region, path))
            one = measure(replace(capture, rig=wish.rig or capture.rig or wish.usual_rig or UNNAMED), plan)
        except RecordingError as error:
            errors.append(error)
        else:
            measured.append(replace(one, digest=digest, gain_db=wish.gain_db if one.gain_db is None else one.gain_db))
    return Outcome(path, digest, tuple(measured), tuple(errors))


def _admit(capture: Capture, wish: Wish, path: Path) -> None:
    if wish.forged is False and capture.forged:
        raise RecordingError(
            "is forged: its signals were made, not received, and this shop logs received ones only",
            where=path,
            do="survey it outside of a shop with --out DIR, or run `bandscan demo`",
        )
    if wish.forged is True and not capture.forged:
        raise RecordingError(
            "is no forged recording, and this is the demo's shop, which takes no others",
            where=path,
            do="make a shop of your own with `bandscan setup DIR`",
        )


def _band(capture: Capture, region: str, path: Path) -> str:
    """The band whose channels the capture covers."""
    for band in BANDS:
        if covered(capture, plan_for(region, band)):
            return band
    raise RecordingError(
        f"covers no channel of fm or am in region {region}: {capture.rate_hz:.0f} S/s around {capture.centre_hz:.0f} Hz",
        where=path,
        do="check the centre frequency and --region",
    )


def measure_all(
    work: Sequence[tuple[Path, str]],
    wish: Wish,
    workers: int,
    progress: Callable[[int, int, str], None],
    pool: ProcessPoolExecutor | None = None,
) -> Iterator[Outcome]:
    """Outcomes in the order of finishing. This process is one of the workers: the pool holds the others."""
    helpers = min(workers, len(work)) - 1
    outcomes: Iterator[Outcome] = (measure_path(path, digest, wish) for path, digest in work)
    if helpers > 0:
        outcomes = _side_by_side(work, wish, helpers, pool)
    for number, outcome in enumerate(outcomes, 1):
        progress(number, len(work), outcome.path.name)
        yield outcome


def _side_by_side(
    work: Sequence[tuple[Path, str]], wish: Wish, helpers: int, pool: ProcessPoolExecutor | None
) -> Iterator[Outcome]:
    left, lock = deque(work), Lock()
    running: dict[Future[Outcome], tuple[Path, str]] = {}

    with nullcontext(pool) if pool is not None else worker_pool(helpers) as hands:

        def follow(done: Future[Outcome]) -> None:
            # a broken pool says so while it holds the lock that handing over would wait for
            if not done.cancelled() and done.exception() is None:
                give_next()

        def give_next() -> None:
            """A helper that is done is given the next one while this process still measures its own."""
            with lock:
                if not left:
                    return
                try:
                    given = hands.submit(measure_path, *left[0], wish)
                except RuntimeError:
                    return  # the helpers are gone: what is left is measured here
                running[given] = left[0]  # at no moment in neither of the two
                left.popleft()
            given.add_done_callback(follow)

        try:
            with undisturbed():
                for _ in range(helpers):
                    give_next()
            while left or running:
                with lock:
                    finished = [one for one in running if one.done()]
                    own = left.popleft() if left and not finished else None
                if own is not None:
                    yield measure_path(*own, wish)
                elif not finished:
                    import_module("bandscan.pipeline.texts")  # what shows the results loads while the others finish theirs
                    wait(list(running), return_when=FIRST_COMPLETED)
                for one in finished:
                    yield _outcome(one, *running.pop(one))
        finally:
            hands.shutdown(wait=False, cancel_futures=True)


def _outcome(done: Future[Outcome], path: Path, digest: str) -> Outcome:
    try:
        return done.result()
    except BrokenExecutor:
        stopped = RecordingError("its worker was stopped from outside", where=path, do="run again with fewer --workers")
        return Outcome(path, digest, (), (stopped,))
