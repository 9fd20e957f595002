"""Opening the log and what can go wrong with its file: store/connection.py."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from made import measured

from bandscan.errors import LogError
from bandscan.store import Log
from bandscan.store.schema import SCHEMA_VERSION

NOW = "2026-03-01T12:00:00Z"


def keep(log: Log, name: str) -> None:
    """Keep one recording."""
    log.keep_measured(name, "s", Path(name), [measured(name, digest=name)], complete=True, now_utc=NOW)


def fill(log: Log, most: int, kept: list[str] | None = None) -> None:
    """Keep recordings until it fails; `kept` gets the names of those that did not."""
    for number in range(most):
        keep(log, f"recording {number}")
        if kept is not None:
            kept.append(f"recording {number}")


def test_the_log_is_wal_and_knows_its_version(tmp_path: Path) -> None:
    """A new log is in WAL mode, so that readers and a writer do not stop each other, and says which schema it has."""
    with Log(tmp_path / "log.sqlite") as log:
        assert log.rows("PRAGMA journal_mode") == [("wal",)]
        assert log.rows("PRAGMA synchronous") == [(1,)]
        assert log.rows("PRAGMA foreign_keys") == [(1,)]
        assert log.rows("PRAGMA user_version") == [(SCHEMA_VERSION,)]


def test_a_log_made_before_a_column_existed_gets_it(tmp_path: Path) -> None:
    """A column that a newer bandscan of the same log version brings is added, empty in what was there."""
    path = tmp_path / "log.sqlite"
    with Log(path) as log:
        keep(log, "a")
        log.db.execute("ALTER TABLE readings DROP COLUMN am_depth")
    with Log(path) as log:
        (one,) = log.measured("a", "s") or []
        assert one.readings["am_depth"].isna().all()


def as_version_1(path: Path) -> None:
    """Make a log what an earlier bandscan would have made."""
    with Log(path) as log:
        keep(log, "a")
        log.db.execute("INSERT INTO checks VALUES (1, '17', 'set', '', 'then', '0.1', '{}', 'sheet', '{}', NULL)")
        log.db.execute("ALTER TABLE checks DROP COLUMN papers")
        for index in ("stations_channel", "stations_held", "known_good_place"):
            log.db.execute(f"DROP INDEX {index}")
        log.db.execute("CREATE INDEX stations_channel ON stations (channel_hz)")
        log.db.execute("PRAGMA user_version = 1")


def test_a_log_of_an_earlier_version_is_brought_up_to_date(tmp_path: Path) -> None:
    """What is in it stays, its tables and indexes become those of a new log, and a second opening changes nothing."""
    as_version_1(tmp_path / "log.sqlite")
    for _ in range(2):
        with Log(tmp_path / "log.sqlite") as log, Log(tmp_path / "new.sqlite") as new:
            assert log.rows("PRAGMA user_version") == [(SCHEMA_VERSION,)]
            (check,) = log.checks("17")
            assert (check.sheet, check.papers) == ("sheet", {})
            assert log.measured("a", "s")
            for kind in ("PRAGMA table_info(checks)", "SELECT name, sql FROM sqlite_schema WHERE type = 'index' ORDER BY name"):
                assert log.rows(kind) == new.rows(kind)


def wrong_newer(path: Path) -> None:
    """A log of a later bandscan."""
    with Log(path) as log:
        log.db.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")


def wrong_other(path: Path) -> None:
    """Another program's database."""
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE t (a)")
    other.commit()
    other.close()


def wrong_text(path: Path) -> None:
    """No database at all."""
    path.write_text("This is no database. " * 100)


def wrong_torn(path: Path) -> None:
    """A log whose pages were overwritten."""
    with Log(path) as log:
        keep(log, "a")
    content = bytearray(path.read_bytes())
    content[4096 * 2 : 4096 * 8] = bytes(4096 * 6)
    path.write_bytes(content)


def wrong_folder(path: Path) -> None:
    """A folder in the log's place."""
    path.mkdir()


def read_and_write(path: Path) -> None:
    """Open a log, keep something and read it."""
    with Log(path) as log:
        keep(log, "b")
        log.measured("a", "s")


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (
            wrong_newer,
            f"made by a newer bandscan (log version {SCHEMA_VERSION + 1}); accepted: versions up to {SCHEMA_VERSION};",
        ),
        (wrong_other, "is another program's database; move the file away"),
        (wrong_text, "is no log of bandscan; move the file away, or bring back a copy of the log"),
        (wrong_torn, "is damaged; bring back a copy of the log"),
        (wrong_folder, "cannot be opened: its folder is gone, or not open to you; see that the folder is there and writable"),
    ],
)
def test_a_file_that_is_no_log_of_ours_is_refused_in_one_line(tmp_path: Path, make, said: str) -> None:
    """What is wrong and what to do, in one line, and the file is left as it was."""
    path = tmp_path / "log.sqlite"
    make(path)
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(LogError) as caught:
        read_and_write(path)
    assert str(caught.value).startswith(f"{path}: {said}")
    assert "\n" not in str(caught.value)
    assert before is None or path.read_bytes() == before


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    """A log in a missing folder cannot be opened, and the line says so."""
    with pytest.raises(LogError, match="cannot be opened: its folder is gone"):
        Log(tmp_path / "gone" / "log.sqlite")


def test_a_log_held_by_another_program_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where another program holds the log longer than the patience allows, the line says what to do."""
    monkeypatch.setattr("bandscan.store.connection.TIMEOUT_S", 0.2)
    with Log(tmp_path / "log.sqlite") as first, Log(tmp_path / "log.sqlite") as second, first.transaction():
        with pytest.raises(LogError, match=r"log\.sqlite: held by another program for more than"):
            keep(second, "b")
        keep_within = first.insert("baselines", dict.fromkeys(("band", "region", "rig", "made_utc", "csv", "json"), "x"))
        assert keep_within


def test_a_full_disk_loses_nothing_that_was_kept(tmp_path: Path) -> None:
    """A full disk (here: the database's largest size is reached) is one line; what was kept stays, and it goes on later."""
    with Log(tmp_path / "log.sqlite") as log:
        keep(log, "first")
        ((pages,),) = log.rows("PRAGMA page_count")
        log.db.execute(f"PRAGMA max_page_count = {pages + 2}")
        with pytest.raises(LogError, match="the disk is full; what was logged before is kept; free some space") as caught:
            fill(log, 50)
        assert "\n" not in str(caught.value)
        log.db.execute(f"PRAGMA max_page_count = {pages + 1000}")
        keep(log, "later")
        assert log.measured("first", "s")
        assert log.measured("later", "s")
        assert log.rows("PRAGMA integrity_check") == [("ok",)]


def mounted(folder: Path, options: str) -> bool:
    """Whether a small file system of its own could be put on the folder."""
    mount = shutil.which("mount")
    if mount is None or not hasattr(os, "geteuid") or os.geteuid() != 0:
        return False
    done = subprocess.run([mount, "-t", "tmpfs", "-o", options, "tmpfs", str(folder)], capture_output=True, check=False)
    return done.returncode == 0


def test_a_truly_full_disk_loses_nothing_that_was_kept(tmp_path: Path) -> None:
    """The same on a file system of 600 kB that fills up. Needs root and mount; skipped where they are not to be had."""
    folder = tmp_path / "small"
    folder.mkdir()
    if not mounted(folder, "size=600k"):
        pytest.skip("a small file system cannot be mounted here")
    try:
        kept: list[str] = []
        with Log(folder / "log.sqlite") as log, pytest.raises(LogError, match="what was logged before is kept"):
            fill(log, 1000, kept)
        assert len(kept) > 3
        subprocess.run(["mount", "-o", "remount,size=8m", str(folder)], check=True)
        with Log(folder / "log.sqlite") as log:
            assert all(log.measured(name, "s") for name in kept)
            keep(log, "later")
            assert log.rows("PRAGMA integrity_check") == [("ok",)]
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def test_a_vanished_folder_is_not_called_logged(tmp_path: Path) -> None:
    """A folder that is removed under an open log takes the writes into nowhere without an error: that is noticed and said."""
    folder = tmp_path / "shop"
    folder.mkdir()
    with Log(folder / "log.sqlite") as log:
        keep(log, "a")
        if sys.platform == "win32":
            pytest.skip("Windows does not let an open file be removed")
        shutil.rmtree(folder)
        with pytest.raises(LogError, match=r"(vanished while it was written|its folder failed|its folder is gone|read-only)"):
            keep(log, "b")


OLD_IN_READ_ONLY = """
import os
from pathlib import Path
from bandscan.errors import LogError
from bandscan.store import Log
if os.geteuid() == 0:
    os.setuid(65534)
try:
    Log(Path({path!r}))
except LogError as error:
    print(error)
"""

READ_IN_READ_ONLY = """
import os, sys
from pathlib import Path
sys.path[:0] = [{tests!r}]
from made import measured
from bandscan.errors import LogError
from bandscan.store import Log
if os.geteuid() == 0:
    os.setuid(65534)
with Log(Path({path!r})) as log:
    print(log.writable, len(log.measured("a", "s")))
    try:
        log.keep_measured("b", "s", Path("b"), [measured("b", digest="b")], complete=True, now_utc="")
    except LogError as error:
        print(error)
"""


def test_a_read_only_folder_can_be_read_and_says_that_it_cannot_be_written() -> None:
    """In a folder without the right to write, the log is read as it stands; keeping anything is refused in one line."""
    if not hasattr(os, "geteuid"):
        pytest.skip("rights are tried where there are user numbers")
    with tempfile.TemporaryDirectory() as outer:  # pytest's own folders are closed to other users
        Path(outer).chmod(0o755)
        folder = Path(outer) / "shop"
        folder.mkdir()
        path = folder / "log.sqlite"
        with Log(path) as log:
            keep(log, "a")
        path.chmod(0o444)
        folder.chmod(0o555)
        code = READ_IN_READ_ONLY.format(tests=str(Path(__file__).parent.parent), path=str(path))
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
        folder.chmod(0o755)
    assert done.stderr == ""
    first, second = done.stdout.splitlines()
    assert first == "False 1"
    assert second == f"{path}: cannot be written: it or its folder is read-only; allow writing there, or take a shop elsewhere"


def test_an_older_log_in_a_read_only_folder_is_refused_in_one_line() -> None:
    """It cannot be brought up to date there, and reading it half would be worse."""
    if not hasattr(os, "geteuid"):
        pytest.skip("rights are tried where there are user numbers")
    with tempfile.TemporaryDirectory() as outer:  # pytest's own folders are closed to other users
        Path(outer).chmod(0o755)
        folder = Path(outer) / "shop"
        folder.mkdir()
        path = folder / "log.sqlite"
        as_version_1(path)
        path.chmod(0o444)
        folder.chmod(0o555)
        code = OLD_IN_READ_ONLY.format(path=str(path))
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
        folder.chmod(0o755)
    assert done.stderr == ""
    assert done.stdout == (
        f"{path}: made by an older bandscan, and cannot be brought up to date: it or its folder is read-only;"
        " allow writing there, or take a copy of the shop elsewhere\n"
    )


def test_a_copy_is_made_of_an_open_log(tmp_path: Path) -> None:
    """All that was committed is in the copy, which is one file, sound and no longer WAL; a full disk is one line."""
    with Log(tmp_path / "log.sqlite") as log:
        keep(log, "a")
        log.backup(tmp_path / "copy.sqlite")
        with pytest.raises(LogError, match=r"gone/copy\.sqlite: cannot be opened: its folder is gone"):
            log.backup(tmp_path / "gone" / "copy.sqlite")
    assert not (tmp_path / "copy.sqlite-wal").exists()
    plain = sqlite3.connect(tmp_path / "copy.sqlite")
    assert plain.execute("PRAGMA journal_mode").fetchall() == [("delete",)]
    assert plain.execute("SELECT digest FROM recordings").fetchall() == [("a",)]
    plain.close()


def test_many_programs_may_make_the_same_log_at_once(tmp_path: Path) -> None:
    """Twelve openings of a log that is not there yet all succeed, and each can keep something."""

    def open_and_keep(number: int) -> bool:
        with Log(tmp_path / "log.sqlite") as log:
            keep(log, f"recording {number}")
            return log.writable

    with ThreadPoolExecutor(12) as pool:
        assert all(pool.map(open_and_keep, range(12)))
    with Log(tmp_path / "log.sqlite") as log:
        assert log.rows("SELECT count(*) FROM recordings") == [(12,)]
