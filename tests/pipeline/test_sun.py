"""AM by day, by night and in the critical hours, from surveys to verdicts: pipeline/day.py, listing.py, checking.py."""

from __future__ import annotations

import json
from pathlib import Path

import onair
import pytest

from bandscan.errors import BaselineError
from bandscan.model import RadioCheck
from bandscan.pipeline import baseline, check
from bandscan.plans import plan_for
from bandscan.shop import Shop, make_shop

AM = plan_for("us", "am").channels_hz
DAY = {hz: -30.0 - 1.5 * rank for rank, hz in enumerate(AM[5:105:5])}
NIGHT = {hz: -35.0 - 0.5 * rank for rank, hz in enumerate(AM[2:112:2])}
MADE = "2026-03-05T00:00:00Z"
# sunrise 06:30:49 and sunset 17:54:53 at this place on 3 March (astral 3.2, held against a published example in
# tests/shop/test_sun.py), so that day is from 08:31 to 15:55
PLACE = {"time_zone": "America/Denver", "latitude": 39.742, "longitude": -105.179}


def stock(folder: Path, **place: object) -> Shop:
    """A shop with AM surveys of three days: at noon, at eight in the evening and at seven in the morning."""
    shop = make_shop(folder, **place)  # type: ignore[arg-type]
    for day in (1, 2, 3):
        onair.keep(shop, onair.survey("am", f"2026-03-{day:02d}T19:00:00Z", DAY))
        onair.keep(shop, onair.survey("am", f"2026-03-{day + 1:02d}T03:00:00Z", NIGHT))
        onair.keep(shop, onair.survey("am", f"2026-03-{day:02d}T14:00:00Z", {**NIGHT, **DAY}))
    return shop


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """A shop that tells its place, with its lists."""
    made = stock(tmp_path_factory.mktemp("sun") / "shop", **PLACE)
    baseline(made, made_utc=MADE)
    return made


def judged(shop: Shop, swept: str, folder: Path) -> RadioCheck:
    """A digital set that hears the strongest twelve stations of the day."""
    rows = "".join(f"am,{hz // 1000},3,,,1,,\n" for hz in sorted(DAY, key=lambda hz: -DAY[hz])[:12])
    path = folder / "s.csv"
    path.write_text(f"# swept: {swept}\n# dial: digits\nband,dial,grade,lamp,pad_db,sweep,name,remark\n{rows}")
    return check([path], shop=shop, made_utc=MADE).checks[0]


def test_day_and_night_make_two_lists_and_the_critical_hours_none(tmp_path: Path) -> None:
    """Three surveys each: a list by day, a list by night, in folders of their own; those of the early morning are left out."""
    shop = stock(tmp_path / "shop", **PLACE)
    done = baseline(shop, made_utc=MADE)
    assert [(one.valid, one.surveys, len(one.stations)) for one in done.baselines] == [
        ("day", 3, len(DAY)),
        ("night", 3, len(NIGHT)),
    ]
    for one, levels in zip(done.baselines, (DAY, NIGHT), strict=True):
        assert dict(zip(one.stations["channel_hz"], one.stations["level_db"], strict=True)) == levels
        assert not any("taken as a daytime list" in caution for caution in one.cautions)
    told = {path.parent.name: json.loads(path.read_text())["valid"] for path in done.files if path.name == "baseline.json"}
    assert told == {"am": "day", "am-night": "night"}
    assert done.notes == [
        "AM: 3 of 9 surveys left out: made within two hours of sunrise or sunset",
        "AM list: valid by day (today from 08:29 to 15:56; sunrise 06:29, sunset 17:56), newest survey 1 day old",
        "AM list: valid by night (today before 06:29 and after 17:56), newest survey 0 days old",
    ]


def test_a_check_takes_the_list_of_the_sheets_hour(shop: Shop, tmp_path: Path) -> None:
    """A noon sweep is held against the day's stations, an evening one against the night's; the critical hours are cautioned."""
    noon, evening = judged(shop, "2026-03-03 12:30", tmp_path), judged(shop, "2026-03-03 20:00", tmp_path)
    morning = judged(shop, "2026-03-03 07:30", tmp_path)
    assert [len(one.bands["am"].stations) for one in (noon, evening, morning)] == [len(DAY), len(NIGHT), len(DAY)]
    critical = "AM: swept in the critical hours, within two hours of sunrise or sunset (sunrise 06:31, sunset 17:55)"
    assert [any(text.startswith(critical) for text in one.cautions) for one in (noon, evening, morning)] == [False, False, True]


def test_a_total_is_of_the_hour_in_which_it_is_given(tmp_path: Path) -> None:
    """At nine in the evening three on AM condemn nothing against the day's list, with the sun known or by the clock; at noon
    they are judged."""
    for name, place in (("sun", PLACE), ("clock", {"time_zone": PLACE["time_zone"]})):
        shop = make_shop(tmp_path / name, **place)  # type: ignore[arg-type]
        onair.keep(shop, *(onair.survey("am", f"2026-03-0{day}T19:00:00Z", DAY) for day in (1, 2, 3)))
        baseline(shop, made_utc=MADE)
        night = check([], totals={"am": 3}, shop=shop, made_utc="2026-03-05T04:00:00Z").checks[0]
        noon = check([], totals={"am": 3}, shop=shop, made_utc="2026-03-05T19:00:00Z").checks[0]
        assert night.bands["am"].verdict == "cannot tell"
        assert night.bands["am"].why.startswith("the sweep was made by night")
        assert "by night" not in noon.bands["am"].why
        assert not [said for one in (night, noon) for said in one.cautions if "hour of the sweep is not known" in said]


def test_a_night_sheet_without_a_night_list_cannot_be_told(tmp_path: Path) -> None:
    """The day's list alone: refused with the hour of sunset, in winter's early evening, day by the clock."""
    shop = make_shop(tmp_path / "shop", **PLACE)  # type: ignore[arg-type]
    onair.keep(shop, *(onair.survey("am", f"2026-12-0{day}T19:00:00Z", DAY) for day in (1, 2, 3)))
    baseline(shop, made_utc="2026-12-04T00:00:00Z")
    one = judged(shop, "2026-12-03 17:10", tmp_path).bands["am"]
    assert one.verdict == "cannot tell"
    # astral 3.2: 07:04:59 and 16:36:03
    assert one.why == "the sweep was made by night (sunrise 07:05, sunset 16:36) and the AM list is valid by day"
    assert one.do_next == "sweep AM again around noon"


def test_a_day_sheet_against_a_night_list_cannot_be_told(tmp_path: Path) -> None:
    """The same the other way round."""
    shop = make_shop(tmp_path / "shop", **PLACE)  # type: ignore[arg-type]
    onair.keep(shop, *(onair.survey("am", f"2026-03-0{day}T03:00:00Z", NIGHT) for day in (1, 2, 3)))
    baseline(shop, made_utc=MADE)
    one = judged(shop, "2026-03-03 12:30", tmp_path).bands["am"]
    assert one.verdict == "cannot tell"
    assert one.why == "the sweep was made by day (sunrise 06:31, sunset 17:55) and the AM list is valid by night"


def test_without_a_place_the_list_is_taken_as_a_daytime_one_and_says_so(tmp_path: Path) -> None:
    """No latitude: all surveys in one list by day, with the caution and what would help, said once."""
    shop = stock(tmp_path / "shop", time_zone="America/Denver")
    (one,) = baseline(shop, made_utc=MADE).baselines
    assert (one.valid, one.surveys) == ("day", 9)
    (said,) = [text for text in judged(shop, "2026-03-03 12:30", tmp_path).cautions if "daytime" in text]
    assert said == (
        "AM list: taken as a daytime list; that the surveys were made from 2 h after sunrise to 2 h before sunset is not"
        " checked (latitude and longitude in shop.toml let it be)"
    )


def test_surveys_of_the_critical_hours_alone_make_no_list(tmp_path: Path) -> None:
    """One line says why and what to do; FM is listed all the same where no band was asked for."""
    shop = make_shop(tmp_path / "shop", **PLACE)  # type: ignore[arg-type]
    onair.keep(shop, onair.survey("am", "2026-03-02T14:00:00Z", DAY))
    said = r"AM: 1 of 1 surveys left out: made within two hours of sunrise or sunset; survey AM in the middle of the day"
    for band in ("am", None):
        with pytest.raises(BaselineError, match=said):
            baseline(shop, band=band)
    onair.keep(shop, onair.survey("fm", "2026-03-02T14:00:00Z", {88_500_000: -30.0}))
    done = baseline(shop)
    assert [one.band for one in done.baselines] == ["fm"]
    assert [str(error).startswith("AM: 1 of 1 surveys left out") for error in done.errors] == [True]


def test_lists_by_day_and_by_night_stay_in_the_log_side_by_side(tmp_path: Path) -> None:
    """The same surveys listed again change nothing: both lists keep the time at which they were first made."""
    shop = stock(tmp_path / "shop", **PLACE)
    first, again = baseline(shop, made_utc=MADE), baseline(shop, made_utc="2026-03-06T00:00:00Z")
    assert [one.made_utc for one in again.baselines] == [one.made_utc for one in first.baselines] == [MADE, MADE]
