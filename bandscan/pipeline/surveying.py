"""`bandscan survey`: recordings to surveys, kept in the shop's log."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path

import pandas as pd

from bandscan import tables
from bandscan._version import __version__
from bandscan.errors import BandscanError, LogError, RecordingError, UsageError
from bandscan.model import Measured, Survey
from bandscan.pipeline.files import Text, file_name, write_files
from bandscan.pipeline.measuring import Outcome, Wish, digest_of, measure_all
from bandscan.pipeline.place import now
from bandscan.report import occupancy_page
from bandscan.shop import Shop, read_names, with_names
from bandscan.source import RawFormat, find
from bandscan.store import Log
from bandscan.survey import NEIGHBOUR_GAP_S, gather, group

Progress = Callable[[int, int, str], None]
REGION = "us"


@dataclass
class Surveyed:
    """What came of a call: surveys with the shop's names, files written, what failed and what else to say."""

    surveys: list[Survey] = field(default_factory=list)
    files: list[Path] = field(default_factory=list)
    errors: list[BandscanError] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    logged: bool = False


def survey(
    paths: Sequence[Path],
    *,
    shop: Shop | None = None,
    out: Path | None = None,
    region: str | None = None,
    band: str | None = None,
    rig: str | None = None,
    workers: int = 1,
    pool: ProcessPoolExecutor | None = None,
    raw: RawFormat | None = None,
    centre_hz: float | None = None,
    gain_db: float | None = None,
    progress: Progress = lambda done, of, name: None,
) -> Surveyed:
    """Survey recordings. In a shop they are logged, and what is in its log with the same settings is not measured again.

    Args:
        paths: recordings and folders of recordings; none means the shop's `captures`.
        shop: the shop, or None: then nothing is logged.
        out: where to write survey.csv, stations.csv, survey.json and occupancy.html; None writes nothing.
        region: band plan; None means the shop's, else us.
        band: `fm` or `am`; None means by each recording's centre.
        rig: the rig; None means each recording's own, else the shop's, else `unnamed`.
        workers: processes that measure side by side.
        pool: such processes (`measuring_pool`) that are started already, so that they load beside the program.
        raw: how to read bare I/Q.
        centre_hz: centre of recordings that do not tell theirs. [Hz]
        gain_db: receiver gain of recordings that do not tell theirs. [dB]
        progress: called with recordings done, of how many, and the name of the one done.

    Raises:
        UsageError: no path is given and there is no shop.
        ShopError: the shop's names.csv is wrong.
    """
    if not paths and shop is None:
        raise UsageError(
            "survey needs recordings", accepted="files or folders", do="name some, or make a shop: `bandscan setup DIR`"
        )
    done = Surveyed()
    region = region or (shop.region if shop is not None else REGION)
    names = own_names(shop)
    wish = Wish(
        region,
        band,
        rig,
        usual_rig=shop.rig if shop is not None else "",
        raw=raw,
        centre_hz=centre_hz,
        forged=shop.demo if shop is not None else None,
        gain_db=gain_db,
    )
    work = _work(paths or [shop.captures if shop is not None else Path()], raw, done)
    gains = rig_gains(shop)
    keeper = Keeper(shop, done)
    try:
        measured = _measured(work, wish, workers, pool, progress, keeper, done)
        surveys = keeper.settle({one.digest for one in measured}, gains)
    finally:
        keeper.close()
    if surveys is None:
        surveys = gather(measured, gains)
    done.logged = keeper.log is not None
    hand_on(surveys, names, shop, out, done)
    return done


def rig_gains(shop: Shop | None) -> dict[str, float]:
    """The gain that levels of a rig are meant at, by the rig's name, where shop.toml tells it. [dB]"""
    return {one.name: one.gain_db for one in shop.rigs.values() if one.gain_db is not None} if shop is not None else {}


def own_names(shop: Shop | None) -> pd.DataFrame:
    """The shop's own names of stations, NAMES.

    Raises:
        ShopError: names.csv is wrong.
    """
    return read_names(shop.names_path, shop.region) if shop is not None else tables.empty(tables.NAMES)


def hand_on(surveys: Sequence[Survey], names: pd.DataFrame, shop: Shop | None, out: Path | None, done: Surveyed) -> None:
    """Surveys with the shop's names into `done`, and their files where `out` names a folder."""
    done.surveys += [replace(one, stations=with_names(one.stations, names)) for one in surveys]
    if out is not None and done.surveys:
        for folder, together in _folders(out, done.surveys).items():
            done.files += write_files(folder, _texts(together, shop), done.errors, top=out)


def _work(paths: Sequence[Path], raw: RawFormat | None, done: Surveyed) -> list[tuple[Path, str]]:
    """Recordings with their digests, each content once."""
    found: dict[str, Path] = {}
    for path in paths:
        try:
            recordings = find([path], raw)
        except RecordingError as error:
            done.errors.append(error)
            continue
        for recording in recordings:
            try:
                digest = digest_of(recording)
            except RecordingError as error:
                done.errors.append(error)
                continue
            if digest in found and found[digest] != recording:
                done.notes.append(f"{recording}: a copy of {found[digest]}, counted once")
            found.setdefault(digest, recording)
    return [(path, digest) for digest, path in found.items()]


class Keeper:
    """The shop's log, as long as it works: its first failure is one line, and the results are given without it."""

    def __init__(self, shop: Shop | None, done: Surveyed) -> None:
        self.log: Log | None = None
        self._done = done
        if shop is not None:
            try:
                self.log = Log(shop.log_path)
            except LogError as error:
                done.errors.append(error)

    def close(self) -> None:
        """Close the log."""
        if self.log is not None:
            self.log.close()

    def _lost(self, error: LogError) -> None:
        self._done.errors.append(error)
        self.close()
        self.log = None

    def known(self, digest: str, settings: str) -> list[Measured] | None:
        """What the log has of a recording with these settings."""
        try:
            return self.log.measured(digest, settings) if self.log is not None else None
        except LogError as error:
            self._lost(error)
            return None

    def keep(self, outcome: Outcome, settings: str) -> None:
        """Keep what was measured of a recording."""
        if self.log is None or not outcome.measured:
            return
        try:
            self.log.keep_measured(
                outcome.digest, settings, outcome.path, outcome.measured, complete=not outcome.errors, now_utc=now()
            )
        except LogError as error:
            self._lost(error)

    def settle(self, contents: Collection[str], gains: dict[str, float]) -> list[Survey] | None:
        """The surveys that recordings of these digests belong to, as the log has them from now on; None without a log."""
        if self.log is None:
            return None
        digests = sorted(contents)
        try:
            if self.log.fresh(digests):
                with self.log.transaction():
                    # asked again: another program may have taken some up meanwhile
                    fresh = self.log.fresh(digests)
                    for members in group([*fresh, *self.log.fellows(fresh, NEIGHBOUR_GAP_S)]):
                        for one in gather(members, gains):
                            self.log.put_survey(one, members, __version__, now())
            return self.log.surveys_of(digests)
        except LogError as error:
            self._lost(error)
            return None


def _measured(
    work: Sequence[tuple[Path, str]],
    wish: Wish,
    workers: int,
    pool: ProcessPoolExecutor | None,
    progress: Progress,
    keeper: Keeper,
    done: Surveyed,
) -> list[Measured]:
    measured: list[Measured] = []
    new = []
    for path, digest in work:
        known = keeper.known(digest, wish.settings)
        if known is None:
            new.append((path, digest))
        else:
            measured += known
    if len(new) < len(work):
        done.notes.append(
            f"{len(work) - len(new)} of {len(work)} recordings are in the log already and were not measured again"
        )
    for outcome in measure_all(new, wish, workers, progress, pool):
        done.errors += outcome.errors
        measured += outcome.measured
        keeper.keep(outcome, wish.settings)
    return measured


def _folders(out: Path, surveys: Sequence[Survey]) -> dict[Path, list[Survey]]:
    """Where each survey's files go: all into `out` where that is one rig and one survey per band, else a folder each."""
    if len({one.rig for one in surveys}) == 1 and len({one.band for one in surveys}) == len(surveys):
        return {out: list(surveys)}
    return {out / file_name(one.id): [one] for one in surveys}


def _texts(surveys: Sequence[Survey], shop: Shop | None) -> dict[str, Text]:
    """The files of surveys that go into one folder."""
    first = surveys[0]
    stations = pd.concat([one.stations for one in surveys], ignore_index=True)
    about = [
        {
            "id": one.id,
            "band": one.band,
            "region": one.region,
            "rig": one.rig,
            "started_utc": one.started_utc,
            "ended_utc": one.ended_utc,
            "gain_db": one.gain_db,
            "clock_ppm": one.clock_ppm,
            "clock_sd_ppm": one.clock_sd_ppm,
            "forged": one.forged,
            "overload_share": one.overload_share,
            "recordings": sorted(set(one.rows["recording"])),
            "stations": int((one.stations["holds"] == "station").sum()),
            "cautions": list(one.cautions),
        }
        for one in surveys
    ]
    return {
        "survey.csv": tables.to_csv(pd.concat([one.rows for one in surveys], ignore_index=True), tables.SURVEY),
        "stations.csv": tables.to_csv(stations, tables.STATIONS),
        "survey.json": json.dumps({"surveys": about, "version": __version__}, indent=2, ensure_ascii=False) + "\n",
        "occupancy.html": lambda library: occupancy_page(
            stations,
            title=shop.name if shop is not None else "",
            region=first.region,
            rig=first.rig,
            started_utc=first.started_utc,
            cautions=tuple(dict.fromkeys(caution for one in surveys for caution in one.cautions)),
            forged=first.forged,
            library=library,
        ),
    }
