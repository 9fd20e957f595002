"""`bandscan log`: one question of the log at a time, or one thing done with it."""

from __future__ import annotations

from argparse import Namespace
from typing import TYPE_CHECKING

from bandscan import pipeline
from bandscan.cli import words
from bandscan.errors import UsageError

if TYPE_CHECKING:
    from bandscan.pipeline import Shop

_ONE_OF = ("job", "station", "export", "backup", "forget")


def log(told: Namespace, shop: Shop | None, bandscan: str) -> int:
    """Show what the log holds, a job's checks as issued or a station's history; copy it; forget."""
    asked = [name for name in _ONE_OF if getattr(told, name) is not None]
    if len(asked) > 1:
        raise UsageError(f"--{asked[0]} and --{asked[1]} do not go together", accepted="one at a time")
    what = asked[0] if asked else ""
    if told.out is not None and what not in ("job", "station"):
        raise UsageError("--out goes with --job or --station", accepted="bandscan log --job N --out DIR")
    if told.rig is not None and what != "station":
        raise UsageError("--rig goes with --station", accepted="bandscan log --station 97.5 --rig NAME")
    if what == "job":
        return _job(told, shop, bandscan)
    if what == "station":
        history, files = pipeline.station_history(shop, told.station, told.rig, told.out)
        words.result(pipeline.history_text(history, words.width()))
        words.say(*(f"open {words.shown(path)}" for path in files))
    elif what == "export":
        for path in pipeline.export(shop, told.export):
            words.result(words.shown(path))
    elif what == "backup":
        words.result(words.shown(pipeline.backup(shop, told.backup)))
        words.say("next: keep it on another disk; to go back to it, put it in place of log.sqlite and take log.sqlite-wal away")
    elif what == "forget":
        return _forget(told, shop)
    else:
        words.result(pipeline.contents_text(pipeline.contents(shop), words.width()))
        words.say(f"next: to print a job's checks as issued run: {bandscan} log --job N")
    return 0


def _job(told: Namespace, shop: Shop | None, bandscan: str) -> int:
    issued, files = pipeline.reprint(shop, told.job, told.out)
    for one in issued:
        words.result(one.json.rstrip("\n"))
    words.say(*(f"open {words.shown(path)}" for path in files if path.suffix == ".html"))
    if not files:
        words.say(f"next: for its pages run: {bandscan} log --job {told.job} --out DIR")
    return 0


def _forget(told: Namespace, shop: Shop | None) -> int:
    done = pipeline.forget(shop, *told.forget)
    parts = [f"{done.surveys} survey(s)"] if done.surveys else []
    parts += [f"{done.checks} check(s)"] if done.checks else []
    words.result(f"forgotten: {' and '.join(parts) or 'nothing'}")
    if done.surveys:
        words.say("note: recordings that are still in a folder come back when they are surveyed again")
    return words.failures(done.errors, told)
