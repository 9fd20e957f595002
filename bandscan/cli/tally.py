"""`bandscan tally`: at a terminal, and nowhere else."""

from __future__ import annotations

import os
import sys
from argparse import Namespace

from bandscan import pipeline
from bandscan.cli import words
from bandscan.errors import UsageError


def tally(told: Namespace, shop: pipeline.Shop | None, program: str) -> int:
    """Fill in a count sheet, key by key. `program` is how the next command line begins."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise UsageError("needs a terminal for keys and screen", do="run it without `|`, `<` and `>` (over ssh: ssh -t)")
    if os.environ.get("TERM", "") == "dumb":
        raise UsageError("this terminal (TERM is dumb) cannot place text", do="use another, or fill in the sheet by hand")
    sheet = told.sheet
    if sheet is None and shop is not None and (left := pipeline.left_tally(shop)) is not None:
        path, about = left
        print(f"{words.shown(path)} was left in the middle ({about}): go on with it? [y/n, ENTER is y] ", end="", flush=True)
        sheet = path if sys.stdin.readline().strip().lower() in ("", "y", "yes") else None
    one = pipeline.tally(sheet, shop=shop)
    words.say(*(f"note: {note}" for note in one.notes))
    try:
        one.desk.run()
    except KeyboardInterrupt:
        words.say(f"next: every key is saved; to go on run: {program} tally {words.shown(one.path)}")
        raise
    words.say(f"next: {words.shown(one.path)} is filled in; to judge it run: {program} check {words.shown(one.path)}")
    return 0
