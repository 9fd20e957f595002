"""One function per command: each makes one call of the pipeline and says what came of it and what to do next."""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from bandscan import pipeline
from bandscan.cli import words
from bandscan.errors import SheetError, UsageError
from bandscan.units import parse_hertz

if TYPE_CHECKING:
    from bandscan.pipeline import RawFormat, Shop

SHORT = 1


def _shop(told: Namespace) -> Shop | None:
    shop, said = pipeline.open_shop(told.shop, os.environ, Path.cwd())
    if said:
        words.say(said)
    return shop


def setup(told: Namespace) -> int:
    """Make a shop's folder."""
    from bandscan.cli.setup import ask

    answers = ask(told, sys.stdin, sys.stderr)
    shop = pipeline.setup(told.folder, latitude=told.latitude, longitude=told.longitude, **answers)
    words.say(*pipeline.dongle_lines(answers["receiver"]))
    words.result(f"{words.shown(shop.folder)} is a shop now: its settings are in {words.shown(shop.folder / 'shop.toml')}")
    here = "" if shop.folder.absolute() in (Path.cwd(), *Path.cwd().parents) else f" --shop {words.shown(shop.folder)}"
    words.say(f"next: put recordings into {words.shown(shop.captures)}, then run: bandscan{here} survey")
    return 0


LOWEST_CENTRE_HZ = 100e3  # below this somebody left out the M or the k; a recording without an offset stands at 0


def survey(told: Namespace) -> int:
    """Measure recordings."""
    if told.workers < 1:
        raise UsageError(f"--workers {told.workers}", accepted="1 or more")
    if told.gain is not None and not -20.0 <= told.gain <= 120.0:
        raise UsageError(f"--gain {told.gain:g}", accepted="-20 to 120, in dB")
    shop = _shop(told)
    centre_hz = parse_hertz(told.centre, what="--centre") if told.centre is not None else None
    if centre_hz is not None and 0.0 < centre_hz < LOWEST_CENTRE_HZ:
        raise UsageError(f"--centre {told.centre} is {centre_hz:g} Hz, below both bands", accepted="98.1M for FM, 1000k for AM")
    raw = _raw(told, centre_hz)
    one_file = len(told.paths) == 1 and told.paths[0].is_file()
    with pipeline.measuring_pool(1 if one_file else told.workers) as pool, words.progress("measuring", plain=True) as step:
        done = pipeline.survey(
            told.paths,
            shop=shop,
            out=told.out,
            region=told.region,
            band=told.band,
            rig=told.rig,
            workers=told.workers,
            pool=pool,
            raw=raw,
            centre_hz=centre_hz,
            gain_db=told.gain,
            progress=step,
        )
    for one in done.surveys:
        words.result(pipeline.survey_text(one, words.width()))
    words.say(*(f"note: {note}" for note in done.notes))
    status = words.failures(done.errors, told)
    words.say(*(f"open {words.shown(path)}" for path in done.files if path.suffix == ".html"))
    if not done.surveys:
        words.say("next: nothing was surveyed; mend what is named above and run the command again")
    elif shop is None:
        words.say("next: nothing is logged without a shop; `bandscan setup DIR` makes one")
    elif done.logged:
        words.say(
            f"next: logged in {words.shown(shop.log_path)}; for the reference station list run: {words.program(told)} baseline"
        )
    else:
        words.say("next: nothing was logged; mend what is named above and run the command again")
    return status


def capture(told: Namespace) -> int:
    """Step the dongle across a band."""
    from bandscan.cli.capture import capture as run

    return run(told, _shop(told), words.program(told))


def _raw(told: Namespace, centre_hz: float | None) -> RawFormat | None:
    given = {"--format": told.format, "--rate": told.rate, "--centre": told.centre}
    if told.format is None and told.rate is None:
        if told.started is not None:
            raise UsageError("--started is for bare I/Q", accepted="--format, --rate, --centre and --started together")
        return None
    missing = [name for name, value in given.items() if value is None]
    if missing or centre_hz is None:
        raise UsageError(f"bare I/Q needs {' and '.join(missing)} as well", accepted="--format cu8 --rate 2.4M --centre 98.1M")
    return pipeline.RawFormat(told.format, parse_hertz(told.rate, what="--rate"), centre_hz, told.started or "")


def baseline(told: Namespace) -> int:
    """Make the reference station list."""
    shop = _shop(told)
    done = pipeline.baseline(shop, band=told.band, rig=told.rig, sheets=told.sheets, out=told.out)
    for one in done.baselines:
        zone = shop.time_zone if shop is not None else "UTC"
        words.result(pipeline.baseline_text(one, words.width(), hours=done.hours.get(one.band), zone=zone))
    words.say(*(f"note: {note}" for note in done.notes))
    status = words.failures(done.errors, told)
    words.say(*(f"open {words.shown(path)}" for path in done.files if path.suffix == ".html"))
    if status:
        words.say("next: mend what is named above and run the command again")
    else:
        words.say(f"next: for an empty count sheet run: {words.program(told)} sheet")
    return status


def sheet(told: Namespace) -> int:
    """Write empty count sheets."""
    done = pipeline.sheet(_shop(told), lists=told.baseline, rig=told.rig, out=told.out)
    for path in done.files:
        words.result(words.shown(path))
    words.say(*(f"today, {note}" for note in done.notes))
    blind = done.files[0]
    named = "".join(f" --baseline {words.shown(path)}" for path in told.baseline)
    words.say(f"next: sweep the dial and fill it in, then run: {words.program(told)} check {words.shown(blind)}{named}")
    return 0


def tally(told: Namespace) -> int:
    """Fill in a count sheet at the terminal."""
    from bandscan.cli.tally import tally as run

    return run(told, _shop(told), words.program(told))


def check(told: Namespace) -> int:
    """Judge count sheets."""
    totals = _totals(told.count) if told.count else None
    sheets = told.sheets
    missing = [SheetError("is not there", where=path, accepted="a count sheet, CSV") for path in sheets if not path.exists()]
    if sheets and len(missing) == len(sheets) and totals is None:
        status = words.failures(missing, told)  # no shop is made for nothing
        words.say("next: nothing was judged; mend what is named above and run the command again")
        return status
    shop = _shop(told)
    if not sheets and not told.count and shop is not None and (newest := pipeline.newest_sheet(shop)) is not None:
        sheets = [newest]
        words.say(f"note: no sheet was named, taking {words.shown(newest)}")
    done = pipeline.check(
        sheets,
        shop=shop,
        lists=told.baseline,
        totals=totals,
        rig=told.rig,
        known_good=told.known_good,
        out=told.out,
    )
    if told.pdf:
        done.files += pipeline.print_pages(done.files, done.errors)
    for one in done.checks:
        words.result(pipeline.check_text(one, words.width()))
    for change in done.changes:
        words.result(pipeline.change_text(change, words.width()))
    words.say(*(f"note: {words.advice(note, told)}" for note in done.notes))
    status = words.failures(done.errors, told)
    pages = [path for path in done.files if path.suffix in (".html", ".pdf")]
    words.say(*(f"open {words.shown(path)}" for path in pages))
    if done.logged:
        job = done.checks[-1].job
        job = f'"{job}"' if " " in job else job
        words.say(f"next: this check stays as issued; to print it again run: {words.program(told)} log --job {job}")
    elif done.checks and not pages:
        words.say("next: to get the page, name a folder with --out; to keep checks, make a shop: `bandscan setup DIR`")
    elif done.checks:
        words.say(
            "next: nothing is logged without a shop; `bandscan setup DIR` makes one" if shop is None else "next: not logged"
        )
    else:
        words.say("next: nothing was judged; mend what is named above and run the command again")
    short = any(band.verdict == "falls short" for one in done.checks for band in one.bands.values())
    return status or (SHORT if short else 0)


def _totals(counts: list[str]) -> dict[str, int]:
    totals: dict[str, int] = {}
    for text in counts:
        band, equals, number = text.partition("=")
        if band not in ("fm", "am") or not equals or not (number.isascii() and number.isdigit()) or band in totals:
            raise UsageError(f"--count {text}", accepted="--count fm=31 and --count am=7, each once")
        totals[band] = int(number)
    return totals


def log(told: Namespace) -> int:
    """Look things up in the log, or take some out."""
    from bandscan.cli.log import log as run

    return run(told, _shop(told), words.program(told))
