"""Frozen records that the rooms hand to each other.

One thing is a record here; many like things are a table declared in `tables`. Records that hold arrays or tables compare by
identity. Times are UTC; as text they are ISO 8601 with a trailing `Z`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
import pandas as pd

ComplexArray = npt.NDArray[np.complex64]

WITHIN_ROUNDING = "within-rounding"  # a remark: what the rounding of the strong ones may have made
OVERLOAD_SHARE = 0.001  # more of the samples at full scale and a list is not usable (common practice)
UNLISTED = "could be a real station under the reference's own floor"  # of an extra that nothing else explains
# a channel is better placed in the middle of a recording than at its edges: within this share of the rate of the centre, the
# middle 72 % (common practice says 75 to 80 %; the dongle's own filter begins to fall before that)
FLAT_SHARE = 0.36
UNKNOWN_DAY_SD_DB = 1.5  # what a day of unknown conditions adds: 3 dB for one station, 1 to 2 for all (common practice)


def parse_utc(text: str) -> datetime | None:
    """The moment that an ISO 8601 text names, taken as UTC where it names no zone; None where it names none."""
    try:
        moment = datetime.fromisoformat(text)
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
    except (ValueError, OverflowError):  # a moment before the year 1 in UTC overflows
        return None


def utc_text(moment: datetime) -> str:
    """A moment as the tables show it: ISO 8601 in UTC with a trailing `Z`, to the second."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


class Samples(Protocol):
    """IQ samples of one capture, wherever they are kept. 1.0 is the largest swing that the sample format holds."""

    @property
    def full_scale(self) -> float | None:
        """abs(I) or abs(Q) from which a sample counts as clipped; None where the format has no ceiling (floats)."""

    @property
    def bad_samples(self) -> int:
        """Different samples met so far that were no usable number (NaN, infinite, over 1e12); `frames` gave zero for each.
        Zero before the first call of `frames`; whole after one pass from start to end. Only float formats can hold such."""

    def __len__(self) -> int:
        """Number of complex samples."""

    def frames(self, start: int, rows: int, length: int, hop: int, out: ComplexArray | None = None) -> ComplexArray:
        """Overlapping frames: row r holds samples start + r * hop ... + length; shape (rows, length), complex64.

        Samples before the first or past the last one are zero. `out`, where given, is filled and returned.
        """


@dataclass(frozen=True, eq=False)
class Capture:
    """One recording, or one segment of a recording, with a centre frequency of its own.

    `name` is the recording's name, `NAME#k` for segment k of several. `started_utc` is empty where the recording does not
    tell. `rig` is empty where the recording does not name one. `forged` marks signals that were made, not received.
    `remarks` are words for the rows of this capture (`truncated`, for instance); `notes` are lines for the user.
    """

    name: str
    path: Path
    samples: Samples
    rate_hz: float
    centre_hz: float
    started_utc: str = ""
    survey_id: str = ""
    rig: str = ""
    gain_db: float | None = None
    forged: bool = False
    remarks: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def duration_s(self) -> float:
        """Length of the capture. [s]"""
        return len(self.samples) / self.rate_hz


@dataclass(frozen=True, eq=False)
class Measured:
    """READINGS of one capture, with what the survey needs to know about the capture itself.

    `digest` tells this recording's content from any other's; the pipeline fills it in, empty where nobody asked.
    """

    recording: str
    band: str
    region: str
    rig: str
    started_utc: str
    duration_s: float
    survey_id: str
    gain_db: float | None
    forged: bool
    rate_hz: float
    centre_hz: float
    overload_share: float
    readings: pd.DataFrame
    notes: tuple[str, ...] = ()
    digest: str = ""


@dataclass(frozen=True, eq=False)
class Survey:
    """What was on the air at one time in one band, for one rig: `rows` is SURVEY, `stations` is STATIONS."""

    id: str
    band: str
    region: str
    rig: str
    started_utc: str
    ended_utc: str
    gain_db: float | None
    forged: bool
    overload_share: float
    rows: pd.DataFrame
    stations: pd.DataFrame
    cautions: tuple[str, ...] = ()
    clock_ppm: float | None = None  # the receiver's frequency error, fast positive, and its standard uncertainty
    clock_sd_ppm: float | None = None


@dataclass(frozen=True, eq=False)
class Baseline:
    """The reference station list of one band and rig: `stations` is BASELINE, ascending by channel.

    `survey_ids` are the surveys that it is made of, None where that is not known.
    """

    band: str
    region: str
    rig: str
    stations: pd.DataFrame
    surveys: int
    first_utc: str
    last_utc: str
    made_utc: str
    grade: str  # A, B, C or "unknown"
    grade_reason: str
    overload_share: float | None
    uncovered_hz: tuple[int, ...]
    version: str
    forged: bool = False
    cautions: tuple[str, ...] = ()
    survey_ids: tuple[str, ...] | None = None

    @property
    def valid(self) -> str:
        """Hours for which the list is meant: `day`, `night` or `any`; empty where no station tells or they do not agree."""
        hours = set(self.stations["valid"].dropna())
        return str(hours.pop()) if len(hours) == 1 else ""


@dataclass(frozen=True, eq=False)
class Sheet:
    """A count sheet: its header as written, its ticks (SHEET, in the order heard) or bare totals by band, and its `silent`
    sweeps through an attenuator: band, sweep, attenuator [dB], how many ticks come before."""

    header: dict[str, str]
    ticks: pd.DataFrame
    totals: dict[str, int] = field(default_factory=dict)
    source: str = ""
    cautions: tuple[str, ...] = ()
    silent: tuple[tuple[str, str, float, int], ...] = ()

    @property
    def job(self) -> str:
        """The job's number or name; `unnamed` where the sheet gives none."""
        return self.header.get("job", "") or "unnamed"


@dataclass(frozen=True)
class Reference:
    """The level at which a good set follows half of the stations, and how well that is known.

    `basis` is known-good, other family, calibrated, assumed or none; `threshold_db` is None for none. `unit` is the unit of
    the baseline's levels. `sets` is how many known-good sets it rests on, `sweeps` how many sweeps they gave, `jobs` whose they
    are, `made_utc` the newest of them; `spread_db` is the standard deviation from set to set and day to day.
    """

    threshold_db: float | None
    sd_db: float | None
    basis: str
    unit: str
    sets: int = 0
    made_utc: str = ""
    sweeps: int = 0
    spread_db: float | None = None
    jobs: tuple[str, ...] = ()


@dataclass(frozen=True)
class Interval:
    """An estimate and its bounds; a bound is None where the evidence bounds one side only.

    Two-sided 95 %, but in `against_reference_db` each bound is one-sided 95 %, as the verdict's rule asks.
    """

    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class DialPoint:
    """Pointer error at one place of the dial: what it reads less what is true. [Hz]"""

    at_hz: int
    error_hz: float
    low: float
    high: float


@dataclass(frozen=True)
class StationHeard:
    """One baseline station as this radio had it; `heard` is None where the alignment cannot say."""

    channel_hz: int
    level_db: float | None
    heard: bool | None
    probability: float
    dial: str
    grade: str
    lamp: str
    name: str = ""


@dataclass(frozen=True)
class Extra:
    """A tick that no baseline station explains; `channel_hz` is where the fitted pointer puts it."""

    dial: str
    channel_hz: int | None
    explained_by: str


@dataclass(frozen=True)
class Finding:
    """A suspected fault.

    `weight` is the log10 of its odds against "nothing wrong" and against every rival explanation together, so never more than
    `against_nothing`, its log10 odds against "nothing wrong" alone (None: no rival, the same).
    """

    fault: str
    text: str
    evidence: tuple[int, ...]
    next_test: str
    weight: float
    against_nothing: float | None = None


@dataclass(frozen=True)
class Expected:
    """How many stations this bench should give: 95 % band and middle."""

    low: int
    mid: float
    high: int


@dataclass(frozen=True)
class BandCheck:
    """One band of a radio held against the reference list. `counted` and `stations` are of the sweeps through `pad_db`."""

    band: str
    counted: int
    expected: Expected | None
    reference: Reference
    threshold_db: Interval
    unit: str
    bound: str  # two-sided, upper, lower or none
    against_reference_db: Interval | None
    dial_model: str
    dial_points: tuple[DialPoint, ...]
    lamp_expected: int | None
    lamp_lit: int | None
    lamp_threshold_db: Interval | None
    stations: tuple[StationHeard, ...]
    extras: tuple[Extra, ...]
    findings: tuple[Finding, ...]
    verdict: str
    why: str
    do_next: str
    spread_db: float | None = None  # sigma of the fitted probit, for the drawn curve
    pad_db: float = 0.0  # the least attenuator that was in line; checks issued before it was kept have none


@dataclass(frozen=True)
class RadioCheck:
    """A sheet judged against a baseline."""

    job: str
    radio: str
    family: str
    swept: str
    by: str
    bands: dict[str, BandCheck]
    cautions: tuple[str, ...]
    baseline: dict[str, dict[str, Any]]
    today: dict[str, dict[str, Any]] | None
    made_utc: str
    version: str
    forged: bool = False
    shop: str = ""  # name and place of the shop that issued it


@dataclass(frozen=True)
class StationTwice:
    """A station of both lists in two sweeps of one radio: its level in each list, and whether it was heard (None: not sure).

    `off_air` is true where a day's survey found it silent: what was heard of it then says nothing of the radio.
    """

    channel_hz: int
    name: str
    level_before_db: float | None
    level_after_db: float | None
    heard_before: bool | None
    heard_after: bool | None
    off_air: bool

    @property
    def told(self) -> bool:
        """Whether both sweeps say something of it."""
        return self.heard_before is not None and self.heard_after is not None and not self.off_air


@dataclass(frozen=True)
class BandChange:
    """One band before and after.

    `before_db` and `after_db` are the threshold over its own day's reference, two-sided 95 % (negative: keener than the
    reference); `difference_db` is after less before (negative: more sensitive now), None where `no_difference` says why not.
    `level_shift_db` is how much the stations' levels differ between the two lists. Of the `both` stations that both sweeps
    tell of, `gained` were heard after only and `lost` before only; `p_value` is the exact McNemar test of the one against the
    other. Across attenuators, which make stations come and go, and across rigs or hours they are empty and None.
    `dead_end` says of the band before and after that it is dead beyond a frequency, and is empty where it is not.
    """

    band: str
    unit: str
    verdict_before: str
    verdict_after: str
    counted_before: int
    counted_after: int
    before_db: Interval | None
    after_db: Interval | None
    difference_db: Interval | None
    no_difference: str
    level_shift_db: float | None
    stations: tuple[StationTwice, ...]
    gained: tuple[int, ...]
    lost: tuple[int, ...]
    p_value: float | None
    pad_before_db: float = 0.0
    pad_after_db: float = 0.0
    dead_end: tuple[str, str] = ("", "")

    @property
    def both(self) -> int:
        """How many stations both sweeps tell of."""
        return sum(station.told for station in self.stations)


@dataclass(frozen=True)
class SweepOf:
    """Which of a job's sweeps is meant: local time of the sweep, by whom, and when the check was made."""

    swept: str
    by: str
    made_utc: str


@dataclass(frozen=True)
class BeforeAfter:
    """Two sweeps of one radio, each judged against its own day's reference: what changed in between."""

    job: str
    radio: str
    before: SweepOf
    after: SweepOf
    bands: dict[str, BandChange]
    cautions: tuple[str, ...]
    forged: bool = False
    shop: str = ""
