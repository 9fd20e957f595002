"""The day's survey held against the list: baseline/today.py."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import onair
import pytest
from baseline.test_distil import FM, blinded, heard, listed, row, survey

from bandscan.baseline import Conditions, conditions, moved, unknown_day
from bandscan.model import Reference

STATIONS = {hz: heard(-30.0 - index, 40.0 - index) for index, hz in enumerate(FM[10:90:4])}
NOISE_DB = -70.0
USUAL = listed(*(survey(day, STATIONS) for day in (1, 2, 3)))
GOOD = Reference(-55.0, 1.0, "known-good", "dBFS", 2)

Change = Mapping[int, Mapping[str, Any] | None]


def today(change: Change | None = None, *, level: float = 0.0, noise: float = 0.0) -> Conditions:
    """Conditions of a day on which levels and noise are shifted, and some stations changed."""
    stations: dict[int, Mapping[str, Any] | None] = {
        hz: heard(one["level_dbfs"] + level, one["snr_db"] + level - noise) for hz, one in STATIONS.items()
    }
    return conditions(USUAL, survey(4, {**stations, **(change or {})}))


def test_an_ordinary_day_changes_nothing() -> None:
    """The same levels and noise: the list and the reference are as they were, and there is nothing to say."""
    day = today(noise=1.0)
    assert (day.loses_db, day.cautions, day.facts["off_air_hz"]) == ((0.0, 0.0), (), [])
    assert day.facts["noise_db"] == pytest.approx(1.0)
    assert day.reference(GOOD) == GOOD


def test_a_station_off_the_air_today_is_not_counted_on() -> None:
    """Gone, though 40 dB over the noise as a rule: its chance to be on the air is 1 in 100; another one stays certain."""
    day = today({FM[10]: None})
    assert day.facts["off_air_hz"] == [FM[10]]
    assert (row(day.baseline, FM[10])["seen"], row(day.baseline, FM[10])["surveys"]) == (0, 99)
    assert (row(day.baseline, FM[14])["seen"], row(day.baseline, FM[14])["surveys"]) == (3, 3)
    assert day.cautions == (f"FM today: off the air, and not held against the radio: {FM[10] / 1e6:.1f} MHz",)


def test_a_weak_station_that_the_survey_missed_stays_in_question() -> None:
    """21 dB over the noise as a rule and 16 dB more noise today: it would stand under 6 dB, so nobody can say it is off."""
    weak = FM[86]
    assert STATIONS[weak]["snr_db"] == 21.0
    assert today({weak: None}, noise=16.0).facts["off_air_hz"] == []
    assert today({weak: None}).facts["off_air_hz"] == [weak]


def test_more_noise_raises_what_a_good_set_needs_and_its_doubt() -> None:
    """10 dB more noise: 5 dB up, and an even doubt from none to all of it is 10 / sqrt(12) = 2.89 dB (uniform distribution)."""
    day = today(noise=10.0)
    assert day.loses_db == (0.0, pytest.approx(10.0))
    raised = day.reference(GOOD)
    assert raised.threshold_db == pytest.approx(-50.0)
    assert raised.sd_db == pytest.approx((1.0 + 100 / 12) ** 0.5)
    assert row(day.baseline, FM[10])["snr_db"] == pytest.approx(30.0)
    assert "stations stand 10 dB nearer to the noise than usual (levels +0 dB, noise +10 dB)" in day.cautions[0]


def test_less_noise_lowers_what_a_good_set_needs() -> None:
    """6 dB less noise: a good set may follow stations 6 dB weaker, so that a deaf one is not taken for good."""
    day = today(noise=-6.0)
    assert day.reference(GOOD).threshold_db == pytest.approx(-58.0)
    assert "6 dB further over the noise than usual" in day.cautions[0]


def test_levels_that_fell_together_point_at_the_antenna() -> None:
    """All levels 7 dB down, with the noise as it was or down with them: what feeds the radio may have lost up to 7 dB, a gain
    that was turned nothing. Nobody can tell here, so the threshold is doubted by all of it, and where to look is said."""
    fallen, turned = today(level=-7.0), today(level=-7.0, noise=-7.0)
    for day in (fallen, turned):
        assert day.loses_db == (0.0, pytest.approx(7.0))
        assert day.cautions[-1] == "FM today: all levels -7 dB against the list: look at the antenna, lead and gain"
    assert [len(day.cautions) for day in (fallen, turned)] == [2, 1]


def test_a_day_without_a_survey_doubts_the_reference_more() -> None:
    """0.7 dB for a day that is known, 1.5 dB for one that is not: sqrt(1 + 1.5^2 - 0.7^2) = 1.661 dB, the level as it was."""
    doubted = unknown_day(GOOD)
    assert doubted.threshold_db == GOOD.threshold_db
    assert doubted.sd_db == pytest.approx(1.6613, abs=1e-4)


@pytest.mark.parametrize(
    ("level_db", "noise_db", "thresholds_db", "said"),
    [
        (0.4, 0.2, (0.4, 0.4), ""),
        (9.0, 9.5, (9.0, 9.0), "gain is another"),
        (-6.0, 0.0, (-6.0, 0.0), "less sure"),
        (6.0, 0.0, (0.0, 6.0), "less sure"),
        (2.0, -2.0, (0.0, 0.0), ""),
    ],
)
def test_a_list_of_other_levels_moves_thresholds_or_doubts_them(
    level_db: float, noise_db: float, thresholds_db: tuple[float, float], said: str
) -> None:
    """Noise that moves with the levels is the receiver's gain (arithmetic); else it may be an antenna that the radio has."""
    stations = USUAL.stations.assign(level_db=USUAL.stations["level_db"] + level_db)
    stations["snr_db"] += level_db - noise_db
    found = moved(USUAL, replace(USUAL, stations=stations))
    assert found is not None
    assert found.thresholds_db == pytest.approx(thresholds_db)
    assert said in found.caution("fm")
    assert bool(said) == bool(found.caution("fm"))
    assert moved(USUAL, replace(USUAL, stations=stations.head(3))) is None
    assert moved(USUAL, replace(USUAL, stations=stations.assign(level_unit="dBuV"))) is None


def test_many_strange_stations_at_once_are_said() -> None:
    """Twenty that the list does not know: ducting or sporadic E, and a count is inflated; one alone is only noted."""
    many = today({hz: heard(-60.0, 10.0) for hz in FM[12:92:4]})
    assert many.facts["new_hz"] == list(FM[12:92:4])
    assert many.cautions[0].startswith("FM today: 20 stations at once that the list does not know, as in tropospheric ducting")
    alone = today({FM[12]: heard(-60.0, 10.0)})
    assert (alone.facts["new_hz"], alone.cautions) == ([FM[12]], ())


def test_a_survey_of_two_stations_tells_no_shift() -> None:
    """Too few common stations: nothing is concluded about levels and noise."""
    few = survey(4, {hz: STATIONS[hz] for hz in FM[10:18:4]}, covered=FM[:20])
    day = conditions(USUAL, few)
    assert (day.facts["level_db"], day.facts["noise_db"], day.loses_db) == (None, None, (0.0, 0.0))


@pytest.mark.parametrize("word", ["no-signal", "centre-in-doubt", "rate-in-doubt"])
def test_a_recording_that_tells_nothing_excuses_no_radio(word: str) -> None:
    """A dead receiver today takes no station off the air: a stone-dead radio would be held against none."""
    day = conditions(USUAL, blinded(4, word))
    assert (day.facts["off_air_hz"], day.facts["new_hz"], day.cautions) == ([], [], ())
    assert len(today(dict.fromkeys(FM[10:34:4])).facts["off_air_hz"]) == 6  # a day that tells does


def test_a_dead_antenna_today_excuses_no_radio() -> None:
    """Noise only: no station is off the air by that, where to look is said, the threshold as unsure as without a survey."""
    day = conditions(USUAL, survey(4, {}))
    assert (day.facts["off_air_hz"], day.loses_db, day.reference(GOOD)) == ([], (0.0, 0.0), unknown_day(GOOD))
    assert day.cautions == (
        "FM today: the survey holds 0 of the 20 stations of the list: look at the antenna, lead and receiver; it tells nothing"
        " of the day, and a station off the air counts against the radio",
    )
    # a fifth left, 25 dB down: the lead is off, and the day is as unknown
    left = {hz: heard(one["level_dbfs"] - 25.0, 10.0) for hz, one in list(STATIONS.items())[:5]}
    assert conditions(USUAL, survey(4, left)).facts["off_air_hz"] == []


def test_stations_in_the_wrong_place_today_are_neither_off_the_air_nor_new() -> None:
    """The centre told 200 kHz wrong: said as that; nothing is excused by it."""
    beside = onair.survey("fm", "2026-03-04T10:00:00Z", {hz + 200_000: one["level_dbfs"] for hz, one in STATIONS.items()})
    day = conditions(USUAL, beside)
    assert (day.facts["off_air_hz"], day.facts["new_hz"], day.reference(GOOD)) == ([], [], unknown_day(GOOD))
    assert day.cautions[0].startswith("FM today: stations stand +200 kHz off, so the centre is stated wrong by that (levels")
