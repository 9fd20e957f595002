"""Reads the modules of bandscan without running them, and says which room may import which (HOUSE rules, DEVELOPERS.md)."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from places import PROJECT

PACKAGE = PROJECT / "bandscan"

FOUNDATION = frozenset({"_version", "errors", "units", "tables", "plans", "model"})
AFTER_SOURCE = frozenset({"source", "survey", "baseline", "radio", "report", "store", "shop"})
ALL_BUT_DEMO = FOUNDATION | AFTER_SOURCE | {"dsp", "measure", "tally"}
# what a tally may take from radio: the words of a sheet, and when a name is an anchor; judging is none of its business
SHEET_WORDS = ("bandscan.radio.sheet.", "bandscan.radio.header.", "bandscan.radio.dial.", "bandscan.radio.bench.plain")

# room -> rooms that it may import; every room may import itself
MAY_IMPORT: dict[str, frozenset[str]] = {
    "_version": frozenset(),
    "errors": frozenset(),
    "units": frozenset({"errors"}),
    "tables": frozenset({"errors"}),
    "plans": frozenset({"errors", "units"}),
    "model": frozenset({"errors", "plans", "tables"}),
    "dsp": frozenset({"units"}),
    "measure": FOUNDATION | {"dsp"},
    **dict.fromkeys(AFTER_SOURCE, FOUNDATION),
    "tally": FOUNDATION | {"radio"},
    "demo": FOUNDATION,
    "pipeline": ALL_BUT_DEMO,
    "cli": FOUNDATION | {"pipeline", "demo"},
    "__main__": frozenset({"cli"}),
    "__init__": ALL_BUT_DEMO | {"pipeline"},
}

# modules that exist only on POSIX systems: https://docs.python.org/3/library/unix.html, with the terminal's
POSIX_ONLY = frozenset(
    {
        "crypt",
        "curses",
        "fcntl",
        "grp",
        "nis",
        "ossaudiodev",
        "posix",
        "pty",
        "pwd",
        "readline",
        "resource",
        "spwd",
        "syslog",
        "termios",
        "tty",
    }
)


@dataclass(frozen=True)
class Import:
    """One imported name: full dotted module or member, its line, and whether it is imported when the module is."""

    target: str
    line: int
    at_top: bool


@dataclass(frozen=True)
class Module:
    """A module of bandscan: dotted name without `bandscan.`, path within the project, text and syntax tree."""

    name: str
    path: str
    text: str
    tree: ast.Module
    is_package: bool = False

    @property
    def room(self) -> str:
        """First part of the name: `source` for bandscan/source/wav.py, `__init__` for the package itself."""
        return self.name.split(".")[0]


def module_of(path: str, text: str) -> Module:
    """A module from its path within the project (`bandscan/source/wav.py`) and its text."""
    parts = list(Path(path).with_suffix("").parts[1:])
    is_package = parts[-1] == "__init__"
    name = ".".join(parts[:-1] if is_package and len(parts) > 1 else parts)
    return Module(name, path, text, ast.parse(text, filename=path), is_package)


@cache
def modules() -> tuple[Module, ...]:
    """Every module of bandscan, by path."""
    return tuple(
        module_of(path.relative_to(PROJECT).as_posix(), path.read_text(encoding="utf-8"))
        for path in sorted(PACKAGE.rglob("*.py"))
    )


def imports(module: Module) -> Iterator[Import]:
    """Every import of a module, also those inside functions, under `if` and under `try`; relative ones are resolved."""
    yield from _imports(module, module.tree, at_top=True)


def _imports(module: Module, node: ast.AST, *, at_top: bool) -> Iterator[Import]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import):
            for alias in child.names:
                yield Import(alias.name, child.lineno, at_top)
        elif isinstance(child, ast.ImportFrom):
            base = _base(module, child)
            for alias in child.names:
                yield Import(f"{base}.{alias.name}", child.lineno, at_top)
        inner_top = at_top and not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        yield from _imports(module, child, at_top=inner_top)


def _base(module: Module, statement: ast.ImportFrom) -> str:
    if statement.level == 0:
        return statement.module or ""
    here = ["bandscan"] if module.name == "__init__" else ["bandscan", *module.name.split(".")]
    package = here if module.is_package else here[:-1]
    parts = package[: len(package) - (statement.level - 1)]
    return ".".join([*parts, statement.module] if statement.module else parts)


def room_of(target: str) -> str | None:
    """The room that an imported name belongs to; None outside bandscan."""
    parts = target.split(".")
    if parts[0] != "bandscan":
        return None
    if len(parts) > 1 and parts[1] in MAY_IMPORT:
        return parts[1]
    return "__init__"


def breaches(module: Module) -> list[str]:
    """Imports that the house forbids, each as `path:line: what`."""
    if module.room not in MAY_IMPORT:
        return [f"{module.path}:1: room {module.room!r} has no row in tests/house/rooms.py MAY_IMPORT"]
    allowed = MAY_IMPORT[module.room] | {module.room}
    found = []
    for item in imports(module):
        room = room_of(item.target)
        top = item.target.split(".")[0]
        where = f"{module.path}:{item.line}:"
        if room is not None and room not in allowed:
            found.append(f"{where} {module.room} may not import {room}")
        if module.room == "tally" and room == "radio" and not item.target.startswith(SHEET_WORDS):
            found.append(f"{where} tally takes the sheet's words from radio, nothing else")
        if top == "prompt_toolkit" and module.path != "bandscan/tally/desk.py":
            found.append(f"{where} prompt_toolkit belongs in bandscan/tally/desk.py alone")
        if top == "rtlsdr" and module.path != "bandscan/source/dongle.py":
            found.append(f"{where} rtlsdr belongs in bandscan/source/dongle.py alone")
        if top == "pandas" and module.room == "dsp":
            found.append(f"{where} dsp knows arrays only, never pandas")
        if top == "sqlite3" and module.room != "store":
            found.append(f"{where} sqlite3 belongs in bandscan/store: the only place that keeps things")
        if top in POSIX_ONLY and item.at_top:
            found.append(f"{where} {top} exists on POSIX only: import it inside the function that needs it")
    return found
