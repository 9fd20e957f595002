"""One programme on several channels of a survey: survey/identity.py, through `gather`."""

from __future__ import annotations

from typing import Any

import pandas as pd
from survey.made import FM_STATION, NOTHING, recording

from bandscan.model import Measured, Survey
from bandscan.survey import gather

A, B, C, D = 97_100_000, 97_500_000, 97_900_000, 98_300_000


def surveyed(*members: Measured) -> Survey:
    """The one survey of the recordings."""
    (survey,) = gather(members)
    return survey


def remarks(survey: Survey, rows: bool = False) -> dict[int, str]:
    """Remarks by channel, of the survey's stations or of its rows; without the channels that have none."""
    table = survey.rows if rows else survey.stations
    return {hz: text for hz, text in zip(table["channel_hz"], table["remarks"], strict=True) if not pd.isna(text)}


def station(**more: Any) -> dict[str, Any]:
    """A clear station."""
    return FM_STATION | {"snr_db": 40.0, "carrier_sd_hz": 200.0} | more


def test_two_stations_with_one_code_name_each_other() -> None:
    """Both rows of a code name the other channel in survey.csv and stations.csv; other codes and none are left alone."""
    found = surveyed(recording({A: station(rds_pi="E123"), B: station(rds_pi="E124"), C: station(rds_pi="E123"), D: station()}))
    expected = {A: "same-programme-as-97.9:by-code", C: "same-programme-as-97.1:by-code"}
    assert remarks(found) == expected
    assert remarks(found, rows=True) == expected


def test_a_code_is_compared_across_recordings_a_sound_within_one() -> None:
    """Channels of two recordings are compared by their codes; three channels of one code name the two others each."""
    found = surveyed(
        recording({A: station(rds_pi="E123"), B: station(rds_pi="E123")}, name="low", centre_hz=A),
        recording({D: station(rds_pi="E123")}, name="high", centre_hz=D),
    )
    assert remarks(found)[D] == "same-programme-as-97.1:by-code;same-programme-as-97.5:by-code"
    assert remarks(found)[A] == "same-programme-as-97.5:by-code;same-programme-as-98.3:by-code"


def test_a_sound_counts_between_stations_only() -> None:
    """What the receiver makes of a station carries its sound: heard alike, but no station, is no relay; nor is it for it."""
    heard = {
        A: station(remarks="same-programme-as-97.5:by-audio;same-programme-as-98.3:by-audio"),
        B: station(image_share=0.95, remarks="same-programme-as-97.1:by-audio"),
        C: NOTHING,
        D: station(remarks="noise-upper-bound;same-programme-as-97.1:by-audio"),
    }
    found = surveyed(recording(heard))
    assert found.stations.set_index("channel_hz")["holds"].to_dict() == {A: "station", B: "phantom", C: "empty", D: "station"}
    said = remarks(found)
    assert said[A] == "same-programme-as-98.3:by-audio"
    assert "same-programme" not in said[B]
    assert said[D] == "noise-upper-bound;same-programme-as-97.1:by-audio"


def test_a_code_of_what_is_no_station_marks_nothing() -> None:
    """A phantom repeats its station's code without being a relay."""
    found = surveyed(recording({A: station(rds_pi="E123"), B: station(rds_pi="E123", image_share=0.95)}))
    assert A not in remarks(found)


def test_call_letters_are_a_claim_of_region_us() -> None:
    """1528 is KBYU by NRSC-4 annex D (a published pair, tests/reference), as a claim and in region us only."""
    rows = {A: station(rds_pi="1528"), B: station(rds_pi="0FFF"), C: station(), D: NOTHING}
    assert remarks(surveyed(recording(rows))) == {A: "claims to be KBYU"}
    assert remarks(surveyed(recording(rows)), rows=True) == {A: "claims to be KBYU"}
    assert remarks(surveyed(recording(rows, region="eu"))) == {}
