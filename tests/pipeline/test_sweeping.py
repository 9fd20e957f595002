"""`baseline --from` and what a check makes of such a list: pipeline/sweeping.py."""

from __future__ import annotations

import json
from pathlib import Path

import onair
import pytest

from bandscan.cli import main
from bandscan.errors import BaselineError, SheetError
from bandscan.pipeline import baseline, check
from bandscan.plans import plan_for
from bandscan.shop import Shop, load, make_shop

STATIONS = plan_for("us", "am").channels_hz[5:105:5]
COLUMNS = "band,dial,grade,lamp,pad_db,sweep,name,remark\n"
MADE = "2026-03-05T00:00:00Z"
PLACE = {"time_zone": "America/Denver", "latitude": 39.742, "longitude": -105.179}


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """A shop without a receiver for AM."""
    return make_shop(tmp_path / "shop", **PLACE)  # type: ignore[arg-type]


def swept(folder: Path, name: str, heard: list[int], swept: str = "2026-03-03 12:00", **header: str) -> Path:
    """A digital set's AM sheet."""
    told = {"swept": swept, "dial": "digits", **header}
    head = "".join(f"# {key}: {value}\n" for key, value in told.items())
    path = folder / f"{name}.csv"
    path.write_text(head + COLUMNS + "".join(f"am,{hz // 1000},3,,,1,,\n" for hz in heard))
    return path


def test_missed_and_extra_stations_are_told_and_no_decibels(shop: Shop, tmp_path: Path) -> None:
    """A list of two good sweeps; a radio that misses five stations and has one of its own: all six named, `cannot tell`."""
    good = [swept(tmp_path, f"good{number}", list(STATIONS)) for number in (1, 2)]
    (one,) = baseline(shop, sheets=good, made_utc=MADE).baselines
    assert (one.band, one.rig, one.valid, one.surveys, len(one.stations)) == ("am", "bench", "day", 2, 20)
    missed, extra = list(STATIONS[3:8]), 1_605_000 - 5_000
    heard = [hz for hz in STATIONS if hz not in missed] + [extra]
    done = check([swept(tmp_path, "radio", sorted(heard), "2026-03-04 12:00", job="9")], shop=shop, made_utc=MADE)
    told = json.loads(done.files[0].read_text())["bands"]["am"]
    assert [station["channel_hz"] for station in told["stations"] if station["heard"] is False] == missed
    assert [row["channel_hz"] for row in told["extras"]] == [extra]
    assert (told["verdict"], told["against_reference_db"], told["expected"]) == ("cannot tell", None, None)
    assert told["why"] == "the reference list has no levels, so missed and extra stations can be told but no decibels"
    assert told["do_next"] == "survey the band with a receiver, so that the list has levels"


def test_a_pointer_lists_stations_and_another_is_held_against_it(shop: Shop, tmp_path: Path) -> None:
    """Readings 10 and 15 kHz off on the good sets' dials, exact on the radio's: the order tells which is which."""
    good = [
        swept(tmp_path, "low", [hz - 10_000 for hz in STATIONS], dial="pointer"),
        swept(tmp_path, "high", [hz + 15_000 for hz in STATIONS], dial="pointer"),
    ]
    (one,) = baseline(shop, sheets=good, made_utc=MADE).baselines
    assert len(one.stations) == 20
    heard = [hz for hz in STATIONS if hz not in STATIONS[6:10]]
    done = check([swept(tmp_path, "radio", heard, dial="pointer")], shop=shop, made_utc=MADE)
    stations = done.checks[0].bands["am"].stations
    missed = [rank for rank, station in enumerate(stations) if station.probability < 0.5]
    assert missed == [6, 7, 8, 9]


def test_a_list_from_sheets_knows_its_hours(shop: Shop, tmp_path: Path) -> None:
    """Sweeps by night make a night list; by day and by night together, or in the critical hours, none."""
    night = [swept(tmp_path, "late", list(STATIONS), "2026-03-03 21:00")]
    assert baseline(shop, sheets=night, made_utc=MADE).baselines[0].valid == "night"
    noon, dawn = swept(tmp_path, "noon", list(STATIONS)), swept(tmp_path, "dawn", list(STATIONS), "2026-03-03 07:00")
    with pytest.raises(BaselineError, match="AM sweeps by day and by night make no common list"):
        baseline(shop, sheets=[*night, noon])
    with pytest.raises(BaselineError, match="within two hours of sunrise or sunset; take sweeps from the middle of the day"):
        baseline(shop, sheets=[dawn])


def test_a_familys_numerals_and_dial_hold_for_its_sheets(shop: Shop, tmp_path: Path) -> None:
    """FM read off AM's numerals tells no channel, digits do: as though the sheets said so."""
    settings = shop.folder / "shop.toml"
    families = '[families.conv]\nnumerals = "am"\n[families.etr]\ndial = "digits"\n'
    settings.write_text(settings.read_text() + families)
    shop = load(shop.folder)
    sheet = tmp_path / "conv.csv"
    sheet.write_text("# family: conv\n" + COLUMNS + "fm,612,3,,,,,\nfm,1265,3,,,,,\n")
    with pytest.raises(BaselineError, match="an FM dial with AM numerals tells no channel"):
        baseline(shop, sheets=[sheet], made_utc=MADE)
    (one,) = baseline(shop, sheets=[swept(tmp_path, "etr", list(STATIONS), dial="", family="etr")], made_utc=MADE).baselines
    assert not one.stations["remarks"].str.contains("read-by-pointer").any()


def test_surveys_come_first(shop: Shop, tmp_path: Path) -> None:
    """Where the log has surveys of the band and rig, sheets make no list in their place; another rig's they do."""
    onair.keep(shop, onair.survey("am", "2026-03-02T19:00:00Z", dict.fromkeys(STATIONS, -40.0)))
    good = [swept(tmp_path, "good", list(STATIONS))]
    said = "AM: the log has 1 survey with rig bench: a list with levels; none made from sheets"
    for band in ("am", None):
        with pytest.raises(BaselineError, match=f"{said}; run `bandscan baseline` without --from"):
            baseline(shop, band=band, sheets=good)
    assert baseline(shop, sheets=good, rig="porch").baselines[0].rig == "porch"


def test_sheets_that_make_no_list_are_one_line(shop: Shop, tmp_path: Path) -> None:
    """No row of the band, several rigs, no file: each says what."""
    good = swept(tmp_path, "good", list(STATIONS), rig="porch")
    with pytest.raises(BaselineError, match="the sheets have no row of FM; fill in a sheet first"):
        baseline(shop, band="fm", sheets=[good])
    with pytest.raises(BaselineError, match="the sheets are of several rigs: loft, porch"):
        baseline(shop, sheets=[good, swept(tmp_path, "other", list(STATIONS), rig="loft")])
    with pytest.raises(SheetError, match=r"gone\.csv: is not there"):
        baseline(shop, sheets=[tmp_path / "gone.csv"])


def test_the_command_takes_sheets(shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`bandscan baseline --from A.csv B.csv` prints the list and what it can and cannot tell."""
    good = [str(swept(tmp_path, f"good{number}", list(STATIONS))) for number in (1, 2)]
    assert main(["--shop", str(shop.folder), "baseline", "--from", *good]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "2 sweeps of known-good radios, without levels" in said
    assert "missed and extra stations can be told, but no decibels" in said
