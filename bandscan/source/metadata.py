"""SigMF metadata, JSON text to a checked record: nothing in it is believed before it is looked at.

The `sigmf` library lets pass what would end in nonsense or a crash (no rate, a rate of NaN, header_bytes of 1e12, a data file
outside the folder), so these checks stand in its place. Source: the SigMF specification, version 1.2.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from bandscan.errors import RecordingError
from bandscan.source import fields
from bandscan.source.samples import ENCODINGS, Encoding

# A hostile text of this size takes about 100 MB as objects; 4 MB is room for some 20000 annotations.
LARGEST_TEXT_BYTES = 4_000_000
MOST_SEGMENTS = 10_000
LARGEST_COUNT = 2**53

_DATATYPES = ("cu8", "ci8", "ci16_le", "ci16_be", "cf32_le", "cf32_be")
_ORDERLESS = ("ci16", "cf32")
_HEX = frozenset("0123456789abcdefABCDEF")


@dataclass(frozen=True)
class Segment:
    """One entry of `captures`. `start` counts samples from the start of the data, `lead_bytes` all header bytes before it."""

    start: int
    lead_bytes: int
    centre_hz: float | None
    started_utc: str


@dataclass(frozen=True)
class Metadata:
    """What bandscan uses of a SigMF metadata file, checked."""

    encoding: Encoding
    rate_hz: float
    segments: tuple[Segment, ...]
    trailing_bytes: int
    dataset: str
    sha512: str
    rig: str
    survey_id: str
    gain_db: float | None
    forged: bool
    remarks: tuple[str, ...]
    notes: tuple[str, ...]


class _Fields:
    """One JSON object and its place: each value by name, with the type that it must have."""

    def __init__(self, values: object, where: str, part: str) -> None:
        self.where = where
        self.part = part
        if not isinstance(values, dict):
            raise RecordingError(f"{part} is {fields.shown(values)}", where=where, accepted="a JSON object")
        self.values: dict[str, Any] = values

    def refuse(self, key: str, accepted: str) -> RecordingError:
        return RecordingError(f"{self.part} {key} is {fields.shown(self.values[key])}", where=self.where, accepted=accepted)

    def text(self, key: str, longest: int = 200) -> str:
        value = self.values.get(key)
        if value is None:
            return ""
        if not isinstance(value, str) or len(value) > longest or not value.isprintable():
            raise self.refuse(key, f"printable text of at most {longest} characters")
        return value

    def whole(self, key: str) -> int:
        value = self.values.get(key, 0)
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= LARGEST_COUNT:
            raise self.refuse(key, "a whole number from 0")
        return value

    def flag(self, key: str) -> bool:
        value = self.values.get(key, False)
        if not isinstance(value, bool):
            raise self.refuse(key, "true or false")
        return value


def parse(text: bytes, where: str) -> Metadata:
    """The metadata in a SigMF text; `where` names the file in messages.

    Raises:
        RecordingError: it is no SigMF metadata, or says what cannot be or is not understood.
    """
    whole = _Fields(_load(text, where), where, "the metadata")
    if "global" not in whole.values:
        raise RecordingError("has no global object", where=where, accepted="SigMF metadata")
    entries = _Fields(whole.values["global"], where, "global")
    notes: list[str] = []
    if entries.flag("core:metadata_only"):
        raise RecordingError(
            "says that it has no data (core:metadata_only)", where=where, accepted="a recording with its samples"
        )
    if "core:num_channels" in entries.values and entries.values["core:num_channels"] != 1:
        raise entries.refuse("core:num_channels", "1; write each channel to a recording of its own")
    encoding = _encoding(entries, notes)
    if "core:sample_rate" not in entries.values:
        raise RecordingError("global has no core:sample_rate", where=where, do="write the sample rate in Hz there")
    sha512 = entries.text("core:sha512")
    if sha512 and not (len(sha512) == 128 and _HEX.issuperset(sha512)):
        raise entries.refuse("core:sha512", "128 hexadecimal digits; without it the data are not verified")
    rate_hz = fields.rate(entries.values["core:sample_rate"], "global core:sample_rate", where)
    gain = entries.values.get("bandscan:gain_db")
    return Metadata(
        encoding=encoding,
        rate_hz=rate_hz,
        segments=_segments(whole.values.get("captures", []), entries.whole("core:offset"), rate_hz, where, notes),
        trailing_bytes=entries.whole("core:trailing_bytes"),
        dataset=entries.text("core:dataset"),
        sha512=sha512.lower(),
        rig=entries.text("bandscan:rig"),
        survey_id=entries.text("bandscan:survey"),
        gain_db=None if gain is None else fields.in_range(gain, -200, 200, "dB", "global bandscan:gain_db", where),
        forged=entries.flag("bandscan:forged"),
        remarks=tuple(word for word in entries.text("bandscan:remarks").split(";") if word),
        notes=tuple(notes),
    )


def _load(text: bytes, where: str) -> object:
    if len(text) > LARGEST_TEXT_BYTES:
        raise RecordingError("metadata too long", where=where, accepted=f"up to {fields.mega(LARGEST_TEXT_BYTES)}")

    def once(pairs: list[tuple[str, object]]) -> dict[str, object]:
        values: dict[str, object] = {}
        for name, value in pairs:
            if name in values:
                raise RecordingError(f"{fields.shown(name)} stands twice in one object", where=where, accepted="each name once")
            values[name] = value
        return values

    try:
        return json.loads(text.decode("utf-8-sig"), object_pairs_hook=once)
    except UnicodeDecodeError as error:
        raise RecordingError("is not UTF-8 text", where=where, accepted="SigMF metadata (JSON)") from error
    except RecursionError as error:
        raise RecordingError("is nested too deeply", where=where, accepted="SigMF metadata (JSON)") from error
    except json.JSONDecodeError as error:
        what = f"is no JSON: {error.msg} in line {error.lineno}"
        raise RecordingError(what, where=where, accepted="SigMF metadata (JSON)") from error
    except ValueError as error:  # the only other one: Python converts no number of thousands of digits
        raise RecordingError("holds a number of too many digits", where=where, accepted="SigMF metadata (JSON)") from error


def _encoding(entries: _Fields, notes: list[str]) -> Encoding:
    name = entries.text("core:datatype")
    if name in _ORDERLESS:
        notes.append(f"{fields.plain(entries.where)}: core:datatype {name} names no byte order; taken as little-endian")
        name += "_le"
    if not name:
        raise RecordingError("global has no core:datatype", where=entries.where, accepted=", ".join(_DATATYPES))
    if name not in _DATATYPES:
        raise entries.refuse("core:datatype", ", ".join(_DATATYPES))
    return ENCODINGS[name]


def _segments(captures: object, offset: int, rate_hz: float, where: str, notes: list[str]) -> tuple[Segment, ...]:
    if not isinstance(captures, list) or len(captures) > MOST_SEGMENTS:
        what = f"{len(captures)} captures" if isinstance(captures, list) else f"captures is {fields.shown(captures)}"
        raise RecordingError(what, where=where, accepted=f"a list of up to {MOST_SEGMENTS} captures")
    segments: list[Segment] = []
    lead_bytes = 0
    moment: datetime | None = None
    for index, values in enumerate(captures):
        entries = _Fields(values, where, f"captures[{index}]")
        start = entries.whole("core:sample_start") - (offset if "core:sample_start" in entries.values else 0)
        earlier = segments[-1].start if segments else 0
        if start < earlier or ("core:sample_start" not in entries.values and index > 0):
            what = f"captures[{index}] core:sample_start is {fields.shown(entries.values.get('core:sample_start'))}"
            raise RecordingError(what, where=where, accepted="captures in the order of their first samples")
        lead_bytes += entries.whole("core:header_bytes")
        centre_hz = None
        if "core:frequency" in entries.values:
            centre_hz = fields.centre(entries.values["core:frequency"], f"captures[{index}] core:frequency", where)
        moment = _moment(entries, moment, (start - earlier) / rate_hz, notes)
        segments.append(Segment(start, lead_bytes, centre_hz, fields.utc_text(moment) if moment else ""))
    return tuple(segments) or (Segment(0, 0, None, ""),)


def _moment(entries: _Fields, earlier: datetime | None, since_s: float, notes: list[str]) -> datetime | None:
    """The segment's own start, else the one that follows from the segment before."""
    text = entries.text("core:datetime")
    moment = fields.utc(text)
    if text and moment is None:
        notes.append(
            f"{fields.plain(entries.where)}: {entries.part} core:datetime {fields.shown(text)} is no date and time; left out"
        )
    if moment is None and earlier is not None:
        try:
            moment = earlier + timedelta(seconds=since_s)
        except OverflowError:
            return None
    return moment
