"""The time zone that this computer is set to, by its name."""

from __future__ import annotations

import os
from pathlib import Path


def local_zone() -> str:
    """As `Europe/Berlin`; `UTC` where the system does not tell a name."""
    if named := os.environ.get("TZ", "").lstrip(":"):
        return named if "/" in named and not named.startswith("/") else "UTC"
    try:
        target = Path("/etc/localtime").resolve(strict=True).as_posix()
    except OSError:
        return "UTC"
    _, found, name = target.partition("/zoneinfo/")
    return name if found else "UTC"
