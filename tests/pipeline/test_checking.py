"""`baseline`, `sheet`, `check` and `log`: pipeline/listing.py, checking.py, known.py and looking.py."""

from __future__ import annotations

import json
import shutil
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from made import all_stations, measured

from bandscan import tables
from bandscan.errors import BaselineError, InputError, SheetError, UsageError
from bandscan.model import Survey
from bandscan.pipeline import baseline, check, contents, newest_sheet, reprint, sheet
from bandscan.pipeline.known import spoken_for
from bandscan.plans import plan_for
from bandscan.radio import Limits, judge, read_sheet
from bandscan.shop import Shop, load, make_shop
from bandscan.store import Log
from bandscan.survey import gather

CHANNELS = plan_for("us", "fm").channels_hz
# 25 stations in an order that jumps about the band
STRONGEST_FIRST = [CHANNELS[::4][7 * number % 25] for number in range(25)]
FILES = ["check.json", "check.csv", "check.html", "owner.html", "record.html", "list-fm.html"]
CHANGED = ["before-after.json", "before-after.csv", "before-after.html"]
MADE = "2026-03-04T12:00:00Z"
HEAD = "# radio: Ombra\n# swept: 2026-03-04 11:00\n# antenna: wire\n# dial: digits\n"
COLUMNS = "band,dial,grade,lamp,pad_db,sweep,name,remark\n"


def keep_surveys(
    shop: Shop,
    rig: str = "bench",
    days: Sequence[int] = (1, 2, 3),
    weaker_db: float = 0.0,
    silent: Sequence[int] = (),
    noise_db: float = -80.0,
) -> None:
    """Surveys of a made-up FM band in the shop's log: 25 stations from -20 dBFS down in steps of 2 dB, all over the band.

    `silent` are ranks of stations that are off the air.
    """
    with Log(shop.log_path) as log:
        for day in days:
            started = f"2026-03-{day:02d}T10:00:00Z"
            one = measured(f"{rig}{day}", started, rig=rig, digest=f"{rig}{day}")
            stations = {hz: -20.0 - 2 * number - weaker_db for number, hz in enumerate(STRONGEST_FIRST) if number not in silent}
            readings = pd.DataFrame({"channel_hz": CHANNELS}).assign(
                **dict.fromkeys([name for name in tables.READINGS.names if name != "channel_hz"])
            )
            readings = readings.assign(
                recording=one.recording, started_utc=started, band="fm", noise_dbfs=noise_db, overload_share=0.0
            )
            readings["level_dbfs"] = readings["channel_hz"].map(stations)
            readings["pilot"] = readings["level_dbfs"].notna()
            one = type(one)(**{**vars(one), "readings": tables.check(readings, tables.READINGS)})
            log.keep_measured(one.digest, "s", Path("x"), [one], complete=True, now_utc=MADE)
            with log.transaction():
                for survey in gather([one], decide=decide):
                    log.put_survey(survey, [one], "0.1.0", MADE)


def decide(members: Sequence[object], steps: Sequence[object] = ()) -> pd.DataFrame:
    """What has a level is a station, the rest is empty."""
    rows = all_stations(members)  # type: ignore[arg-type]
    rows["snr_db"] = rows["level_dbfs"] - rows["noise_dbfs"]
    return rows.assign(holds=["station" if level == level else "empty" for level in rows["level_dbfs"]])


@pytest.fixture(scope="module")
def stocked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with three surveys, made once."""
    made = make_shop(tmp_path_factory.mktemp("stock") / "shop")
    keep_surveys(made)
    return made.folder


@pytest.fixture
def shop(stocked: Path, tmp_path: Path) -> Shop:
    """A shop of the test's own with three surveys."""
    return load(shutil.copytree(stocked, tmp_path / "shop"))


def swept(folder: Path, name: str, heard: int, header: str = HEAD) -> Path:
    """The sheet of a digital set that follows the strongest `heard` stations."""
    rows = "".join(f"fm,{hz / 1e6:.1f},3,on,,1,,\n" for hz in sorted(STRONGEST_FIRST[:heard]))
    path = folder / name
    path.write_text(header + COLUMNS + rows)
    return path


def test_the_logs_surveys_become_files_a_page_and_a_list_in_the_log(shop: Shop) -> None:
    """baseline.csv, baseline.json, hours.csv and the page lie in the shop's reports; the log keeps the list."""
    done = baseline(shop, made_utc=MADE)
    (one,) = done.baselines
    assert (one.grade, len(one.stations), one.surveys, one.rig) == ("A", 25, 3, "bench")
    folder = shop.reports / "baseline" / "fm"
    assert done.files == [folder / name for name in ("baseline.csv", "baseline.json", "baseline.html", "hours.csv")]
    with Log(shop.log_path) as log:
        assert log.latest_list("fm", "bench") == ((folder / "baseline.csv").read_text(), (folder / "baseline.json").read_text())


def test_another_rig_never_changes_a_list(shop: Shop) -> None:
    """Surveys of a second rig leave the first one's list to the letter as it was, and make one of their own."""
    before = baseline(shop, made_utc=MADE).files[0].read_bytes()
    keep_surveys(shop, "attic", weaker_db=20.0)
    after = baseline(shop, made_utc=MADE).files[0].read_bytes()
    assert before == after
    (attic,) = baseline(shop, rig="attic", made_utc=MADE).baselines
    assert attic.stations["level_db"].max() == -40.0


def test_a_list_that_did_not_change_still_grows_older(shop: Shop) -> None:
    """The log keeps the old list; the age of its newest survey is told by today, not by the day it was made."""
    baseline(shop, made_utc=MADE)
    notes = baseline(shop, made_utc="2026-10-14T12:00:00Z").notes
    (told,) = [note for note in notes if note.startswith("FM list: newest survey")]
    assert int(told.split()[4]) > 220


def test_which_rig_is_meant_must_be_clear(tmp_path: Path) -> None:
    """The shop's rig, else the only one; of several others one must be named, and a wrong name lists what there is."""
    shop = make_shop(tmp_path / "shop")
    with pytest.raises(BaselineError, match=r"^no surveys in the log; run `bandscan survey` on recordings first"):
        baseline(shop)
    keep_surveys(shop, "attic", days=[1])
    notes = baseline(shop, made_utc=MADE).notes
    assert notes == ["rig attic: the shop's own, bench, has no survey in the log", "FM list: newest survey 3 days old"]
    keep_surveys(shop, "cellar", days=[1])
    with pytest.raises(
        BaselineError, match=r"surveys of several rigs in the log; accepted: attic, cellar; name one with --rig"
    ):
        baseline(shop)
    with pytest.raises(BaselineError, match=r"no surveys of rig 'loft' in the log; accepted: attic, cellar"):
        baseline(shop, rig="loft")
    with pytest.raises(BaselineError, match="no surveys of am in the log"):
        baseline(shop, band="am")
    with pytest.raises(UsageError, match="there is no shop here; make one with"):
        baseline(None)


def test_an_empty_sheet_never_takes_the_place_of_a_filled_one(shop: Shop) -> None:
    """`sheet` writes a blind and an open sheet; the second time both get a number, and the newest is what `check` takes."""
    baseline(shop)
    first = sheet(shop)
    assert [path.name for path in first.files] == ["sheet.csv", "open-sheet.csv", "sheet.html", "open-sheet.html"]
    unfilled = check([first.files[0]], shop=shop)
    assert (unfilled.checks, contents(shop)["checks"]) == ([], [])
    assert str(unfilled.errors[0]).startswith(
        f"{first.files[0]}: no row is filled in; accepted: a row for each stop on the dial"
    )
    first.files[0].write_text("filled in")
    second = sheet(shop)
    assert [path.name for path in second.files][:2] == ["sheet-2.csv", "open-sheet-2.csv"]
    assert first.files[0].read_text() == "filled in"
    assert newest_sheet(shop) == second.files[0]


def test_a_sheet_is_judged_written_and_kept(shop: Shop, tmp_path: Path) -> None:
    """Figures, table and the three pages lie under the job's name in the reports; the log has the check."""
    baseline(shop, made_utc=MADE)
    named = replace(shop, name="Quarrel Lane Radio", place="Ashby Cross")
    done = check([swept(tmp_path, "s.csv", 24, HEAD + "# job: 17/b\n")], shop=named, made_utc=MADE)
    assert not done.errors
    assert done.logged == 1
    assert done.files == [shop.reports / "17-b" / name for name in FILES]
    told = json.loads(done.files[0].read_text())
    assert told["bands"]["fm"]["counted"] == 24
    assert told["bands"]["fm"]["reference"]["basis"] == "assumed"
    assert told["version"]
    assert told["shop"] == "Quarrel Lane Radio, Ashby Cross"
    assert "Quarrel Lane Radio, Ashby Cross" in done.files[3].read_text()
    assert [row[0] for row in contents(shop)["checks"]] == ["17/b"]


def test_a_check_is_reprinted_to_the_letter_whatever_came_after(shop: Shop, tmp_path: Path) -> None:
    """With the list replaced, the shop's limits changed and the sheet gone, a check as issued is the same, page and all."""
    baseline(shop, made_utc=MADE)
    path = swept(tmp_path, "s.csv", 20, HEAD + "# job: 17\n")
    done = check([path], shop=shop, made_utc=MADE)
    before = {name.name: name.read_bytes() for name in done.files}
    sheet_text = path.read_bytes()
    path.unlink()
    keep_surveys(shop, days=[5, 6], weaker_db=6.0)
    baseline(shop)
    (shop.folder / "shop.toml").write_text("[limits]\nlook_db = 1.0\nfail_db = 2.0\n")
    issued, files = reprint(load(shop.folder), "17", tmp_path / "again")
    assert len(issued) == 1
    assert {name.name: name.read_bytes() for name in files} == {**before, "sheet.csv": sheet_text}


def test_a_job_that_is_not_there_lists_those_that_are(shop: Shop, tmp_path: Path) -> None:
    """A mistyped job is answered with the jobs of the log."""
    with pytest.raises(InputError, match=r"no check of job '18' in the log; accepted: none yet"):
        reprint(shop, "18")
    baseline(shop)
    check([swept(tmp_path, "s.csv", 20, HEAD + "# job: 17\n")], shop=shop)
    with pytest.raises(InputError, match=r"no check of job '18' in the log; accepted: 17"):
        reprint(shop, "18")


def families(shop: Shop) -> Shop:
    """The shop with two families."""
    path = shop.folder / "shop.toml"
    path.write_text(path.read_text() + '\n[families.early]\ndial = "pointer"\nif_khz = 262.5\n[families.late]\n')
    return load(shop.folder)


def reference(shop: Shop, tmp_path: Path, family: str, job: str = "99") -> dict[str, object]:
    """The FM reference that a radio of this family is judged by."""
    header = HEAD.replace("Ombra", f"Radio {job}") + f"# family: {family}\n# job: {job}\n"
    done = check([swept(tmp_path, "x.csv", 20, header)], shop=shop, made_utc=MADE)
    found: dict[str, object] = json.loads(done.files[0].read_text())["bands"]["fm"]["reference"]
    return found


def test_references_come_in_the_order_that_was_promised(shop: Shop, tmp_path: Path) -> None:
    """Known-good sets of the family; else of another with a wider spread; else assumed. A radio does not measure itself."""
    shop = families(shop)
    baseline(shop, made_utc=MADE)
    assert reference(shop, tmp_path, "early")["basis"] == "assumed"
    good = HEAD.replace("Ombra", "Good one") + "# family: early\n# job: 1\n"
    done = check([swept(tmp_path, "good.csv", 18, good)], shop=shop, known_good=True, made_utc=MADE)
    assert done.notes == [
        "FM: kept as a known-good set of family early; one sweep counts with a spread of 3 dB:"
        " sweep it once more on another day, which makes the measure surer"
    ]
    # it is the measure itself: its page asks for no other
    assert done.checks[0].bands["fm"].do_next.startswith("sweep it once more on another day")
    same, other = reference(shop, tmp_path, "early"), reference(shop, tmp_path, "late")
    assert (same["basis"], other["basis"]) == ("known-good", "other family")
    # 18 stations of 25 in steps of 2 dB from -20 dBFS: half are followed between -54 and -56 dBFS
    assert same["threshold_db"] == pytest.approx(-55.0, abs=1.5)
    assert same["sets"] == 1
    assert float(str(other["sd_db"])) > float(str(same["sd_db"])) > 2.5
    again = check([swept(tmp_path, "good.csv", 18, good)], shop=shop, made_utc=MADE)
    assert again.checks[0].bands["fm"].reference.basis == "assumed"
    check(
        [swept(tmp_path, "two.csv", 17, good.replace("job: 1", "job: 2").replace("Good", "Fine"))], shop=shop, known_good=True
    )
    assert reference(shop, tmp_path, "early")["sets"] == 2


def test_known_good_thresholds_go_with_a_list_of_another_gain(shop: Shop, tmp_path: Path) -> None:
    """Levels and noise of the surveys since stand 9 dB higher: so does the threshold in the new list, and it is said."""
    shop = families(shop)
    baseline(shop, made_utc=MADE)
    good = HEAD.replace("Ombra", "Good one") + "# family: early\n# job: 1\n"
    check([swept(tmp_path, "good.csv", 18, good)], shop=shop, known_good=True, made_utc=MADE)
    before = reference(shop, tmp_path, "early")
    keep_surveys(shop, days=range(11, 21), weaker_db=-9.0, noise_db=-71.0)
    baseline(shop, made_utc="2026-03-21T12:00:00Z")
    done = check([swept(tmp_path, "x.csv", 18, HEAD + "# family: early\n# job: 9\n")], shop=shop, made_utc=MADE)
    after = done.checks[0].bands["fm"].reference
    assert after.threshold_db == pytest.approx(float(str(before["threshold_db"])) + 9.0, abs=0.2)
    assert after.sd_db == pytest.approx(float(str(before["sd_db"])), abs=0.1)
    assert any("gain is another, and their thresholds are moved" in caution for caution in done.checks[0].cautions)


def test_a_known_good_set_that_heard_everything_is_no_measure(shop: Shop, tmp_path: Path) -> None:
    """A threshold that is bounded on one side only cannot serve, and what to do is said."""
    baseline(shop, made_utc=MADE)
    done = check([swept(tmp_path, "s.csv", 25)], shop=shop, known_good=True, made_utc=MADE)
    assert done.notes == [
        "FM: cannot serve as a measure, its threshold is bounded on one side only;"
        " sweep it again through a 10 or 20 dB attenuator"
    ]
    assert reference(shop, tmp_path, "early")["basis"] == "assumed"
    silent = swept(tmp_path, "none.csv", 0, HEAD + "# bands: fm\n# job: 3\n")
    said = check([silent], shop=shop, known_good=True, made_utc=MADE).notes
    assert "it heard too little" in said[0]
    assert "attenuator" not in said[0]


def test_two_passes_under_one_name_are_no_measure(shop: Shop, tmp_path: Path) -> None:
    """Thirty stops without a reading where the list has 25 stations: said with what to write, and kept as no measure."""
    baseline(shop, made_utc=MADE)
    (tmp_path / "s.csv").write_text(HEAD + COLUMNS + "fm,,3,,,,,\n" * 30)
    (said,) = check([tmp_path / "s.csv"], shop=shop, known_good=True, made_utc=MADE).notes
    assert said.startswith(
        "FM: cannot serve as a measure: 30 stops of sweep 1 are counted without a reading and the FM list has 25"
    )
    assert "give each pass along the dial a name of its own in `sweep`" in said
    assert reference(shop, tmp_path, "early")["basis"] == "assumed"


def test_am_through_an_attenuator_is_no_measure(shop: Shop) -> None:
    """A known-good set's AM rows through a pad measure nothing, and more gain for the list would not help: said as it is."""
    sheet = read_sheet("band,dial,grade,pad_db\nam,600,2,10\nam,900,3,10\n", "s.csv")
    judged = judge(sheet, {}, {}, Limits(), MADE, "0")
    with Log(shop.log_path) as log:
        assert spoken_for(judged, log, {}) == [
            "AM: cannot serve as a measure, it was swept through an attenuator; sweep AM without it"
        ]


def test_a_family_tells_what_the_sheet_leaves_out(shop: Shop, tmp_path: Path) -> None:
    """Dial, raster and IF come from shop.toml; what the sheet says itself stays; an unknown family is a caution."""
    shop = families(shop)
    baseline(shop, made_utc=MADE)

    def points(header: str) -> int:
        """At how many places the pointer's error is given: none for a set with digits."""
        return len(check([swept(tmp_path, "a.csv", 20, header)], shop=shop).checks[0].bands["fm"].dial_points)

    # readings that stand on stations exactly look like digits, unless the family has a pointer
    assert points("# family: late\n") == 0
    assert points("# family: early\n") == 3
    assert points("# family: early\n# dial: digits\n") == 0
    strange = check([swept(tmp_path, "c.csv", 20, "# family: lost\n")], shop=shop).checks[0]
    assert "family lost is not in the shop's shop.toml (there: early, late)" in strange.cautions


def test_limits_are_those_of_the_shop(shop: Shop, tmp_path: Path) -> None:
    """The same sheet falls short in a shop that asks for more than one that asks for less."""
    baseline(shop, made_utc=MADE)
    path = swept(tmp_path, "s.csv", 8)
    settings = shop.folder / "shop.toml"
    verdicts = {}
    for limit in (1.0, 50.0):
        text = settings.read_text()
        settings.write_text(
            text.replace(f"look_db = {load(shop.folder).look_db}", f"look_db = {limit}").replace(
                "fail_db = 10.0", "fail_db = 60.0"
            )
        )
        verdicts[limit] = check([path], shop=load(shop.folder), made_utc=MADE).checks[0].bands["fm"].verdict
    assert verdicts[1.0] == "falls short"
    assert verdicts[50.0] != "falls short"


def test_a_list_from_a_file_needs_no_shop(shop: Shop, tmp_path: Path) -> None:
    """Without a shop a named list is judged against, nothing is kept, and files are written where asked only."""
    files = baseline(shop, made_utc=MADE).files
    done = check([swept(tmp_path, "s.csv", 20)], lists=[files[0]], made_utc=MADE)
    assert (len(done.checks), done.files, done.logged) == (1, [], 0)
    done = check([swept(tmp_path, "s.csv", 20)], lists=[files[0]], out=tmp_path / "out", made_utc=MADE)
    assert [path.name for path in done.files] == FILES
    (files[0].parent / "baseline.json").unlink()
    alone = check([swept(tmp_path, "s.csv", 20)], lists=[files[0]], made_utc=MADE)
    assert any("no baseline.json beside the list" in caution for caution in alone.checks[0].cautions)


def test_a_list_that_cannot_be_used_is_one_line(shop: Shop, tmp_path: Path) -> None:
    """A missing file, a file of something else and two lists of one band are refused."""
    path = swept(tmp_path, "s.csv", 20)
    with pytest.raises(BaselineError, match=r"gone\.csv: is not there; accepted: the baseline\.csv of `bandscan baseline`"):
        check([path], lists=[tmp_path / "gone.csv"])
    with pytest.raises(BaselineError, match=r"s\.csv: not a table of comma-separated values"):
        check([path], lists=[path])
    file = baseline(shop).files[0]
    with pytest.raises(BaselineError, match=r"a second list of fm; accepted: one for each band"):
        check([path], lists=[file, file])


def _of_families(shop: Shop, toml: str) -> Shop:
    """The shop with families."""
    settings = shop.folder / "shop.toml"
    settings.write_text(settings.read_text() + toml)
    return load(shop.folder)


def test_a_family_with_am_numerals_needs_no_line_in_the_sheet(shop: Shop, tmp_path: Path) -> None:
    """Its rows are read as those of a sheet that says `numerals: am` itself, and it is not asked what its dial is."""
    baseline(shop, made_utc=MADE)
    shop = _of_families(shop, '[families.conv]\nnumerals = "am"\ndial = "pointer"\n')
    plan = plan_for("us", "fm")
    share = [(hz - plan.first_hz) / (plan.last_hz - plan.first_hz) for hz in sorted(STRONGEST_FIRST[:16])]
    rows = COLUMNS + "".join(f"fm,{540 + 1060 * one:.0f},3,on,,1,,\n" for one in share)
    head = "# job: 1\n# swept: 2026-03-04 11:00\n# antenna: wire\n"
    (tmp_path / "family.csv").write_text(f"{head}# family: conv\n{rows}")
    (tmp_path / "own.csv").write_text(f"{head}# family: conv\n# numerals: am\n# dial: pointer\n{rows}")
    done = check([tmp_path / "family.csv"], shop=shop, made_utc=MADE)
    own = check([tmp_path / "own.csv"], shop=shop, made_utc=MADE)
    assert not done.errors
    assert done.checks[0].bands == own.checks[0].bands
    heard = {station.channel_hz for station in done.checks[0].bands["fm"].stations if station.heard}
    assert len(heard & set(STRONGEST_FIRST[:16])) >= 14
    assert not [one for one in done.checks[0].cautions if one.startswith("the sheet does not say")]


def test_totals_are_judged_without_a_sheet(shop: Shop) -> None:
    """Bare totals go the same way."""
    baseline(shop, made_utc=MADE)
    done = check([], totals={"fm": 14}, shop=shop, made_utc=MADE)
    assert done.checks[0].bands["fm"].counted == 14
    assert done.files[0].parent.name == "unnamed"


def test_one_bad_sheet_stops_no_other_and_each_has_its_folder(shop: Shop, tmp_path: Path) -> None:
    """Of three sheets of a job two are judged, each into a folder named after its file; the bad one is one line."""
    baseline(shop)
    header = HEAD + "# job: 17\n"
    before, after = swept(tmp_path, "before.csv", 10, header), swept(tmp_path, "after.csv", 20, header)
    (tmp_path / "bad.csv").write_text(header + COLUMNS + "fm,98.1,7,,,,,\n")
    done = check([before, tmp_path / "bad.csv", after, tmp_path / "gone.csv"], shop=shop)
    folders = [path.parent.relative_to(shop.reports).as_posix() for path in done.files]
    assert list(dict.fromkeys(folders)) == ["17/before", "17/after"]
    assert [path.name for path in done.files] == [*FILES, *FILES, *CHANGED]
    assert len(done.errors) == 2
    assert all(isinstance(error, SheetError) for error in done.errors)
    assert "bad.csv: 1 place cannot be understood: row 7 grade '7'" in str(done.errors[0])
    assert str(done.errors[1]) == f"{tmp_path / 'gone.csv'}: is not there; accepted: a count sheet, CSV"


def test_a_recording_or_a_folder_in_a_sheets_place_is_one_line_that_says_so(shop: Shop, tmp_path: Path) -> None:
    """None of its bytes reaches the terminal."""
    recording = tmp_path / "band.wav"
    recording.write_bytes(b"RIFF\x00\x01WAVEfmt " + bytes(range(256)))
    said = [str(error) for error in check([recording, tmp_path], shop=shop).errors]
    assert said == [
        f"{recording}: is no text, so no count sheet; accepted: CSV text; a recording is for `bandscan survey`",
        f"{tmp_path}: is a folder, no count sheet; accepted: CSV text; name the count sheet's file in it",
    ]


def test_sheets_are_judged_in_the_order_of_sweeping(shop: Shop, tmp_path: Path) -> None:
    """Whatever order they are named in; one that does not tell when it was swept comes last."""
    baseline(shop)
    late, undated, early = (
        swept(tmp_path, f"{job}.csv", 20, f"# job: {job}\n{when}")
        for job, when in (("late", "# swept: 2026-03-04 12:00\n"), ("undated", ""), ("early", "# swept: 2026-03-04 11:00\n"))
    )
    done = check([late, undated, early], shop=shop)
    assert [one.job for one in done.checks] == ["early", "late", "undated"]


def test_sheets_without_a_job_are_said_to_have_no_before_and_after(shop: Shop, tmp_path: Path) -> None:
    """Two of them in one call: one note. One alone, or those of a job, are told nothing."""
    baseline(shop)
    one, two = (swept(tmp_path, f"{name}.csv", 20, HEAD.replace("03-04", f"03-0{name}")) for name in (3, 4))
    job = swept(tmp_path, "job.csv", 20, HEAD + "# job: 17\n")
    said = "2 sheets have no `# job:`, so there is no before and after of them: give those of one radio the same job"
    assert check([one, two, job], shop=shop).notes == [said]
    assert check([one, job], shop=shop).notes == []


def test_sheets_of_windows_spreadsheets_are_read(shop: Shop, tmp_path: Path) -> None:
    """A sheet saved as UTF-16 or in the Windows code page is understood like one in UTF-8."""
    baseline(shop)
    text = HEAD.replace("Ombra", "Größe") + COLUMNS + "fm,88.1,3,,,,,\n"
    for encoding in ("utf-8", "utf-16", "cp1252", "utf-8-sig"):
        (tmp_path / "s.csv").write_bytes(text.encode(encoding))
        assert check([tmp_path / "s.csv"], shop=shop).checks[0].radio == "Größe"
    (tmp_path / "s.csv").write_bytes(b"x" * 5_000_001)
    assert "5000001 bytes are no count sheet" in str(check([tmp_path / "s.csv"], shop=shop).errors[0])


def test_a_sheet_of_another_rig_cannot_be_told(shop: Shop, tmp_path: Path) -> None:
    """A sheet that names a rig without a list is judged `cannot tell`, with the reason; a listed rig's gets that list."""
    baseline(shop)
    keep_surveys(shop, "attic", weaker_db=20.0)
    baseline(shop, rig="attic")
    foreign = check([swept(tmp_path, "s.csv", 20, HEAD + "# rig: loft\n")], shop=shop).checks[0].bands["fm"]
    assert foreign.verdict == "cannot tell"
    assert "rig loft" in foreign.why
    own = check([swept(tmp_path, "s.csv", 20, HEAD + "# rig: attic\n")], shop=shop).checks[0]
    assert own.baseline["fm"]["rig"] == "attic"


def test_an_antenna_that_nothing_in_the_rig_answers_to_is_cautioned(shop: Shop, tmp_path: Path) -> None:
    """The rig `bench` knows no wire; a bench wire, a rig that the sheet names, and no antenna are not asked about."""
    baseline(shop)
    what = "the sheet's antenna is wire, the FM list is of rig bench"
    said = f"{what}: judged as if they were the same (`# rig:` in the sheet tells)"
    asked = []
    for number, header in enumerate((HEAD, HEAD.replace("wire", "bench wire"), f"{HEAD}# rig: bench\n", "# radio: Ombra\n")):
        (one,) = check([swept(tmp_path, f"{number}.csv", 20, header)], shop=shop, made_utc=MADE).checks
        asked.append([caution for caution in one.cautions if "antenna is" in caution])
    assert asked == [[said], [], [], []]


def test_what_was_judged_against_made_signals_is_not_logged_in_a_real_shop(shop: Shop, tmp_path: Path) -> None:
    """A forged list named by file gives its verdict, and the check stays out of the log."""
    file = baseline(shop, made_utc=MADE).files[0]
    about = file.with_suffix(".json")
    about.write_text(about.read_text().replace('"forged": false', '"forged": true'))
    done = check([swept(tmp_path, "s.csv", 20)], shop=shop, lists=[file])
    assert done.notes == ["job unnamed is not logged: it was judged against made signals, not received ones"]
    assert contents(shop)["checks"] == []


def test_a_broken_log_stops_only_what_needs_it(shop: Shop, tmp_path: Path) -> None:
    """With the log damaged, a sheet is judged against a list that was named; without one it is said that there is none."""
    file = baseline(shop, made_utc=MADE).files[0]
    shop.log_path.write_text("no database " * 1000)
    path = swept(tmp_path, "s.csv", 20)
    done = check([path], shop=shop, lists=[file])
    assert (len(done.checks), done.logged) == (1, 0)
    assert [str(error) for error in done.errors] == [
        f"{shop.log_path}: is no log of bandscan; move the file away, or bring back a copy of the log"
    ]
    done = check([path], shop=shop)
    assert str(done.errors[1]) == f"{path}: no reference list without the log; name one with --baseline"


def test_nothing_to_judge_is_said(shop: Shop, tmp_path: Path) -> None:
    """No sheet, no list, no shop: each is named with what to do."""
    with pytest.raises(UsageError, match=r"check needs a count sheet or totals; accepted: SHEET\.csv, or --count fm=31"):
        check([], shop=shop)
    path = swept(tmp_path, "s.csv", 20)
    with pytest.raises(UsageError, match="there is no shop here, so no list to judge against; name one with --baseline"):
        check([path])
    assert str(check([path], shop=shop).errors[0]).startswith("no reference list in the log; run `bandscan survey`")
    with pytest.raises(UsageError, match="a known-good set is kept in a shop's log"):
        check([path], lists=[path], known_good=True)
    with pytest.raises(BaselineError, match="no reference list in the log; run `bandscan baseline` first"):
        sheet(shop)
    with pytest.raises(UsageError, match="there is no shop here; name a list with --baseline"):
        sheet(None)


def test_surveys_are_what_a_list_is_made_of(shop: Shop) -> None:
    """The log gives surveys back as it got them: the made-up band has 25 stations in each."""
    with Log(shop.log_path) as log:
        found: list[Survey] = log.surveys("fm", "bench", "us")
    assert [int((one.stations["holds"] == "station").sum()) for one in found] == [25, 25, 25]
