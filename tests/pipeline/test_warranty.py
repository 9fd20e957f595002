"""Checks as issued, before and after, families of known-good sets: pipeline/checking.py, changes.py, issuing.py, known.py."""

from __future__ import annotations

import csv
import io
import json
import shutil
from pathlib import Path

import pytest
from pipeline.test_checking import COLUMNS, FILES, HEAD, MADE, STRONGEST_FIRST, keep_surveys, swept

from bandscan.model import RadioCheck
from bandscan.pipeline import baseline, change_text, check, reprint
from bandscan.pipeline.changes import Earlier, sweep_before
from bandscan.shop import Shop, load
from bandscan.store import Log

LATER = "2026-08-20T12:00:00Z"
JOB = "# radio: Ombra\n# swept: 2026-03-04 11:00\n# antenna: wire\n# dial: digits\n# job: 17\n# by: Ann\n"


def contents_of(folder: Path) -> dict[str, bytes]:
    """Every file of a folder, the plots' library apart."""
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != "plots.js"}


def half_a_year_on(shop: Shop) -> None:
    """Month 6: the antenna gives 6 dB less, the list was made anew of new surveys, and every recording is gone."""
    keep_surveys(shop, rig="bench", days=[18, 19, 20], weaker_db=6.0)
    baseline(shop, made_utc=LATER)
    shutil.rmtree(shop.captures, ignore_errors=True)


def test_a_warranty_case_is_the_same_to_the_letter(shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Reprinted in month 6 into any folder, by a bandscan that draws pages another way: every file as it was given out."""
    path = swept(tmp_path, "s.csv", 14, JOB)
    check([path], shop=shop, made_utc=MADE)
    before = contents_of(shop.reports / "17")
    assert set(before) == set(FILES)
    text = path.read_bytes()
    path.unlink()
    half_a_year_on(shop)
    shutil.rmtree(shop.reports)
    monkeypatch.setattr("bandscan.pipeline.looking.papers", lambda *facts, **more: {"check.html": "drawn another way"})
    for place in (tmp_path / "desk", tmp_path / "a" / "b" / "c"):
        reprint(load(shop.folder), "17", place)
        assert contents_of(place / "17") == {**before, "sheet.csv": text}
        # the page finds the plots' library where it looks for it
        assert (place / "plots.js").is_file()


def test_a_new_sweep_is_judged_against_its_own_day_and_held_against_the_first(shop: Shop, tmp_path: Path) -> None:
    """Month 6: the new sweep's list is the new one, the old check stays, and before and after tell gained stations and dB."""
    check([swept(tmp_path, "first.csv", 12, JOB)], shop=shop, made_utc=MADE)
    first = contents_of(shop.reports / "17")
    half_a_year_on(shop)
    later = JOB.replace("2026-03-04 11:00", "2026-08-20 11:00")
    done = check([swept(tmp_path, "second.csv", 18, later)], shop=shop, made_utc=LATER)
    (change,) = done.changes
    new = done.checks[0]
    assert new.baseline["fm"]["made_utc"] == LATER
    assert (change.before.swept, change.after.swept) == ("2026-03-04 11:00", "2026-08-20 11:00")
    one = change.bands["fm"]
    assert sorted(one.gained) == sorted(STRONGEST_FIRST[12:18])
    assert (one.lost, one.both) == ((), 25)
    assert one.p_value == pytest.approx(2 / 2**6)  # six to none, two-sided
    # stations stand 2 dB apart: 12 followed end at -42 dBFS, 18 of the mean of both months' levels, 3 dB down, at -57 dBFS
    assert one.difference_db is not None
    assert one.difference_db.low is not None
    assert one.difference_db.high is not None
    assert one.difference_db.low < -15.0 < one.difference_db.high < 0.0
    folder = shop.reports / "17"
    told = json.loads((folder / "before-after.json").read_text())
    assert told["bands"]["fm"]["difference_db"]["value"] == pytest.approx(one.difference_db.value, abs=0.001)
    assert told["bands"]["fm"]["both"] == 25
    rows = list(csv.DictReader(io.StringIO((folder / "before-after.csv").read_text())))
    assert sum(row["change"] == "gained" for row in rows) == 6
    assert "Before and after" in (folder / "before-after.html").read_text()
    text = change_text(change, 100)
    assert "FM  MORE SENSITIVE NOW" in text
    assert max(len(line) for line in text.splitlines()) <= 100
    # both are reprinted: the first as it was, the second with its comparison
    second = contents_of(folder)
    reprint(shop, "17", tmp_path / "again")
    sheets = {(tmp_path / "first.csv").read_bytes(), (tmp_path / "second.csv").read_bytes()}
    both = [contents_of(tmp_path / "again" / "17" / number) for number in ("1", "2")]
    assert {one.pop("sheet.csv") for one in both} == sheets
    assert both == [first, second]


def test_two_sheets_of_one_call_are_before_and_after_by_time(shop: Shop, tmp_path: Path) -> None:
    """Named in any order, the earlier sweep is the one before; without a shop as well."""
    first = swept(tmp_path, "z.csv", 10, JOB)
    second = swept(tmp_path, "a.csv", 18, JOB.replace("11:00", "16:00"))
    done = check([second, first], shop=shop, made_utc=MADE)
    assert [one.swept for one in done.checks] == ["2026-03-04 11:00", "2026-03-04 16:00"]
    (change,) = done.changes
    assert len(change.bands["fm"].gained) == 8
    file = baseline(shop, made_utc=MADE).files[0]
    (loose,) = check([second, first], lists=[file], made_utc=MADE).changes
    assert loose.bands["fm"].gained == change.bands["fm"].gained


def test_a_corrected_sheet_is_no_second_sweep(shop: Shop, tmp_path: Path) -> None:
    """The same sheet again, or mended with the same time of sweep, is compared with nothing; nor is a sheet without a job."""
    check([swept(tmp_path, "s.csv", 10, JOB)], shop=shop, made_utc=MADE)
    assert check([swept(tmp_path, "s.csv", 10, JOB)], shop=shop, made_utc=MADE).changes == []
    assert check([swept(tmp_path, "s.csv", 11, JOB)], shop=shop, made_utc=MADE).changes == []
    for heard in (10, 18):
        loose = HEAD.replace("11:00", f"{heard}:00")
        assert check([swept(tmp_path, "s.csv", heard, loose)], shop=shop, made_utc=MADE).changes == []
    later = check([swept(tmp_path, "s.csv", 18, JOB.replace("11:00", "17:00"))], shop=shop, made_utc=MADE)
    assert len(later.changes[0].bands["fm"].gained) == 7  # against the corrected sheet of 11 stations


def test_a_date_written_in_later_makes_no_second_sweep(shop: Shop, tmp_path: Path) -> None:
    """The page asks for the date of the sweep: the same ticks with it, or with another remark, are the same sweep."""
    undated = "".join(line for line in JOB.splitlines(keepends=True) if not line.startswith("# swept"))
    (first,) = check([swept(tmp_path, "s.csv", 10, undated)], shop=shop, made_utc=MADE).checks
    assert first.swept == ""
    assert check([swept(tmp_path, "s.csv", 10, JOB)], shop=shop, made_utc=MADE).changes == []
    remarked = swept(tmp_path, "s.csv", 10, JOB)
    remarked.write_text(remarked.read_text().rstrip("\n") + ",,,,,hums\n")
    assert check([remarked], shop=shop, made_utc=MADE).changes == []


def _check(swept_at: str) -> RadioCheck:
    return RadioCheck("17", "Ombra", "", swept_at, "", {}, (), {}, None, "", "0")


def test_the_sweep_before_is_the_latest_of_those_before() -> None:
    """Of three, the middle one; a later one never; without a time the last that was made."""
    march, may, july = (_check(f"2026-0{month}-01 11:00") for month in (3, 5, 7))
    earlier = [Earlier(one.swept, one, same_call=False) for one in (may, march, july)]
    assert sweep_before(_check("2026-06-01 11:00"), "x", earlier) is may
    assert sweep_before(_check("2026-04-01 11:00"), "x", earlier) is march
    assert sweep_before(_check("2026-02-01 11:00"), "x", earlier) is None
    undated = [Earlier("a", _check(""), same_call=False), Earlier("b", _check(""), same_call=False)]
    assert sweep_before(_check(""), "x", undated) is undated[1].check
    assert sweep_before(_check(""), "b", undated) is undated[0].check


def test_a_sweep_of_another_band_is_not_the_one_before(shop: Shop, tmp_path: Path) -> None:
    """FM, then AM, then FM of one job: FM is held against FM, and the AM sheet against nothing, without a page."""
    check([swept(tmp_path, "1.csv", 10, JOB)], shop=shop, made_utc=MADE)
    am = tmp_path / "2.csv"
    am.write_text(JOB.replace("11:00", "11:30") + COLUMNS + "am,600,3,,,1,,\nam,900,3,,,1,,\n")
    done = check([am], shop=shop, made_utc=MADE)
    assert (len(done.checks), done.changes) == (1, [])
    assert not [path.name for path in done.files if path.name.startswith("before-after")]
    (change,) = check([swept(tmp_path, "3.csv", 18, JOB.replace("11:00", "12:00"))], shop=shop, made_utc=MADE).changes
    assert change.before.swept == "2026-03-04 11:00"
    assert len(change.bands["fm"].gained) == 8


def test_a_check_of_an_earlier_bandscan_is_drawn_anew(shop: Shop, tmp_path: Path) -> None:
    """A log of version 1 kept no pages: they are drawn from the check's facts, which stay."""
    check([swept(tmp_path, "s.csv", 14, JOB)], shop=shop, made_utc=MADE)
    record = (shop.reports / "17" / "check.json").read_bytes()
    with Log(shop.log_path) as log:
        log.db.execute("UPDATE checks SET papers = NULL")
    _, files = reprint(shop, "17", tmp_path / "again")
    assert {path.name for path in files} == {*FILES, "sheet.csv"}
    assert (tmp_path / "again" / "17" / "check.json").read_bytes() == record


def family_sweep(shop: Shop, tmp_path: Path, day: int, heard: int, radio: str = "Good one") -> list[str]:
    """A sweep of a known-good set on a day in March; the notes."""
    header = (
        f"# radio: {radio}\n# swept: 2026-03-{day:02d} 11:00\n# antenna: wire\n# dial: digits\n# family: early\n# job: G{day}\n"
    )
    made = f"2026-03-{day:02d}T12:00:00Z"
    done = check([swept(tmp_path, "good.csv", heard, header)], shop=shop, known_good=True, made_utc=made)
    assert not done.errors
    return done.notes


def test_a_family_counts_sweeps_and_sets_and_asks_for_more(shop: Shop, tmp_path: Path) -> None:
    """One sweep counts with 3 dB and a second is asked for; the second makes the measure surer; after 90 days it is old."""

    def judged(made_utc: str = MADE, at: str = "2026-03-04 11:00") -> RadioCheck:
        header = HEAD.replace("2026-03-04 11:00", at) + "# family: early\n# job: 50\n"
        return check([swept(tmp_path, "x.csv", 18, header)], shop=shop, made_utc=made_utc).checks[0]

    (note,) = family_sweep(shop, tmp_path, 4, 18)
    assert note.startswith(
        "FM: kept as a known-good set of family early; one sweep counts with a spread of 3 dB: sweep it once"
    )
    one = judged()
    assert one.bands["fm"].reference.sweeps == one.bands["fm"].reference.sets == 1
    asked = "FM reference: one sweep of one known-good set, counted with a spread of 3 dB: sweep it once more on another day"
    assert asked in one.cautions
    (note,) = family_sweep(shop, tmp_path, 5, 18)
    assert note == "FM: kept as a known-good set of family early; 2 sweeps of it count together"
    two = judged()
    reference = two.bands["fm"].reference
    assert (reference.sets, reference.sweeps, reference.jobs) == (1, 2, ("G4", "G5"))
    assert asked not in two.cautions
    assert reference.sd_db is not None
    assert one.bands["fm"].reference.sd_db is not None
    assert reference.sd_db < one.bands["fm"].reference.sd_db
    family_sweep(shop, tmp_path, 6, 17, "Other set")
    assert judged().bands["fm"].reference.sets == 2
    old = "the newest sweep of a known-good set is"
    assert not any(old in caution for caution in judged("2026-06-05T12:00:00Z", "2026-06-03 11:00").cautions)
    late = judged("2026-09-05T12:00:00Z", "2026-06-05 12:00").cautions
    assert f"FM reference: {old} 91 days old: sweep a known-good set again (check --known-good)" in late


def test_a_good_set_swept_on_a_noisy_day_is_taken_as_on_an_ordinary_one(shop: Shop, tmp_path: Path) -> None:
    """Noise up by 8 dB on the day of its sweep: its threshold counts half of that lower, for a check of an ordinary day."""
    keep_surveys(shop, days=[8], noise_db=-72.0)
    family_sweep(shop, tmp_path, 8, 14)
    header = HEAD + "# family: early\n# job: 50\n"
    reference = check([swept(tmp_path, "x.csv", 18, header)], shop=shop, made_utc=MADE).checks[0].bands["fm"].reference
    # 14 stations of 25 in steps of 2 dB from -20 dBFS: half are followed at -47 dBFS, 4 dB of which are the day's
    assert reference.threshold_db == pytest.approx(-51.0, abs=1.5)


def test_a_corrected_known_good_sheet_takes_its_earlier_place(shop: Shop, tmp_path: Path) -> None:
    """The same sweep of a set with a cell mended counts once, as it was given last."""
    family_sweep(shop, tmp_path, 4, 12)
    family_sweep(shop, tmp_path, 4, 18)
    header = HEAD + "# family: early\n# job: 50\n"
    reference = check([swept(tmp_path, "x.csv", 18, header)], shop=shop, made_utc=MADE).checks[0].bands["fm"].reference
    assert reference.sweeps == 1
    # 18 stations of 25 in steps of 2 dB from -20 dBFS
    assert reference.threshold_db == pytest.approx(-55.0, abs=1.5)


def test_a_sheet_with_nothing_to_compare_says_so(shop: Shop, tmp_path: Path) -> None:
    """The radio's name changed between the sheets of one job: compared, with the question whether it is one radio."""
    check([swept(tmp_path, "s.csv", 10, JOB)], shop=shop, made_utc=MADE)
    other = JOB.replace("Ombra", "Mirrim").replace("11:00", "12:00")
    (change,) = check([swept(tmp_path, "s.csv", 18, other)], shop=shop, made_utc=MADE).changes
    assert change.cautions[0] == "the sheets name two radios, Ombra and Mirrim: is this one radio?"
