"""Whole captures of forged air through the stand-in: the station list is the truth's, kept or not kept, FM and AM."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pandas as pd
import pytest
from device.conftest import Bench
from device.forged import AM, AM_CENTRES_HZ, FM, FM_PHANTOMS_HZ, PPM, forge_am
from recordings import recording

from bandscan.pipeline import survey

SETTLE = "--settle 20"


def played(bench: Bench, air: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The stand-in plays this air."""
    monkeypatch.setenv("STANDIN_BAND", str(air))


def table(path: Path) -> pd.DataFrame:
    """One of a survey's tables."""
    return pd.read_csv(path, dtype={"rds_pi": str})


def test_fm_as_it_is(bench: Bench, air: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two gains and three passes give the forged stations and no others, their levels and carriers, the clock's +57 ppm, and
    the front end's products as phantoms; kept recordings surveyed anew give the same figures to the last digit."""
    played(bench, air, monkeypatch)
    assert bench.type(f"capture --band fm --gain 28 --dwell 0.3 {SETTLE} --keep iq --out pages") == 0
    assert "FM from rig bench: 13 steps, 3 passes at 28.0 dB and 19.7 dB: about" in bench.err
    stations = table(bench.shop.folder / "pages" / "stations.csv").set_index("channel_hz")
    assert sorted(stations.index[stations["holds"] == "station"]) == [one.channel_hz for one in FM]
    assert list(stations.loc[list(FM_PHANTOMS_HZ), "holds"]) == ["phantom", "phantom"]
    rows = table(bench.shop.folder / "pages" / "survey.csv")
    for one in FM:
        # the promise of the measuring issue: 0.3 dB and three times the stated uncertainty; the front end bends strong ones
        level = stations.loc[one.channel_hz]
        bent_db = 0.6 if one.level_dbfs > -25 else 0.0
        assert abs(level["level_dbfs"] - one.level_dbfs) <= 0.3 + bent_db + 3 * level["level_sd_db"]
        carriers = rows.loc[(rows["channel_hz"] == one.channel_hz), "carrier_error_hz"]
        assert abs(carriers.median() - one.carrier_error_hz) <= 1200  # what clock and stations share out: 2 kHz / sqrt(3)
        assert level["pilot"] == (one.pilot_dev_hz > 0)
    (about,) = json.loads((bench.shop.folder / "pages" / "survey.json").read_text())["surveys"]
    assert abs(about["clock_ppm"] - PPM) <= 3 * about["clock_sd_ppm"]
    assert about["gain_db"] == 28.0
    assert "clock +" in " ".join(about["cautions"])

    assert len(bench.recordings()) == len(bench.logged()) == 80
    again = survey([bench.shop.captures], out=bench.shop.folder / "again")
    assert not again.errors
    for name in ("survey.csv", "stations.csv", "survey.json"):
        assert (bench.shop.folder / "again" / name).read_bytes() == (bench.shop.folder / "pages" / name).read_bytes()
    # and the shop knows them as measured
    known = survey([], shop=bench.shop)
    assert known.notes == ["80 of 80 recordings are in the log already and were not measured again"]


def test_the_figures_do_not_depend_on_what_is_kept(bench: Bench, air: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same air with nothing kept and with the IQ kept: every figure is the same."""
    played(bench, air, monkeypatch)
    found = []
    for keep in ("none", "iq"):
        assert bench.type(f"capture --band fm --gain 28 --quick --dwell 0.2 {SETTLE} --keep {keep} --out {keep}") == 0
        rows = table(bench.shop.folder / keep / "survey.csv")
        found.append(rows.drop(columns=["recording", "started_utc"]))
        assert len(bench.recordings()) == (13 if keep == "iq" else 0)
    pd.testing.assert_frame_equal(found[0], found[1], check_exact=True)


def test_what_a_kept_recording_tells(bench: Bench) -> None:
    """Time, gain, correction, device, rig, survey and hash stand in SigMF's own fields and in one namespace."""
    assert bench.type("capture --band fm --gain 28 --quick --dwell 0.06 --settle 0 --keep iq --ppm 3 --rig loft") == 0
    meta = json.loads(bench.recordings()[0].read_text())
    told, (first,) = meta["global"], meta["captures"]
    survey_id = told["bandscan:survey"]
    assert bench.recordings()[0].name == f"fm-{survey_id}-001-088600k.sigmf-meta"
    assert {name: told[name] for name in told if name.startswith("bandscan:")} == {
        "bandscan:forged": False,
        "bandscan:gain_db": 28.0,
        "bandscan:ppm": 3.0,
        "bandscan:rig": "loft",
        "bandscan:survey": survey_id,
    }
    assert told["core:hw"] == "RTL2832U with R820T, serial 00000001"
    assert len(told["core:sha512"]) == 128
    assert first["core:frequency"] == 88_600_000
    assert abs((pd.Timestamp(first["core:datetime"]) - pd.Timestamp.now("UTC")).total_seconds()) < 120


def test_the_oldest_iq_goes(bench: Bench) -> None:
    """keep_gb: before new recordings come, the oldest that are in a survey go; their figures stay, and so do recordings that
    came from elsewhere, though older and surveyed, and such as are in no survey yet."""
    settings = bench.shop.folder / "shop.toml"
    settings.write_text(settings.read_text().replace("# keep_gb = 20", "keep_gb = 0.0084"))
    visitor = recording(bench.shop.captures / "visitor", name="fm-20200101T000000Z-001-097800k")  # 2.4 MB
    assert bench.type("survey") == 0
    unsurveyed = bench.shop.captures / "lone" / "fm-20200101T000000Z-002-088600k.sigmf-meta"
    unsurveyed.parent.mkdir()
    unsurveyed.write_text(json.dumps({"global": {"core:recorder": "bandscan 0"}}))
    unsurveyed.with_suffix(".sigmf-data").write_bytes(bytes(1000))
    assert bench.capture("--quick --keep iq") == 0
    first = list(bench.shop.captures.glob("fm-*/*.sigmf-meta"))
    assert len(first) == 13  # of 0.288 MB each
    assert bench.capture("--quick --keep iq") == 0
    assert "keep_gb = 0.0084: the oldest 6 surveyed recordings went; their figures are in the log" in bench.err
    assert len(list(bench.shop.captures.glob("fm-*/*.sigmf-meta"))) == 20
    assert sum(path.exists() for path in first) == 7
    assert visitor.exists()
    assert unsurveyed.exists()
    assert len(bench.logged()) == 27


def test_a_gain_is_chosen_once_and_held(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The highest gain whose peaks stay 8 to 10 dB under full scale; the rig's next capture takes the same without a look."""
    # noise of -34 dBFS at 19.7 dB swings to about -20.5; 12 dB more bring it to -8.5
    monkeypatch.setenv("STANDIN_NOISE", "-34")
    assert bench.type("capture --band fm --gain choose --quick --dwell 0.06 --settle 0") == 0
    found = [line for line in bench.err.splitlines() if "is held: peaks reach" in line]
    assert len(found) == 1
    gain, peak = float(found[0].split("gain ")[1].split(" dB")[0]), float(found[0].split("reach ")[1].split(" dBFS")[0])
    assert -10.5 <= peak <= -8.0
    assert f"write gain_db = {gain:.1f} under [rigs.bench] in shop.toml" in bench.err
    bench.stand_in.forget()
    monkeypatch.setenv("STANDIN_NOISE", "-50")
    assert bench.type("capture --band fm --quick --dwell 0.06 --settle 0") == 0
    assert "choosing" not in bench.err
    gains = {call for call in bench.stand_in.calls() if call.startswith("gain ")}
    assert gains == {f"gain {round(gain * 10)}"}


def test_am_by_direct_sampling(bench: Bench, air: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The forged AM stations and no others, with levels and carriers; what to mind of direct sampling is said."""
    played(bench, air, monkeypatch)
    assert bench.type(f"capture --band am --direct q --dwell 2.1 --pause 0 --passes 2 {SETTLE} --out pages") == 0
    assert "AM from rig bench, direct sampling, branch q: 1 step, 2 passes: about" in bench.err
    assert "FM of 87.9-88.1 MHz folds onto 1500-1700 kHz" in bench.err
    check_am(bench)
    assert not [call for call in bench.stand_in.calls() if call.startswith("gain ")]


def check_am(bench: Bench) -> None:
    """The survey in `pages` is the forged AM."""
    stations = table(bench.shop.folder / "pages" / "stations.csv").set_index("channel_hz")
    assert sorted(stations.index[stations["holds"] == "station"]) == [one.channel_hz for one in AM]
    for one in AM:
        assert abs(stations.loc[one.channel_hz, "level_dbfs"] - one.level_dbfs) <= 0.3
    assert list(stations.index[stations["am_stereo"] == True]) == [910_000]  # noqa: E712


def test_am_by_an_upconverter(bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is tuned to is higher by the upconverter's frequency, what is surveyed is not."""
    forge_am(tmp_path / "air", 125_000_000)
    played(bench, tmp_path / "air", monkeypatch)
    line = f"capture --band am --upconverter 125M --gain 19.7 --dwell 2.1 --quick {SETTLE} --keep iq --out pages"
    assert bench.type(line) == 0
    assert "check one station you know; a wrong frequency or sign of it shifts or mirrors the whole list" in bench.err
    check_am(bench)
    assert f"centre {125_000_000 + AM_CENTRES_HZ[0]}" in bench.stand_in.calls()
    assert json.loads(bench.recordings()[0].read_text())["captures"][0]["core:frequency"] == AM_CENTRES_HZ[0]


@pytest.mark.parametrize(
    ("tuner", "options", "said"),
    [
        ("5", "", "dongle: its tuner (R820T) starts at 24 MHz and cannot reach AM from 540 kHz; AM needs --direct q (or i)"),
        ("6", "", "dongle: its tuner (R828D) starts at 24 MHz and cannot reach AM from 540 kHz; AM needs --direct q (or i)"),
        ("5", "--direct q", "dongle: not one carrier on AM by direct sampling, branch q: this dongle has no input there"),
    ],
)
def test_a_dongle_without_am(bench: Bench, monkeypatch: pytest.MonkeyPatch, tuner: str, options: str, said: str) -> None:
    """Rather than measure noise it says that AM is out of reach, and how to have it; nothing is logged."""
    monkeypatch.setenv("STANDIN_TUNER", tuner)
    if tuner == "6":
        bench.stand_in.order("unlock 1 99 0")
    assert bench.type(f"capture --band am --quick --gain 19.7 --dwell 0.5 --settle 0 {options}") == 3
    assert said in bench.err
    assert bench.logged() == []


def test_am_through_a_converter_of_the_dongles_own(bench: Bench, air: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A tuner whose driver converts by itself is simply tuned."""
    monkeypatch.setenv("STANDIN_TUNER", "6")
    played(bench, air, monkeypatch)
    assert bench.type(f"capture --band am --gain 19.7 --dwell 2.1 --quick {SETTLE} --out pages") == 0
    check_am(bench)


def test_without_a_shop(bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Results are given and nothing is logged; IQ is kept where --out says, and asked for where it does not."""
    outside = tmp_path / "outside"
    outside.mkdir()
    monkeypatch.chdir(outside)
    assert bench.type("capture --band fm --gain 28 --quick --dwell 0.06 --settle 0 --keep iq") == 2
    assert "--keep iq has nowhere to keep it; name a folder with --out DIR, or a shop with --shop DIR" in bench.err
    assert bench.type("capture --band fm --gain 28 --quick --dwell 0.06 --settle 0 --keep iq --out here") == 0
    assert "next: nothing is logged without a shop; `bandscan setup DIR` makes one" in bench.err
    assert len(list((outside / "here").glob("fm-*/*.sigmf-meta"))) == 13
    assert (outside / "here" / "stations.csv").exists()
    assert not list((outside / "here").glob("*.journal"))


def test_setup_looks_at_the_dongle(bench: Bench) -> None:
    """What is plugged in, and what it can and cannot do; without one, why, and the shop is made all the same."""
    assert bench.type("setup shop2") == 0
    assert "dongle: RTL2832U with R820T, serial 00000001; 29 gains from 0.0 to 49.6 dB" in bench.err
    assert "FM: can, from the antenna alone: bandscan capture --band fm" in bench.err
    assert "AM: its tuner starts at 24 MHz; only by direct sampling" in bench.err
    bench.stand_in.order("count 0 99 0")
    assert bench.type("setup shop3") == 0
    assert "dongle: no RTL2832U dongle found; plug it in" in bench.err


def test_progress_is_for_a_terminal(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Band, pass, step, place, peak or overload, and time left after each dwell, on a terminal; not a word of it in a file."""
    bench.stand_in.order("clip 3 3 40")
    bars: list[tuple[int, int, str]] = []

    @contextmanager
    def bar(what: str) -> Iterator[Callable[[int, int, str], None]]:
        yield lambda done, of, name: bars.append((done, of, name))

    monkeypatch.setattr("bandscan.cli.words.progress", bar)
    assert bench.capture("--quick") == 0
    assert bench.err.count("step") == 1  # the announcement's: no word of it where there is no terminal
    assert [done for done, _, _ in bars] == list(range(1, 14))
    assert bars[0][2].startswith("FM pass 1/1 step 1/13 88.6 MHz, peak -21 dBFS, 0:")
    assert bars[2][2].startswith("FM pass 1/1 step 3/13 91.8 MHz, OVERLOAD, 0:")
    assert bars[-1][2] == "FM pass 1/1 step 13/13 107.8 MHz, peak -21 dBFS, 0:00 left"
