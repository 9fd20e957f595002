"""What the shop's log keeps and gives back: store/surveys.py, store/issued.py, store/log.py."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from made import all_stations, measured

from bandscan.model import Measured, Survey
from bandscan.store import Issued, KnownGood, Log
from bandscan.survey import gather, group

NOW = "2026-03-01T12:00:00Z"
GAP_S = 1800.0


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    """An empty log."""
    with Log(tmp_path / "log.sqlite") as opened:
        yield opened


def keep(log: Log, *members: Measured, settings: str = "s", complete: bool = True) -> None:
    """Keep each recording as a file of its own."""
    for one in members:
        log.keep_measured(one.digest, settings, Path(one.recording), [one], complete=complete, now_utc=NOW)


def settle(log: Log, *digests: str) -> list[Survey]:
    """What the pipeline does after measuring: fresh recordings and their fellows become surveys."""
    with log.transaction():
        fresh = log.fresh(digests)
        for members in group([*fresh, *log.fellows(fresh, GAP_S)]):
            (survey,) = gather(members, decide=all_stations)
            log.put_survey(survey, members, "0.1.0", NOW)
    return log.surveys_of(digests)


def one(name: str, started: str = "2026-03-01T10:00:00Z", **more: object) -> Measured:
    """A recording whose content is told apart by its name."""
    return measured(name, started, digest=f"digest of {name}", **more)  # type: ignore[arg-type]


def same(first: object, second: object) -> None:
    """Two records hold the same, their tables too, to the last digit."""
    for field in fields(first):  # type: ignore[arg-type]
        left, right = getattr(first, field.name), getattr(second, field.name)
        if isinstance(left, pd.DataFrame):
            pd.testing.assert_frame_equal(left, right, check_exact=True)
        else:
            assert left == right, field.name


def test_a_recording_comes_back_to_the_last_digit(log: Log) -> None:
    """Measured goes into the log and comes out the same: odd fractions, empty cells, numpy's own numbers, notes."""
    before = one(
        "a",
        levels=(-40.123456789012345, 1 / 3, None),
        gain=None,
        notes=("cut short", 'says "hm"'),
        overload_share=np.float64(0.1),
    )
    keep(log, before)
    (after,) = log.measured("digest of a", "s") or []
    same(before, after)


def test_a_survey_comes_back_to_the_last_digit(log: Log) -> None:
    """A survey goes into the log and comes out the same, with rows and stations."""
    members = [one("a"), one("b", "2026-03-01T10:10:00Z", levels=(-41, -31.7, None), pilot=None)]
    keep(log, *members)
    (after,) = settle(log, "digest of a")
    (before,) = gather(members, decide=all_stations)
    same(before, after)


def test_only_the_same_content_and_settings_are_known(log: Log) -> None:
    """A recording is known by content and settings; one of which a segment failed is not."""
    keep(log, one("a"))
    keep(log, one("b"), complete=False)
    assert log.measured("digest of a", "s") is not None
    assert log.measured("digest of a", "other") is None
    assert log.measured("digest of b", "s") is None


def test_keeping_the_same_again_leaves_its_survey_alone(log: Log) -> None:
    """A second program that measured the same recording changes nothing: it stays in its survey."""
    keep(log, one("a"))
    settle(log, "digest of a")
    keep(log, one("a"))
    assert log.fresh(["digest of a"]) == []
    assert len(log.surveys_of(["digest of a"])) == 1


def test_a_recording_joins_the_survey_of_its_neighbours(log: Log) -> None:
    """Recordings of two calls that start within 30 minutes of one another become one survey, those beyond do not."""
    keep(log, one("a", "2026-03-01T10:00:00Z"), one("z", "2026-03-01T15:00:00Z"))
    settle(log, "digest of a", "digest of z")
    keep(log, one("c", "2026-03-01T10:50:00Z"))
    assert [survey.id for survey in settle(log, "digest of c")] == ["fm-20260301T105000Z-bench"]
    keep(log, one("b", "2026-03-01T10:25:00Z"))
    (joined,) = settle(log, "digest of b")
    assert joined.id == "fm-20260301T100000Z-bench"
    assert sorted(set(joined.rows["recording"])) == ["a", "b", "c"]
    assert [row[0] for row in log.contents()["surveys"]] == ["fm-20260301T100000Z-bench", "fm-20260301T150000Z-bench"]


def test_a_chain_of_neighbours_is_followed_to_its_end(log: Log) -> None:
    """A newcomer exactly 30 minutes after the last of a chain joins the whole chain; one second more does not."""
    keep(log, one("a", "2026-03-01T10:00:00Z"), one("b", "2026-03-01T10:30:00Z"))
    settle(log, "digest of a", "digest of b")
    keep(log, one("c", "2026-03-01T11:00:00Z"))
    (joined,) = settle(log, "digest of c")
    assert set(joined.rows["recording"]) == {"a", "b", "c"}
    assert len(log.contents()["surveys"]) == 1
    keep(log, one("d", "2026-03-01T11:30:01Z"))
    (apart,) = settle(log, "digest of d")
    assert set(apart.rows["recording"]) == {"d"}


@pytest.mark.parametrize("differs", [{"rig": "attic"}, {"band": "am"}, {"region": "eu"}, {"forged": True}, {"survey_id": "x"}])
def test_another_rig_never_joins(log: Log, differs: dict[str, object]) -> None:
    """A neighbour in time of another rig, band, region or origin stays apart."""
    other = replace(one("b"), **differs)  # type: ignore[arg-type]
    keep(log, one("a"), other)
    settle(log, "digest of a")
    (survey,) = settle(log, "digest of a")
    assert set(survey.rows["recording"]) == {"a"}


def test_a_survey_id_gathers_over_any_time(log: Log) -> None:
    """A recording that carries a survey's id joins it hours later."""
    keep(log, one("a", survey_id="s1"))
    settle(log, "digest of a")
    keep(log, one("b", "2026-03-02T10:00:00Z", survey_id="s1"))
    (survey,) = settle(log, "digest of b")
    assert set(survey.rows["recording"]) == {"a", "b"}
    assert len(log.contents()["surveys"]) == 1


def test_new_settings_replace_what_was_measured_before(log: Log) -> None:
    """The same recording under another rig's name leaves its old survey, whose other members stay."""
    keep(log, one("a"), one("b"))
    settle(log, "digest of a", "digest of b")
    keep(log, replace(one("b"), rig="attic"), settings="t")
    (moved,) = settle(log, "digest of b")
    assert (moved.rig, set(moved.rows["recording"])) == ("attic", {"b"})
    (stayed,) = log.surveys_of(["digest of a"])
    assert (stayed.rig, set(stayed.rows["recording"])) == ("bench", {"a"})
    assert log.measured("digest of b", "s") is None


def test_of_two_measurements_that_were_never_gathered_the_later_counts(log: Log) -> None:
    """A recording measured twice before any survey was made of it is in its survey once, as measured last."""
    keep(log, one("a", levels=(-40, -30, -50)))
    keep(log, one("a", levels=(-41, -31, -51)), settings="t")
    (survey,) = settle(log, "digest of a")
    assert survey.stations["level_dbfs"].tolist() == pytest.approx([-41, -31, -51])
    assert survey.stations["recordings"].tolist() == [1, 1, 1]
    assert log.measured("digest of a", "s") is None


def test_two_segments_of_one_recording_may_be_two_surveys(log: Log) -> None:
    """Segments hours apart are two surveys, and putting the second does not take the first away."""
    first, second = one("a#1"), one("a#2", "2026-03-01T18:00:00Z")
    second = replace(second, digest=first.digest)
    log.keep_measured(first.digest, "s", Path("a"), [first, second], complete=True, now_utc=NOW)
    assert [survey.started_utc[11:13] for survey in settle(log, first.digest)] == ["10", "18"]


def test_what_a_stopped_program_measured_is_taken_up(log: Log) -> None:
    """A dated recording that was measured but never gathered enters its survey with the next call; an undated one waits."""
    keep(log, one("left"), one("undated", ""))
    keep(log, one("next", "2026-03-01T20:00:00Z"))
    settle(log, "digest of next")
    assert [row[0] for row in log.contents()["surveys"]] == ["fm-20260301T100000Z-bench", "fm-20260301T200000Z-bench"]
    assert len(settle(log, "digest of undated")) == 1


def test_nothing_is_kept_of_a_transaction_that_fails(log: Log) -> None:
    """A survey that fails half way leaves the log as it was."""
    keep(log, one("a"))
    (survey,) = gather([one("a")], decide=all_stations)

    def fail_half_way() -> None:
        with log.transaction():
            log.put_survey(survey, [one("a")], "0.1.0", NOW)
            assert log.surveys_of(["digest of a"])
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_half_way()
    assert log.surveys_of(["digest of a"]) == []


def test_numpy_numbers_cannot_slip_in_as_bytes(tmp_path: Path) -> None:
    """The log's tables are STRICT: an np.int64 bound directly, which SQLite would keep as BLOB, is refused."""
    with Log(tmp_path / "log.sqlite") as log:
        keep(log, one("a"))
        kinds = log.rows("SELECT DISTINCT typeof(channel_hz), typeof(level_dbfs), typeof(pilot) FROM readings")
        assert kinds == [("integer", "real", "integer")]
        with pytest.raises(sqlite3.IntegrityError, match="cannot store BLOB value in INTEGER"):
            log.db.execute("UPDATE readings SET channel_hz = ?", (np.int64(98_100_000),))


def test_an_unchanged_list_is_kept_once(log: Log) -> None:
    """A list that differs in its time of making alone is not kept again; a changed one is the latest, of its rig alone."""
    about = [json.dumps({"made_utc": f"2026-03-0{day}", "grade": "A"}) for day in (1, 2)]
    assert log.keep_list("fm", "us", "bench", "1", "csv", about[0]) == ("csv", about[0])
    assert log.keep_list("fm", "us", "bench", "2", "csv", about[1]) == ("csv", about[0])
    assert log.keep_list("fm", "us", "bench", "3", "new", about[1]) == ("new", about[1])
    assert log.keep_list("fm", "us", "attic", "4", "attic", about[1])
    assert log.latest_list("fm", "bench") == ("new", about[1])
    assert log.latest_list("am", "bench") is None
    assert len(log.contents()["lists"]) == 3


def issued(job: str, sheet: str = "sheet", text: str = "{}") -> Issued:
    """A check as issued."""
    return Issued(job, "set 1", "early", NOW, "0.1.0", text, sheet, {"fm": {"baseline.csv": "a", "baseline.json": "b"}})


def test_a_check_comes_back_to_the_letter(log: Log) -> None:
    """What was issued is reprinted as it was, oldest first, of its job alone."""
    checks = [issued("17", text='{"a": 1.10}\n'), issued("18"), issued("17", "after")]
    for check in checks:
        log.keep_check(check)
    assert log.checks("17") == [checks[0], checks[2]]
    assert log.checks("19") == []


def radios(log: Log, band: str, rig: str) -> list[str]:
    """Jobs of the known-good sets in order."""
    return [one.job for one in log.known_good(band, rig)]


def test_known_good_sets_are_kept_by_band_and_rig(log: Log) -> None:
    """A set of another rig or band is never given; a sheet that comes again takes its earlier place; other checks are none."""
    log.keep_check(issued("1", "x", '{"a": 1}'), {"fm": "bench", "am": "attic"})
    log.keep_check(issued("2", "y"), {"fm": "bench"})
    log.keep_check(issued("3", "z"))
    assert radios(log, "fm", "bench") == ["1", "2"]
    assert radios(log, "am", "attic") == ["1"]
    assert radios(log, "am", "bench") == []
    assert log.known_good("fm", "bench")[0] == KnownGood(
        "early", "set 1", "1", NOW, '{"a": 1}', {"fm": {"baseline.csv": "a", "baseline.json": "b"}}
    )
    log.keep_check(issued("4", "x"), {"fm": "bench"})
    assert radios(log, "fm", "bench") == ["2", "4"]
    assert radios(log, "am", "attic") == ["1"]


def test_surveys_of_a_rig_come_oldest_first(log: Log) -> None:
    """A rig's surveys of one band, in order of time, without those of other rigs."""
    keep(log, one("b", "2026-03-02T10:00:00Z"), one("a"), one("x", rig="attic"))
    settle(log, "digest of a")
    assert [survey.started_utc[:10] for survey in log.surveys("fm", "bench", "us")] == ["2026-03-01", "2026-03-02"]
    assert log.rigs("fm") == ["attic", "bench"]
    assert log.surveys("am", "bench", "us") == []


def test_a_survey_of_a_single_channel_comes_back(log: Log) -> None:
    """The smallest table there is: one recording that covers one channel."""
    single = one("a")
    single = replace(single, readings=single.readings.head(1))
    keep(log, single)
    settle(log)
    (back,) = log.surveys("fm", "bench", "us")
    assert len(back.stations) == 1


def test_the_files_of_a_check_come_back_to_the_letter(log: Log) -> None:
    """What was given out is kept packed and comes back as it was, umlauts, line ends and all."""
    check = replace(issued("17"), papers={"check.html": "<p>Größe\r\n</p>\n" * 3, "check.csv": ""})
    log.keep_check(check)
    assert log.checks("17") == [check]
    (bare,) = log.every_check()
    assert bare == replace(check, papers={})


def test_forgotten_checks_measure_nothing(log: Log) -> None:
    """All checks of a job go, as known-good sets too; those of other jobs stay."""
    log.keep_check(issued("1", "x"), {"fm": "bench"})
    log.keep_check(issued("2", "y"), {"fm": "bench"})
    log.keep_check(issued("1", "z"))
    assert log.known_good_checks() == {(0, "fm"), (1, "fm")}
    with log.transaction():
        assert log.forget_checks("1") == 2
    assert [check.job for check in log.every_check()] == ["2"]
    assert radios(log, "fm", "bench") == ["2"]


def test_a_recording_of_two_surveys_stays_with_the_other(log: Log) -> None:
    """Two segments hours apart are two recordings in two surveys; a forgotten one takes its own segment only."""
    first, second = one("a#1"), one("a#2", "2026-03-01T18:00:00Z")
    second = replace(second, digest=first.digest)
    log.keep_measured(first.digest, "s", Path("a"), [first, second], complete=True, now_utc=NOW)
    kept = settle(log, first.digest)[1].id
    with log.transaction():
        log.forget_surveys(["fm-20260301T100000Z-bench"])
    assert log.survey_ids() == [kept]
    assert log.fresh([]) == []


def plan(log: Log, statement: str, *values: object) -> str:
    """How SQLite means to answer a query."""
    return "; ".join(str(row[3]) for row in log.rows(f"EXPLAIN QUERY PLAN {statement}", *values))


class Asked(Log):
    """A log that notes what it is asked."""

    asked: list[tuple[str, tuple[object, ...]]]

    def rows(self, statement: str, *values: object) -> list[tuple[Any, ...]]:
        if "EXPLAIN" not in statement and "PRAGMA" not in statement:
            self.asked.append((statement, values))
        return super().rows(statement, *values)


@pytest.mark.parametrize(
    "ask",
    [
        lambda log: log.history("fm", 98_100_000, "bench"),
        lambda log: log.history("fm", 98_100_000),
        lambda log: log.surveys("fm", "bench", "us"),
        lambda log: log.surveys_between("fm", "bench", "us", "2026-03-01T09:00:00Z", "2026-03-01T11:00:00Z"),
        lambda log: log.latest_list("fm", "bench"),
        lambda log: log.known_good("fm", "bench"),
        lambda log: log.checks("17"),
    ],
    ids=["history of a rig", "history", "surveys", "surveys of a day", "list", "known-good sets", "checks"],
)
def test_what_a_shop_asks_is_found_through_an_index(tmp_path: Path, ask: Callable[[Log], object]) -> None:
    """No table is read from end to end, however long the log is: EXPLAIN QUERY PLAN names an index for each one."""
    with Asked(tmp_path / "log.sqlite") as log:
        log.asked = []
        keep(log, one("a"))
        settle(log, "digest of a")
        log.asked.clear()
        ask(log)
        assert log.asked
        for statement, values in log.asked:
            told = plan(log, statement, *values)
            assert "SEARCH" in told
            assert "SCAN" not in told, told


def test_a_station_is_followed_through_the_surveys(log: Log) -> None:
    """Oldest first within a rig, of one rig or of all, one row for each survey."""
    keep(log, one("b", "2026-03-02T10:00:00Z", levels=(-41, -31, -51)), one("a"), one("x", rig="attic", levels=(-9, -8, -7)))
    settle(log, "digest of a")
    assert log.history("fm", 98_100_000)["level_dbfs"].tolist() == [-8.0, -30.0, -31.0]
    assert log.history("fm", 98_100_000, "bench")["level_dbfs"].tolist() == [-30.0, -31.0]
    assert log.history("fm", 98_100_000, "loft").empty
    assert log.history("am", 98_100_000).empty


def test_surveys_of_the_last_days_are_those_up_to_the_newest(log: Log) -> None:
    """Older ones stay in the log and are left out; an undated one cannot be told from a new one and comes along."""
    keep(log, one("old", "2025-03-01T10:00:00Z"), one("edge", "2025-03-02T10:00:00Z"), one("new", "2026-03-02T10:00:00Z"))
    keep(log, one("undated", ""))
    settle(log, "digest of undated")
    found = [survey.started_utc[:10] for survey in log.surveys("fm", "bench", "us", days=365)]
    assert found == ["", "2025-03-02", "2026-03-02"]
    assert log.survey_count("fm", "bench", "us") == 4
    assert log.surveys("fm", "loft", "us", days=365) == []
    assert log.survey_count("am", "bench", "us") == 0
