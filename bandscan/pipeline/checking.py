"""`bandscan check`: count sheets held against reference lists, and the checks kept as issued."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path

from bandscan._version import __version__
from bandscan.baseline import to_files
from bandscan.errors import BandscanError, BaselineError, LogError, SheetError, UsageError
from bandscan.model import Baseline, RadioCheck, Sheet
from bandscan.pipeline.day import day_of, sweep_hour
from bandscan.pipeline.files import Text, file_name, read_text, write_files
from bandscan.pipeline.known import references, spoken_for, with_family
from bandscan.pipeline.listing import latest_lists, named_lists
from bandscan.pipeline.papers import papers, shop_words
from bandscan.pipeline.place import now
from bandscan.plans import BANDS
from bandscan.radio import Limits, from_json, judge, read_sheet, to_json, totals_sheet
from bandscan.shop import Shop
from bandscan.store import Issued, Log


@dataclass
class Checked:
    """Checks in the order of the sheets, files written, what failed and what else to say."""

    checks: list[RadioCheck] = field(default_factory=list)
    files: list[Path] = field(default_factory=list)
    errors: list[BandscanError] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    logged: int = 0


def check(
    sheets: Sequence[Path],
    *,
    shop: Shop | None = None,
    lists: Sequence[Path] = (),
    totals: Mapping[str, int] | None = None,
    rig: str | None = None,
    known_good: bool = False,
    out: Path | None = None,
    made_utc: str = "",
) -> Checked:
    """Judge sheets, or bare totals, and write the files of `papers` for each: figures, table and pages.

    Args:
        sheets: count sheets.
        shop: the shop whose log holds lists and known-good sets; None means that nothing is logged.
        lists: baseline.csv files to judge against in place of the log's lists.
        totals: stations counted by band, in place of sheets.
        rig: the rig; None means the sheet's, else the shop's, else the only one.
        known_good: the radios are known to be good: keep them as the measure of their family.
        out: where to write; None means the shop's `reports/JOB`. Several sheets get a folder each.
        made_utc: moment of making; empty means now.

    Raises:
        UsageError: there is nothing to judge, or nothing to judge it against.
        BaselineError: a list that was named cannot be used.
    """
    if not sheets and totals is None:
        raise UsageError(
            "check needs a count sheet or totals",
            accepted="SHEET.csv, or --count fm=31",
            do="run `bandscan sheet` for an empty one",
        )
    if shop is None and not lists:
        raise UsageError(
            "there is no shop here, so no list to judge against",
            do="name one with --baseline FILE.csv, or a shop with --shop DIR",
        )
    if known_good and shop is None:
        raise UsageError("a known-good set is kept in a shop's log, and there is no shop here", do="name one with --shop DIR")
    done = Checked()
    named = named_lists(lists)
    read = _sheets(sheets, totals, done)
    with ExitStack() as stack:
        log = _open(shop, stack, done)
        bench = _Bench(shop, log, named, rig, known_good, made_utc or now(), done)
        for text, sheet in read:
            try:
                one, texts = bench.judge(text, sheet)
            except (BaselineError, LogError, SheetError) as error:
                done.errors.append(error)
                continue
            done.checks.append(one)
            folder = _folder(out, shop, one.job, sheet.source if len(read) > 1 else "")
            if folder is not None:
                top = out or (shop.reports if shop is not None else None)
                done.files += write_files(folder, texts, done.errors, top=top)
    return done


def _open(shop: Shop | None, stack: ExitStack, done: Checked) -> Log | None:
    """The shop's log; where it fails, lists that were named can be judged against all the same."""
    try:
        return stack.enter_context(Log(shop.log_path)) if shop is not None else None
    except LogError as error:
        done.errors.append(error)
        return None


def _sheets(paths: Sequence[Path], totals: Mapping[str, int] | None, done: Checked) -> list[tuple[str, Sheet]]:
    """Sheets with their texts; one that cannot be understood stops no other."""
    read = []
    for path in paths:
        try:
            text = read_text(path, "count sheet")
            read.append((text, read_sheet(text, str(path))))
        except SheetError as error:
            done.errors.append(error)
    if totals is not None:
        read.append((json.dumps(dict(totals)), totals_sheet(totals)))
    return read


@dataclass(frozen=True)
class _Bench:
    """What every sheet of a call is held against."""

    shop: Shop | None
    log: Log | None
    named: Mapping[str, Baseline]
    rig: str | None
    known_good: bool
    made_utc: str
    done: Checked

    def judge(self, text: str, sheet: Sheet) -> tuple[RadioCheck, dict[str, Text]]:
        """One check with its files, kept in the log."""
        baselines = self._lists(sheet)
        limits = Limits()
        if self.shop is not None:
            sheet = with_family(sheet, self.shop)
            hour, sun = sweep_hour(sheet, self.shop)
            limits = Limits(look_db=self.shop.look_db, fail_db=self.shop.fail_db, am_hour=hour, am_sun=sun)
        measures = references(sheet, baselines, self.log) if self.log is not None else {}
        day = day_of(sheet, baselines, self.log, self.shop)
        judged = judge(sheet, day.lists, day.measures(measures), limits, self.made_utc, __version__, day.facts)
        one = replace(day.spoken(judged), shop=shop_words(self.shop))
        if not one.bands:
            raise SheetError(
                "no row is filled in",
                where=sheet.source,
                accepted="a row for each stop on the dial, or `# bands: fm` where that band was swept and silent",
            )
        record = json.dumps(to_json(one), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        # the page shows what is kept, so that it can be printed again to the letter
        one = from_json(json.loads(record))
        self._keep(one, record, text, baselines)
        return one, papers(one, baselines, record=record, sheet=text)

    def _lists(self, sheet: Sheet) -> Mapping[str, Baseline]:
        if self.named:
            return self.named
        if self.log is None or self.shop is None:
            raise BaselineError("no reference list without the log", where=sheet.source, do="name one with --baseline")
        # a sheet of a rig without a list is judged against the shop's own: the verdict says that they do not belong together
        listed = {rig for band in BANDS for rig in self.log.listed_rigs(band)}
        rig = self.rig or (sheet.header.get("rig") if sheet.header.get("rig") in listed else None)
        baselines = latest_lists(self.log, self.shop, rig, sweep_hour(sheet, self.shop)[0])
        if not baselines:
            raise BaselineError(
                "no reference list in the log",
                do="run `bandscan survey` and `bandscan baseline`, or name a list with --baseline",
            )
        return baselines

    def _keep(self, one: RadioCheck, record: str, text: str, baselines: Mapping[str, Baseline]) -> None:
        if self.log is None or self.shop is None:
            return
        if one.forged and not self.shop.demo:
            self.done.notes.append(f"job {one.job} is not logged: it was judged against made signals, not received ones")
            return
        used = {band: baselines[band] for band in one.bands if band in baselines}
        files = {band: to_files(baseline) for band, baseline in used.items()}
        issued = Issued(one.job, one.radio, one.family, one.made_utc, one.version, record, text, files)
        try:
            self.log.keep_check(issued, {band: used[band].rig for band in used} if self.known_good else {})
        except LogError as error:
            self.done.errors.append(error)
            return
        self.done.logged += 1
        if self.known_good:
            self.done.notes += spoken_for(one)


def _folder(out: Path | None, shop: Shop | None, job: str, source: str) -> Path | None:
    """Where a check's files go; `source` is the sheet's file where there are several."""
    folder = out or (shop.reports / file_name(job) if shop is not None else None)
    return folder / file_name(Path(source).stem) if folder is not None and source else folder
