"""A station's history, export, backup, forgetting: pipeline/looking.py, exporting.py, forgetting.py, cli/log.py."""

from __future__ import annotations

import csv
import io
import multiprocessing
import os
import shutil
import signal
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest
from pipeline.test_checking import STRONGEST_FIRST, keep_surveys, swept

from bandscan.cli import main
from bandscan.errors import InputError, UsageError
from bandscan.pipeline import backup, baseline, check, contents, export, forget, history_text, station_history
from bandscan.shop import Shop, make_shop
from bandscan.store import Log

HEAD = "# radio: Ombra\n# swept: 2026-03-08 11:00\n# antenna: wire\n# dial: digits\n"
MADE = "2026-03-08T20:00:00Z"  # the evening of the sweep
IDS = [f"fm-2026030{day}T100000Z-bench" for day in (1, 2, 3)]


def rows(path: Path) -> list[dict[str, str]]:
    """A file's rows."""
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def surveys(shop: Shop) -> list[str]:
    """Ids of the surveys in the log."""
    return [str(row[0]) for row in contents(shop)["surveys"]]


def test_one_station_is_shown_through_all_surveys(shop: Shop, tmp_path: Path) -> None:
    """Oldest first, of one rig or of all, by the dial's reading; the same in a file; a channel that is none is refused."""
    keep_surveys(shop, "attic", days=[4], weaker_db=9.0)
    dial = f"{STRONGEST_FIRST[2] / 1e6:.1f}"
    history, files = station_history(shop, dial, out=tmp_path / "out")
    assert history.rows["survey"].tolist() == ["fm-20260304T100000Z-attic", *IDS]
    assert history.rows["level_dbfs"].tolist() == [-33.0, -24.0, -24.0, -24.0]
    assert [row["level_dbfs"] for row in rows(files[0])] == ["-33.0", "-24.0", "-24.0", "-24.0"]
    assert len(station_history(shop, dial.replace(".", ","), "bench")[0].rows) == 3
    text = history_text(history, 100)
    assert "-24.0" in text
    assert "dBFS" in text
    assert "no survey covered it" in history_text(station_history(shop, "1400")[0], 100)
    for wrong in ("97.4", "inf", "six", "-97.5"):
        with pytest.raises(UsageError, match=r"accepted: 87\.9 MHz to 107\.9 MHz or 540 kHz to 1700 kHz, as 97\.5 or 1400"):
            station_history(shop, wrong)


def test_the_log_goes_into_tables(shop: Shop, tmp_path: Path) -> None:
    """checks.csv, surveys.csv and stations.csv hold what the log holds; what a spreadsheet would run is disarmed."""
    sheet = swept(tmp_path, "s.csv", 20, HEAD.replace("Ombra", "=1+1") + "# job: 17\n")
    judged = check([sheet], shop=shop, known_good=True, made_utc=MADE).checks[0].bands["fm"]
    files = export(shop, tmp_path / "out")
    assert [path.name for path in files] == ["checks.csv", "surveys.csv", "stations.csv"]
    (told,) = rows(files[0])
    assert (told["job"], told["radio"], told["band"], told["rig"], told["known_good"]) == ("17", "'=1+1", "fm", "bench", "true")
    assert told["counted"] == "20"
    assert float(told["threshold_db"]) == pytest.approx(judged.threshold_db.value, abs=0.001)
    assert told["verdict"] == judged.verdict
    assert [row["id"] for row in rows(files[1])] == IDS
    assert [row["stations"] for row in rows(files[1])] == ["25", "25", "25"]
    stations = rows(files[2])
    assert len(stations) == 3 * 101  # 87.9 and the odd tenths from 88.1 to 107.9
    first = next(row for row in stations if row["channel_hz"] == str(STRONGEST_FIRST[0]))
    assert (first["survey"], first["holds"], first["level_dbfs"], first["pilot"]) == (IDS[0], "station", "-20.0", "true")


def test_a_copy_is_a_whole_log_in_one_file(shop: Shop, tmp_path: Path) -> None:
    """It holds what the log holds, also what another program has open; it replaces an earlier copy and nothing else."""
    check([swept(tmp_path, "s.csv", 20, HEAD + "# job: 17\n")], shop=shop, made_utc=MADE)
    with Log(shop.log_path) as held:
        assert held.survey_ids() == IDS
        to = backup(shop, tmp_path / "disk" / "log.sqlite")
    assert [path.name for path in to.parent.iterdir()] == ["log.sqlite"]
    copy = make_shop(tmp_path / "other")
    shutil.copy(to, copy.log_path)
    assert contents(copy) == contents(shop)
    keep_surveys(shop, days=[5])
    assert backup(shop, to) == to
    with Log(to) as log:
        assert len(log.survey_ids()) == 4
    note = tmp_path / "note.txt"
    note.write_text("mine")
    with pytest.raises(InputError, match=r"note\.txt: is there and no log of bandscan; name another file"):
        backup(shop, note)
    assert note.read_text() == "mine"
    with pytest.raises(UsageError, match="names the log itself"):
        backup(shop, shop.log_path)
    with pytest.raises(InputError, match="is a folder"):
        backup(shop, tmp_path)


def test_a_survey_that_nothing_rests_on_is_forgotten_whole(shop: Shop) -> None:
    """Its rows and its recordings go with it, so that nothing gathers it again; others stay to the letter."""
    keep_surveys(shop, days=[5])
    before = station_history(shop, "98.1")[0].rows
    assert forget(shop, "survey", "fm-20260305T100000Z-bench").surveys == 1
    assert surveys(shop) == IDS
    after = station_history(shop, "98.1")[0].rows
    assert after.equals(before.iloc[:3])
    with Log(shop.log_path) as log:
        assert log.rows("SELECT count(*) FROM recordings") == [(3,)]
        assert log.rows("SELECT count(DISTINCT owner) FROM readings") == [(3,)]
        assert log.fresh([]) == []
        assert log.rows("PRAGMA foreign_key_check") == []


def test_what_a_check_rests_on_stays(shop: Shop, tmp_path: Path) -> None:
    """Surveys of the check's list and of its day are refused in one line; a later one goes; without the check all go."""
    keep_surveys(shop, days=[8, 9])
    check([swept(tmp_path, "s.csv", 20, HEAD + "# job: 17\n")], shop=shop, made_utc=MADE)
    done = forget(shop, "survey", IDS[1])
    assert done.surveys == 0
    assert [str(error) for error in done.errors] == [
        f"{IDS[1]} not forgotten: the check of job 17 rests on it; forget first: bandscan log --forget job 17"
    ]
    done = forget(shop, "before", "2026-12-31")
    assert done.surveys == 1
    assert str(done.errors[0]).startswith("4 surveys not forgotten: the check of job 17 rests on them")
    assert surveys(shop) == [*IDS, "fm-20260308T100000Z-bench"]
    assert forget(shop, "job", "17").checks == 1
    assert contents(shop)["checks"] == []
    assert forget(shop, "before", "2026-03-03").surveys == 2
    assert surveys(shop) == [IDS[2], "fm-20260308T100000Z-bench"]


def test_before_a_date_is_before_its_midnight_at_the_shop(shop: Shop) -> None:
    """10:00 UTC of 2 March is late on 1 March ten hours and more west of Greenwich, and on 2 March in Greenwich."""
    assert forget(replace(shop, time_zone="Etc/GMT+11"), "before", "2026-03-02").surveys == 2
    assert surveys(shop) == [IDS[2]]
    assert forget(replace(shop, time_zone="UTC"), "before", "2026-03-03").surveys == 0
    with pytest.raises(UsageError, match=r"--forget before 0001-01-01; accepted: a date"):
        forget(replace(shop, time_zone="Etc/GMT-11"), "before", "0001-01-01")


def test_what_is_forgotten_leaves_the_disk(shop: Shop) -> None:
    """The log's file is smaller when its surveys are forgotten, and sound."""
    before = shop.log_path.stat().st_size
    assert forget(shop, "before", "2026-12-31").surveys == 3
    assert shop.log_path.stat().st_size < before
    with Log(shop.log_path) as log:
        assert log.rows("PRAGMA integrity_check") == [("ok",)]
        assert log.rows("PRAGMA freelist_count") == [(0,)]


def test_a_list_that_does_not_tell_its_surveys_holds_all_of_its_time(shop: Shop, tmp_path: Path) -> None:
    """A check by an earlier bandscan: any survey of its list's rig and span of time may be one of the list's."""
    keep_surveys(shop, days=[5])
    keep_surveys(shop, "attic", days=[2])
    check([swept(tmp_path, "s.csv", 20, HEAD + "# job: 17\n")], shop=shop, made_utc=MADE)
    with Log(shop.log_path) as log:
        log.db.execute("UPDATE checks SET lists = replace(lists, 'survey_ids', 'forgotten_ids')")
    assert forget(shop, "before", "2026-12-31").surveys == 2
    assert surveys(shop) == IDS


def test_a_known_good_set_that_others_are_measured_by_stays(shop: Shop, tmp_path: Path) -> None:
    """It goes when the checks that rest on it are gone; then it measures nothing any more."""
    good = HEAD.replace("Ombra", "Good one") + "# job: G1\n"
    check([swept(tmp_path, "g.csv", 18, good)], shop=shop, known_good=True, made_utc=MADE)
    check([swept(tmp_path, "s.csv", 20, HEAD + "# job: 17\n")], shop=shop, made_utc=MADE)
    assert [str(error) for error in forget(shop, "job", "G1").errors] == [
        "job G1 not forgotten: it measures its family, and the check of job 17 rests on it;"
        " forget first: bandscan log --forget job 17"
    ]
    assert forget(shop, "job", "17").checks == forget(shop, "job", "G1").checks == 1
    with Log(shop.log_path) as log:
        assert log.known_good("fm", "bench") == []


def test_what_is_not_there_is_said(shop: Shop) -> None:
    """A survey, job or date that is none, and a thing that cannot be forgotten: one line, nothing changed."""
    with pytest.raises(InputError, match=r"no survey 'x' in the log; `bandscan log` lists them"):
        forget(shop, "survey", "x")
    with pytest.raises(InputError, match=r"no check of job '17' in the log"):
        forget(shop, "job", "17")
    with pytest.raises(UsageError, match=r"--forget before March; accepted: a date as 2026-03-14"):
        forget(shop, "before", "March")
    with pytest.raises(UsageError, match=r"--forget list; accepted: survey ID, before DATE or job N"):
        forget(shop, "list", "1")
    for ask in (lambda: forget(None, "job", "1"), lambda: backup(None, Path("x")), lambda: export(None, Path("x"))):
        with pytest.raises(UsageError, match="there is no shop here, so no log"):
            ask()
    assert surveys(shop) == IDS


def _forget_and_die(shop: Shop) -> None:
    """Forget everything, and be killed before the log is told to keep that."""
    take = Log.forget_surveys

    def and_die(log: Log, ids: list[str]) -> None:
        take(log, ids)
        os.kill(os.getpid(), signal.SIGKILL)

    Log.forget_surveys = and_die  # type: ignore[method-assign, assignment]
    forget(shop, "before", "2026-12-31")


@pytest.mark.skipif("fork" not in multiprocessing.get_all_start_methods(), reason="the program to be killed is forked")
def test_a_program_killed_while_it_forgets_has_forgotten_nothing(shop: Shop) -> None:
    """SIGKILL after the rows are deleted: the log is sound and holds every survey."""
    process = multiprocessing.get_context("fork").Process(target=_forget_and_die, args=(shop,))
    process.start()
    process.join(60)
    assert process.exitcode == -signal.SIGKILL
    assert surveys(shop) == IDS
    plain = sqlite3.connect(shop.log_path)
    assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    plain.close()
    assert forget(shop, "before", "2026-12-31").surveys == 3


def test_the_command_says_what_it_did(shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Results on standard output, status 3 where something had to stay, 2 where two things are asked at once."""

    def typed(*words: str) -> tuple[int, str, str]:
        status = main(["--shop", str(shop.folder), "log", *words])
        said = capsys.readouterr()
        return status, said.out, said.err

    assert typed("--station", "88.1")[0] == 0
    assert typed("--export", str(tmp_path / "out"))[1].count(".csv") == 3
    assert typed("--backup", str(tmp_path / "copy.sqlite"))[0] == 0
    status, said, beside = typed("--forget", "survey", IDS[0])
    assert (status, said) == (0, "forgotten: 1 survey(s)\n")
    assert beside.startswith("note: recordings that are still in a folder come back")
    baseline(shop, made_utc=MADE)
    check([swept(tmp_path, "s.csv", 20, HEAD + "# job: 17\n")], shop=shop, made_utc=MADE)
    status, said, beside = typed("--forget", "before", "2026-12-31")
    assert (status, said) == (3, "forgotten: nothing\n")
    assert beside.startswith("bandscan: 2 surveys not forgotten: the check of job 17 rests on them")
    assert beside.count("\n") == 1
    assert typed("--forget", "job", "17")[1] == "forgotten: 1 check(s)\n"
    status, _, beside = typed("--forget", "job", "99")
    assert status == 3
    assert beside.endswith(f"`bandscan --shop {shop.folder} log` lists them\n")
    assert typed("--job", "1", "--station", "97.5")[0] == 2
    assert typed("--rig", "attic")[0] == 2
    assert typed("--export", "x", "--out", "y")[0] == 2


def test_a_list_is_made_of_the_last_year(shop: Shop) -> None:
    """A survey that is more than a year older than the newest is left out, counted and said; it stays in the log."""
    with Log(shop.log_path) as log:
        for table, time in (("surveys", "started_utc"), ("surveys", "about"), ("recordings", "started_utc")):
            log.db.execute(f"UPDATE {table} SET {time} = replace({time}, '2026-03-01', '2025-02-01')")
    done = baseline(shop, made_utc=MADE)
    assert done.baselines[0].surveys == 2
    assert "FM: 1 survey(s) left out: more than a year older than the newest" in done.notes
    assert len(surveys(shop)) == 3
