"""Which recordings make one survey, and how a channel's rows become one: survey/gather.py."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from made import all_stations, measured

from bandscan.errors import TableError
from bandscan.model import Measured
from bandscan.plans import plan_for, spans_text
from bandscan.survey import gather, group


def only(members: Sequence[Measured], **more: object):
    """The one survey that the recordings make."""
    (survey,) = gather(members, decide=all_stations, **more)  # type: ignore[arg-type]
    return survey


def names(groups: Sequence[Sequence[Measured]]) -> list[list[str]]:
    """Groups as sorted lists of names."""
    return sorted(sorted(one.recording for one in members) for members in groups)


def test_starts_within_thirty_minutes_of_a_neighbours_are_one_survey() -> None:
    """A chain of starts 30 minutes apart is one survey; one second more begins another (CONTRACT, words: survey)."""
    starts = {"a": "10:00:00", "b": "10:30:00", "c": "11:00:00", "d": "11:30:01"}
    members = [measured(name, f"2026-03-01T{start}Z") for name, start in starts.items()]
    random.Random(3).shuffle(members)
    assert names(group(members)) == [["a", "b", "c"], ["d"]]


def test_a_survey_id_binds_over_any_gap_and_parts_what_is_near() -> None:
    """Recordings of one survey id belong together however far apart; beside them, undated and dated ones stand alone."""
    members = [
        measured("a", "2026-03-01T10:00:00Z", survey_id="s1"),
        measured("b", "2026-03-01T18:00:00Z", survey_id="s1"),
        measured("c", "2026-03-01T10:00:00Z", survey_id="s2"),
        measured("d", "2026-03-01T10:01:00Z"),
        measured("e", ""),
        measured("f", "yesterday"),
    ]
    assert names(group(members)) == [["a", "b"], ["c"], ["d"], ["e", "f"]]


def test_a_survey_id_that_names_the_band_is_not_named_twice() -> None:
    """The band stands once in a survey's id, whether or not the recordings' own id begins with it."""
    told = {only([measured("a", survey_id=given)]).id for given in ("fm-day1", "day1")}
    assert told == {"fm-day1-bench"}


@pytest.mark.parametrize("differs", [{"rig": "attic"}, {"band": "am"}, {"region": "eu"}, {"forged": True}])
def test_another_rig_band_region_or_origin_is_another_survey(differs: dict[str, object]) -> None:
    """Levels of two rigs are never averaged, and forged signals never join received ones."""
    assert names(group([measured("a"), replace(measured("b"), **differs)])) == [["a"], ["b"]]  # type: ignore[arg-type]


def test_the_same_recordings_give_the_same_survey_in_any_order() -> None:
    """Survey id and tables do not depend on the order in which the recordings come."""
    members = [measured(name, f"2026-03-01T10:0{i}:00Z", levels=(-40 - i, -30, -50)) for i, name in enumerate("abcd")]
    first, second = only(members), only(members[::-1])
    assert first.id == second.id == "fm-20260301T100000Z-bench"
    pd.testing.assert_frame_equal(first.stations, second.stations)
    pd.testing.assert_frame_equal(first.rows, second.rows)


def test_undated_recordings_are_told_apart_by_their_content() -> None:
    """Two calls with undated recordings of one name and length are two surveys when the content differs, else one."""
    monday, tuesday = measured("scan", "", digest="aa"), measured("scan", "", digest="bb")
    assert only([monday]).id == only([monday]).id
    assert only([monday]).id != only([tuesday]).id
    assert only([monday]).started_utc == only([monday]).ended_utc == ""
    assert only([monday]).cautions[0] == "no start time in scan"
    together = "no start time in scan, scan (2): taken as one survey because they came in one call"
    assert only([monday, tuesday]).cautions[0] == together


def test_a_survey_ends_when_its_last_recording_does() -> None:
    """Start and end are those of the recordings, in UTC whatever zone they name."""
    survey = only([measured("a", "2026-03-01T10:00:00Z", duration=5), measured("b", "2026-03-01T11:20:00+01:00", duration=90)])
    assert (survey.started_utc, survey.ended_utc) == ("2026-03-01T10:00:00Z", "2026-03-01T10:21:30Z")


def test_levels_are_means_of_power_weighted_by_length() -> None:
    """1 s at -30 dBFS and 3 s at -40 dBFS are (1e-3 + 3 * 1e-4) / 4 = 3.25e-4, which is -34.881 dBFS (by hand)."""
    stations = only([measured("a", duration=1, levels=(-30, -30, None)), measured("b", duration=3, levels=(-40, None, None))])
    stations = stations.stations
    assert stations["level_dbfs"].iloc[0] == pytest.approx(-34.8812, abs=1e-4)
    assert stations["snr_db"].iloc[0] == pytest.approx(70 - 34.8812, abs=1e-4)
    assert stations["level_dbfs"].iloc[1] == pytest.approx(-30, abs=1e-9)
    assert stations["remarks"].iloc[1] == "not-in-every-recording"
    assert np.isnan(stations["level_dbfs"].iloc[2])
    assert stations["recordings"].tolist() == [2, 2, 2]


def test_uncertainty_shrinks_with_agreement_and_grows_with_scatter() -> None:
    """Four equal levels of 0.4 dB give 0.2 dB; two that differ by 2 dB cannot claim 0.1 dB together."""
    agree = only([measured(name, levels=(-40, -30, -50), sd=0.4) for name in "abcd"]).stations
    assert agree["level_sd_db"].iloc[0] == pytest.approx(0.2, abs=1e-9)
    differ = only([measured("a", levels=(-40, -30, -50)), measured("b", levels=(-42, -30, -50))]).stations
    # powers 1 and 0.63096: mean 0.81548, standard error 0.18452, that is 0.98 dB (by hand, 4.343 * 0.18452 / 0.81548)
    assert differ["level_sd_db"].iloc[0] == pytest.approx(0.9827, abs=1e-3)
    assert differ["level_sd_db"].iloc[1] == pytest.approx(0.0707, abs=1e-3)


def test_levels_are_those_of_the_rigs_gain() -> None:
    """Of two gains the rig's own counts, however short; unasked, the one of most recorded time; both stay in the rows."""
    low, high = measured("low", gain=20, levels=(-50, -40, -60)), measured("high", gain=28, duration=5, levels=(-42, -32, -52))
    assert only([low, high]).stations["level_dbfs"].tolist() == pytest.approx([-42, -32, -52])
    survey = only([low, high], rig_gain_db={"bench": 20.0})
    assert survey.stations["level_dbfs"].tolist() == pytest.approx([-50, -40, -60])
    assert survey.gain_db == 20.0
    assert set(survey.rows["recording"]) == {"low", "high"}
    assert "recorded at gains of 20.0, 28.0 dB: levels are those at 20.0 dB" in survey.cautions


def stepped(name: str, shift_db: float, **more: object) -> Measured:
    """A recording that does not tell its gain, its three strong stations shifted together."""
    one = measured(name, gain=None, levels=(-40 + shift_db, -30 + shift_db, -50 + shift_db), **more)  # type: ignore[arg-type]
    return replace(one, readings=one.readings.assign(snr_db=one.readings["level_dbfs"] - one.readings["noise_dbfs"]))


def test_gains_that_nobody_told_are_kept_apart_too() -> None:
    """Two recordings a common 8 dB apart are of two gains: the levels are those of the higher one, and it is said."""
    survey = only([stepped("low", -8), stepped("high", 0)])
    assert survey.stations["level_dbfs"].tolist() == pytest.approx([-40, -30, -50])
    assert "at another gain, -8 dB by the stations' common step: low; the levels are the others'" in survey.cautions
    small = only([stepped("low", -3), stepped("high", 0)])  # too small to tell a product by, not to spoil levels
    assert small.stations["level_dbfs"].tolist() == pytest.approx([-40, -30, -50])
    assert "at another gain, -3 dB by the stations' common step: low; the levels are the others'" in small.cautions
    overloaded = only([stepped("low", -8), stepped("high", 0, overload_share=0.02)])
    assert overloaded.stations["level_dbfs"].tolist() == pytest.approx([-48, -38, -58])
    one_gain = only([stepped("a", 0), stepped("b", 1)])
    assert one_gain.stations["level_dbfs"].tolist() == pytest.approx([-39.47, -29.47, -49.47], abs=0.01)


def test_a_channel_covered_at_the_other_gain_alone_says_so() -> None:
    """A channel that the rig's gain does not cover keeps its figures, marked `other-gain`."""
    low = measured("low", gain=20)
    low = replace(low, readings=low.readings.iloc[:2])
    high = measured("high", gain=28, duration=1, levels=(-42, -32, -52))
    stations = only([low, high]).stations
    assert stations["remarks"].fillna("").tolist() == ["", "", "other-gain"]
    assert stations["level_dbfs"].tolist() == pytest.approx([-40, -30, -52])


def test_the_flat_middle_of_a_recording_is_preferred_to_an_edge() -> None:
    """97.9 MHz is 1.05 MHz off in one recording of 2.4 MS/s (past the middle 72 %) and at the centre of another."""
    edge, flat = measured("edge", centre=98_950_000, levels=(-41, -31, -51)), measured("flat", centre=97_900_000)
    stations = only([edge, flat]).stations
    assert stations["level_dbfs"].iloc[0] == pytest.approx(-40)
    alone = only([edge]).stations
    assert alone["remarks"].fillna("").tolist() == ["edge", "", ""]


def test_findings_go_by_the_majority_of_the_time_and_yes_at_a_tie() -> None:
    """A pilot in 1 of 3 seconds is no pilot; in 1 of 2 it is; its deviation is averaged where it was there."""
    yes, no = measured("yes", duration=1), measured("no", duration=2, pilot=False)
    assert not only([yes, no]).stations["pilot"].any()
    assert only([yes, no]).stations["pilot_dev_hz"].isna().all()
    tie = only([yes, replace(no, duration_s=1.0)]).stations
    assert tie["pilot"].all()
    assert tie["pilot_dev_hz"].tolist() == [6750.0] * 3
    assert only([measured("none", pilot=None)]).stations["pilot"].isna().all()


def test_what_a_survey_does_not_cover_is_named() -> None:
    """Gaps in the band plan stand among the cautions, as runs of channels with their unit."""
    assert "not covered: 87.9-97.7, 98.5-107.9 MHz" in only([measured("a")]).cautions


def test_a_survey_without_a_station_points_at_the_antenna() -> None:
    """A band that holds nothing is more often an antenna that is off: said, and only there (common practice)."""
    (silent,) = gather([measured("a")], decide=lambda members, steps: all_stations(members).assign(holds="empty"))
    said = "no station in 3 channels: if there should be some, look at the antenna, lead and receiver"
    assert said in silent.cautions
    assert said not in only([measured("a")]).cautions


def test_overload_is_named_with_its_share() -> None:
    """More than 0.1 % of a recording at full scale is said, with what to do."""
    survey = only([measured("a", overload_share=0.0009), measured("b", overload_share=0.04)])
    assert survey.overload_share == 0.04
    (said,) = [caution for caution in survey.cautions if "overload" in caution]
    assert said.startswith("overload in b: up to 4 % of the samples at full scale")


def test_two_recordings_of_one_name_stay_two() -> None:
    """Recordings of one name from two folders both count, and the rows tell them apart."""
    survey = only([measured("scan", digest="a", levels=(-40, -30, -50)), measured("scan", digest="b", levels=(-40, -33, -50))])
    assert sorted(set(survey.rows["recording"])) == ["scan", "scan (2)"]
    assert survey.stations["recordings"].tolist() == [2, 2, 2]


def test_a_decision_that_contradicts_itself_is_refused() -> None:
    """`holds` is one per channel and survey: two answers are our own defect."""

    def torn(members: Sequence[Measured], steps: Sequence[object]) -> pd.DataFrame:
        rows = all_stations(members)
        rows.loc[0, "holds"] = "empty"
        return rows

    with pytest.raises(TableError, match=r"survey\.csv: channel 97900000 holds two things in one survey"):
        gather([measured("a"), measured("b")], decide=torn)


def test_spans_are_runs_of_the_plan() -> None:
    """Single channels, runs and AM in their own units; nothing for nothing."""
    fm, am = plan_for("us", "fm").channels_hz, plan_for("us", "am").channels_hz
    assert spans_text("fm", [87_900_000, 88_100_000, 101_300_000], fm) == "87.9-88.1, 101.3 MHz"
    assert spans_text("am", [540_000, 1_690_000, 1_700_000], am) == "540, 1690-1700 kHz"
    assert spans_text("fm", [], fm) == ""


def test_a_station_under_the_level_for_30_db_of_audio_says_so() -> None:
    """Audio figures are medians over the rows that count; a level under the one for 30 dB of audio is remarked."""
    members = []
    for name, figures in {"a": (28.0, -35.0), "b": (26.0, -34.0), "c": (27.0, -36.0)}.items():
        one = measured(name)
        at = one.readings["channel_hz"] == 97_900_000
        audio = {
            "audio_snr_db": one.readings["audio_snr_db"].mask(at, figures[0]),
            "level_30db_dbfs": one.readings["level_30db_dbfs"].mask(at, figures[1]).mask(~at, -60.0),
        }
        members.append(replace(one, readings=one.readings.assign(**audio)))
    rows = only(members).stations.set_index("channel_hz")
    assert rows.loc[97_900_000, ["audio_snr_db", "level_30db_dbfs", "remarks"]].tolist() == [27.0, -35.0, "under-30-dB-audio"]
    assert pd.isna(rows.loc[98_100_000, "remarks"])
    assert pd.isna(rows.loc[98_100_000, "audio_snr_db"])
