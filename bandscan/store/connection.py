"""The log's file: opening, transactions, and SQLite's errors as one line each.

WAL with `synchronous=NORMAL`: a killed program loses nothing that was committed. WAL must not sit on a network share.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import pandas as pd

from bandscan.errors import LogError
from bandscan.store.cells import to_frame, to_rows
from bandscan.store.schema import APPLICATION_ID, CHANNEL_TABLES, SCHEMA_VERSION, UPGRADES, additions, statements

TIMEOUT_S = 30.0

# SQLite's name of an error (its first part is enough) -> what it means here and what to do
_MEANING = {
    "SQLITE_READONLY": ("cannot be written: it or its folder is read-only", "allow writing there, or take a shop elsewhere"),
    "SQLITE_CANTOPEN": (
        "cannot be opened: its folder is gone, or not open to you",
        "see that the folder is there and writable",
    ),
    "SQLITE_FULL": ("the disk is full; what was logged before is kept", "free some space and run the command again"),
    "SQLITE_BUSY": (f"held by another program for more than {TIMEOUT_S:.0f} s", "run the command again when that is done"),
    "SQLITE_LOCKED": ("held by another program", "run the command again when that is done"),
    "SQLITE_NOTADB": ("is no log of bandscan", "move the file away, or bring back a copy of the log"),
    "SQLITE_CORRUPT": ("is damaged", "bring back a copy of the log"),
    "SQLITE_IOERR": ("the disk or its folder failed; what was logged before is kept", "see that the folder is there and sound"),
}


@contextmanager
def said(path: Path) -> Iterator[None]:
    """SQLite's errors leave as LogError."""
    try:
        yield
    except sqlite3.Error as error:
        name = getattr(error, "sqlite_errorname", "")
        for known, (what, do) in _MEANING.items():
            if name.startswith(known):
                raise LogError(what, where=path, do=do) from error
        raise LogError(f"SQLite says {error}", where=path, do="report this: it is a defect of bandscan") from error


class Connection:
    """One open log. `writable` is False where the folder lets it be read only."""

    def __init__(self, path: Path) -> None:
        """Open the log at `path`, making it where there is none.

        Raises:
            LogError: it cannot be opened, is something else, or was made by a newer bandscan.
        """
        self.path = path
        self.writable = True
        with said(path):
            try:
                self.db = _connect(path.absolute().as_uri() + "?mode=rwc")
                self._prepare()
            except sqlite3.OperationalError as error:
                name = getattr(error, "sqlite_errorname", "")
                if not name.startswith(("SQLITE_CANTOPEN", "SQLITE_READONLY")) or not path.is_file():
                    raise
                # a log in a folder that may only be read: nobody can be writing to it, so it may be read as it stands
                self.db = _connect(path.absolute().as_uri() + "?mode=ro&immutable=1")
                self.writable = False
                self._refuse_strangers()
                if self._outdated():
                    raise LogError(
                        "made by an older bandscan, and cannot be brought up to date: it or its folder is read-only",
                        where=path,
                        do="allow writing there, or take a copy of the shop elsewhere",
                    ) from error
        self._identity = self._stat()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def _prepare(self) -> None:
        self._refuse_strangers()
        self.db.execute("PRAGMA synchronous = NORMAL")
        self.db.execute("PRAGMA foreign_keys = ON")
        if self.db.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
            self._to_wal()
        if self._outdated():
            with self._begun():
                # another program may have made the tables while this one waited
                version = self._version()
                if version == 0:
                    for statement in statements():
                        self.db.execute(statement)
                    self.db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                for later in range(version + 1, SCHEMA_VERSION + 1) if version else ():
                    for statement in UPGRADES[later]:
                        self.db.execute(statement)
                self.db.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
                for name in CHANNEL_TABLES:
                    for statement in additions(name, self._columns(name)):
                        self.db.execute(statement)

    def _to_wal(self) -> None:
        """Two programs that turn to WAL at once: SQLite answers "busy" without waiting, so the waiting is done here."""
        deadline = time.monotonic() + TIMEOUT_S
        while True:
            try:
                self.db.execute("PRAGMA journal_mode = WAL")
            except sqlite3.OperationalError as error:
                if getattr(error, "sqlite_errorname", "") != "SQLITE_BUSY" or time.monotonic() > deadline:
                    raise
                time.sleep(0.05)
            else:
                return

    def _version(self) -> int:
        return int(self.db.execute("PRAGMA user_version").fetchone()[0])

    def _columns(self, table: str) -> set[str]:
        return {row[1] for row in self.db.execute(f"PRAGMA table_info({table})")}

    def _outdated(self) -> bool:
        return self._version() < SCHEMA_VERSION or any(additions(name, self._columns(name)) for name in CHANNEL_TABLES)

    def _is_ours(self) -> bool:
        return bool(self.db.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID)

    def _refuse_strangers(self) -> None:
        version = self._version()
        if not self._is_ours():
            filled = version or self.db.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
            # another bandscan may have made its tables between the two looks; their mark comes with them
            if filled and not self._is_ours():
                raise LogError("is another program's database", where=self.path, do="move the file away")
        elif version > SCHEMA_VERSION:
            raise LogError(
                f"made by a newer bandscan (log version {version})",
                where=self.path,
                accepted=f"versions up to {SCHEMA_VERSION}",
                do="bring bandscan up to date; nothing was changed",
            )

    def _stat(self) -> tuple[int, int] | None:
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_dev, found.st_ino

    @contextmanager
    def _begun(self) -> Iterator[None]:
        self.db.execute("BEGIN IMMEDIATE")
        try:
            yield
            self.db.execute("COMMIT")
        finally:
            if self.db.in_transaction:  # SQLite may have ended it by itself, on a full disk for instance
                self.db.execute("ROLLBACK")

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """What is put within is kept together or not at all; other programs wait meanwhile.

        Raises:
            LogError: it cannot be kept, or the file is no longer where it was: then nobody would find what was written.
        """
        if not self.writable:
            what, do = _MEANING["SQLITE_READONLY"]
            raise LogError(what, where=self.path, do=do)
        with said(self.path), self._begun():
            yield
        if self._stat() != self._identity:
            raise LogError(
                "vanished while it was written; what was just measured is not logged",
                where=self.path,
                do="bring the folder back and run the command again",
            )

    def backup(self, to: Path) -> None:
        """Copy the whole log into a new file while other programs may go on with it; the copy is one file and sound.

        Raises:
            LogError: the log cannot be read, or the copy cannot be written.
        """
        with said(to):
            copy = _connect(to.absolute().as_uri() + "?mode=rwc")
            try:
                self.db.backup(copy)
                copy.execute("PRAGMA journal_mode = DELETE")
                ((verdict,),) = copy.execute("PRAGMA quick_check(1)").fetchall()
            finally:
                copy.close()
        if verdict != "ok":
            raise LogError(f"the copy is not sound: {verdict}", where=self.path, do="bring back an earlier copy of the log")

    def shrink(self) -> None:
        """Give the room of what was taken out back to the disk.

        Raises:
            LogError: the file cannot be written anew; it stays as it was.
        """
        with said(self.path):
            self.db.execute("VACUUM")

    def rows(self, statement: str, *values: object) -> list[tuple[Any, ...]]:
        """All rows of a query.

        Raises:
            LogError: the log cannot be read.
        """
        with said(self.path):
            return self.db.execute(statement, values).fetchall()

    def _cursor(self, statement: str) -> Iterator[tuple[Any, ...]]:
        """Rows of a query one after the other, where all at once would be too much."""
        with said(self.path):
            yield from self.db.execute(statement)

    def insert(self, table: str, values: Mapping[str, object]) -> int:
        """Put one row within a `transaction`; gives its id."""
        marks = ", ".join("?" * len(values))
        cursor = self.db.execute(f"INSERT INTO {table} ({', '.join(values)}) VALUES ({marks})", tuple(values.values()))
        return int(cursor.lastrowid or 0)

    def insert_frame(self, name: str, frame: pd.DataFrame, owner: int) -> None:
        """Put a channel table's rows within a `transaction`."""
        table, _ = CHANNEL_TABLES[name]
        marks = ", ".join("?" * (len(table.names) + 1))
        columns = ", ".join(["owner", *table.names])
        self.db.executemany(f"INSERT INTO {name} ({columns}) VALUES ({marks})", to_rows(frame, table, owner))

    def frame(self, name: str, owner: int) -> pd.DataFrame:
        """The channel table that belongs to `owner`."""
        table, _ = CHANNEL_TABLES[name]
        return to_frame(self.rows(f"SELECT {', '.join(table.names)} FROM {name} WHERE owner = ? ORDER BY rowid", owner), table)

    def close(self) -> None:
        """Close the file."""
        self.db.close()


def _connect(uri: str) -> sqlite3.Connection:
    return sqlite3.connect(uri, uri=True, timeout=TIMEOUT_S, isolation_level=None)
