"""The demo's scene: invented throughout, plausible, and refused with one clear line where it is wrong."""

from __future__ import annotations

import re

import numpy as np
import pytest

from bandscan.demo import load_scene
from bandscan.demo.scene_file import SCENE_PATH
from bandscan.errors import InputError
from bandscan.plans import plan_for

TEXT = SCENE_PATH.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def scene():
    return load_scene()


def stations(scene, band):
    return [one.station for one in scene.bands[band].on_air]


def test_sizes(scene):
    """30 to 40 FM and 15 to 20 AM stations on channels of the plan, three days, a known-good, a healthy and a deaf radio."""
    assert 30 <= len(stations(scene, "fm")) <= 40
    assert 15 <= len(stations(scene, "am")) <= 20
    for band in ("fm", "am"):
        channels = [station.channel_hz for station in stations(scene, band)]
        assert len(set(channels)) == len(channels)
        assert set(channels) <= set(plan_for("us", band).channels_hz)
    assert len(scene.days) == 3
    assert [radio.key for radio in scene.radios if radio.known_good] == ["known-good"]


def test_steps_cover_both_bands(scene):
    """Every channel lies, with its width, within 0.45 of the rate from the centre of some step, and no DC line on a carrier."""
    for band, guard_hz in (("fm", 100_000), ("am", 5_000)):
        made = scene.bands[band]
        for channel_hz in plan_for("us", band).channels_hz:
            away = [abs(channel_hz - centre_hz) for centre_hz in made.centres_hz]
            assert min(away) + guard_hz <= 0.45 * made.rate_hz
            assert min(away) >= 5_000


def test_many_stations_stand_near_a_radios_threshold(scene):
    """Half a dozen or more lie within 6 dB of the known-good radio's threshold, and three are 20 dB over it, in each band."""
    good = next(radio for radio in scene.radios if radio.known_good)
    for band in ("fm", "am"):
        over = np.array([station.level_dbfs for station in stations(scene, band)]) - good.bands[band].threshold_dbfs
        assert np.sum(np.abs(over) < 6) >= 6
        assert np.sum(over > 20) >= 3


def test_the_deaf_radio_is_deaf_and_mistracked(scene):
    """It needs at least 12 dB more than the known-good one in both bands, and its pointers are off by more than a channel."""
    by_key = {radio.key: radio for radio in scene.radios}
    for band, channel_khz in (("fm", 200), ("am", 10)):
        good, deaf = by_key["known-good"].bands[band], by_key["deaf"].bands[band]
        assert deaf.threshold_dbfs - good.threshold_dbfs >= 12
        assert deaf.offset_khz > channel_khz
        assert by_key["healthy"].bands[band].threshold_dbfs - good.threshold_dbfs <= 2


def test_no_identity_maps_to_call_letters(scene):
    """PI codes avoid all that NRSC-4 maps to call letters: 1000-994F, three-letter 9950-9EFF, exceptions A... and AF.."""
    codes = [station.pi for station in stations(scene, "fm") if station.pi is not None]
    assert len(codes) >= 20
    assert len(set(codes)) == len(codes)
    for code in codes:
        assert 0xD100 <= code <= 0xDFFF
        assert code & 0xFF
    for band in ("fm", "am"):
        for station in stations(scene, band):
            assert not re.match(r"^[KWCX][A-Z]{2,3}\b", station.name.upper()), station.name
            assert not re.match(r"^[KWCX][A-Z]{2,3}(-[AF]M)? *$", getattr(station, "ps", "")), station.name


def test_the_air_changes_from_day_to_day(scene):
    """Levels vary by 1 to 4 dB from day to day, the same on every call, and one station of each band is silent on one day."""
    for band in ("fm", "am"):
        days = [scene.levels_dbfs(band, day) for day in (1, 2, 3)]
        always = set(days[0]) & set(days[1]) & set(days[2])
        assert len(always) == len(scene.bands[band].on_air) - 1
        spread_db = np.std([[day[one] for day in days] for one in always], axis=1, ddof=1)
        assert 1.0 < np.sqrt(np.mean(spread_db**2)) < 4.0
        assert days[1] == scene.levels_dbfs(band, 2)


def test_special_cases_are_there(scene):
    """Mono stations, one with digital sidebands with nothing on its neighbours' channels, AM stereo, and a spur."""
    fm, am = stations(scene, "fm"), stations(scene, "am")
    assert 1 <= sum(station.pilot_dev_hz == 0 for station in fm) <= 3
    (digital,) = [station for station in fm if station.digital_db is not None]
    assert not {digital.channel_hz + away for away in (-200_000, 200_000)} & {station.channel_hz for station in fm}
    assert any(station.stereo for station in am)
    assert len(scene.bands["fm"].spurs) == 1


WRONG = [
    ("mhz = 88.5", "mhz = 88.55", r"scene\.toml: fm: station 1: mhz = 88\.55 is no channel; accepted: 47 CFR 73\.201"),
    ("mhz = 88.5", "", r"scene\.toml: fm: station 1: key 'mhz' is missing; add mhz = \.\.\."),
    ("mhz = 88.5", "mhz = '88.5'", r"fm: station 1: mhz = '88\.5' cannot be used; accepted: a number from 0\.1 to 2000"),
    ("mhz = 88.5", "mhz = nan", r"fm: station 1: mhz = nan cannot be used"),
    ("mhz = 88.5", "mhz = true", r"fm: station 1: mhz = True cannot be used"),
    ("mhz = 88.5", "mhz = 88.5\nlevel = 3", r"fm: station 1: unknown key 'level'; accepted: .*dbfs.*; correct or remove it"),
    (
        'programme = "music"',
        'programme = "opera"',
        r"programme = 'opera' cannot be used; accepted: speech, music, tone, silence",
    ),
    ('pi = "D', 'pi = "X', r"pi = 'X.*' is no programme identification; accepted: four digits"),
    ('ps = "', 'ps = "Ä', r"ps = 'Ä.*' cannot be sent; accepted: up to 8 characters of ASCII"),
    ("off = [2]", "off = [4]", r"off = \[4\] cannot be used; accepted: a list of whole numbers from 1 to 3"),
    ("stereo = true", "stereo = 1", r"am: station \d+: stereo = 1 cannot be used; accepted: true or false"),
    ('region = "us"', 'region = "mars"', r"workshop: region = 'mars' cannot be used; accepted: us, eu, jp"),
    ("seed = 1962", "seed = 1.5", r"workshop: seed = 1\.5 cannot be used; accepted: a whole number"),
    ("2026-04-14T18:05:00Z", "yesterday", r"survey 1: started_utc = 'yesterday' is no time; accepted: 2026-04-14T18:05:00Z"),
    ("2026-04-14T18:05:00Z", "2026-14-14T18:05:00Z", r"survey 1: started_utc = '2026-14-14T18:05:00Z' is no time"),
    ("day = 2", "day = 9", r"radio 1: day = 9 cannot be used; accepted: a whole number from 1 to 3"),
    ("if_khz = 262.5", 'if_khz = "wide"', r"radio 1: header: if_khz = 'wide' cannot be used; accepted: a number from 100"),
    ("[workshop]", "[works]", r"workshop: key 'region' is missing; add region"),
    ("[fm]", "[fm", r"cannot be read: .*; accepted: a TOML file; correct it"),
    ("[[survey]]", "[[surveys]]", r"no \[\[survey\]\] in the scene; add at least one with started_utc"),
    ("[[survey]]", "[surveys]", r"cannot be read"),
]


@pytest.mark.parametrize(("right", "wrong", "line"), WRONG)
def test_a_wrong_scene_is_one_clear_line(tmp_path, right, wrong, line):
    """Each mistake is named with its place, what is accepted and what to do."""
    path = tmp_path / "scene.toml"
    many = -1 if right == "[[survey]]" else 1
    assert right in TEXT
    path.write_text(TEXT.replace(right, wrong, many), encoding="utf-8")
    with pytest.raises(InputError, match=line) as caught:
        load_scene(path)
    assert "\n" not in str(caught.value)


def test_a_missing_scene_says_where_it_belongs(tmp_path):
    """Without the file, one line says what to do."""
    with pytest.raises(InputError, match=r"the demo's scene is not there; run the demo from a clone of the project"):
        load_scene(tmp_path / "scene.toml")
