"""`survey`: from recordings to surveys in the log: pipeline/surveying.py and pipeline/measuring.py."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pandas as pd
import pytest
from recordings import AM, DEMO, FM_HIGH, FM_LOW, recording

from bandscan.errors import ShopError, UsageError
from bandscan.pipeline import Surveyed, survey
from bandscan.shop import Shop, load, make_shop


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """A new shop."""
    return make_shop(tmp_path / "shop")


def dump(shop: Shop) -> list[str]:
    """Everything in the shop's log, as text."""
    with closing(sqlite3.connect(shop.log_path)) as database:
        return list(database.iterdump())


def said(done: Surveyed) -> list[str]:
    """The lines of what failed."""
    return [str(error) for error in done.errors]


def test_recordings_become_the_files_that_were_promised(tmp_path: Path) -> None:
    """survey.csv, stations.csv, survey.json and occupancy.html, FM and AM together, with nothing logged without a shop."""
    done = survey([DEMO], out=tmp_path / "out")
    assert not done.errors
    assert not done.logged
    assert [path.name for path in done.files] == ["survey.csv", "stations.csv", "survey.json", "occupancy.html"]
    rows = pd.read_csv(tmp_path / "out" / "survey.csv", dtype={"rds_pi": str})
    promised = (
        "recording,started_utc,band,channel_hz,holds,level_dbfs,level_sd_db,noise_dbfs,snr_db,level_dbuv,carrier_error_hz,pilot,"
        "pilot_dev_hz,peak_dev_hz,rds_pi,rds_ps,audio_snr_db,am_depth,am_stereo,remarks"
    )
    assert ",".join(name for name in rows.columns if name in promised.split(",")) == promised
    stations = pd.read_csv(tmp_path / "out" / "stations.csv")
    promised = (
        "band,channel_hz,holds,level_dbfs,level_sd_db,noise_dbfs,snr_db,level_dbuv,pilot,pilot_dev_hz,rds_pi,rds_ps,name,"
        "am_stereo,recordings,remarks"
    )
    assert ",".join(name for name in stations.columns if name in promised.split(",")) == promised
    assert not stations.duplicated(["band", "channel_hz"]).any()
    about = json.loads((tmp_path / "out" / "survey.json").read_text())
    assert [(one["band"], one["recordings"], one["forged"]) for one in about["surveys"]] == [
        ("fm", [FM_LOW, FM_HIGH], True),
        ("am", [AM], True),
    ]
    assert not [path for path in (tmp_path / "out").iterdir() if path.name.startswith(".")]


def test_the_same_recordings_change_nothing_the_second_time(shop: Shop, tmp_path: Path) -> None:
    """The second call measures nothing, leaves the log to the letter as it was, and gives the same files."""
    recording(shop.captures, FM_LOW)
    recording(shop.captures, FM_HIGH)
    names = ("survey.csv", "stations.csv", "survey.json", "occupancy.html")
    measured: list[str] = []
    first = survey([], shop=shop, out=tmp_path / "a", progress=lambda done, of, name: measured.append(name))
    assert len(measured) == 2
    before = dump(shop)
    second = survey([], shop=shop, out=tmp_path / "b", progress=lambda done, of, name: measured.append(name))
    assert len(measured) == 2
    assert dump(shop) == before
    assert second.notes == ["2 of 2 recordings are in the log already and were not measured again"]
    assert first.logged
    assert second.logged
    for name in names:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


def test_a_moved_recording_is_the_same_recording(shop: Shop, tmp_path: Path) -> None:
    """A recording is known by its content, wherever it lies and whatever it is called; a changed one is measured again."""
    survey([recording(tmp_path / "a")], shop=shop)
    moved = survey([recording(tmp_path / "b", name="other")], shop=shop)
    assert moved.notes == ["1 of 1 recordings are in the log already and were not measured again"]
    changed = survey([recording(tmp_path / "c", started="2026-04-14T18:06:00Z")], shop=shop)
    assert changed.notes == []
    assert len(changed.surveys[0].rows["recording"].unique()) == 2


def test_other_settings_measure_again_and_replace(shop: Shop, tmp_path: Path) -> None:
    """The same recording under another rig's name is that rig's; its old survey is gone."""
    path = recording(tmp_path / "a")
    survey([path], shop=shop)
    done = survey([path], shop=shop, rig="attic")
    assert [one.rig for one in done.surveys] == ["attic"]
    assert sum('INSERT INTO "surveys"' in line for line in dump(shop)) == 1


def test_recordings_of_two_calls_within_half_an_hour_are_one_survey(shop: Shop, tmp_path: Path) -> None:
    """What comes later joins what the log has; the figures of the first are not measured again."""
    survey([recording(tmp_path / "a", FM_LOW, started="2026-04-14T18:00:00Z")], shop=shop)
    done = survey([recording(tmp_path / "b", FM_HIGH, started="2026-04-14T18:20:00Z")], shop=shop)
    (one,) = done.surveys
    assert one.id == "fm-20260414T180000Z-bench"
    assert sorted(one.rows["recording"].unique()) == [FM_LOW, FM_HIGH]
    assert len(one.stations) > one.stations["recordings"].eq(1).sum() - 1


def test_two_gains_are_one_survey_at_the_rigs_gain(shop: Shop, tmp_path: Path) -> None:
    """Rows of both gains are kept; levels are those of the gain that shop.toml gives the rig."""
    text = (shop.folder / "shop.toml").read_text()
    (shop.folder / "shop.toml").write_text(text.replace("# gain_db = 28.0", "gain_db = 28.0"))
    louder, softer = recording(tmp_path / "a", name="g28", gain_db=28.0), recording(tmp_path / "a", name="g20", gain_db=20.0)
    (one,) = survey([louder, softer], shop=load(shop.folder)).surveys
    assert one.gain_db == 28.0
    assert sorted(one.rows["recording"].unique()) == ["g20", "g28"]
    assert "recorded at gains of 20.0, 28.0 dB: levels are those at 28.0 dB" in one.cautions


def test_a_gain_that_is_told_with_the_call_is_that_of_recordings_that_do_not_tell_theirs(shop: Shop, tmp_path: Path) -> None:
    """A recording's own gain stays; the others get the call's, so that the two are told apart."""
    told, untold = recording(tmp_path / "a", name="told", gain_db=28.0), recording(tmp_path / "a", name="untold")
    (one,) = survey([told, untold], shop=shop, gain_db=20.0).surveys
    assert "recorded at gains of 20.0, 28.0 dB: levels are those at 28.0 dB" in one.cautions
    (alone,) = survey([untold], gain_db=20.0).surveys
    assert alone.gain_db == 20.0


def test_gaps_in_the_coverage_are_named(tmp_path: Path) -> None:
    """Between 98.9 and 100.3 MHz neither recording covers a channel, and below and above neither: all is said."""
    (one,) = survey([recording(tmp_path, FM_LOW), recording(tmp_path, FM_HIGH)]).surveys
    assert "not covered: 87.9-96.7, 98.9-100.3, 102.5-107.9 MHz" in one.cautions


def test_one_bad_recording_stops_no_other(shop: Shop, tmp_path: Path) -> None:
    """Each failure is one line; the others are surveyed and logged."""
    good = recording(tmp_path / "good")
    (tmp_path / "torn.sigmf-meta").write_text("{")
    (tmp_path / "torn.sigmf-data").write_bytes(b"\x80" * 100)
    outside = recording(tmp_path / "out", name="outside", centre_hz=50_000_000)
    done = survey([tmp_path / "gone", good, tmp_path / "torn.sigmf-meta", outside], shop=shop)
    assert len(done.surveys) == 1
    assert done.logged
    assert len(said(done)) == 3
    assert said(done)[0].startswith(f"{tmp_path / 'gone'}: is not there")
    assert any("torn.sigmf-meta" in line for line in said(done))
    assert any("covers no channel of fm or am in region us: 2400000 S/s around 50000000 Hz" in line for line in said(done))
    assert all("\n" not in line for line in said(done))


def test_workers_give_what_one_process_gives(tmp_path: Path) -> None:
    """Two processes measure to the same figures, and name what fails."""
    paths = [recording(tmp_path / "in", FM_LOW), recording(tmp_path / "in", FM_HIGH)]
    (tmp_path / "in" / "torn.sigmf-meta").write_text("{")
    paths.append(tmp_path / "in" / "torn.sigmf-meta")
    alone, together = survey(paths, workers=1), survey(paths, workers=2)
    assert said(alone) == said(together)
    assert len(said(alone)) == 1
    pd.testing.assert_frame_equal(alone.surveys[0].rows, together.surveys[0].rows)


def test_forged_recordings_are_refused_where_received_ones_are_logged(shop: Shop, tmp_path: Path) -> None:
    """In a real shop forged recordings are refused with the reason; in the demo's shop received ones are."""
    forged, received = recording(tmp_path, name="made", forged=True), recording(tmp_path, name="heard")
    done = survey([forged, received], shop=shop)
    assert [one.forged for one in done.surveys] == [False]
    assert said(done) == [
        f"{forged}: is forged: its signals were made, not received, and this shop logs received ones only;"
        " survey it outside of a shop with --out DIR, or run `bandscan demo`"
    ]
    done = survey([forged, received], shop=make_shop(tmp_path / "demo", demo=True))
    assert [one.forged for one in done.surveys] == [True]
    assert said(done)[0].startswith(f"{received}: is no forged recording, and this is the demo's shop")
    both = survey([forged, received], out=tmp_path / "out")
    assert sorted(one.forged for one in both.surveys) == [False, True]
    assert len({path.parent for path in both.files}) == 2


def test_a_copy_counts_once(tmp_path: Path) -> None:
    """Two files of the same content are one recording, and it is said."""
    first, second = recording(tmp_path / "a"), recording(tmp_path / "b")
    done = survey([tmp_path])
    assert done.notes == [f"{second}: a copy of {first}, counted once"]
    assert done.surveys[0].stations["recordings"].max() == 1


def test_the_rig_is_the_one_asked_for_else_the_recordings_else_the_shops(shop: Shop, tmp_path: Path) -> None:
    """--rig, then what the recording says, then the shop's, then `unnamed`."""
    plain, marked = recording(tmp_path / "a"), recording(tmp_path / "b", rig="own")
    assert [one.rig for one in survey([plain]).surveys] == ["unnamed"]
    assert [one.rig for one in survey([plain], shop=shop).surveys] == ["bench"]
    assert [one.rig for one in survey([marked], shop=shop).surveys] == ["own"]
    assert [one.rig for one in survey([marked], shop=shop, rig="asked").surveys] == ["asked"]


def test_two_surveys_of_a_band_get_a_folder_each(tmp_path: Path) -> None:
    """Surveys that cannot stand in one table go into folders named after them."""
    paths = [recording(tmp_path / "in", name=day, started=f"2026-04-{day}T18:00:00Z") for day in ("14", "15")]
    done = survey(paths, out=tmp_path / "out")
    assert sorted({path.parent.name for path in done.files}) == ["fm-20260414T180000Z-unnamed", "fm-20260415T180000Z-unnamed"]


def test_the_shops_names_stand_in_the_stations(shop: Shop, tmp_path: Path) -> None:
    """names.csv reaches the stations; a wrong one stops the command before anything is measured."""
    shop.names_path.write_text("band,channel_hz,name\nfm,97700000,Hill Radio\n")
    (one,) = survey([recording(tmp_path)], shop=shop).surveys
    named = one.stations.dropna(subset="name")
    assert named[["channel_hz", "name"]].to_numpy().tolist() == [[97_700_000, "Hill Radio"]]
    shop.names_path.write_text("band,channel_hz,name\ntv,97700000,Hill Radio\n")
    with pytest.raises(ShopError, match="row 2 band 'tv'"):
        survey([tmp_path], shop=shop)


def test_nothing_to_survey_is_said(shop: Shop) -> None:
    """Without paths the shop's captures are meant; without a shop there is nothing, and an empty folder says so."""
    with pytest.raises(UsageError, match=r"survey needs recordings; accepted: files or folders"):
        survey([])
    done = survey([], shop=shop)
    assert not done.surveys
    assert said(done)[0].startswith(f"{shop.captures}: holds no recording")


def test_a_log_that_fails_costs_no_results(shop: Shop, tmp_path: Path) -> None:
    """Where the log cannot be used, the survey is given all the same and the failure is one line."""
    shop.log_path.write_text("no database " * 1000)
    done = survey([recording(tmp_path)], shop=shop, out=tmp_path / "out")
    assert len(done.surveys) == 1
    assert (tmp_path / "out" / "stations.csv").is_file()
    assert not done.logged
    assert said(done) == [f"{shop.log_path}: is no log of bandscan; move the file away, or bring back a copy of the log"]


def test_a_folder_that_cannot_be_written_is_one_line(tmp_path: Path) -> None:
    """A file in the way of --out is named with what to do; the survey is given all the same."""
    (tmp_path / "out").write_text("")
    done = survey([recording(tmp_path / "in")], out=tmp_path / "out")
    assert len(done.surveys) == 1
    assert done.files == []
    assert re.fullmatch(r".*out.survey\.csv: cannot be written: .+; choose another folder with --out", said(done)[0])
    assert len(said(done)) == 1
