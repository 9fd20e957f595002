"""The shop's log (SQLite): the only place that keeps things."""

from __future__ import annotations

from bandscan.store.issued import Issued, KnownGood
from bandscan.store.log import Log

__all__ = ["Issued", "KnownGood", "Log"]
