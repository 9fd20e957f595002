"""Pages to PDF through a browser that is installed, for filing and for a printer; the browser is kept off the network."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from bandscan.errors import BandscanError, InputError

PRINTED = ("owner.html", "record.html")
BROWSERS = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
    "microsoft-edge-stable",
    "msedge",
)
"""Programs that print to PDF without a window, as they are called on the PATH; the first that is there is taken."""

_PATIENCE_S = 60.0  # a page takes a second or two
_QUIET = (
    "--headless",
    "--disable-gpu",
    "--no-first-run",
    "--no-default-browser-check",
    "--disable-extensions",
    "--disable-sync",
    "--disable-background-networking",
    "--disable-component-update",
    "--host-resolver-rules=MAP * ~NOTFOUND",  # no name leads anywhere
    "--no-pdf-header-footer",
)


def print_pages(files: Sequence[Path], errors: list[BandscanError]) -> list[Path]:
    """The owner's page and the shop's record among `files` as PDF beside them.

    Args:
        files: what a command wrote.
        errors: gets a line where there is no browser, or where it fails.
    """
    pages = [path for path in files if path.name in PRINTED]
    program = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if pages and program is None:
        errors.append(
            InputError(
                "--pdf needs a browser, and there is none on the PATH",
                accepted=", ".join(("chromium", "google-chrome", "microsoft-edge")),
                do=f"install one, or open {pages[0]} and print it from the browser you have",
            )
        )
    printed: list[Path] = []
    for page in pages if program is not None else ():
        try:
            printed.append(_print(program or "", page))
        except InputError as error:
            errors.append(error)
    return printed


def _print(program: str, page: Path) -> Path:
    pdf = page.with_suffix(".pdf")
    draft = pdf.with_name(f".{pdf.name}.{os.getpid()}.new").absolute()
    try:
        with tempfile.TemporaryDirectory(prefix="bandscan-", ignore_cleanup_errors=True) as profile:
            said = _run(
                [program, *_QUIET, *_as_root(), f"--user-data-dir={profile}", f"--print-to-pdf={draft}", _address(page)]
            )
        if not draft.is_file() or draft.read_bytes()[:5] != b"%PDF-":
            raise InputError(
                f"{Path(program).name} made no PDF of it{said}", where=page, do="open it and print it from a browser"
            )
        draft.replace(pdf)
    except OSError as error:
        raise InputError(f"cannot be printed: {error.strerror or error}", where=page) from error
    finally:
        with suppress(OSError):  # where it cannot be removed the failure is told already
            draft.unlink(missing_ok=True)
    return pdf


def _run(line: list[str]) -> str:
    """What the browser said last, to go into an error's line."""
    try:
        done = subprocess.run(
            line, stdin=subprocess.DEVNULL, capture_output=True, text=True, errors="replace", timeout=_PATIENCE_S, check=False
        )
    except subprocess.TimeoutExpired:
        return f" in {_PATIENCE_S:.0f} s"
    last = done.stderr.strip().splitlines()[-1:] if done.returncode else []
    return "".join(f": {line[:200]}" for line in last)


def _address(page: Path) -> str:
    return page.resolve().as_uri()


def _as_root() -> tuple[str, ...]:
    """Root has no sandbox to give; the page is our own and may load nothing."""
    return ("--no-sandbox",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
