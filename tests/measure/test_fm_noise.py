"""The noise under FM stations, told by the stations themselves: by the envelope, and in bands that show their floor nowhere."""

from __future__ import annotations

import numpy as np
import pytest
from measure.made import forged, noise_dbfs, read

from bandscan.demo import FmStation, Receiver
from bandscan.measure import fm, fm_noise

RATE_HZ = 2.4e6


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[fm_noise.ChannelNoise]:
    """What was told of the noise in every recording read since."""
    seen: list[fm_noise.ChannelNoise] = []

    class Spy(fm_noise.ChannelNoise):
        def found(self):  # type: ignore[no-untyped-def]
            seen.append(self)
            return super().found()

    monkeypatch.setattr(fm, "ChannelNoise", Spy)
    return seen


@pytest.mark.parametrize("snr_db", [2.0, 5.0, 10.0, 15.0, 20.0])
def test_a_stations_envelope_tells_the_noise_under_it(snr_db: float, told: list[fm_noise.ChannelNoise]) -> None:
    """A carrier with a share s of noise in its power has an envelope whose power scatters by 2 s - s^2 (Rice, textbook)."""
    noise = noise_dbfs(RATE_HZ)
    stations = [
        FmStation(97_300_000 + 400_000 * k, noise + snr_db, programme=("music", "speech", "tone")[k % 3]) for k in range(4)
    ]
    read(forged(stations, 98_000_000, rate_hz=RATE_HZ, seconds=1.0, seed=3))
    density = 10 ** (noise / 10) / 200e3
    for station in stations:
        index = int(np.argmin(np.abs(told[0].centres_hz - (station.channel_hz - 98_000_000))))
        assert abs(told[0]._by_envelope(index, density)) < 0.2


def test_beside_a_far_stronger_station_an_envelope_tells_less_only(told: list[fm_noise.ChannelNoise]) -> None:
    """What a neighbour 30 dB over the noise spills shakes the envelope too: no reading above the floor is taken from there."""
    noise = noise_dbfs(RATE_HZ)
    read(forged([FmStation(98_100_000, noise + 10), FmStation(98_300_000, noise + 30)], 98_000_000, seconds=1.0, seed=3))
    index = int(np.argmin(np.abs(told[0].centres_hz - 100e3)))
    density = 10 ** (noise / 10) / 200e3
    assert np.isnan(told[0]._by_envelope(index, 0.8 * density))
    assert told[0]._by_envelope(index, 2.0 * density) == pytest.approx(-3.0, abs=0.4)


@pytest.mark.parametrize("slope_db", [-9.0, -6.0, 6.0, 9.0])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_full_narrow_band_on_a_steep_slope(slope_db: float, seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """1.024 MS/s, a station on every channel, 8 to 22 dB over the noise: the noise within 1 dB and what is stated, where the
    spectrum alone, all of it skirts, lays the line level and is sure of it."""
    dice = np.random.default_rng(seed)
    rate_hz, channels = 1.024e6, [97_700_000, 97_900_000, 98_100_000, 98_300_000]
    true_db = {hz: noise_dbfs(rate_hz, hz - 98_000_000, slope_db) for hz in channels}
    stations = [
        FmStation(hz, true_db[hz] + dice.uniform(8, 22), programme=str(dice.choice(["music", "speech"]))) for hz in channels
    ]
    one = forged(stations, 98_000_000, rate_hz=rate_hz, seconds=1.0, seed=seed, receiver=Receiver(slope_db=slope_db))
    rows = read(one)
    error_db = rows["noise_dbfs"] - np.array([true_db[hz] for hz in rows.index])
    assert (np.abs(error_db) < np.minimum(3.0 * rows["noise_sd_db"], 1.0)).all()
    monkeypatch.setattr(fm_noise.ChannelNoise, "_told", lambda *_: (np.nan, 0.3))
    alone_db = read(one)["noise_dbfs"] - np.array([true_db[hz] for hz in rows.index])
    assert np.square(error_db).mean() < np.square(alone_db).mean()
