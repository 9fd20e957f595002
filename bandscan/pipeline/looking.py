"""`bandscan log`: what the shop's log holds, and its checks as issued."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from bandscan.baseline import from_files
from bandscan.errors import InputError, UsageError
from bandscan.pipeline.files import Text, file_name, write_files
from bandscan.pipeline.issuing import again
from bandscan.pipeline.papers import papers
from bandscan.radio import from_json
from bandscan.shop import Shop
from bandscan.store import Issued, Log


def reprint(shop: Shop | None, job: str, out: Path | None = None) -> tuple[list[Issued], list[Path]]:
    """The checks of a job as issued, and with `out` their files, to the letter, in a folder of the job's name in it.

    Raises:
        UsageError: there is no shop.
        InputError: there is no check of that job.
    """
    if shop is None:
        raise UsageError("there is no shop here, so no log", do="name one with --shop DIR")
    with Log(shop.log_path) as log:
        issued = log.checks(job)
        jobs = sorted({str(row[0]) for row in log.contents()["checks"]})
    if not issued:
        raise InputError(f"no check of job {job!r} in the log", where=shop.log_path, accepted=", ".join(jobs) or "none yet")
    files: list[Path] = []
    folder = out / file_name(job) if out is not None else None
    for number, one in enumerate(issued, 1):
        if folder is not None and out is not None:
            own = folder / str(number) if len(issued) > 1 else folder
            files += write_files(own, again(one.papers, own, out) if one.papers else _drawn(one), top=out)
            files += write_files(own, {"sheet.csv": one.sheet})
    return issued, files


def _drawn(one: Issued) -> dict[str, Text]:
    """The files of a check of which the log has the facts only: one that an earlier bandscan issued."""
    lists = {band: from_files(texts["baseline.csv"], texts["baseline.json"]) for band, texts in one.lists.items()}
    return papers(from_json(json.loads(one.json)), lists, record=one.json, sheet=one.sheet)


def contents(shop: Shop | None) -> dict[str, list[tuple[Any, ...]]]:
    """What the shop's log holds, see `Log.contents`.

    Raises:
        UsageError: there is no shop.
    """
    if shop is None:
        raise UsageError("there is no shop here, so no log", do="name one with --shop DIR")
    with Log(shop.log_path) as log:
        return log.contents()
