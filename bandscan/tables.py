"""Every table's columns, declared once: name, dtype, unit, meaning and whether a cell may be empty.

`check` stands at each room's exit, so that no room can hand on a table that breaks its promise.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from bandscan.errors import TableError

HOLDS = ("station", "empty", "sideband", "phantom", "spur", "unsure")
STEADINESS = ("steady", "fading", "occasional")
VALID = ("day", "night", "any")
GRADES = ("3", "2", "1", "M", "W", "R")
LAMPS = ("on", "off", "flicker")


@dataclass(frozen=True)
class Column:
    """One column. `dtype` is one of text, int, float, bool; `may_be_empty` allows missing cells; `words` limits the text."""

    name: str
    dtype: str
    unit: str
    meaning: str
    may_be_empty: bool = False
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Table:
    """A table's name and its columns in order."""

    name: str
    columns: tuple[Column, ...]

    @property
    def names(self) -> list[str]:
        """Column names in order."""
        return [column.name for column in self.columns]


_PANDAS_DTYPE = {"text": "string", "int": "int64", "float": "float64", "bool": "boolean"}

_BAND = Column("band", "text", "", "`fm` or `am`", words=("fm", "am"))
_CHANNEL = Column("channel_hz", "int", "Hz", "the channel's nominal carrier")
_HOLDS = Column("holds", "text", "", "what the channel holds, decided for the whole survey", words=HOLDS)
_REMARKS = Column("remarks", "text", "", "words separated by `;`", True)
_LEVELS = (
    Column("level_dbfs", "float", "dBFS", "FM: power of the emission without the noise; AM: power of the carrier", True),
    Column("level_sd_db", "float", "dB", "standard uncertainty of the level", True),
    Column("noise_dbfs", "float", "dBFS", "noise in the same channel width", True),
    Column("snr_db", "float", "dB", "level over noise", True),
    Column("level_dbuv", "float", "dBuV", "level at the antenna socket; empty unless calibrated", True),
)

_DOUBTS = (
    Column("noise_sd_db", "float", "dB", "standard uncertainty of the noise", True),
    Column("carrier_sd_hz", "float", "Hz", "standard uncertainty of the carrier, the receiver's clock apart", True),
    Column("pilot_dev_sd_hz", "float", "Hz", "FM: standard uncertainty of the pilot's deviation", True),
    Column("peak_dev_sd_hz", "float", "Hz", "FM: standard uncertainty of the peak deviation", True),
    Column("audio_sd_db", "float", "dB", "standard uncertainty of the audio signal-to-noise", True),
)

_HEARD = (
    Column("stereo_snr_db", "float", "dB", "FM with a pilot: estimated audio signal-to-noise in stereo, de-emphasised", True),
    Column(
        "level_30db_dbfs",
        "float",
        "dBFS",
        "level at which this receiver would give 30 dB of audio_snr_db from this programme; within 1.5 dB on made stations,"
        " and as uncertain as noise_sd_db beside",
        True,
    ),
)

# What `measure` sees in one channel of one recording, before anything is decided. Powers are per channel.
READINGS = Table(
    "readings",
    (
        Column("recording", "text", "", "name of the recording, `NAME` or `NAME#k`"),
        Column("started_utc", "text", "ISO 8601", "start of the recording; empty where it does not tell", True),
        _BAND,
        _CHANNEL,
        *_LEVELS,
        Column("carrier_error_hz", "float", "Hz", "measured carrier less nominal", True),
        Column("pilot", "bool", "", "FM: the 19 kHz pilot's line stands over its surroundings", True),
        Column("pilot_dev_hz", "float", "Hz", "FM: peak deviation of the pilot's line", True),
        Column("pilot_line_db", "float", "dB", "FM: the line at 19 kHz over its surroundings", True),
        Column("peak_dev_hz", "float", "Hz", "FM: 99.9th percentile of abs(f - median f), low-passed at 62 kHz", True),
        Column("rds_pi", "text", "hex", "FM: programme identification that the data service claims", True),
        Column("rds_ps", "text", "", "FM: programme service name as sent", True),
        Column("audio_snr_db", "float", "dB", "estimated audio signal-to-noise, mono, de-emphasised", True),
        Column("am_depth", "float", "0..1.3", "AM: 99.5th percentile of abs(in-phase envelope / carrier - 1)", True),
        Column("am_stereo", "bool", "", "AM: the 25 Hz stereo pilot is there", True),
        Column("width_hz", "float", "Hz", "FM: width that holds 90 % of the emission's power", True),
        Column("centroid_hz", "float", "Hz", "FM: centre of gravity of the emission, from the nominal carrier", True),
        Column(
            "line_share", "float", "0..1", "FM: share of the power that stands in its three strongest lines of 300 Hz", True
        ),
        Column("core_dbfs", "float", "dBFS", "FM: power within 50 kHz of the carrier without the noise", True),
        Column(
            "envelope_scatter",
            "float",
            "",
            "FM: variance of the envelope's power over its mean squared: 0 a carrier, 1 noise",
            True,
        ),
        Column("digital_dbfs", "float", "dBFS", "FM: power of neighbours' digital sidebands in the channel", True),
        Column(
            "image_share",
            "float",
            "0..1",
            "share of the power (AM: of the modulation) that is the mirror image of the channel at the other side",
            True,
        ),
        Column(
            "product_share", "float", "0..1", "FM: share of the power that is a third-order product of strong channels", True
        ),
        Column("product_of", "text", "", "FM: that product's makers", True),
        Column("sideband_db", "float", "dB", "AM: sideband power over the carrier", True),
        Column("overload_share", "float", "0..1", "share of the recording's samples at full scale"),
        _REMARKS,
        *_DOUBTS,
        *_HEARD,
    ),
)

SURVEY = Table(
    "survey.csv",
    (
        Column("recording", "text", "", "name of the recording, `NAME` or `NAME#k`"),
        Column("started_utc", "text", "ISO 8601", "start of the recording; empty where it does not tell", True),
        _BAND,
        _CHANNEL,
        _HOLDS,
        *_LEVELS,
        Column("carrier_error_hz", "float", "Hz", "measured carrier less nominal", True),
        Column("pilot", "bool", "", "FM: the 19 kHz stereo pilot is there", True),
        Column("pilot_dev_hz", "float", "Hz", "FM: the pilot's peak deviation", True),
        Column("peak_dev_hz", "float", "Hz", "FM: 99.9th percentile of abs(f - median f), low-passed at 62 kHz", True),
        Column("rds_pi", "text", "hex", "programme identification that the data service claims", True),
        Column("rds_ps", "text", "", "programme service name as sent", True),
        Column("audio_snr_db", "float", "dB", "estimated audio signal-to-noise, mono, de-emphasised", True),
        Column("am_depth", "float", "0..1.3", "AM: 99.5th percentile of abs(in-phase envelope / carrier - 1)", True),
        Column("am_stereo", "bool", "", "AM: the 25 Hz stereo pilot is there", True),
        _REMARKS,
        *_DOUBTS,
        *_HEARD,
    ),
)

STATIONS = Table(
    "stations.csv",
    (
        _BAND,
        _CHANNEL,
        _HOLDS,
        *_LEVELS,
        Column("pilot", "bool", "", "FM: the 19 kHz stereo pilot is there", True),
        Column("pilot_dev_hz", "float", "Hz", "FM: the pilot's peak deviation", True),
        Column("rds_pi", "text", "hex", "programme identification that the data service claims", True),
        Column("rds_ps", "text", "", "programme service name as sent", True),
        Column("name", "text", "", "the shop's own name", True),
        Column("am_stereo", "bool", "", "AM: the 25 Hz stereo pilot is there", True),
        Column("recordings", "int", "", "recordings that covered the channel"),
        _REMARKS,
        Column("audio_snr_db", "float", "dB", "estimated audio signal-to-noise, mono, de-emphasised", True),
        Column("audio_sd_db", "float", "dB", "standard uncertainty of the audio signal-to-noise", True),
        *_HEARD,
    ),
)

BASELINE = Table(
    "baseline.csv",
    (
        _BAND,
        _CHANNEL,
        Column("level_db", "float", "see level_unit", "median level over the surveys that had it", True),
        Column("level_unit", "text", "", "`dBFS`, `dBuV`, or empty where the list has no levels", True),
        Column("spread_db", "float", "dB", "standard deviation of its level from survey to survey", True),
        Column("snr_db", "float", "dB", "median level over noise", True),
        Column("seen", "int", "", "surveys that held the station"),
        Column("surveys", "int", "", "surveys that covered the channel"),
        Column("stereo", "float", "0..1", "share of the surveys that held it in which its pilot was there", True),
        Column("identity", "text", "", "what its data service claims", True),
        Column("name", "text", "", "the shop's own name", True),
        Column(
            "steadiness", "text", "", "`steady` when seen in at least 80 % of the surveys that covered it", words=STEADINESS
        ),
        Column("valid", "text", "", "hours for which it is meant", words=VALID),
        _REMARKS,
    ),
)

SHEET = Table(
    "sheet",
    (
        _BAND,
        Column("dial", "text", "", "the dial as read, as written", True),
        Column("dial_hz", "float", "Hz", "the dial as read, understood", True),
        Column(
            "grade",
            "text",
            "",
            "3 clean, 2 every word follows, 1 a trace, M two at once, W a whistle, R a repeat",
            words=GRADES,
        ),
        Column("lamp", "text", "", "stereo lamp", True, words=LAMPS),
        Column("pad_db", "float", "dB", "attenuator in line"),
        Column("sweep", "text", "", "`1`, `2up`, `2down`"),
        Column("name", "text", "", "an anchor identified by ear", True),
        Column("remark", "text", "", "", True),
    ),
)

NAMES = Table(
    "names.csv",
    (
        _BAND,
        _CHANNEL,
        Column("name", "text", "", "the shop's own name of the station"),
        Column("count", "text", "", "whether it counts", words=("yes", "no")),
        Column("remark", "text", "", "", True),
    ),
)

# Hours are those of the shop's time zone.
HOURS = Table(
    "hours.csv",
    (
        _BAND,
        _CHANNEL,
        Column("from_hour", "int", "h", "the part of the day begins, local time"),
        Column("to_hour", "int", "h", "and ends"),
        Column("seen", "int", "", "surveys begun in that part of the day that held the station"),
        Column("surveys", "int", "", "surveys begun in that part of the day that covered the channel"),
    ),
)

ALL = (READINGS, SURVEY, STATIONS, BASELINE, SHEET, NAMES, HOURS)


# remarks of rows whose recording tells nothing sure of any channel
NO_SIGNAL, CENTRE_IN_DOUBT, RATE_IN_DOUBT = "no-signal", "centre-in-doubt", "rate-in-doubt"
_BLIND = {NO_SIGNAL, CENTRE_IN_DOUBT, RATE_IN_DOUBT}
INTERMITTENT = "intermittent"  # of a row: on the air for a part of the recording only


def blind(rows: pd.DataFrame) -> pd.Series:
    """Which rows are of recordings that tell nothing sure: what they do not hold may be there all the same; shape (rows,)."""
    words = rows["remarks"].fillna("").astype(str).str.split(";")
    return words.map(lambda own: not _BLIND.isdisjoint(own)).astype(bool) & (rows["holds"] != "station")


def empty(table: Table) -> pd.DataFrame:
    """A table with no rows and the right columns."""
    return check(pd.DataFrame({name: [] for name in table.names}), table)


def check(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    """The frame with exactly the table's columns, in order and of their dtypes, and a fresh index.

    Raises:
        TableError: a column is missing or unknown, a cell is empty or infinite that must not be, or a word is not allowed.
    """
    missing = [name for name in table.names if name not in frame.columns]
    unknown = [str(name) for name in frame.columns if name not in table.names]
    if missing or unknown:
        raise TableError(f"columns missing: {missing}, unknown: {unknown}", where=table.name)
    columns: dict[str, pd.Series] = {}
    for column in table.columns:
        series = frame[column.name]
        try:
            series = series.astype(_PANDAS_DTYPE[column.dtype])  # type: ignore[call-overload]
        except (TypeError, ValueError) as error:
            raise TableError(f"column {column.name} is not {column.dtype}: {error}", where=table.name) from error
        if column.dtype == "text":
            # an empty text and a missing one are the same thing in a file, so they are here
            series = series.mask(series == "", pd.NA)
        if column.dtype == "float" and np.isinf(series.to_numpy(dtype=np.float64)).any():
            raise TableError(f"column {column.name} holds an infinite value", where=table.name)
        if not column.may_be_empty and series.isna().any():
            raise TableError(f"column {column.name} has empty cells", where=table.name)
        if column.words:
            strange = sorted(set(series.dropna()) - set(column.words))
            if strange:
                raise TableError(f"column {column.name} holds {strange}", where=table.name, accepted=", ".join(column.words))
        columns[column.name] = series.reset_index(drop=True)
    return pd.DataFrame(columns, columns=table.names)


# what a file shows: finer than any uncertainty here, coarser than the arithmetic's noise
_DECIMALS = {"dB": 2, "dBFS": 2, "dBuV": 2, "see level_unit": 2, "Hz": 3}
# where a cell begins: the text itself, or behind what a spreadsheet may split at in place of the comma
_BEGINS, _FORMULA = r'(^|[;\t\r\n]"*)', r"(?=[=+\-@\t\r])"
_ARMED, _DISARMED = re.compile(_BEGINS + _FORMULA), re.compile(f"{_BEGINS}'{_FORMULA}")


def disarmed(text: str) -> str:
    """A text that a spreadsheet would take for a formula, also behind a `;` or a tab, gets a `'` before it; any other stays."""
    return _ARMED.sub(r"\1'", text)


def armed(text: str) -> str:
    """What `disarmed` was given."""
    return _DISARMED.sub(r"\1", text)


def to_csv(frame: pd.DataFrame, table: Table) -> str:
    """The table as a file shows it: checked, rounded, `true` and `false`, empty for what is not known.

    A text that a spreadsheet would take for a formula gets a `'` before it, which `from_csv` takes off again.
    """
    frame = check(frame, table)
    shown: dict[str, pd.Series] = {}
    for column in table.columns:
        series = frame[column.name]
        if column.dtype == "bool":
            series = series.map({True: "true", False: "false"}, na_action="ignore")
        elif column.dtype == "float":
            series = series.round(_DECIMALS.get(column.unit, 4)) + 0.0  # no -0.0
        elif column.dtype == "text":
            series = series.map(disarmed, na_action="ignore")
        shown[column.name] = series
    return pd.DataFrame(shown, columns=table.names).to_csv(index=False, lineterminator="\n")


def from_csv(text: str, table: Table) -> pd.DataFrame:
    """A table that `to_csv` wrote. Codes are read as text, so that leading zeros stay.

    Raises:
        TableError: the text is no such table.
    """
    try:
        frame = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False, skip_blank_lines=True)
    except (pd.errors.ParserError, pd.errors.EmptyDataError) as error:
        raise TableError(f"not a table of comma-separated values: {error}", where=table.name) from error
    for column in table.columns:
        if column.name not in frame.columns:
            continue  # `check` names it
        series = frame[column.name].mask(frame[column.name] == "", pd.NA)
        if column.dtype == "bool":
            strange = sorted(set(series.dropna()) - {"true", "false"})
            if strange:
                raise TableError(f"column {column.name} holds {strange}", where=table.name, accepted="true, false")
            series = series.map({"true": True, "false": False}, na_action="ignore")
        elif column.dtype == "text":
            series = series.map(armed, na_action="ignore")
        frame[column.name] = series
    return check(frame, table)
