"""The log's tables. Channel tables take their columns from `bandscan.tables`, so that there is one list of columns.

Tables are STRICT: numpy's integers and booleans would otherwise be stored as BLOB without an error.
"""

from __future__ import annotations

from bandscan import tables
from bandscan.tables import Table

APPLICATION_ID = 0x62616E64  # "band"
SCHEMA_VERSION = 2

_SQL_TYPE = {"text": "TEXT", "int": "INTEGER", "float": "REAL", "bool": "INTEGER"}

# one row per recording (segment) and settings with which it was measured; `about` is what Measured tells besides READINGS.
# `complete` is 0 where another segment of the same recording failed: it is measured again the next time.
_RECORDINGS = """CREATE TABLE recordings (
  id INTEGER PRIMARY KEY, digest TEXT NOT NULL, settings TEXT NOT NULL, segment INTEGER NOT NULL, complete INTEGER NOT NULL,
  name TEXT NOT NULL, path TEXT NOT NULL, band TEXT NOT NULL, region TEXT NOT NULL, rig TEXT NOT NULL, forged INTEGER NOT NULL,
  survey_id TEXT NOT NULL, started_utc TEXT NOT NULL, about TEXT NOT NULL, logged_utc TEXT NOT NULL,
  UNIQUE (digest, settings, segment)) STRICT"""

_SURVEYS = """CREATE TABLE surveys (
  id INTEGER PRIMARY KEY, survey TEXT NOT NULL UNIQUE, band TEXT NOT NULL, region TEXT NOT NULL, rig TEXT NOT NULL,
  started_utc TEXT NOT NULL, version TEXT NOT NULL, about TEXT NOT NULL, logged_utc TEXT NOT NULL) STRICT"""

_MEMBERS = """CREATE TABLE survey_recordings (
  survey INTEGER NOT NULL REFERENCES surveys ON DELETE CASCADE,
  recording INTEGER NOT NULL REFERENCES recordings ON DELETE CASCADE,
  PRIMARY KEY (survey, recording)) STRICT, WITHOUT ROWID"""

# lists as their files were, so that a check rests on what can be shown again to the letter
_BASELINES = """CREATE TABLE baselines (
  id INTEGER PRIMARY KEY, band TEXT NOT NULL, region TEXT NOT NULL, rig TEXT NOT NULL, made_utc TEXT NOT NULL,
  csv TEXT NOT NULL, json TEXT NOT NULL) STRICT"""

# `papers` are the files that were given out, packed: a later bandscan may draw a page another way
_CHECKS = """CREATE TABLE checks (
  id INTEGER PRIMARY KEY, job TEXT NOT NULL, radio TEXT NOT NULL, family TEXT NOT NULL, made_utc TEXT NOT NULL,
  version TEXT NOT NULL, json TEXT NOT NULL, sheet TEXT NOT NULL, lists TEXT NOT NULL, papers BLOB) STRICT"""

_KNOWN_GOOD = """CREATE TABLE known_good (
  id INTEGER PRIMARY KEY, checked INTEGER NOT NULL REFERENCES checks, band TEXT NOT NULL, rig TEXT NOT NULL) STRICT"""

_INDEXES = (
    "CREATE INDEX recordings_place ON recordings (band, rig, started_utc)",
    "CREATE INDEX surveys_place ON surveys (band, rig, started_utc)",
    "CREATE INDEX members_recording ON survey_recordings (recording)",
    "CREATE INDEX readings_owner ON readings (owner)",
    "CREATE INDEX survey_rows_owner ON survey_rows (owner)",
    "CREATE INDEX stations_owner ON stations (owner)",
    "CREATE INDEX stations_channel ON stations (band, channel_hz)",
    "CREATE INDEX stations_held ON stations (owner) WHERE holds = 'station'",
    "CREATE INDEX baselines_place ON baselines (band, rig)",
    "CREATE INDEX checks_job ON checks (job)",
    "CREATE INDEX known_good_place ON known_good (band, rig)",
)

# version -> what brings a log of the version before up to it
UPGRADES: dict[int, tuple[str, ...]] = {
    2: (
        "ALTER TABLE checks ADD COLUMN papers BLOB",
        "DROP INDEX IF EXISTS stations_channel",
        "CREATE INDEX stations_channel ON stations (band, channel_hz)",
        "CREATE INDEX stations_held ON stations (owner) WHERE holds = 'station'",
        "CREATE INDEX known_good_place ON known_good (band, rig)",
    ),
}

# table of the log -> its columns, and the table whose rows own it
CHANNEL_TABLES: dict[str, tuple[Table, str]] = {
    "readings": (tables.READINGS, "recordings"),
    "survey_rows": (tables.SURVEY, "surveys"),
    "stations": (tables.STATIONS, "surveys"),
}


def statements() -> list[str]:
    """What makes an empty log."""
    channel_tables = [
        f"CREATE TABLE {name} (owner INTEGER NOT NULL REFERENCES {owner} ON DELETE CASCADE, {_columns(table)}) STRICT"
        for name, (table, owner) in CHANNEL_TABLES.items()
    ]
    return [_RECORDINGS, _SURVEYS, _MEMBERS, _BASELINES, _CHECKS, _KNOWN_GOOD, *channel_tables, *_INDEXES]


def additions(name: str, present: set[str]) -> list[str]:
    """What brings a channel table of an older log up to date: columns that it lacks, empty in its older rows."""
    table, _ = CHANNEL_TABLES[name]
    return [
        f"ALTER TABLE {name} ADD COLUMN {column.name} {_SQL_TYPE[column.dtype]}"
        for column in table.columns
        if column.name not in present
    ]


def _columns(table: Table) -> str:
    return ", ".join(
        f"{column.name} {_SQL_TYPE[column.dtype]}{'' if column.may_be_empty else ' NOT NULL'}" for column in table.columns
    )
