"""One decision for a channel from several recordings, and which columns a decision leaves filled."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest
from survey.made import AM_STATION, FM_STATION, NOTHING, recording

from bandscan import tables
from bandscan.survey.holds import decide

HERE = 98_100_000
NOISE = {"snr_db": 12.0, "width_hz": 150e3, "centroid_hz": 0.0, "line_share": 0.02, "envelope_scatter": 0.97, "pilot": False}


def words(*figures: dict[str, Any], centres_hz: tuple[float, ...] = (), **of_recording: Any) -> tuple[str, str]:
    """The agreed word and the first row's remarks for one channel in several recordings."""
    centres = centres_hz or (HERE,) * len(figures)
    group = [
        recording({HERE: one}, name=f"r{number}", centre_hz=centre, **of_recording)
        for number, (one, centre) in enumerate(zip(figures, centres, strict=True))
    ]
    rows = decide(group)
    assert len(set(rows["holds"])) == 1
    remarks = rows.loc[0, "remarks"]
    return str(rows.loc[0, "holds"]), "" if pd.isna(remarks) else str(remarks)


def test_recordings_that_agree_have_no_remark() -> None:
    """Twice a station is a station."""
    assert words(FM_STATION, FM_STATION) == ("station", "")


def test_the_majority_decides_and_the_difference_is_said() -> None:
    """Two of three have it."""
    word, remarks = words(FM_STATION, NOTHING, FM_STATION)
    assert (word, remarks) == ("station", "recordings-differ")
    assert words(FM_STATION, NOTHING, NOTHING) == ("empty", "recordings-differ")


def test_a_tie_is_unsure() -> None:
    """A station stays where it is when the receiver's centre moves: one with, one without cannot be told."""
    assert words(FM_STATION, NOTHING) == ("unsure", "recordings-differ")


def test_recordings_with_the_channel_in_their_middle_speak_first() -> None:
    """At the edge of one (1 MHz off a centre at 2.4 MS/s) and in the middle of the other, the middle counts."""
    assert words(NOTHING, FM_STATION, centres_hz=(HERE + 1_000_000, HERE)) == ("station", "")
    assert words(FM_STATION, NOTHING, centres_hz=(HERE + 1_000_000, HERE + 100_000)) == ("empty", "")


def test_what_one_recording_proves_a_phantom_is_one() -> None:
    """An image in one recording is no station in another, whatever the majority."""
    assert words(FM_STATION, FM_STATION | {"image_share": 0.9}, FM_STATION)[0] == "phantom"


def test_every_recording_keeps_its_own_row() -> None:
    """One row per recording and channel, in the survey's columns, levels as each had them."""
    group = [recording({HERE: FM_STATION | {"snr_db": snr}}, name=name) for name, snr in (("a", 20.0), ("b", 23.0))]
    rows = decide(group)
    assert list(rows.columns) == tables.SURVEY.names
    assert list(rows["recording"]) == ["a", "b"]
    assert list(rows["level_dbfs"]) == [-33.0, -30.0]


@pytest.mark.parametrize("figures", [NOISE, FM_STATION | {"image_share": 0.9}])
def test_pilot_and_deviation_are_given_only_for_stations(figures: dict[str, Any]) -> None:
    """A row that holds something else keeps its level but no pilot, no deviation, no depth."""
    told = figures | {"pilot": True, "pilot_dev_hz": 900.0, "peak_dev_hz": 60e3, "carrier_error_hz": 30e3}
    row = decide([recording({HERE: told})]).loc[0]
    assert row["holds"] != "station"
    assert row[["pilot", "pilot_dev_hz", "peak_dev_hz", "am_depth", "am_stereo"]].isna().all()
    assert not pd.isna(row["level_dbfs"])


def test_an_empty_channel_has_only_its_noise() -> None:
    """Figures of an emission that was judged none are blanked; the noise stays."""
    row = decide([recording({HERE: FM_STATION | {"snr_db": -4.0, "pilot": False}})]).loc[0]
    assert row["holds"] == "empty"
    assert row[["level_dbfs", "level_sd_db", "snr_db", "carrier_error_hz"]].isna().all()
    assert row["noise_dbfs"] == -53.0


def test_stations_keep_their_figures() -> None:
    """FM: pilot and deviations; AM: depth and stereo."""
    row = decide([recording({HERE: FM_STATION | {"peak_dev_hz": 70e3}})]).loc[0]
    assert (row["pilot"], row["pilot_dev_hz"], row["peak_dev_hz"]) == (True, 6750.0, 70e3)
    row = decide([recording({1_000_000: AM_STATION}, band="am")]).loc[0]
    assert (row["am_depth"], row["am_stereo"]) == (0.8, False)


@pytest.mark.parametrize(
    ("deviation_hz", "sd_hz", "scatter", "weak"),
    [
        (1_003.0, 11.0, 0.02, True),
        (2_200.0, 30.0, 0.02, True),
        (3_900.0, 20.0, 0.02, True),
        (3_900.0, 40.0, 0.02, False),
        (6_000.0, 500.0, 0.02, False),
        (2_300.0, 250.0, 0.1, False),
    ],
)
def test_a_line_too_weak_for_a_pilot_is_none(deviation_hz: float, sd_hz: float, scatter: float, weak: bool) -> None:
    """47 CFR 73.322: 6 to 7.5 kHz; surely below 4 kHz it is a tone at 19 kHz, remarked, and its deviation stays. Of a station
    that echoes shake it may be a pilot that they weaken."""
    told = {"pilot_dev_hz": deviation_hz, "pilot_dev_sd_hz": sd_hz, "stereo_snr_db": 30.0, "envelope_scatter": scatter}
    row = decide([recording({HERE: FM_STATION | told})]).loc[0]
    assert (row["holds"], bool(row["pilot"]), str(row["remarks"]) == "weak-pilot") == ("station", not weak, weak)
    assert row["pilot_dev_hz"] == deviation_hz
    assert pd.isna(row["stereo_snr_db"]) == weak


def test_evidence_and_the_recordings_own_remarks_stand_together() -> None:
    """Words of the decision first, then what the recording said."""
    unsure = NOISE | {"remarks": "truncated"}
    row = decide([recording({HERE: unsure})]).loc[0]
    assert row["remarks"] == "noise-like;truncated"


def test_an_overloaded_recording_calls_nothing_a_station() -> None:
    """More than 0.1 % of its samples at full scale (common practice): unsure, and says why."""
    word, remarks = words(FM_STATION, overload_share=0.002)
    assert (word, remarks) == ("unsure", "overload")
    assert words(FM_STATION, overload_share=0.0005) == ("station", "")


def two_gains(drop_db: float, *, gains: tuple[float | None, float | None] = (28.0, 20.0)) -> pd.DataFrame:
    """Two recordings 8 dB apart of two strong stations and one emission that drops by drop_db."""
    strong = {97_500_000: FM_STATION | {"snr_db": 45.0}, 97_900_000: FM_STATION | {"snr_db": 46.0}}
    weaker = {97_500_000: FM_STATION | {"snr_db": 37.0}, 97_900_000: FM_STATION | {"snr_db": 38.0}}
    high = recording(strong | {HERE: FM_STATION | {"snr_db": 30.0}}, name="high", gain_db=gains[0])
    low = recording(weaker | {HERE: FM_STATION | {"snr_db": 30.0 - drop_db}}, name="low", gain_db=gains[1])
    return decide([high, low]).set_index(["recording", "channel_hz"])


@pytest.mark.parametrize("gains", [(28.0, 20.0), (None, None)])
def test_two_gains_part_stations_from_products(gains: tuple[float | None, float | None]) -> None:
    """A station falls by the step, 8 dB; third order by three times that (textbook). Gain told, or read from the stations."""
    rows = two_gains(24.0, gains=gains)
    assert set(rows.xs(HERE, level="channel_hz")["holds"]) == {"phantom"}
    assert "falls-24dB-by-a-step-of-8dB" in rows.loc[("high", HERE), "remarks"]
    assert set(rows.xs(97_500_000, level="channel_hz")["holds"]) == {"station"}


@pytest.mark.parametrize("drop_db", [6.0, 8.0, 11.0])
def test_a_station_that_fades_a_little_stays_one(drop_db: float) -> None:
    """8 dB of step and some fading: far from the 16 dB of a second-order product."""
    assert set(two_gains(drop_db).xs(HERE, level="channel_hz")["holds"]) == {"station"}
