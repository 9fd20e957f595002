"""`bandscan log --forget`: surveys and a job's checks out of the log, but never what an issued check rests on."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from bandscan.errors import BandscanError, InputError, LogError, UsageError
from bandscan.model import utc_text
from bandscan.shop import Shop
from bandscan.store import Issued, Log

WHAT = ("survey", "before", "job")


@dataclass
class Forgotten:
    """How many surveys and checks are gone, and what had to stay."""

    surveys: int = 0
    checks: int = 0
    errors: list[BandscanError] = field(default_factory=list)


def forget(shop: Shop | None, what: str, which: str) -> Forgotten:
    """Take something out of the log, all of it at once or, where the program is stopped, nothing.

    Args:
        shop: the shop.
        what: `survey`, `before` or `job`.
        which: a survey's id; a date by the shop's clock, the surveys before which go; a job, of which all checks go.

    Raises:
        UsageError: there is no shop, no such thing to forget, or the date is none.
        InputError: the log has no such survey or job.
        LogError: the log cannot be written.
    """
    if shop is None:
        raise UsageError("there is no shop here, so no log", do="name one with --shop DIR")
    if what not in WHAT:
        raise UsageError(f"--forget {what}", accepted="survey ID, before DATE or job N")
    with Log(shop.log_path) as log:
        with log.transaction():
            zone = ZoneInfo(shop.time_zone)
            done = _forget_job(log, which) if what == "job" else _forget_surveys(log, _named(log, what, which, zone))
        if done.surveys or done.checks:
            try:
                log.shrink()
            except LogError as error:  # it is forgotten all the same
                what = f"forgotten, but the file keeps its size: {error.what}"
                done.errors.append(LogError(what, where=log.path, do=error.do))
    return done


def _named(log: Log, what: str, which: str, zone: ZoneInfo) -> list[str]:
    if what == "survey":
        if which not in log.survey_ids():
            raise InputError(f"no survey {which!r} in the log", where=log.path, do="`bandscan log` lists them")
        return [which]
    try:
        midnight = datetime.combine(date.fromisoformat(which), time(), zone).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise UsageError(f"--forget before {which}", accepted="a date as 2026-03-14") from error
    return log.survey_ids(before_utc=utc_text(midnight))


def _forget_surveys(log: Log, ids: Collection[str]) -> Forgotten:
    resting = _surveys_at_rest(log)
    free = [one for one in ids if one not in resting]
    log.forget_surveys(free)
    done = Forgotten(surveys=len(free))
    held = [one for one in ids if one in resting]
    if held:
        jobs = sorted({job for one in held for job in resting[one]})
        what = held[0] if len(held) == 1 else f"{len(held)} surveys"
        done.errors.append(InputError(f"{what} not forgotten: {_checks_words(jobs, len(held))}", do=_stays(jobs)))
    return done


def _forget_job(log: Log, job: str) -> Forgotten:
    if not log.checks(job):
        raise InputError(f"no check of job {job!r} in the log", where=log.path, do="`bandscan log` lists them")
    others = sorted({one.job for one in log.every_check() if one.job != job and job in _good_jobs(one)})
    if others:
        error = InputError(
            f"job {job} not forgotten: it measures its family, and {_checks_words(others, 1)}",
            do=_stays(others),
        )
        return Forgotten(errors=[error])
    return Forgotten(checks=log.forget_checks(job))


def _checks_words(jobs: list[str], held: int) -> str:
    which = "it" if held == 1 else "them"
    return (
        f"the check of job {jobs[0]} rests on {which}"
        if len(jobs) == 1
        else f"checks of jobs {', '.join(jobs)} rest on {which}"
    )


def _stays(jobs: list[str]) -> str:
    """What to do: one check may be given up for it, but nobody is led through all of them."""
    if len(jobs) == 1:
        return f"forget first: bandscan log --forget job {jobs[0]}"
    return "keep it while these checks are kept"


def _surveys_at_rest(log: Log) -> dict[str, set[str]]:
    """Surveys that checks rest on, through their lists or as the day's: id -> jobs."""
    resting: dict[str, set[str]] = defaultdict(set)
    for one in log.every_check():
        for told in (json.loads(one.json)["today"] or {}).values():
            resting[told["survey"]].add(one.job)
        for files in one.lists.values():
            about = json.loads(files["baseline.json"])
            ids = about.get("survey_ids")
            if ids is None:  # a list made before its surveys were kept with it: any of its time may be one of them
                ids = log.surveys_of_time(about["band"], about["rig"], about["first_utc"], about["last_utc"])
            for survey in ids:
                resting[survey].add(one.job)
    return resting


def _good_jobs(one: Issued) -> set[str]:
    """Jobs of the known-good sets that a check rests on."""
    return {job for band in json.loads(one.json)["bands"].values() for job in band["reference"].get("jobs", ())}
