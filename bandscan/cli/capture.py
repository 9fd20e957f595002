"""`bandscan capture`: the options in their units, the progress on the terminal, and what came of it."""

from __future__ import annotations

import re
import time
from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from functools import partial

from bandscan import pipeline
from bandscan.cli import words
from bandscan.errors import BandscanError, UsageError
from bandscan.units import channel_text_unit, parse_hertz

_SPAN = re.compile(r"(?:(\d+)h)?(?:(\d+)m)?(?:(\d+)s)?")


def capture(told: Namespace, shop: pipeline.Shop | None, program: str) -> int:
    """Step the dongle over a band, once or in rounds. `program` is how the next command line begins."""
    bands = tuple(dict.fromkeys(told.band))
    if not bands and not told.resume:
        raise UsageError("capture needs a band", accepted="--band fm, --band am, or both, one after the other")
    if told.resume and (len(bands) > 1 or told.every is not None):
        raise UsageError("--resume takes up one capture", accepted="bandscan capture --resume, with one --band or none")
    if told.until is not None and told.every is None:
        raise UsageError("--until goes with --every", accepted="--every 30m --until 18:00")
    orders = [_order(told, band) for band in bands or ("",)]
    try:
        if told.every is not None:
            return _rounds(told, orders, shop)
        return _once(told, orders, shop, program)
    except KeyboardInterrupt:
        if shop is not None:
            words.say(f"next: to go on with what was begun run: {program} capture --resume")
        raise


def _order(told: Namespace, band: str) -> pipeline.Order:
    return pipeline.Order(
        band=band,
        gain=told.gain or "",
        passes=told.passes,
        quick=told.quick,
        keep=told.keep,
        rate_hz=round(parse_hertz(told.rate, what="--rate")),
        settle_s=told.settle / 1e3,
        dwell_s=told.dwell,
        pause_s=told.pause,
        ppm=told.ppm,
        # in a round of both bands these are meant for the one that needs them
        direct=(told.direct or "") if band != "fm" or told.band == ["fm"] else "",
        upconverter_hz=_upconverter(told) if band != "fm" or told.band == ["fm"] else None,
        serial=told.serial or "",
        rig=told.rig or "",
        region=told.region or "",
    )


def _upconverter(told: Namespace) -> int | None:
    return round(parse_hertz(told.upconverter, what="--upconverter")) if told.upconverter is not None else None


def _once(told: Namespace, orders: list[pipeline.Order], shop: pipeline.Shop | None, program: str) -> int:
    status = 0
    for order in orders:
        with _progress() as step:
            done = pipeline.capture(
                order, shop=shop, out=told.out, resume=told.resume, say=lambda line: words.say(f"note: {line}"), progress=step
            )
        status = _said(told, done) or status
        if done.logged and done.surveys:
            words.say(f"next: logged; for the reference station list run: {program} baseline")
        elif done.surveys:
            words.say("next: nothing is logged without a shop; `bandscan setup DIR` makes one")
        else:
            words.say("next: nothing was captured; mend what is named above and run the command again")
    return status


def _rounds(told: Namespace, orders: list[pipeline.Order], shop: pipeline.Shop | None) -> int:
    if shop is None:
        raise UsageError("--every logs into a shop, and there is no shop here", do="name it with --shop DIR")
    timetable = pipeline.Timetable(span_s(told.every), until(told.until) if told.until is not None else None)
    with _progress() as step:
        errors: list[BandscanError] = pipeline.rounds(
            orders,
            timetable,
            shop=shop,
            out=told.out,
            say=lambda line: words.say(f"{time.strftime('%H:%M:%S')} {line}"),
            progress=step,
            came=partial(_said, told),
        )
    words.say(f"next: the day is over; {len(errors)} thing{'' if len(errors) == 1 else 's'} failed, named above")
    return 3 if errors else 0


def _said(told: Namespace, done: pipeline.Surveyed) -> int:
    """What one capture gave; its exit status."""
    for one in done.surveys:
        words.result(pipeline.survey_text(one, words.width()))
    words.say(*(f"note: {note}" for note in done.notes))
    status = words.failures(done.errors, told)
    words.say(*(f"open {words.shown(path)}" for path in done.files if path.suffix == ".html"))
    return status


@contextmanager
def _progress() -> Iterator[pipeline.CaptureProgress]:
    with words.progress("capturing") as bar:

        def step(one: pipeline.Step) -> None:
            at = channel_text_unit(one.band, one.dwell.centre_hz)
            minutes, seconds = divmod(round(one.left_s), 60)
            peak = "OVERLOAD" if one.overload else f"peak {one.peak_dbfs:.0f} dBFS"
            place = f"{one.band.upper()} pass {one.dwell.turn}/{one.turns} step {one.dwell.step}/{one.dwell.of} {at}"
            bar(one.dwell.number, one.of, f"{place}, {peak}, {minutes}:{seconds:02d} left")

        yield step


def span_s(text: str) -> float:
    """`30m`, `1h30m`, `90s` in seconds.

    Raises:
        UsageError: it is no such text.
    """
    found = _SPAN.fullmatch(text.strip().lower())
    if found is None or not any(found.groups()):
        raise UsageError(f"--every {text}", accepted="30m, 1h, 1h30m, 90s")
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    return hours * 3600.0 + minutes * 60.0 + seconds


def until(text: str, now: datetime | None = None) -> float:
    """`18:00`, the next time the wall clock shows it, or a date and time, in seconds since 1970.

    Raises:
        UsageError: it is no such text.
    """
    now = now or datetime.now().astimezone()
    try:
        if "T" in text or "-" in text:
            return datetime.fromisoformat(text).astimezone().timestamp()
        hour = datetime.strptime(text, "%H:%M")
    except ValueError as error:
        raise UsageError(f"--until {text}", accepted="18:00, or 2026-03-14T18:00") from error
    # without a zone, so that a clock that is put forward or back in between is still read as it shows
    today = now.replace(hour=hour.hour, minute=hour.minute, second=0, microsecond=0, tzinfo=None)
    if today <= now.replace(tzinfo=None):
        today += timedelta(days=1)
    return today.astimezone().timestamp()
