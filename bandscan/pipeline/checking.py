"""`bandscan check`: count sheets held against reference lists, and the checks kept as issued."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from bandscan._version import __version__
from bandscan.baseline import to_files
from bandscan.errors import BandscanError, BaselineError, InputError, LogError, SheetError, UsageError
from bandscan.model import Baseline, BeforeAfter, RadioCheck, Sheet
from bandscan.pipeline.changes import UNNAMED, Earlier, change_papers, sweep_before
from bandscan.pipeline.day import day_of, local_text, sweep_hour
from bandscan.pipeline.files import PLOTS, Text, file_name, library_address, read_text, write_files
from bandscan.pipeline.issuing import frozen
from bandscan.pipeline.known import families_told, family_cautions, references, sheet_of, spoken_for
from bandscan.pipeline.listing import latest_lists, named_lists
from bandscan.pipeline.papers import papers, shop_words
from bandscan.pipeline.place import now
from bandscan.pipeline.tallying import unfinished
from bandscan.plans import BANDS
from bandscan.radio import Limits, compare, from_json, judge, to_json, totals_sheet
from bandscan.radio.belongs import why_apart
from bandscan.radio.header import swept_time
from bandscan.shop import Shop
from bandscan.store import Issued, Log


@dataclass
class Checked:
    """Checks in the order of the sweeps, what changed between those of one job, files, what failed and what else to say."""

    checks: list[RadioCheck] = field(default_factory=list)
    changes: list[BeforeAfter] = field(default_factory=list)
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

    A sweep of a job that has an earlier one, in this call or in the log, is held against that as well: before and after.

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
    done, made_utc = Checked(), made_utc or now()
    named = named_lists(lists)
    read = _sheets(sheets, totals, shop, made_utc, done)
    with ExitStack() as stack:
        log = _open(shop, stack, done)
        bench = _Bench(shop, log, named, rig, known_good, made_utc, done)
        for text, sheet in read:
            try:
                one = bench.judge(text, sheet)
            except (BaselineError, LogError, SheetError) as error:
                done.errors.append(error)
                continue
            done.checks.append(one.check)
            bench.give_out(one, _folder(out, shop, sheet.job, sheet.source if len(read) > 1 else ""), out)
    nameless = sum(sheet.job == UNNAMED and not sheet.totals for _, sheet in read)
    if nameless > 1:
        done.notes.append(
            f"{nameless} sheets have no `# job:`, so there is no before and after of them: give those of one radio the same job"
        )
    return done


def _open(shop: Shop | None, stack: ExitStack, done: Checked) -> Log | None:
    """The shop's log; where it fails, lists that were named can be judged against all the same."""
    try:
        return stack.enter_context(Log(shop.log_path)) if shop is not None else None
    except LogError as error:
        done.errors.append(error)
        return None


def _sheets(
    paths: Sequence[Path], totals: Mapping[str, int] | None, shop: Shop | None, made_utc: str, done: Checked
) -> list[tuple[str, Sheet]]:
    """Sheets with their texts; one that cannot be understood stops no other."""
    read = []
    for path in paths:
        try:
            text = read_text(path, "count sheet")
            read.append((text, sheet_of(text, str(path), shop)))
        except SheetError as error:
            done.errors.append(error)
    if totals is not None:
        bare = totals_sheet(totals)
        if shop is not None and not shop.demo:  # a total is of now; the demo's shop stands still
            bare = replace(bare, header={"swept": local_text(made_utc, shop)})
        read.append((json.dumps(dict(totals)), bare))
    # in the order of sweeping; what does not tell when counts as swept now, so it comes last
    return sorted(read, key=lambda one: swept_time(one[1].header) or datetime.max)


@dataclass(frozen=True, eq=False)
class _Judged:
    """A check with its sheet as written, the lists it was held against, its JSON and its files.

    `apart` says by band why sheet and list do not belong together, and what to do.
    """

    check: RadioCheck
    sheet: str
    lists: Mapping[str, Baseline]
    record: str
    texts: dict[str, Text]
    apart: dict[str, tuple[str, str]]


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
    earlier: list[Earlier] = field(default_factory=list)

    def judge(self, text: str, sheet: Sheet) -> _Judged:
        """One check with its files, and against the sweep before it where there is one."""
        baselines = self._lists(sheet)
        sheet, left = unfinished(text, sheet)
        limits = Limits()
        if self.shop is not None:
            hour, sun = sweep_hour(sheet, self.shop)
            antennas = {name: rig.antenna for name, rig in self.shop.rigs.items()}
            limits = Limits(look_db=self.shop.look_db, fail_db=self.shop.fail_db, am_hour=hour, am_sun=sun, antennas=antennas)
        measures, moved = references(sheet, baselines, self.log) if self.log is not None else ({}, [])
        day = day_of(sheet, baselines, self.log, self.shop)
        facts = (limits, self.made_utc, __version__, day.facts)
        judged = judge(sheet, day.lists, day.measures(measures), *facts, known_good=self.known_good, unfinished=left)
        judged = replace(judged, cautions=(*judged.cautions, *moved, *family_cautions(judged)))
        one = replace(day.spoken(judged, sheet.header, limits), shop=shop_words(self.shop))
        if not one.bands:
            raise SheetError(
                "no row is filled in",
                where=sheet.source,
                accepted="a row for each stop on the dial, or `# bands: fm` where that band was swept and silent",
            )
        apart = {
            band: why
            for band, listed in day.lists.items()
            if (mine := one.bands.get(band)) is not None
            and (why := left.get(band) or why_apart(listed, sheet.header, self.made_utc, limits, pad_db=mine.pad_db))
            is not None
        }
        record = json.dumps(to_json(one), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        # the page shows what is kept, so that it can be printed again to the letter
        one = from_json(json.loads(record))
        texts = papers(one, baselines, record=record, sheet=text)
        before = sweep_before(one, text, self._earlier(one.job), families_told(self.shop))
        if before is not None:
            change = compare(before, one, limits)
            self.done.changes.append(change)
            texts |= change_papers(change, next(iter(baselines.values())).region)
        self.earlier.append(Earlier(text, one, same_call=True))
        return _Judged(one, text, baselines, record, texts, apart)

    def give_out(self, one: _Judged, folder: Path | None, out: Path | None) -> None:
        """Keep a check in the log with its files as given out, and write them."""
        if folder is None:
            return
        address, top = PLOTS, out or (self.shop.reports if self.shop is not None else folder)
        failed: InputError | None = None
        try:
            address = library_address(folder, top)
        except InputError as error:
            failed = error  # the check is kept all the same
        given_out = frozen(one.texts, address)
        self._keep(one, given_out)
        if failed is None:
            self.done.files += write_files(folder, given_out, self.done.errors)
        else:
            self.done.errors.append(failed)

    def _earlier(self, job: str) -> list[Earlier]:
        """Checks of the job, oldest first: those of the log, then those of this call."""
        own = [one for one in self.earlier if one.check.job == job]
        kept = self.log.checks(job) if self.log is not None and job else []
        logged = [Earlier(one.sheet, from_json(json.loads(one.json)), same_call=False) for one in kept]
        return [one for one in logged if one.check not in [mine.check for mine in own]] + own

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

    def _keep(self, judged: _Judged, given_out: dict[str, str]) -> None:
        one = judged.check
        if self.log is None or self.shop is None:
            return
        if one.forged and not self.shop.demo:
            self.done.notes.append(f"job {one.job} is not logged: it was judged against made signals, not received ones")
            return
        used = {band: judged.lists[band] for band in one.bands if band in judged.lists}
        files = {band: to_files(baseline) for band, baseline in used.items()}
        rigs = {band: baseline.rig for band, baseline in used.items()}
        facts = (one.job, one.radio, one.family, one.made_utc, one.version)
        issued = Issued(*facts, judged.record, judged.sheet, files, given_out)
        try:
            # a sheet that cannot be held against its list is no measure for others
            good = {band: rig for band, rig in rigs.items() if self.known_good and band not in judged.apart}
            self.log.keep_check(issued, good)
        except LogError as error:
            self.done.errors.append(error)
            return
        self.done.logged += 1
        if self.known_good:
            self.done.notes += spoken_for(one, self.log, rigs, judged.apart)


def _folder(out: Path | None, shop: Shop | None, job: str, source: str) -> Path | None:
    """Where a check's files go; `source` is the sheet's file where there are several."""
    folder = out or (shop.reports / file_name(job) if shop is not None else None)
    return folder / file_name(Path(source).stem) if folder is not None and source else folder
