"""What is said of one channel in one recording."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Judgement:
    """A word of `holds`, its evidence (words separated by `;`) and the emission's own level where that differs. [dBFS]"""

    holds: str
    evidence: str = ""
    level_db: float | None = None
