"""Recordings of IQ samples, wherever and however they are kept: bytes in, `Capture` out.

Names are imported when they are first used: the process that drives the dongle is of this package and needs none of them.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bandscan.source.asked import RawFormat
    from bandscan.source.open import find, read
    from bandscan.source.samples import ENCODINGS, MappedSamples
    from bandscan.source.writer import Heading, write

__all__ = ["ENCODINGS", "Heading", "MappedSamples", "RawFormat", "find", "read", "write"]

_MODULE = {
    "RawFormat": "asked",
    **dict.fromkeys(("find", "read"), "open"),
    **dict.fromkeys(("ENCODINGS", "MappedSamples"), "samples"),
    **dict.fromkeys(("Heading", "write"), "writer"),
}


def __getattr__(name: str) -> object:
    """PEP 562: import a public name's module when the name is first asked for."""
    if name not in _MODULE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_MODULE[name]}"), name)
    globals()[name] = found
    return found
