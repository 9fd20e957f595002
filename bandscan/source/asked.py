"""What the caller tells about recordings that do not tell it themselves."""

from __future__ import annotations

from dataclasses import dataclass

from bandscan.errors import UsageError
from bandscan.source import fields
from bandscan.source.samples import ENCODINGS, Encoding

_ORDERED = ("ci16", "cf32")
RAW_ENCODINGS = ("cu8", "ci8", *_ORDERED, *(f"{name}_{order}" for name in _ORDERED for order in ("le", "be")))


@dataclass(frozen=True)
class RawFormat:
    """How to read bare I/Q. `ci16` and `cf32` are little-endian; `ci16_be` and `cf32_be` are not. [Hz]

    Raises:
        UsageError: an encoding, rate, centre or time that cannot be.
    """

    encoding: str
    rate_hz: float
    centre_hz: float
    started_utc: str = ""

    def __post_init__(self) -> None:
        if self.encoding not in RAW_ENCODINGS:
            raise UsageError(f"no sample format {fields.shown(self.encoding)}", accepted=", ".join(RAW_ENCODINGS))
        fields.rate(self.rate_hz, "the sample rate", error=UsageError)
        fields.centre(self.centre_hz, "the centre frequency", error=UsageError)
        moment = fields.utc(self.started_utc)
        if self.started_utc and moment is None:
            raise UsageError(f"no date and time {fields.shown(self.started_utc)}", accepted="2026-03-14T10:30:00Z")
        object.__setattr__(self, "started_utc", fields.utc_text(moment) if moment else "")

    @property
    def stored_as(self) -> Encoding:
        """The encoding with its byte order."""
        return ENCODINGS[f"{self.encoding}_le" if self.encoding in _ORDERED else self.encoding]


@dataclass(frozen=True)
class Asked:
    """What the caller said; a recording's own figures come before it. [Hz]"""

    raw: RawFormat | None = None
    centre_hz: float | None = None

    def __post_init__(self) -> None:
        if self.centre_hz is not None:
            fields.centre(self.centre_hz, "the centre frequency", error=UsageError)

    @property
    def centre(self) -> float | None:
        """The centre frequency for recordings that do not tell theirs. [Hz]"""
        return self.raw.centre_hz if self.centre_hz is None and self.raw is not None else self.centre_hz
