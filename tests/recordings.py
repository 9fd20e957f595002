"""Recordings for the tests of the whole way: those of captures_demo, renamed, moved in time, or passed off as received."""

from __future__ import annotations

import json
import os
from pathlib import Path

from places import PROJECT

DEMO = PROJECT / "captures_demo"
FM_LOW, FM_HIGH, AM = "fm-097800k", "fm-101400k", "am-001125k"


def recording(folder: Path, source: str = FM_LOW, name: str = "", **fields: object) -> Path:
    """A copy of a committed recording in `folder` that does not say that it is forged; gives the path of its metadata.

    `fields` change the copy: `started`, `rig`, `gain_db`, `survey`, `forged`, `centre_hz`; None takes a field out.
    """
    name = name or source
    folder.mkdir(parents=True, exist_ok=True)
    meta = json.loads((DEMO / f"{source}.sigmf-meta").read_text())
    told, capture = meta["global"], meta["captures"][0]
    for key in ("forged", "survey", "rig", "gain_db"):
        told.pop(f"bandscan:{key}", None)
        if fields.get(key) is not None:
            told[f"bandscan:{key}"] = fields[key]
    if "started" in fields:
        capture["core:datetime"] = fields["started"]
        if fields["started"] is None:
            del capture["core:datetime"]
    if "centre_hz" in fields:
        capture["core:frequency"] = fields["centre_hz"]
    path = folder / f"{name}.sigmf-meta"
    path.write_text(json.dumps(meta))
    data = folder / f"{name}.sigmf-data"
    data.unlink(missing_ok=True)
    try:
        os.link(DEMO / f"{source}.sigmf-data", data)  # no copy of the samples where the file system can do without
    except OSError:
        data.write_bytes((DEMO / f"{source}.sigmf-data").read_bytes())
    return path
