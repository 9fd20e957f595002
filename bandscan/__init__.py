"""A reference for the bench: what is on the air here, and what a radio on this bench should therefore receive.

Names are imported when they are first used, so that `import bandscan` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from bandscan._version import __version__

if TYPE_CHECKING:
    from bandscan.baseline.distil import distil
    from bandscan.baseline.files import from_files, to_files
    from bandscan.errors import BandscanError
    from bandscan.model import Baseline, Capture, Measured, RadioCheck, Sheet, Survey
    from bandscan.plans import BandPlan, plan_for
    from bandscan.radio.judge import judge
    from bandscan.radio.limits import Limits
    from bandscan.radio.sheet import read_sheet
    from bandscan.source import RawFormat, find, read
    from bandscan.survey.gather import gather

__all__ = [
    "BandPlan",
    "BandscanError",
    "Baseline",
    "Capture",
    "Limits",
    "Measured",
    "RadioCheck",
    "RawFormat",
    "Sheet",
    "Survey",
    "__version__",
    "distil",
    "find",
    "from_files",
    "gather",
    "judge",
    "plan_for",
    "read",
    "read_sheet",
    "to_files",
]

_ROOM = {
    **dict.fromkeys(("distil", "from_files", "to_files"), "baseline"),
    "BandscanError": "errors",
    **dict.fromkeys(("Baseline", "Capture", "Measured", "RadioCheck", "Sheet", "Survey"), "model"),
    **dict.fromkeys(("BandPlan", "plan_for"), "plans"),
    **dict.fromkeys(("Limits", "judge", "read_sheet"), "radio"),
    **dict.fromkeys(("RawFormat", "find", "read"), "source"),
    "gather": "survey",
}


def __getattr__(name: str) -> object:
    """PEP 562: import a public name's room when the name is first asked for."""
    if name not in _ROOM:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_ROOM[name]}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
