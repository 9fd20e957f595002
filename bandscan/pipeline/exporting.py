"""`bandscan log --export` and `--backup`: the log as tables for a spreadsheet, and as one file to put away."""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Iterable, Iterator
from contextlib import suppress
from itertools import chain
from pathlib import Path
from typing import Any

from bandscan import tables
from bandscan.errors import InputError, LogError, UsageError
from bandscan.pipeline.files import write_lines
from bandscan.shop import Shop
from bandscan.store import Log

CHECKS = (
    *("job", "radio", "family", "swept", "by", "made_utc", "version", "known_good", "band", "rig", "counted", "expected"),
    *("threshold_db", "threshold_low_db", "threshold_high_db", "unit", "reference_db", "reference_sd_db", "reference_basis"),
    *("against_db", "against_low_db", "against_high_db", "verdict", "why", "do_next", "findings"),
)
SURVEYS = (
    *("id", "band", "region", "rig", "started_utc", "ended_utc", "gain_db", "forged", "overload_share", "clock_ppm"),
    *("clock_sd_ppm", "recordings", "stations", "cautions", "version", "logged_utc"),
)
STATIONS = ("survey", "rig", "started_utc", *tables.STATIONS.names)
_BOOLEANS = [place + 3 for place, column in enumerate(tables.STATIONS.columns) if column.dtype == "bool"]


def export(shop: Shop | None, folder: Path) -> list[Path]:
    """The log's checks, surveys and stations as `checks.csv`, `surveys.csv` and `stations.csv`, each replaced as a whole.

    Raises:
        UsageError: there is no shop.
        LogError: the log cannot be read.
        InputError: a file cannot be written.
    """
    if shop is None:
        raise UsageError("there is no shop here, so no log", do="name one with --shop DIR")
    with Log(shop.log_path) as log:
        return [
            write_lines(folder / "checks.csv", _lines(CHECKS, _checks(log))),
            write_lines(folder / "surveys.csv", _lines(SURVEYS, _surveys(log))),
            write_lines(folder / "stations.csv", _lines(STATIONS, _stations(log))),
        ]


def _lines(heads: Iterable[str], rows: Iterable[Iterable[Any]]) -> Iterator[str]:
    """Rows as lines of CSV, one after the other: a log may hold millions. A text that a spreadsheet would run is disarmed."""
    line = io.StringIO()
    writer = csv.writer(line, lineterminator="\n")
    for row in chain([heads], rows):
        writer.writerow([_cell(value) for value in row])
        yield line.getvalue()
        line.seek(0)
        line.truncate()


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return round(value, 4)
    return tables.disarmed(value) if isinstance(value, str) else value


def _checks(log: Log) -> Iterator[list[object]]:
    """One row for each band of each check, oldest first."""
    good = log.known_good_checks()
    for number, one in enumerate(log.every_check()):
        record = json.loads(one.json)
        for band, judged in record["bands"].items():
            against = judged["against_reference_db"] or {}
            threshold, reference = judged["threshold_db"], judged["reference"]
            rig = record["baseline"].get(band, {}).get("rig", "")
            yield [
                *(one.job, one.radio, one.family, record["swept"], record["by"], one.made_utc, one.version),
                *((number, band) in good, band, rig, judged["counted"], (judged["expected"] or {}).get("mid")),
                *(threshold["value"], threshold["low"], threshold["high"], threshold["unit"]),
                *(reference["threshold_db"], reference["sd_db"], reference["basis"]),
                *(against.get("value"), against.get("low"), against.get("high")),
                *(judged["verdict"], judged["why"], judged["do_next"]),
                ";".join(finding["fault"] for finding in judged["findings"]),
            ]


def _surveys(log: Log) -> Iterator[list[object]]:
    for facts in log.survey_facts():
        yield ["; ".join(facts[name]) if name == "cautions" else facts.get(name) for name in SURVEYS]


def _stations(log: Log) -> Iterator[list[object]]:
    for row in log.station_rows():
        cells = list(row)
        for place in _BOOLEANS:
            cells[place] = None if cells[place] is None else bool(cells[place])
        yield cells


def backup(shop: Shop | None, to: Path) -> Path:
    """A copy of the whole log in one file, put in place as a whole; an earlier copy there is replaced, another file never.

    Raises:
        UsageError: there is no shop, or the file named is the log itself.
        InputError: the file is there and no log of bandscan, or cannot be written.
        LogError: the log cannot be read, or the copy cannot be written.
    """
    if shop is None:
        raise UsageError("there is no shop here, so no log", do="name one with --shop DIR")
    if to.is_dir():
        raise InputError("is a folder", where=to, accepted="a file, as log-2026-03-14.sqlite")
    if to.exists():
        if to.samefile(shop.log_path):
            raise UsageError("--backup names the log itself", do="name another file")
        try:
            Log(to).close()
        except LogError as error:
            raise InputError("is there and no log of bandscan", where=to, do="name another file") from error
    draft = to.with_name(f".{to.name}.{os.getpid()}.new")
    try:
        to.parent.mkdir(parents=True, exist_ok=True)
        with Log(shop.log_path) as log:
            log.backup(draft)
        draft.replace(to)
    except OSError as error:
        raise InputError(f"cannot be written: {error.strerror or error}", where=to, do="name another file") from error
    finally:
        with suppress(OSError):  # where the folder itself is the fault there is no draft either
            draft.unlink(missing_ok=True)
    return to
