"""A table of facts, the same for the page and for the terminal."""

from __future__ import annotations

import io
import textwrap
from dataclasses import dataclass

from bandscan.report.words import plain

TERM_COLUMNS = 16  # of a terminal, for the words that stand before a line


@dataclass(frozen=True)
class Head:
    """One column: what it is, its unit, whether it holds figures (set to the right) or words."""

    words: str
    unit: str = ""
    figures: bool = False


@dataclass(frozen=True)
class Grid:
    """Cells as washed text, one row per thing; the first cell names the row."""

    caption: str
    heads: tuple[Head, ...]
    rows: tuple[tuple[str, ...], ...]


def filled(grid: Grid) -> Grid:
    """The table without the columns that hold nothing."""
    kept = [place for place in range(len(grid.heads)) if place == 0 or any(row[place] for row in grid.rows)]
    return Grid(
        grid.caption,
        tuple(grid.heads[place] for place in kept),
        tuple(tuple(row[place] for place in kept) for row in grid.rows),
    )


def entry(term: str, words: str, width: int) -> list[str]:
    """A term and its words as lines for a terminal, the words wrapped beside the term."""
    head = f"  {term}".ljust(TERM_COLUMNS)
    wrapped = textwrap.wrap(
        plain(words), width, initial_indent=head, subsequent_indent=" " * TERM_COLUMNS, break_on_hyphens=False
    )
    return wrapped or [head.rstrip()]


def as_text(grid: Grid, width: int = 100) -> str:
    """The table for a terminal: plain text, no escape codes, no more than `width` columns."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="", padding=(0, 1))
    for head in grid.heads:
        table.add_column(Text(f"{head.words}\n{head.unit}".rstrip()), justify="right" if head.figures else "left")
    for row in grid.rows:
        table.add_row(*(Text(cell) for cell in row))
    # a console of its own with no terminal behind it, so that neither colours nor links get into the text
    paper = Console(file=io.StringIO(), width=width, no_color=True, force_terminal=False, highlight=False, _environ={})
    with paper.capture() as captured:
        paper.print(table)
    lines = [*textwrap.wrap(grid.caption, width), *(line.rstrip() for line in captured.get().splitlines())]
    return "\n".join(lines) + "\n"
