"""Surveys -> the reference station list: baseline/distil.py."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from bandscan import tables
from bandscan.baseline import distil
from bandscan.errors import BaselineError
from bandscan.model import Baseline, Survey
from bandscan.plans import plan_for

MADE = "2026-03-02T12:00:00Z"
FM = plan_for("us", "fm").channels_hz
A, B, C = 98_100_000, 99_300_000, 104_500_000


def survey(
    number: int,
    stations: Mapping[int, Mapping[str, Any] | None],
    *,
    band: str = "fm",
    rig: str = "bench",
    covered: Sequence[int] | None = None,
    **more: Any,
) -> Survey:
    """A survey of the whole band (or of `covered`); `stations` gives a channel's figures, None what is not there."""
    rows = []
    for channel in covered if covered is not None else plan_for("us", band).channels_hz:
        found = stations.get(channel)
        row: dict[str, Any] = dict.fromkeys(tables.STATIONS.names)
        row |= {"band": band, "channel_hz": channel, "holds": "empty" if found is None else "station", "recordings": 1}
        rows.append(row | dict(found or {}))
    about: dict[str, Any] = {
        "id": f"{band}-{number}-{rig}",
        "band": band,
        "region": "us",
        "rig": rig,
        "started_utc": f"2026-03-{number:02d}T10:00:00Z",
        "ended_utc": f"2026-03-{number:02d}T10:05:00Z",
        "gain_db": 20.0,
        "forged": False,
        "overload_share": 0.0,
        "rows": tables.empty(tables.SURVEY),
        "stations": tables.check(pd.DataFrame(rows, columns=tables.STATIONS.names), tables.STATIONS),
    }
    return Survey(**(about | more))


def listed(*surveys: Survey, names: pd.DataFrame | None = None) -> Baseline:
    """The list of the surveys."""
    return distil(surveys, tables.empty(tables.NAMES) if names is None else names, MADE, "0.1.0")


def row(baseline: Baseline, channel: int) -> pd.Series:
    """One station's row."""
    (found,) = [one for _, one in baseline.stations.iterrows() if one["channel_hz"] == channel]
    return found


def heard(level: float, snr: float = 30.0, **more: Any) -> dict[str, Any]:
    """Figures of a station."""
    return {"level_dbfs": level, "snr_db": snr, "pilot": True, **more}


def test_a_level_is_the_median_and_the_spread_the_standard_deviation() -> None:
    """Levels of -40, -42 and -50 dBFS: median -42, standard deviation 5.2915 dB (sample, by hand: sqrt(56 / 2))."""
    found = row(listed(*(survey(i, {A: heard(level)}) for i, level in enumerate((-40, -42, -50), 1))), A)
    assert found["level_db"] == -42
    assert found["level_unit"] == "dBFS"
    assert found["spread_db"] == pytest.approx(5.2915, abs=1e-4)
    assert (found["seen"], found["surveys"], found["steadiness"], found["valid"]) == (3, 3, "steady", "any")


@pytest.mark.parametrize(
    ("seen", "of", "step_db", "word"),
    [
        (4, 5, 0, "steady"),
        (4, 5, 9, "steady"),
        (3, 4, 0, "fading"),
        (2, 6, 0, "fading"),
        (2, 7, 0, "occasional"),
        (2, 7, 9, "fading"),
        (1, 1, 0, "steady"),
    ],
)
def test_steadiness_is_the_share_of_the_covering_surveys(seen: int, of: int, step_db: float, word: str) -> None:
    """Steady from 80 %, fading from a third or by its spread, else occasional."""
    held = {*range(seen - 1), of - 1}
    surveys = [survey(i + 1, {B: heard(-30), A: heard(-40 - step_db * i) if i in held else None}) for i in range(of)]
    assert row(listed(*surveys), A)["steadiness"] == word


def test_a_survey_that_did_not_cover_the_channel_does_not_count_against_it() -> None:
    """Seen in 2 of the 2 surveys that covered it, of 3."""
    whole = [survey(1, {A: heard(-40)}), survey(2, {A: heard(-40)})]
    part = survey(3, {B: heard(-30)}, covered=[B])
    found = row(listed(*whole, part), A)
    assert (found["seen"], found["surveys"], found["steadiness"]) == (2, 2, "steady")


def test_only_stations_are_listed_and_in_channel_order() -> None:
    """A phantom or an unsure channel in every survey is no station; rows ascend by channel."""
    strange = survey(1, {C: heard(-20), A: heard(-40), B: heard(-30) | {"holds": "phantom"}})
    assert listed(strange).stations["channel_hz"].tolist() == [A, C]


def test_stereo_is_the_share_of_surveys_with_a_pilot() -> None:
    """Pilot in 2 of 3 surveys, one survey not knowing: 2 of 3; none known: empty."""
    pilots = [True, True, False, None]
    surveys = [survey(i + 1, {A: heard(-40, pilot=p), B: heard(-40, pilot=None)}) for i, p in enumerate(pilots)]
    assert row(listed(*surveys), A)["stereo"] == pytest.approx(2 / 3)
    assert np.isnan(row(listed(*surveys), B)["stereo"])


def test_levels_are_in_dbuv_only_if_all_are() -> None:
    """Calibrated and uncalibrated surveys together give dBFS; calibrated ones alone dBuV."""
    calibrated = [survey(i, {A: heard(-40, level_dbuv=32.0), B: heard(-50, level_dbuv=22.0)}) for i in (1, 2)]
    assert row(listed(*calibrated), A)[["level_db", "level_unit"]].tolist() == [32.0, "dBuV"]
    mixed = [*calibrated, survey(3, {A: heard(-40), B: heard(-50)})]
    assert row(listed(*mixed), A)[["level_db", "level_unit"]].tolist() == [-40.0, "dBFS"]


def test_names_and_what_does_not_count_come_from_the_shop() -> None:
    """The shop's own name and its `no` in the column count reach the list; names of the other band do not."""
    names = pd.DataFrame(
        [
            {"band": "fm", "channel_hz": A, "name": "Hill Radio", "count": "no", "remark": ""},
            {"band": "am", "channel_hz": B, "name": "Elsewhere", "count": "yes", "remark": ""},
        ]
    )
    baseline = listed(survey(1, {A: heard(-40), B: heard(-30)}), names=tables.check(names, tables.NAMES))
    assert row(baseline, A)[["name", "remarks"]].tolist() == ["Hill Radio", "not-counted"]
    assert pd.isna(row(baseline, B)["name"])


def test_identity_is_what_most_surveys_claim() -> None:
    """The commonest code with the name sent beside it; a single odd reading does not win."""
    claims = [("0FF1", "HILL   "), ("0FF1", "HILL   "), ("0A22", "OTHER")]
    surveys = [survey(i + 1, {A: heard(-40, rds_pi=pi, rds_ps=ps)}) for i, (pi, ps) in enumerate(claims)]
    assert row(listed(*surveys), A)["identity"] == "0FF1 HILL"


def test_remarks_of_at_least_half_of_the_surveys_stay() -> None:
    """A remark made once in three is dropped."""
    remarks = ["edge;wide", "wide", ""]
    surveys = [survey(i + 1, {A: heard(-40, remarks=text)}) for i, text in enumerate(remarks)]
    assert row(listed(*surveys), A)["remarks"] == "wide"


def test_a_level_at_another_gain_is_not_taken() -> None:
    """A row marked `other-gain` counts as seen, its level does not count."""
    surveys = [survey(1, {A: heard(-40)}), survey(2, {A: heard(-48, remarks="other-gain")})]
    found = row(listed(*surveys), A)
    assert (found["level_db"], found["seen"]) == (-40.0, 2)


def test_surveys_at_another_gain_than_the_newest_are_left_out_and_said() -> None:
    """A rig includes its gain: levels of 20 and 28 dB are not mixed."""
    baseline = listed(
        survey(1, {A: heard(-48)}, gain_db=12.0), survey(2, {A: heard(-40)}), survey(3, {A: heard(-40)}, gain_db=None)
    )
    assert baseline.surveys == 2
    assert row(baseline, A)["level_db"] == -40.0
    assert baseline.cautions == ("1 survey(s) at a gain of 12.0 dB left out: the newest was made at 20.0 dB",)


def test_span_of_time_is_that_of_the_surveys() -> None:
    """From the first start to the last end, whatever the order given."""
    baseline = listed(survey(9, {A: heard(-40)}), survey(3, {A: heard(-40)}))
    assert (baseline.first_utc, baseline.last_utc) == ("2026-03-03T10:00:00Z", "2026-03-09T10:05:00Z")
    assert (baseline.made_utc, baseline.version, baseline.rig) == (MADE, "0.1.0", "bench")


def test_am_lists_are_for_the_day_and_say_what_is_not_checked() -> None:
    """AM holds by day only (common practice); FM at any hour."""
    baseline = listed(survey(1, {1_400_000: {"level_dbfs": -40.0, "snr_db": 30.0}}, band="am"))
    assert baseline.stations["valid"].tolist() == ["day"]
    assert "is not checked" in baseline.cautions[0]


@pytest.mark.parametrize(
    ("surveys", "grade", "reason"),
    [
        ([survey(i, {A: heard(-40)}) for i in (1, 2, 3)], "A", "3 surveys, every channel covered, no overload"),
        ([survey(1, {A: heard(-40)})], "B", "1 survey(s): from three on it shows what fades or is off the air at times"),
        (
            [survey(i, {A: heard(-40)}, covered=FM[1:]) for i in (1, 2, 3)],
            "B",
            "1 of 101 channels not covered: 87.9 MHz",
        ),
        (
            [survey(i, {A: heard(-40)}, covered=[A]) for i in (1, 2, 3)],
            "C",
            "100 of 101 channels not covered: 87.9-97.9, 98.3-107.9 MHz",
        ),
        ([survey(i, {}) for i in (1, 2, 3)], "C", "no station found"),
        (
            [survey(i, {A: heard(-40)}, started_utc="", ended_utc="") for i in (1, 2, 3)],
            "B",
            "3 of 3 surveys without a start time",
        ),
    ],
)
def test_the_grade_comes_with_its_reason(surveys: list[Survey], grade: str, reason: str) -> None:
    """A unless something speaks against it; what does is said."""
    baseline = listed(*surveys)
    assert (baseline.grade, baseline.grade_reason) == (grade, reason)


def test_an_overloaded_survey_never_enters_a_list() -> None:
    """A survey with more than 0.1 % of a recording at full scale (common practice) is left out and named; where all are so,
    there is no list, and what to do is said."""
    surveys = [survey(i, {A: heard(-40 + i)}, overload_share=0.02 if i == 2 else 0.0009) for i in (1, 2, 3, 4)]
    baseline = listed(*surveys)
    assert (baseline.surveys, baseline.grade, row(baseline, A)["level_db"]) == (3, "A", -37)
    assert baseline.survey_ids == ("fm-1-bench", "fm-3-bench", "fm-4-bench")
    assert baseline.cautions == ("1 of 4 surveys left out for overload: up to 2 % of the samples at full scale",)
    with pytest.raises(BaselineError, match=r"fm with rig bench: 1 of 1 surveys left out for overload.*; lower the gain"):
        listed(surveys[1])


@pytest.mark.parametrize("differs", [{"rig": "attic"}, {"region": "eu"}, {"forged": True}])
def test_another_rig_never_enters_a_list(differs: dict[str, Any]) -> None:
    """Surveys of two rigs, regions or origins are refused."""
    with pytest.raises(BaselineError, match="make no common list"):
        listed(survey(1, {A: heard(-40)}), survey(2, {A: heard(-30)}, **differs))


def test_no_survey_is_refused_with_what_to_do() -> None:
    """Without surveys there is no list, and the message says what to run."""
    with pytest.raises(BaselineError, match=r"^no survey to make a station list from; run `bandscan survey`"):
        listed()


def test_forged_surveys_make_a_list_that_says_so() -> None:
    """A list from made signals can never pass for a received one."""
    baseline = listed(survey(1, {A: heard(-40)}, forged=True))
    assert baseline.forged
    assert "forged" in baseline.cautions[0]


def test_surveys_more_than_a_year_old_make_no_list_of_today() -> None:
    """Stations and antennas change: what is more than a year older than the newest survey is left out, and counted."""
    old = survey(1, {A: heard(-20)}, started_utc="2025-02-20T10:00:00Z", ended_utc="2025-02-20T10:05:00Z")
    one = listed(old, survey(2, {B: heard(-30)}), survey(3, {B: heard(-30)}))
    assert (one.surveys, one.stations["channel_hz"].tolist(), one.first_utc) == (2, [B], "2026-03-02T10:00:00Z")
    assert one.cautions == ("1 survey(s) left out: more than a year older than the newest",)


def blinded(number: int, word: str) -> Survey:
    """A survey all of whose rows say that their recording tells nothing, and that holds no station."""
    one = survey(number, {})
    return replace(one, stations=one.stations.assign(remarks=word))


@pytest.mark.parametrize("word", ["no-signal", "centre-in-doubt", "rate-in-doubt"])
def test_a_recording_that_tells_nothing_takes_nothing_from_the_list(word: str) -> None:
    """A dead receiver and a wrong centre show no station off the air: three of three surveys hold it, and the list says why."""
    good = [survey(day, {A: heard(-30.0, 40.0), B: heard(-40.0, 30.0)}) for day in (1, 2, 3)]
    made = listed(*good, blinded(4, word))
    assert [(row(made, hz)["seen"], row(made, hz)["surveys"], row(made, hz)["steadiness"]) for hz in (A, B)] == [
        (3, 3, "steady")
    ] * 2
    assert any(said.startswith("1 of 4 surveys hold recordings without a signal") for said in made.cautions)
    assert not any("without a signal" in said for said in listed(*good).cautions)
    # nor has every station gone where the newest surveys are all of a dead receiver
    late = listed(*good, *(blinded(day, word) for day in (4, 5, 6, 7)))
    assert [(row(late, hz)["seen"], row(late, hz)["surveys"]) for hz in (A, B)] == [(3, 3)] * 2
    assert len(listed(blinded(1, word)).stations) == 0
    # a day on which the band was there and the stations were not does count
    assert row(listed(*good, survey(4, {C: heard(-30.0, 40.0)})), A)["surveys"] == 4


@pytest.mark.parametrize("word", ["unsure", "spur", "sideband"])
def test_a_survey_in_doubt_about_a_channel_is_none_without_its_station(word: str) -> None:
    """Held on three days and in doubt on two: three of three, steady. In doubt on as many as held it, the station is in
    question: one of two. What is surely none counts as none."""

    def day(number: int, holds: str) -> Survey:
        one = survey(number, {A: heard(-40)} if holds == "station" else {})
        return replace(
            one, stations=one.stations.assign(holds=one.stations["holds"].mask(one.stations["channel_hz"] == A, holds))
        )

    def told(*holds: str) -> tuple[Any, ...]:
        found = row(listed(*(day(number, one) for number, one in enumerate(holds, 1))), A)
        return found["seen"], found["surveys"], found["steadiness"]

    assert told("station", word, "station", word, "station") == (3, 3, "steady")
    assert told("station", word) == (1, 2, "fading")
    assert told("station", "station", word, "empty", "phantom") == (2, 4, "fading")
