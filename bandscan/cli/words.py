"""What a command says: results on standard output, the rest on standard error."""

from __future__ import annotations

import re
import shutil
import sys
import time
from argparse import Namespace
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

_PLAIN_WIDTH = 120
_PLAIN_EVERY_S = 10.0
# a command that an error advises, of those that work in a shop
_ADVISED = re.compile(r"(?<=[`:\s])bandscan (?=survey|capture|baseline|sheet|tally|check|log)")


def width() -> int:
    """Columns for tables: the terminal's, or enough where the output goes into a file."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else _PLAIN_WIDTH


def result(text: str) -> None:
    """A table or verdict."""
    print(text, flush=True)


def say(*lines: str) -> None:
    """Lines beside the result."""
    for line in lines:
        print(line, file=sys.stderr, flush=True)


def program(told: Namespace) -> str:
    """The program's name as the next command line needs it."""
    return f"bandscan --shop {shown(told.shop)}" if told.shop is not None else "bandscan"


def advice(line: object, told: Namespace) -> str:
    """An error's or note's line; the commands that it advises are for the shop that was named."""
    return _ADVISED.sub(lambda _: f"{program(told)} ", str(line))


def failures(errors: Iterable[Exception], told: Namespace) -> int:
    """Each error in its line; 3 if there is one, else 0."""
    status = 0
    for error in errors:
        say(f"bandscan: {advice(error, told)}")
        status = 3
    return status


def shown(path: Path) -> str:
    """A path as one would type it: from here where that is shorter, quoted where it needs to be.

    A folder's name may hold anything: codes that steer a terminal are shown as `?`.
    """
    try:
        text = str(path.absolute().relative_to(Path.cwd()))
    except ValueError:
        text = str(path)
    text = "".join(sign if sign.isprintable() else "?" for sign in text)
    return f'"{text}"' if " " in text else text


@contextmanager
def progress(what: str, *, plain: bool = False) -> Iterator[Callable[[int, int, str], None]]:
    """A bar on standard error while the block runs; where that is no terminal nothing, or with `plain` a line every 10 s."""
    if not sys.stderr.isatty():
        yield _plain_lines(what) if plain else lambda done, of, name: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn
    from rich.text import Text

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(file=sys.stderr), transient=True) as bar:
        task = bar.add_task(what, total=None)

        def step(done: int, of: int, name: str) -> None:
            bar.update(task, completed=done, total=of, description=Text(f"{what} {name}").plain)

        yield step


def _plain_lines(what: str) -> Callable[[int, int, str], None]:
    last = time.monotonic()

    def step(done: int, of: int, name: str) -> None:
        nonlocal last
        if done < of and time.monotonic() - last >= _PLAIN_EVERY_S:
            last = time.monotonic()
            say(f"{what}: {done} of {of}")

    return step
