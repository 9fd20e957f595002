"""Files in and out: sheets and lists as text, results replaced atomically."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TypeAlias

import pandas as pd

from bandscan import tables
from bandscan.errors import BandscanError, InputError, SheetError
from bandscan.report import plot_library

Text: TypeAlias = str | Callable[[str], str]
"""A file's text; a page with plots is a function of the address, from the page, of the plots' library."""

PLOTS = "plots.js"
_UPWARD = 2  # folders above a page in which a library that lies there already is used
_LARGEST_BYTES = 5_000_000
# names that Windows keeps for devices, whatever their ending
_DEVICES = {"con", "prn", "aux", "nul", *(f"{kind}{number}" for kind in ("com", "lpt") for number in range(1, 10))}


def write_files(
    folder: Path, texts: Mapping[str, Text], errors: list[BandscanError] | None = None, *, top: Path | None = None
) -> list[Path]:
    """Write texts into a folder, which is made where needed; each file is replaced as a whole or not at all.

    Pages with plots share one library, since it is twenty times as large as a page: one that lies in their folder or up to
    two above is used, else it is written into `top`.

    Args:
        folder: where to.
        texts: file name -> text, or page.
        errors: gets the failure, so that results can be given that could not be written; None raises it.
        top: the folder itself or one above it, for what its pages share; None means the folder itself.

    Raises:
        InputError: a file cannot be written, and there is no list for that.
    """
    written = []
    try:
        for name, text in texts.items():
            whole = text if isinstance(text, str) else text(library_address(folder, top or folder))
            written.append(write_lines(folder / name, [whole]))
    except InputError as failure:
        if errors is None:
            raise
        errors.append(failure)
    return written


def share_plots(folder: Path) -> Path:
    """Write the plots' library into a folder, for the pages of the folders in it, where it does not lie there already.

    Raises:
        InputError: it cannot be written.
    """
    return folder / PLOTS if _has_library(folder) else write_lines(folder / PLOTS, [plot_library()])


def _has_library(folder: Path) -> bool:
    return (folder / PLOTS).is_file() and (folder / PLOTS).stat().st_size == len(plot_library().encode())


def library_address(folder: Path, top: Path) -> str:
    """Address of the plots' library from a page of the folder; the library is written into `top` where there is none.

    Raises:
        InputError: it cannot be written.
    """
    here = folder.resolve()
    for up, place in enumerate((here, *here.parents[:_UPWARD])):
        if _has_library(place):
            return "../" * up + PLOTS
    return Path(os.path.relpath(share_plots(top.resolve()), here)).as_posix()


def write_lines(path: Path, lines: Iterable[str]) -> Path:
    """Write a file line by line, replaced as a whole or not at all.

    Raises:
        InputError: it cannot be written.
    """
    draft = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with draft.open("w", encoding="utf-8", newline="\n") as file:
            file.writelines(lines)
        draft.replace(path)
    except OSError as error:
        with suppress(OSError):  # where the folder itself is the fault there is no draft either
            draft.unlink(missing_ok=True)
        what = f"cannot be written: {error.strerror or error}"
        raise InputError(what, where=path, do="choose another folder with --out") from error
    return path


def read_text(path: Path, what: str) -> str:
    """The text of a small file: UTF-8, UTF-16 with its mark, or as Windows spreadsheets save it.

    Raises:
        SheetError: it is not there, cannot be read or is too large.
    """
    try:
        size = path.stat().st_size
        if size > _LARGEST_BYTES:
            raise SheetError(f"{size} bytes are no {what}", where=path, accepted=f"at most {_LARGEST_BYTES}")
        if path.is_dir():
            raise SheetError(f"is a folder, no {what}", where=path, accepted="CSV text", do=f"name the {what}'s file in it")
        content = path.read_bytes()
    except FileNotFoundError as error:
        raise SheetError("is not there", where=path, accepted=f"a {what}, CSV") from error
    except OSError as error:
        raise SheetError(f"cannot be read: {error.strerror or error}", where=path) from error
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return content.decode("utf-16", errors="replace")
    if b"\0" in content:
        raise SheetError(
            f"is no text, so no {what}", where=path, accepted="CSV text", do="a recording is for `bandscan survey`"
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def file_name(text: str) -> str:
    """A text from outside, a job's number for instance, as the name of a folder on any system."""
    name = re.sub(r"[^\w.-]+", "-", text, flags=re.ASCII).strip(".-")[:80]
    return f"{name}-" if name.split(".")[0].lower() in _DEVICES else name or "unnamed"


def csv_text(frame: pd.DataFrame) -> str:
    """A table outside of `tables` as CSV; a text that a spreadsheet would run is disarmed as there."""
    shown = frame.copy()
    for name in shown.columns:
        shown[name] = shown[name].map(lambda cell: tables.disarmed(cell) if isinstance(cell, str) else cell)
    return shown.to_csv(index=False, lineterminator="\n")
