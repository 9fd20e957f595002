"""`bandscan baseline` and `bandscan sheet`: the log's surveys to reference lists, and lists to empty count sheets."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from functools import partial
from itertools import count
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd

from bandscan import tables
from bandscan._version import __version__
from bandscan.baseline import YEAR, distil, from_files, to_files
from bandscan.baseline.hours import by_hour
from bandscan.errors import BandscanError, BaselineError, LogError, SheetError, UsageError
from bandscan.model import Baseline
from bandscan.pipeline.day import by_sun, validity
from bandscan.pipeline.files import Text, read_text, write_files
from bandscan.pipeline.papers import shop_words
from bandscan.pipeline.place import now, rig_of
from bandscan.pipeline.planned import planned
from bandscan.pipeline.sweeping import lists_from_sheets
from bandscan.plans import BANDS
from bandscan.radio import blank_sheet
from bandscan.report import baseline_page, sheet_page
from bandscan.shop import Shop, read_names
from bandscan.shop.sun import DAY, NIGHT
from bandscan.store import Log

SHEET = "sheet"


@dataclass
class Listed:
    """Reference lists, files written, what failed and what else to say."""

    baselines: list[Baseline] = field(default_factory=list)
    files: list[Path] = field(default_factory=list)
    errors: list[BandscanError] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    hours: dict[str, pd.DataFrame] = field(default_factory=dict)  # HOURS by band


def baseline(
    shop: Shop | None,
    *,
    band: str | None = None,
    rig: str | None = None,
    sheets: Sequence[Path] = (),
    out: Path | None = None,
    made_utc: str = "",
) -> Listed:
    """Reference lists from the log's surveys of one rig, kept in the log and written as baseline.csv, baseline.json, hours.csv
    and a page.

    Args:
        shop: the shop whose log holds the surveys.
        band: `fm` or `am`; None means each of which there are surveys.
        rig: the rig; None means the shop's, else the only one.
        sheets: sweeps of known-good radios, to make lists without levels of in place of surveys.
        out: where to write; None means the shop's `reports/baseline`. Several lists get a folder each, named by band.
        made_utc: moment of making; empty means now.

    Raises:
        UsageError: there is no shop.
        BaselineError: the log has no surveys that fit, or the sheets make no list.
        SheetError: a sheet cannot be understood.
        LogError: the log cannot be read.
    """
    if shop is None:
        raise UsageError(
            "a baseline is made of a shop's surveys, and there is no shop here", do="make one with `bandscan setup DIR`"
        )
    done, made_utc = Listed(), made_utc or now()
    with Log(shop.log_path) as log:
        if sheets:
            fresh, said = lists_from_sheets(log, shop, sheets, band, rig, made_utc)
            done.notes += said
            done.baselines += [_kept(log, made, done) for made in fresh]
        else:
            _from_surveys(log, shop, band, rig, made_utc, done)
    folder = out or shop.reports / "baseline"
    for made in done.baselines:
        done.notes += [told for told in (validity(made, shop, made_utc),) if told]
        part = f"{made.band}-night" if made.valid == NIGHT else made.band
        own = folder if len(done.baselines) == 1 and out is not None else folder / part
        hours = done.hours.get(made.band)
        texts: dict[str, Text] = {**to_files(made), "baseline.html": partial(_page, made, hours, shop.time_zone)}
        if hours is not None:
            texts["hours.csv"] = tables.to_csv(hours, tables.HOURS)
        done.files += write_files(own, texts, done.errors, top=out or shop.reports)
    return done


def _from_surveys(log: Log, shop: Shop, band: str | None, rig: str | None, made_utc: str, done: Listed) -> None:
    """Lists of each band by the log's surveys; where one band makes none, the other does."""
    names = read_names(shop.names_path, shop.region)
    bands = [band] if band is not None else [one for one in BANDS if log.rigs(one)]
    known = sorted({name for one in bands for name in log.rigs(one)})
    rig = rig_of(rig, shop, known, f"surveys of {band}" if band else "surveys")
    if shop.rig not in known:
        done.notes.append(f"rig {rig}: the shop's own, {shop.rig or 'unnamed'}, has no survey in the log")
    for one in bands:
        surveys = log.surveys(one, rig, shop.region, days=YEAR.days)
        if not surveys:
            continue
        older = log.survey_count(one, rig, shop.region) - len(surveys)
        if older:
            done.notes.append(f"{one.upper()}: {older} survey(s) left out: more than a year older than the newest")
        try:
            parted, said = by_sun(surveys, shop)
            fresh = [distil(some, names, made_utc, __version__, hours) for hours, some in parted.items()]
        except BaselineError as error:
            done.errors.append(error)
            continue
        done.notes += said
        done.baselines += [_kept(log, made, done) for made in fresh]
        done.hours[one] = by_hour(surveys, ZoneInfo(shop.time_zone))
    if not done.baselines and done.errors:
        raise done.errors[0]
    if not done.baselines:
        of = f" of {band}" if band else ""
        raise BaselineError(f"no surveys{of} with rig {rig!r} in region {shop.region} in the log")


def _page(made: Baseline, hours: pd.DataFrame | None, zone: str, library: str) -> str:
    return baseline_page(made, hours=hours, zone=zone, library=library)


def _kept(log: Log, made: Baseline, done: Listed) -> Baseline:
    """The list as the log keeps it."""
    try:
        files = to_files(made)
        return from_files(
            *log.keep_list(made.band, made.region, made.rig, made.made_utc, files["baseline.csv"], files["baseline.json"])
        )
    except LogError as error:
        done.errors.append(error)
        return made


def latest_lists(log: Log, shop: Shop, rig: str | None, hour: str = "") -> dict[str, Baseline]:
    """The latest reference lists of one rig, by band; none where the log has none and no rig was asked for.

    `hour` is `night` where AM is wanted by night; what there is of other hours is better than nothing, a check refuses it.

    Raises:
        BaselineError: there is none of the rig asked for, or it is not clear which rig is meant.
    """
    known = sorted({name for band in BANDS for name in log.listed_rigs(band)})
    if not known and rig is None:
        return {}
    rig = rig_of(rig, shop, known, "reference lists")
    hours = {"fm": ("",), "am": (NIGHT, DAY) if hour == NIGHT else (DAY, NIGHT)}
    found = {band: [files for valid in hours[band] if (files := log.latest_list(band, rig, valid))] for band in BANDS}
    return {band: from_files(*files[0]) for band, files in found.items() if files}


def named_lists(paths: Sequence[Path]) -> dict[str, Baseline]:
    """Reference lists from files, by band.

    Raises:
        BaselineError: a file is no such list, or there are two of one band.
    """
    named: dict[str, Baseline] = {}
    for path in paths:
        try:
            text = read_text(path, "reference list")
            beside = path.with_suffix(".json")
            about = read_text(beside, "reference list") if beside.is_file() else None
        except SheetError as error:
            raise BaselineError(error.what, where=error.where, accepted="the baseline.csv of `bandscan baseline`") from error
        one = from_files(text, about, where=str(path))
        if one.band in named:
            raise BaselineError(f"a second list of {one.band}", where=path, accepted="one for each band")
        named[one.band] = one
    return named


def sheet(shop: Shop | None, *, lists: Sequence[Path] = (), rig: str | None = None, out: Path | None = None) -> Listed:
    """Empty count sheets of reference lists: `sheet.csv` blind, `open-sheet.csv` with the stations in dial order,
    and the same to print; and in the notes what this bench can tell today.

    A sheet that is there stays as it is: the new one gets a number. The pages hold nothing that anybody wrote and are replaced.

    Args:
        shop: the shop whose log holds the lists; None only with `lists`.
        lists: baseline.csv files to use in place of the log's latest lists.
        rig: the rig; None means the shop's, else the only one.
        out: where to write; None means the shop's `reports`.

    Raises:
        UsageError: there is neither a shop nor a list, or nowhere to write.
        BaselineError: there is no list.
    """
    if shop is None and not (lists and out is not None):
        raise UsageError(
            "there is no shop here", do="name a list with --baseline and a folder with --out, or a shop with --shop DIR"
        )
    baselines, told = named_lists(lists), {}
    with ExitStack() as stack:
        log = stack.enter_context(Log(shop.log_path)) if shop is not None else None
        if log is not None and shop is not None and not lists:
            baselines = latest_lists(log, shop, rig)
        told = planned(baselines, shop, log, now())
    if not baselines:
        raise BaselineError("no reference list in the log", do="run `bandscan baseline` first")
    found = list(baselines.values())
    header = _header(shop, found)
    folder = out or (shop.reports if shop is not None else Path())
    texts = {_free(folder, stem): blank_sheet(found, blind=stem == SHEET, header=header) for stem in (SHEET, f"open-{SHEET}")}
    words = shop_words(shop)
    texts |= {
        f"{stem}.html": sheet_page(found, blind=stem == SHEET, header=header, shop=words, told=told)
        for stem in (SHEET, f"open-{SHEET}")
    }
    return Listed(found, write_files(folder, texts), notes=[f"{band.upper()}: {one}" for band, one in told.items()])


def _free(folder: Path, stem: str) -> str:
    """A file name that is not taken: somebody's sweep may stand in the one that is."""
    names = (f"{stem}.csv" if number == 1 else f"{stem}-{number}.csv" for number in count(1))
    return next(name for name in names if not (folder / name).exists())


def newest_sheet(shop: Shop) -> Path | None:
    """The count sheet in the shop's reports that was changed last; None where there is none."""
    return max(shop.reports.glob(f"{SHEET}*.csv"), key=lambda path: path.stat().st_mtime, default=None)


def _header(shop: Shop | None, lists: Sequence[Baseline]) -> dict[str, str]:
    """What the shop knows for the sheet's header."""
    rig = shop.rigs.get(lists[0].rig) if shop is not None else None
    return {"antenna": rig.antenna} if rig is not None and rig.antenna else {}
