"""One programme on several stations of a list: baseline/identity.py, through `distil`."""

from __future__ import annotations

import pandas as pd
from baseline.test_distil import A, B, C, heard, listed, survey

from bandscan.plans import programmes

BY_AUDIO = f"same-programme-as-{B / 1e6:.1f}:by-audio"


def test_the_code_that_most_surveys_claim_is_compared() -> None:
    """Stations whose usual codes are equal name each other, though no single survey read both; an odd reading does not."""
    surveys = [
        survey(1, {A: heard(-40, rds_pi="E123"), B: heard(-50), C: heard(-60, rds_pi="E999")}),
        survey(2, {A: heard(-40), B: heard(-50, rds_pi="E123"), C: heard(-60, rds_pi="E999")}),
        survey(3, {A: heard(-40), B: heard(-50), C: heard(-60, rds_pi="E123", remarks="same-programme-as-98.1:by-code")}),
        survey(4, {A: heard(-40), B: heard(-50), C: heard(-60, remarks="same-programme-as-98.1:by-code")}),
    ]
    stations = listed(*surveys).stations
    assert stations["channel_hz"].tolist() == [A, B, C]
    assert stations["remarks"].tolist()[:2] == ["same-programme-as-99.3:by-code", "same-programme-as-98.1:by-code"]
    assert pd.isna(stations["remarks"][2])
    assert programmes(stations["channel_hz"], stations["remarks"], "fm") == [(A, B), (C,)]


def test_a_sound_shared_in_fewer_than_half_of_the_surveys_is_no_relay() -> None:
    """An hour of common news in one survey of three is dropped; in two of three it stays."""
    once = [survey(i, {A: heard(-40, remarks=BY_AUDIO if i == 1 else ""), B: heard(-50)}) for i in (1, 2, 3)]
    usually = [survey(i, {A: heard(-40, remarks=BY_AUDIO if i < 3 else ""), B: heard(-50)}) for i in (1, 2, 3)]
    assert pd.isna(listed(*once).stations["remarks"][0])
    assert listed(*usually).stations["remarks"][0] == BY_AUDIO


def test_call_letters_stand_in_the_identity_once() -> None:
    """Code, name as sent and claim are one text (1528 is KBYU, a published pair); the surveys' remark is not repeated."""
    claimed = heard(-40, rds_pi="1528", rds_ps="HILL   ", remarks="claims to be KBYU;edge")
    found = listed(survey(1, {A: claimed, B: heard(-50, rds_pi="1528")})).stations
    assert found["identity"].tolist() == ["1528 HILL claims to be KBYU", "1528 claims to be KBYU"]
    assert found["remarks"].tolist() == ["edge;same-programme-as-99.3:by-code", "same-programme-as-98.1:by-code"]


def test_a_list_says_how_many_programmes_its_stations_carry() -> None:
    """Three stations with two programmes are said to be that; without a shared programme nothing is said."""
    shared = survey(1, {A: heard(-40, rds_pi="E123"), B: heard(-50, rds_pi="E123"), C: heard(-60, rds_pi="E999")})
    said = [caution for caution in listed(shared).cautions if "programme" in caution]
    assert said == [
        "3 stations carry probably 2 different programmes, by their codes or sound: 98.1 MHz and 99.3 MHz; a count by"
        " programme comes out lower"
    ]
    apart = survey(1, {A: heard(-40, rds_pi="E123"), B: heard(-50), C: heard(-60, rds_pi="E999")})
    assert not [caution for caution in listed(apart).cautions if "programme" in caution]
