"""Sun times and AM hours: shop/sun.py."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bandscan.cli import main
from bandscan.errors import ShopError
from bandscan.shop import Shop, load, make_shop
from bandscan.shop.sun import hour_of, sun_day

# the worked example of Reda and Andreas, Solar Position Algorithm for Solar Radiation Applications, NREL/TP-560-34302:
# 17 October 2003, latitude 39.742476, longitude -105.1786, UT-7: sunrise 06:12:43, sunset 17:20:19. The sunset belongs to the
# UTC date, so that it is the local evening of the 16th. (Figures from stored copies of its tester.)
SPA = Shop(Path(), time_zone="Etc/GMT+7", latitude=39.742476, longitude=-105.1786)
WITHIN_S = 30.0


def at(zone: str, text: str) -> datetime:
    """A moment by the clock of a zone."""
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone))


def test_sun_times_agree_with_the_published_example_of_a_solar_position_algorithm() -> None:
    """NREL/TP-560-34302, a western time zone: sunrise and sunset within 30 s, and on the local day that was asked for."""
    rise = sun_day(SPA, date(2003, 10, 17)).sunrise  # type: ignore[union-attr]
    fall = sun_day(SPA, date(2003, 10, 16)).sunset  # type: ignore[union-attr]
    assert rise is not None
    assert fall is not None
    assert abs((rise - at("Etc/GMT+7", "2003-10-17 06:12:43")).total_seconds()) < WITHIN_S
    assert abs((fall - at("Etc/GMT+7", "2003-10-16 17:20:19")).total_seconds()) < WITHIN_S


def test_sunset_is_that_of_the_local_day_west_of_greenwich() -> None:
    """A June evening 77 degrees west, where the sun sets after midnight UTC: the sunset asked for is the one of that date."""
    told = sun_day(Shop(Path(), time_zone="America/New_York", latitude=38.9, longitude=-77.0), date(2026, 6, 20))
    assert told is not None
    # 20:36 by the shop's clock: tables of sunset for that place and day (from memory, to the minute or two)
    assert told.sunset is not None
    assert abs(told.sunset - at("America/New_York", "2026-06-20 20:36")) < timedelta(minutes=2)


def test_a_polar_day_and_a_polar_night_answer_instead_of_failing() -> None:
    """70 degrees north: in June no sunset and always day, in December no sunrise and always night."""
    north = Shop(Path(), time_zone="Europe/Oslo", latitude=70.0, longitude=25.0)
    june, december = sun_day(north, date(2026, 6, 21)), sun_day(north, date(2026, 12, 21))
    assert (str(june), str(december)) == ("no sunset", "no sunrise")
    for hour in range(24):
        assert hour_of(north, at("Europe/Oslo", f"2026-06-21 {hour:02d}:00")) == "day"
        assert hour_of(north, at("Europe/Oslo", f"2026-12-21 {hour:02d}:00")) == "night"


@pytest.mark.parametrize(
    ("clock", "hour"),
    [
        ("06:11", "night"),
        ("06:15", "critical"),
        ("08:11", "critical"),
        ("08:14", "day"),
        ("12:00", "day"),
        ("15:17", "day"),
        ("15:20", "critical"),
        ("17:17", "critical"),
        ("17:20", "night"),
        ("00:00", "night"),
    ],
)
def test_critical_hours_are_two_after_sunrise_and_two_before_sunset(clock: str, hour: str) -> None:
    """47 CFR 73.14, on the day of the worked example: sunrise 06:12:43; sunset of the 17th 17:18:37 by the same algorithm."""
    moment = at("Etc/GMT+7", f"2003-10-17 {clock}")
    assert hour_of(SPA, moment) == hour
    assert hour_of(SPA, moment.astimezone(ZoneInfo("Asia/Tokyo"))) == hour


@pytest.mark.parametrize("day", ["2026-06-20", "2026-03-03"])
def test_an_hour_does_not_depend_on_the_zone_the_shop_told(day: str) -> None:
    """A shop that left its zone at UTC gets the same hours for the same moments, also where the sun sets past midnight UTC."""
    for step in range(0, 24 * 60, 10):
        moment = at("Etc/GMT+7", f"{day} 00:00") + timedelta(minutes=step)
        hours = {
            hour_of(Shop(Path(), time_zone=zone, latitude=39.7, longitude=-105.2), moment) for zone in ("UTC", "America/Denver")
        }
        assert len(hours) == 1


def test_without_a_place_nobody_knows_the_hour() -> None:
    """No latitude and longitude in shop.toml: None, not a guess."""
    assert hour_of(Shop(Path()), at("UTC", "2026-06-20 12:00")) is None
    assert sun_day(Shop(Path()), date(2026, 6, 20)) is None


def test_the_place_is_a_setting_of_the_shop(tmp_path: Path) -> None:
    """setup writes it, shop.toml gives it back; one without the other and a place off the globe are refused."""
    shop = make_shop(tmp_path / "a", latitude=39.742, longitude=-105.179)
    assert (shop.latitude, shop.longitude) == (39.742, -105.179)
    bare = make_shop(tmp_path / "b")
    assert (bare.latitude, bare.longitude) == (None, None)
    for text, said in (
        ("latitude = 39.7\n", r"line 1: latitude stands alone \(accepted: latitude and longitude together, or neither\)"),
        ("latitude = 97\nlongitude = 0\n", r"line 1: latitude = 97 \(accepted: a number of degrees, north positive, from -90"),
    ):
        (tmp_path / "b" / "shop.toml").write_text(text)
        with pytest.raises(ShopError, match=said):
            load(tmp_path / "b")


def test_setup_takes_the_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`bandscan setup --latitude --longitude` writes them; one alone is a line that says so, and no shop is made."""
    assert main(["setup", str(tmp_path / "a"), "--latitude", "39.742", "--longitude", "-105.179"]) == 0
    assert (load(tmp_path / "a").latitude, load(tmp_path / "a").longitude) == (39.742, -105.179)
    capsys.readouterr()
    assert main(["setup", str(tmp_path / "b"), "--latitude", "39.742"]) != 0
    assert "latitude stands alone" in capsys.readouterr().err
    assert not (tmp_path / "b").exists()
