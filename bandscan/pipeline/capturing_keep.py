"""The IQ that captures keep: no halves left over, and the oldest dropped when there is too much of it."""

from __future__ import annotations

import json
import re
import shutil
import time
from pathlib import Path

from bandscan.errors import RecordingError
from bandscan.pipeline.measuring import digest_of
from bandscan.shop import Shop
from bandscan.store import Log

_OURS = re.compile(r"(?:fm|am)-\d{8}T\d{6}Z-\d{3,}-\d+k")
_META, _DATA = ".sigmf-meta", ".sigmf-data"
_SPARE_BYTES = 50_000_000  # for the log and its journal


def sweep(folder: Path, older_s: float) -> None:
    """Remove what a capture that was killed left half written: data without their metadata.

    Younger ones are left alone: another capture may be writing them. [s]
    """
    for path in folder.glob(f"*{_DATA}*"):
        stem = path.name.partition(".")[0]
        whole = path.name == stem + _DATA and path.with_name(stem + _META).exists()
        if _OURS.fullmatch(stem) and not whole and time.time() - path.stat().st_mtime >= older_s:
            path.unlink(missing_ok=True)


def _own(folder: Path) -> list[Path]:
    """Metadata of the recordings that captures kept, oldest first."""
    found = [path for path in folder.glob(f"*/*{_META}") if _OURS.fullmatch(path.stem)]
    # the survey's start stands in the name
    return sorted(found, key=lambda path: path.stem.partition("-")[2])


def drop_oldest(shop: Shop, log: Log, coming_bytes: int) -> list[str]:
    """Keep within `keep_gb`: remove the oldest recordings that captures kept and that are in a survey; a line where any went.

    Recordings that came from elsewhere, and such as are in no survey yet, are never touched.
    """
    if shop.keep_gb is None:
        return []
    kept = {path: path.with_suffix(_DATA).stat().st_size for path in _own(shop.captures) if path.with_suffix(_DATA).exists()}
    total, most = sum(kept.values()), shop.keep_gb * 1e9
    gone = 0
    for path, size in kept.items():
        if total + coming_bytes <= most:
            break
        if _is_captures(path) and log.surveys_of([digest_of(path)]):
            path.unlink()
            path.with_suffix(_DATA).unlink(missing_ok=True)
            total -= size
            gone += 1
            if not any(path.parent.iterdir()):
                path.parent.rmdir()
    notes = []
    if gone:
        notes.append(f"keep_gb = {shop.keep_gb:g}: the oldest {gone} surveyed recordings went; their figures are in the log")
    if total + coming_bytes > most:
        notes.append(f"keep_gb = {shop.keep_gb:g} is passed: {(total + coming_bytes) / 1e9:.2f} GB of recordings stay")
    return notes


def _is_captures(path: Path) -> bool:
    """Whether a capture wrote this recording."""
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return str(told.get("global", {}).get("core:recorder", "")).startswith("bandscan ")


def refuse_full_disk(folder: Path, coming_bytes: int) -> None:
    """Rather than begin what cannot be ended.

    Raises:
        RecordingError: the disk has no room for what is coming.
    """
    free = shutil.disk_usage(folder).free
    if free < coming_bytes + _SPARE_BYTES:
        raise RecordingError(
            f"{free / 1e9:.2f} GB are free and {(coming_bytes + _SPARE_BYTES) / 1e9:.2f} GB are needed",
            where=folder,
            do="free some space, set keep_gb in shop.toml, or keep figures only with --keep none",
        )
