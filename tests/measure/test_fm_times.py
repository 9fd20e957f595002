"""Stations that are on the air for a part of a recording, and fading, which is none of it."""

from __future__ import annotations

import numpy as np
import pytest
from measure.made import capture, noise_dbfs

from bandscan.demo import FmStation, Receiver, forge
from bandscan.measure import measure
from bandscan.measure.fm_times import share_on
from bandscan.plans import plan_for
from bandscan.survey.holds import decide

PARTS = np.arange(60)


@pytest.mark.parametrize("share", [0.15, 0.5, 0.8])
def test_an_intermittent_station_is_told(share: float) -> None:
    """20 dB over the noise while on the air, cut in at an even place: the remark, a level whose uncertainty (2 sd) holds
    that of the station while it is on, and no deviation or audio, which are means over it and its absence."""
    rate_hz, seconds, over_db = 1.2e6, 1.6, 20.0
    station = FmStation(98_300_000, noise_dbfs(rate_hz) + over_db, "speech")
    wave = forge([station], Receiver(), 98_100_000, rate_hz, seconds, 3).samples
    other = forge([FmStation(97_900_000, -35.0, "music")], Receiver(), 98_100_000, rate_hz, seconds, 4).samples
    begin, end = (round(len(wave) * place) for place in (0.1, 0.1 + share))
    other[begin:end] += wave[begin:end]
    found = decide([measure(capture(other, rate_hz, 98_100_000), plan_for("us", "fm"))]).set_index("channel_hz")
    row = found.loc[98_300_000]
    assert row["holds"] == "station"
    assert "intermittent" in row["remarks"].split(";")
    assert abs(row["level_dbfs"] - station.level_dbfs) < 2.0 * row["level_sd_db"]
    assert row[["pilot_dev_hz", "peak_dev_hz", "audio_snr_db"]].isna().all()
    assert "intermittent" not in str(found.loc[97_900_000, "remarks"])


@pytest.mark.parametrize("begin", [5, 30])
def test_on_and_off_are_told_by_a_parts_power(begin: int) -> None:
    """On the air for 20 of 60 parts, with 1 dB of fading meanwhile: a third, within that fading."""
    power = np.where((begin <= PARTS) & (begin + 20 > PARTS), 10 ** (0.05 * np.sin(PARTS)), 0.0)
    share = share_on(power + 0.05, float(power.mean() / 0.05))
    assert share == pytest.approx(1 / 3, abs=0.04)


@pytest.mark.parametrize("parts_a_turn", [4.3, 11.0, 29.0, 120.0])
def test_fading_is_not_called_intermittent(parts_a_turn: float) -> None:
    """A second ray of 0.95 of the amplitude, whose path an aircraft changes: 26 dB down at the worst, and in no part in between
    for less than its turn's share; nor Rayleigh fading as slow (common practice: two rays, and many)."""
    two = np.abs(1 + 0.95 * np.exp(2j * np.pi * PARTS / parts_a_turn)) ** 2
    assert share_on(two + 0.02, float(two.mean() / 0.02)) is None
    for seed in range(20):
        dice = np.random.default_rng(seed)
        rays = np.exp(2j * np.pi * (dice.random((12, 1)) + np.cos(dice.random((12, 1)) * 6.3) * PARTS / parts_a_turn))
        many = np.abs(rays.sum(axis=0)) ** 2
        assert share_on(many + 0.1, float(many.mean() / 0.1)) is None


def test_noise_and_a_steady_station_are_not_intermittent() -> None:
    """Of 8 frames' power 3 % is chance."""
    chance = 1.0 + 0.03 * np.random.default_rng(1).standard_normal(60)
    assert share_on(chance, 0.05) is None
    assert share_on(chance, 100.0) is None


@pytest.mark.parametrize("stations", [1, 3])
def test_a_step_of_the_gain_is_not_a_station_that_leaves(stations: int) -> None:
    """14 dB less from the middle on, stations and noise alike: on the air all the time, and their figures stay."""
    made = [FmStation(97_700_000 + 400_000 * place, -25.0 - place, "speech") for place in range(stations)]
    wave = forge(made, Receiver(), 98_100_000, 1.2e6, 1.6, 5).samples
    wave[len(wave) // 2 :] *= 0.2
    found = measure(capture(wave, 1.2e6, 98_100_000), plan_for("us", "fm")).readings.set_index("channel_hz")
    assert not found["remarks"].fillna("").str.contains("intermittent").any()
    assert found.loc[[one.channel_hz for one in made], "pilot_dev_hz"].notna().all()


def test_a_burst_of_noise_is_no_station_and_ends_none() -> None:
    """Noise 20 dB up for a fifth of the time over a station of 12 dB: neither it nor an empty channel is intermittent."""
    rate_hz = 1.2e6
    station = FmStation(97_900_000, noise_dbfs(rate_hz) + 12.0, "speech")
    wave = forge([station], Receiver(), 98_100_000, rate_hz, 1.6, 6).samples
    begin, end = len(wave) // 3, len(wave) // 3 + len(wave) // 5
    dice = np.random.default_rng(7)
    size = np.sqrt(99.0 * 10 ** (noise_dbfs(rate_hz) / 10) * rate_hz / 200e3 / 2)
    wave[begin:end] += size * (dice.standard_normal(end - begin) + 1j * dice.standard_normal(end - begin))
    found = measure(capture(wave, rate_hz, 98_100_000), plan_for("us", "fm")).readings
    assert not found["remarks"].fillna("").str.contains("intermittent").any()
