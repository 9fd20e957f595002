"""Count sheets of invented radios: in the contract's form, and true to the radio that made them."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from bandscan.demo import AmStation, FmStation, load_scene, names_csv, sheets
from bandscan.demo.radio_model import sheet_text
from bandscan.demo.scene import OnAir

COLUMNS = ["band", "dial", "grade", "lamp", "pad_db", "sweep", "name", "remark"]


def rows(text: str, band: str) -> list[dict[str, str]]:
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return [row for row in csv.DictReader(io.StringIO("\n".join(lines))) if row["band"] == band]


@pytest.fixture(scope="module")
def scene():
    return load_scene()


@pytest.fixture(scope="module")
def bench(scene):
    """A scene whose stations can be laid out at will, and a radio that hears and reads exactly."""

    def lay(band: str, stations: list, **ears: object):
        on_air = tuple(OnAir(station, 0.0, ()) for station in stations)
        laid = replace(scene, bands=scene.bands | {band: replace(scene.bands[band], on_air=on_air)})
        radio = next(one for one in scene.radios if one.key == "known-good")
        exact = {"threshold_dbfs": -40.0, "spread_db": 0.0, "reading_khz": 0.0, "lamp_dbfs": -30.0} | ears
        return laid, replace(radio, bands={band: replace(radio.bands[band], **exact)})

    return lay


def test_sheets_have_the_contracts_form(scene):
    """Header lines `# key: value`, then the eight columns; grades and lamps are the contract's; both bands on one sheet."""
    texts = sheets(scene)
    assert list(texts) == ["known-good", "healthy", "deaf"]
    for text in texts.values():
        header = dict(line[2:].split(": ", 1) for line in text.splitlines() if line.startswith("#"))
        assert {"job", "radio", "family", "swept", "by", "antenna", "dial", "numerals", "if_khz"} <= set(header)
        assert next(line for line in text.splitlines() if not line.startswith("#")).split(",") == COLUMNS
        fm, am = rows(text, "fm"), rows(text, "am")
        assert len(fm) > 10
        assert len(am) > 5
        assert {row["grade"] for row in fm + am} <= {"3", "2", "1", "M", "W", "R"}
        assert {row["lamp"] for row in fm} <= {"on", "off", "flicker"}
        assert {row["lamp"] for row in am} == {""}


def test_sheets_are_the_same_on_every_call(scene):
    """A radio's seed decides its sheet; another seed gives another."""
    assert sheets(scene) == sheets(scene)
    others = tuple(replace(radio, seed=radio.seed + 100) for radio in scene.radios)
    assert sheets(scene)["healthy"] != sheets(replace(scene, radios=others))["healthy"]


def test_the_deaf_radio_follows_far_fewer(scene):
    """It follows at most 60 % of what the known-good radio follows on FM, and the healthy one at least 80 %."""
    followed = {key: sum(row["grade"] in "32" for row in rows(text, "fm")) for key, text in sheets(scene).items()}
    assert followed["deaf"] < 0.6 * followed["known-good"]
    assert followed["healthy"] > 0.8 * followed["known-good"]


@pytest.mark.parametrize(("over_db", "share"), [(0.0, 0.5), (3.0, 0.8413), (-3.0, 0.1587)])
def test_share_followed_is_the_normal_law(bench, over_db, share):
    """Stations over_db from the threshold are followed as the normal distribution says at over_db / 3 dB (tables)."""
    stations = [FmStation(88_100_000 + 400_000 * k, -40.0 + over_db) for k in range(50)]
    laid, radio = bench("fm", stations, spread_db=3.0)
    followed = sum(
        row["grade"] in "32" for seed in range(40) for row in rows(sheet_text(laid, radio, np.random.default_rng(seed)), "fm")
    )
    assert followed / 2000 == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 2000))


def test_grades_and_lamp_go_with_the_level(bench):
    """8 dB over the threshold is clean, 5 dB under a trace, less nothing; the lamp goes with level and pilot."""
    levels = [-45.5, -44.5, -39.5, -32.5, -31.5, -20.0]
    stations = [FmStation(90_100_000 + 400_000 * k, level) for k, level in enumerate(levels)]
    laid, radio = bench("fm", [*stations, FmStation(100_100_000, -20.0, pilot_dev_hz=0.0)])
    made = rows(sheet_text(laid, radio, np.random.default_rng(1)), "fm")
    assert [row["grade"] for row in made] == ["1", "2", "2", "3", "3", "3"]
    assert [row["lamp"] for row in made][-2:] == ["on", "off"]
    assert made[0]["lamp"] == "off"


def test_pointer_offset_and_stretch(bench):
    """The dial reads f + offset + stretch (f - middle of the band), to the dial's graduation."""
    stations = [FmStation(88_100_000 + 1_800_000 * k, -20.0) for k in range(12)]
    laid, radio = bench("fm", stations, offset_khz=450.0, stretch=0.02, graduation_khz=10.0)
    read = [float(row["dial"]) for row in rows(sheet_text(laid, radio, np.random.default_rng(1)), "fm")]
    assert read[0] == pytest.approx(88.1 + 0.45 - 0.02 * 9.9, abs=0.0051)
    assert read[-1] == pytest.approx(107.9 + 0.45 + 0.02 * 9.9, abs=0.0051)


def test_readings_scatter_but_keep_the_order_heard(bench):
    """Reading noise has its standard deviation, and rows stand in the order of the true frequencies."""
    stations = [FmStation(88_100_000 + 400_000 * k, -20.0, name=f"n{k}") for k in range(50)]
    laid, radio = bench("fm", stations, reading_khz=300.0, graduation_khz=10.0)
    made = [rows(sheet_text(laid, radio, np.random.default_rng(seed)), "fm") for seed in range(20)]
    error = np.array([[float(row["dial"]) - (88.1 + 0.4 * k) for k, row in enumerate(sheet)] for sheet in made])
    assert error.std() == pytest.approx(0.3, rel=0.1)
    assert abs(error.mean()) < 0.04


def test_tilt_takes_the_high_end(bench):
    """With -10 dB of tilt the same level is heard at the low end and the middle, and lost at the high end."""
    stations = [FmStation(at, -38.0) for at in (88_100_000, 98_100_000, 107_900_000)]
    laid, radio = bench("fm", stations, tilt_db=-10.0)
    assert [row["dial"] for row in rows(sheet_text(laid, radio, np.random.default_rng(1)), "fm")] == ["88.10", "98.10"]


def test_a_weak_station_beside_a_strong_one_is_lost(bench):
    """What the neighbour has over the set's selectivity comes off the station."""
    stations = [FmStation(98_100_000, -10.0), FmStation(98_300_000, -36.0), FmStation(101_100_000, -36.0)]
    laid, radio = bench("fm", stations, neighbour_db=15.0)
    assert [row["dial"] for row in rows(sheet_text(laid, radio, np.random.default_rng(1)), "fm")] == ["98.10", "101.10"]


def test_images_and_sidebands_are_ticked(bench):
    """A strong AM station repeats 2 x 262.5 kHz lower; a digital station's sidebands hiss 163.5 kHz on either side."""
    laid, radio = bench("am", [AmStation(1_500_000, -15.0), AmStation(1_600_000, -30.0)], image_db=20.0)
    made = rows(sheet_text(laid, radio, np.random.default_rng(1)), "am")
    assert [(row["dial"], row["grade"]) for row in made] == [("975", "R"), ("1500", "3"), ("1600", "3")]
    digital = [FmStation(98_100_000, -15.0, digital_db=-20.0), FmStation(101_100_000, -15.0, digital_db=-20.0)]
    laid, radio = bench("fm", [*digital, FmStation(101_300_000, -20.0)], ticks_sidebands=True, graduation_khz=10.0)
    made = [(row["dial"], row["remark"]) for row in rows(sheet_text(laid, radio, np.random.default_rng(1)), "fm")]
    assert made[:3] == [("97.94", "hiss"), ("98.10", ""), ("98.26", "hiss")]
    assert made[3:] == [("100.94", "hiss"), ("101.10", ""), ("101.30", "")]  # nobody ticks a hiss behind a real station


def test_a_silent_station_is_not_heard(scene):
    """What is off the air on the radio's day is on no sheet of that day, however strong."""
    for band in ("fm", "am"):
        (silent,) = [one for one in scene.bands[band].on_air if one.off]
        assert silent not in scene.levels_dbfs(band, silent.off[0])


def test_names_list_every_station(scene):
    """names.csv has the shop's columns and a row for each station."""
    listed = list(csv.DictReader(io.StringIO(names_csv(scene))))
    assert list(listed[0]) == ["band", "channel_hz", "name", "count", "remark"]
    assert len(listed) == sum(len(made.on_air) for made in scene.bands.values())
    assert {"band": "fm", "channel_hz": "88500000", "name": "Velmarrow", "count": "yes", "remark": ""} in listed
