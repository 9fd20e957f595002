"""What changed between surveys: baseline/changes.py and what `distil` makes of it."""

from __future__ import annotations

import random
import statistics
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

import onair
import pytest

from bandscan import tables
from bandscan.baseline import distil
from bandscan.model import Baseline, Survey, utc_text
from bandscan.plans import plan_for

FM, AM = plan_for("us", "fm").channels_hz, plan_for("us", "am").channels_hz
STATIONS = {hz: -30.0 - 1.5 * rank for rank, hz in enumerate(FM[2:98:4])}
DISTANT = dict.fromkeys(FM[3:99:4], -65.0)
START = datetime(2026, 3, 2, 17, 30, tzinfo=UTC)  # a Monday


def survey(day: float, levels: Mapping[int, float] | None = None, **more: float) -> Survey:
    """A survey so many days after the first; each station up to 2 dB from its level, as days are."""
    dice = random.Random(f"{day}")
    given = STATIONS if levels is None else levels
    told = {hz: level + dice.uniform(-2.0, 2.0) for hz, level in given.items()}
    return onair.survey("fm" if set(told) <= set(FM) else "am", utc_text(START + timedelta(days=day)), told, **more)


def listed(*surveys: Survey) -> Baseline:
    """The list of the surveys."""
    return distil(surveys, tables.empty(tables.NAMES), "2026-09-01T00:00:00Z", "0.1.0")


def without(*ranks: int) -> dict[int, float]:
    """The stations without some."""
    return {hz: level for rank, (hz, level) in enumerate(STATIONS.items()) if rank not in ranks}


def moved(by_db: float, over_hz: int = 0) -> dict[int, float]:
    """The stations at other levels, those above a frequency or all."""
    return {hz: level + (by_db if hz > over_hz else 0.0) for hz, level in STATIONS.items()}


def test_ordinary_days_change_nothing() -> None:
    """Eight days with 2 dB either way for each station: no word, every survey kept, grade A."""
    one = listed(*(survey(day) for day in range(8)))
    assert (one.surveys, one.grade, one.cautions) == (8, "A", ())
    assert one.grade_reason == "8 surveys, every channel covered, no overload"


def test_levels_that_fell_since_a_day_point_at_the_antenna_with_the_date() -> None:
    """Six days as usual, then two 6 dB down: said with the weekday, left out, the levels stay those of before, grade B."""
    one = listed(*(survey(day) for day in range(6)), *(survey(day, moved(-6.0)) for day in (8, 9)))
    assert one.cautions == (
        "all FM levels 6 dB down since Tuesday 2026-03-10 17:30 UTC: look at the antenna; 2 surveys left out; if it was changed"
        " for good, give the rig another name",
    )
    assert one.surveys == 6
    assert one.stations["level_db"].tolist() == pytest.approx(list(STATIONS.values()), abs=2.0)
    assert (one.grade, one.grade_reason) == ("B", "all FM levels 6 dB down since Tuesday 2026-03-10 17:30 UTC")


def test_levels_that_fell_and_came_back_are_history() -> None:
    """A fault of two days that was mended: said from when to when, left out, the grade stays A."""
    days = [survey(day, moved(-9.0) if day in (3, 4) else None) for day in range(9)]
    one = listed(*days)
    assert one.cautions == (
        "all FM levels 9 dB down from Thursday 2026-03-05 17:30 UTC to Friday 2026-03-06 17:30 UTC: look at the antenna;"
        " 2 surveys left out",
    )
    assert (one.surveys, one.grade) == (7, "A")


def test_noise_that_moved_with_the_levels_points_at_lead_and_gain_too() -> None:
    """Levels and noise 8 dB up together: as by another gain or a lead that was bad before."""
    one = listed(*(survey(day) for day in range(6)), survey(7, moved(8.0), noise_dbfs=-82.0))
    assert "all FM levels 8 dB up since" in one.cautions[0]
    assert "look at the antenna, lead, splitter and gain (the noise moved with them); 1 survey left out" in one.cautions[0]


def test_a_changed_tilt_is_told() -> None:
    """The upper half of the band 7 dB down, the lower as it was: the middle moves too, but the tilt is what is said."""
    middle = sorted(STATIONS)[len(STATIONS) // 2 - 1]
    one = listed(*(survey(day) for day in range(6)), *(survey(day, moved(-7.0, middle)) for day in (7, 8)))
    assert one.surveys == 6
    (said,) = one.cautions
    assert said.startswith("upper half of the FM band 7 dB down against the lower since Monday 2026-03-09 17:30 UTC: look at")
    assert one.grade == "B"


def test_the_new_levels_are_the_usual_ones_once_they_are_the_rule() -> None:
    """Two surveys before the antenna was changed and five after: the list is that of the five."""
    one = listed(*(survey(day, moved(-10.0)) for day in (0, 1)), *(survey(day) for day in range(4, 9)))
    assert one.surveys == 5
    assert one.cautions[0].startswith("all FM levels 10 dB down from Monday 2026-03-02 17:30 UTC to Tuesday 2026-03-03")
    assert one.grade == "A"


def test_two_surveys_that_differ_are_both_kept() -> None:
    """Nobody can say which of two is the usual one."""
    assert listed(survey(0), survey(2, moved(-10.0))).surveys == 2


def test_a_day_of_many_strange_stations_is_recognised_said_and_left_out() -> None:
    """24 stations at once that five other days do not know: ducting or sporadic E (common practice: 5 to 30 more)."""
    one = listed(*(survey(day) for day in range(5)), survey(6, {**STATIONS, **DISTANT}))
    assert one.cautions == (
        "FM Sunday 2026-03-08 17:30 UTC: 24 stations at once that are not usually there, as in tropospheric ducting or sporadic"
        " E: this survey is left out",
    )
    assert one.stations["channel_hz"].tolist() == sorted(STATIONS)
    assert (one.surveys, one.grade) == (5, "A")


def test_two_surveys_of_one_strange_day_do_not_vouch_for_each_other() -> None:
    """Morning and noon of the same opening: both left out."""
    days = [survey(day) for day in range(3)]
    one = listed(*days, survey(6, {**STATIONS, **DISTANT}), survey(6.2, {**STATIONS, **DISTANT}))
    assert one.surveys == 3


def test_a_quiet_day_is_no_opening() -> None:
    """Ten weak stations found because the noise was 15 dB lower: other days could not have heard them."""
    weak = dict.fromkeys(FM[3:43:4], -88.0)
    usual = [survey(day, noise_dbfs=-80.0) for day in range(5)]
    one = listed(*usual, survey(6, {**STATIONS, **weak}, noise_dbfs=-95.0))
    assert one.surveys == 6
    assert not any("at once" in caution for caution in one.cautions)


def test_am_has_no_openings() -> None:
    """AM is parted by the hour; many stations at once are the night's, not an opening."""
    day, night = dict.fromkeys(AM[::8], -40.0), dict.fromkeys(AM[1::8], -50.0)
    assert listed(*(survey(one, day) for one in range(5)), survey(6, {**day, **night})).surveys == 6


def test_a_station_that_went_leaves_the_list_and_one_that_came_counts_from_then_on() -> None:
    """Gone after five of ten days, another there since the fifth: said with dates; shares are those of the time since."""
    gone, new = list(STATIONS)[3], FM[5]
    before = [survey(day) for day in range(5)]
    after = [survey(day, {**without(3), new: -50.0}) for day in range(5, 10)]
    one = listed(*before, *after)
    assert one.cautions == (
        f"FM station went: {gone / 1e6:.1f} MHz, last held Friday 2026-03-06 17:30 UTC",
        f"FM station came: {new / 1e6:.1f} MHz, since Saturday 2026-03-07 17:30 UTC",
    )
    assert one.stations["channel_hz"].tolist() == sorted({*without(3), new})
    row = one.stations.set_index("channel_hz").loc[new]
    assert (row["seen"], row["surveys"], row["steadiness"]) == (5, 5, "steady")
    assert one.grade == "A"


def test_a_station_that_is_silent_for_an_afternoon_has_not_gone() -> None:
    """Four surveys without it within six hours are one pause: it stays in the list, as often as it was there."""
    one = listed(*(survey(day) for day in range(6)), *(survey(7 + hour / 24, without(3)) for hour in (0, 2, 4, 6)))
    row = one.stations.set_index("channel_hz").loc[list(STATIONS)[3]]
    assert (row["seen"], row["surveys"], row["steadiness"]) == (6, 10, "fading")
    assert one.cautions == ()


def test_a_station_that_comes_and_goes_has_not_gone() -> None:
    """Held in every third survey: three silent ones at the end are its habit."""
    one = listed(*(survey(day, None if day % 3 == 0 else without(5)) for day in range(12)))
    assert list(STATIONS)[5] in one.stations["channel_hz"].tolist()
    assert one.cautions == ()


def test_a_station_under_raised_noise_has_not_gone() -> None:
    """The weakest are not to be heard over 25 dB more noise: their silence tells nothing, and the noise is what is said."""
    loud = {hz: level for hz, level in STATIONS.items() if level > -62.0}
    days = [*(survey(day) for day in range(6)), *(survey(day, loud, noise_dbfs=-65.0) for day in range(6, 10))]
    one = listed(*days)
    assert set(STATIONS) == set(one.stations["channel_hz"])
    assert (one.grade, one.grade_reason) == (
        "B",
        "FM noise 25 dB over the usual since Sunday 2026-03-08 17:30 UTC: look for what makes it (lamps, chargers)",
    )


def test_surveys_of_one_day_are_grade_b() -> None:
    """Three surveys within an hour show nothing of other days."""
    one = listed(*(survey(hour / 24) for hour in (0.0, 0.5, 1.0)))
    assert (one.grade, one.grade_reason) == ("B", "all surveys within one day: they show nothing of other days")


def test_surveys_without_dates_or_noise_are_taken_as_they_are() -> None:
    """Nothing is concluded from what is not told, and nothing fails."""
    bare = []
    for day in range(5):
        one = survey(day, None if day < 3 else {**without(2), **DISTANT})
        stations = one.stations.assign(noise_dbfs=None, snr_db=None)
        stations = tables.check(stations, tables.STATIONS)
        bare.append(type(one)(**{**vars(one), "started_utc": "", "ended_utc": "", "stations": stations}))
    made = listed(*bare)
    assert made.surveys == 5
    assert [caution for caution in made.cautions if "station" in caution] == []


@pytest.mark.parametrize("day", [2, 3, 6])
def test_a_day_of_noise_only_takes_no_station_from_the_list(day: int) -> None:
    """The antenna off on one day of seven, or since three: no station is off the air by that; said, and where to look."""
    dead = {day} if day != 3 else {3, 4, 5, 6}
    one = listed(*(survey(of, {} if of in dead else None) for of in range(7)))
    assert set(zip(one.stations["seen"], one.stations["surveys"], strict=True)) == {(7 - len(dead), 7 - len(dead))}
    assert len(one.cautions) == len(dead)
    assert "holds 0 of the 24 stations that other surveys hold: look at the antenna, lead and receiver" in one.cautions[0]
    assert one.grade == ("A" if day == 2 else "B")  # not mended yet


@pytest.mark.parametrize("gone", [16, 22, 23])
def test_a_band_of_which_most_is_left_out_by_the_mast_is_no_dead_antenna(gone: int) -> None:
    """16 of 24 gone, or all but one or two, the others at their usual levels: a mast that failed. 15 dB down it is the lead."""
    left = set(range(gone))
    off = [survey(day) for day in range(5)]
    assert listed(*off, survey(6, without(*left))).surveys == 6
    down = {hz: level - 15.0 for hz, level in without(*left).items()}
    one = listed(*off, survey(6, down))
    assert (one.surveys, f"holds {24 - gone} of the 24 stations" in one.cautions[0]) == (5, True)


def test_stations_that_fade_make_no_deaf_survey() -> None:
    """Half of them on every other day, a third on the rest: no survey is left out, the shares are what they are."""
    days = [survey(day, without(*(rank for rank in range(24) if (rank + day) % (2 + day % 2)))) for day in range(8)]
    assert listed(*days).surveys == 8


@pytest.mark.parametrize("days", [(2,), (1, 3)])
@pytest.mark.parametrize("steps", [0, 1, -2])
def test_stations_in_the_wrong_place_make_no_opening_and_no_list(steps: int, days: tuple[int, ...]) -> None:
    """I and Q swapped (0), or a centre whole channels wrong, on one or two of five days: said as that, and left out."""
    dice = random.Random(7)
    town = {hz: dice.uniform(-80.0, -40.0) for hz in FM[10:90] if dice.random() < 0.4}
    place = {hz: FM[100 - rank] if steps == 0 else FM[(rank + steps) % 101] for rank, hz in enumerate(FM)}
    wrong = {place[hz]: level for hz, level in town.items()}
    one = listed(*(survey(day, wrong if day in days else town) for day in range(5)))
    assert one.stations["channel_hz"].tolist() == sorted(town)
    assert (one.surveys, set(one.stations["steadiness"])) == (5 - len(days), {"steady"})
    assert len(one.cautions) == len(days)
    assert ("so I and Q are swapped" if steps == 0 else f"stations stand {200 * steps:+d} kHz off, so") in one.cautions[0]


@pytest.mark.parametrize(
    ("gains", "noise_too"), [((0, -7, 5, -12, 9), True), ((0, -4, 4, -3, 3), True), ((0, -7, 5, -12, 9), False)]
)
def test_levels_that_move_together_every_time_are_said(gains: tuple[int, ...], noise_too: bool) -> None:
    """Another gain each day: the common scatter is said (8.5 and 3.5 dB: standard deviation, by hand), and the grade is B."""
    days = [survey(day, moved(by), noise_dbfs=-90.0 + by * noise_too) for day, by in enumerate(gains)]
    one = listed(*days)
    (said,) = one.cautions
    told = float(said.removeprefix("all FM levels move together by ").split(" dB")[0])
    assert told == pytest.approx(statistics.stdev(gains), abs=0.6)
    assert ("fix the receiver's gain" in said) == noise_too
    assert (one.grade, one.grade_reason, one.surveys) == ("B", said, 5)


@pytest.mark.parametrize("spread_db", [2.0, 6.0])
def test_days_that_move_each_station_by_itself_are_ordinary(spread_db: float) -> None:
    """Stations that fade by 6 dB either way each: their median moves by less, and there is nothing to say."""
    dice = random.Random(3)
    days = [
        survey(day, {hz: level + dice.uniform(-spread_db, spread_db) for hz, level in STATIONS.items()}) for day in range(6)
    ]
    assert listed(*days).cautions == ()
