"""FM recordings of known truth, at several rates, with what receivers add: what `measure` promises of each column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from measure.made import NOISE_200_KHZ, capture, forged, noise_dbfs, read, rows

from bandscan import source
from bandscan.demo import FmStation, Receiver, Spur, forge
from bandscan.errors import RecordingError
from bandscan.measure import fm, fm_noise, fm_strange, measure
from bandscan.plans import plan_for
from bandscan.survey.holds import decide


@pytest.mark.parametrize("seed", [41, 42])
def test_the_mirror_image_beside_the_centre_is_told(seed: int) -> None:
    """The receiver tuned half-way between two channels, as a sweep tunes it: the image stands in the channel next to the
    station's, 100 kHz beyond the centre. A station there is one."""
    station = FmStation(98_200_000, -20.0)
    mirrored = forged([station], 98_100_000, receiver=Receiver(image_db=-28.0), seconds=0.5, seed=seed)
    assert decide([measure(mirrored, plan_for("eu", "fm"))]).set_index("channel_hz").loc[98_000_000, "holds"] == "phantom"
    both = forged([station, FmStation(98_000_000, -42.0)], 98_100_000, seconds=0.5, seed=seed)
    assert decide([measure(both, plan_for("eu", "fm"))]).set_index("channel_hz").loc[98_000_000, "holds"] == "station"


def band(centre_hz: int, channels: int) -> list[FmStation]:
    """Stations every 400 kHz around a centre, 10 to 30 dB over the noise, of each programme, stereo and mono."""
    first = centre_hz - 200_000 * (channels - 1)
    programmes = ("speech", "music", "tone")
    return [
        FmStation(
            first + 400_000 * place,
            -23.0 - 20.0 * (place * 5 % channels) / channels,
            programme=programmes[place % 3],
            pilot_dev_hz=6_000.0 + 150.0 * place if place % 4 else 0.0,
            carrier_error_hz=(-1.0) ** place * 200.0 * place,
            pilot_error_hz=0.2 * place - 1.0,
        )
        for place in range(channels)
    ]


@pytest.mark.parametrize(
    ("rate_hz", "centre_hz", "channels", "seconds"),
    [
        (2.4e6, 98_100_000, 5, 1.0),
        (2.048e6, 98_100_000, 4, 1.0),
        (3.2e6, 98_100_000, 7, 0.6),
        (10e6, 98_100_000, 10, 0.3),
    ],
)
def test_a_forged_band_is_read_as_it_was_made(rate_hz: float, centre_hz: int, channels: int, seconds: float) -> None:
    """Level 0.15 dB, noise 0.3 dB, pilot yes or no and its deviation 2 %, and the carrier, at every usual rate.

    The carrier is the mean frequency: 40 kHz of a programme's lowest note, 40 Hz, cut off anywhere in T seconds leaves up to
    40e3 / (2 pi 40 T) = 160 Hz / T.
    """
    stations = band(centre_hz, channels)
    found = read(forged(stations, centre_hz, rate_hz=rate_hz, seconds=seconds, seed=3))
    for station in stations:
        row = found.loc[station.channel_hz]
        assert row["level_dbfs"] == pytest.approx(station.level_dbfs, abs=0.15)
        assert row["noise_dbfs"] == pytest.approx(noise_dbfs(rate_hz), abs=0.3)
        assert row["snr_db"] == pytest.approx(row["level_dbfs"] - row["noise_dbfs"], abs=1e-6)
        assert row["carrier_error_hz"] == pytest.approx(station.carrier_error_hz, abs=160 / seconds)
        assert row["pilot"] == (station.pilot_dev_hz > 0)
        if station.pilot_dev_hz:
            assert row["pilot_dev_hz"] == pytest.approx(station.pilot_dev_hz, rel=0.02)
        else:
            assert pd.isna(row["pilot_dev_hz"])


def test_peak_deviation_is_that_of_the_maker() -> None:
    """At 25 dB and more: within 3 % of the 99.9th percentile of what was sent; below: not given."""
    stations = [
        FmStation(97_300_000, -12.0, programme="music"),
        FmStation(97_900_000, -16.0, programme="speech", deviation_hz=50_000.0),
        FmStation(98_500_000, -20.0, programme="music", pilot_dev_hz=0.0, carrier_error_hz=1_900.0),
        FmStation(98_900_000, -32.0, programme="music"),
    ]
    made = forge(stations, Receiver(), 98_100_000, 2.4e6, 1.0, 4)
    found = read(capture(made.samples, 2.4e6, 98_100_000))
    for truth in made.truth[:3]:
        assert found.loc[truth.channel_hz, "peak_dev_hz"] == pytest.approx(truth.peak_dev_hz, rel=0.03)
    assert pd.isna(found.loc[98_900_000, "peak_dev_hz"])


def test_the_peak_of_too_wide_a_swing_is_within_what_is_stated() -> None:
    """The channel cuts wide swings off: at 60 to 120 kHz of either programme the figure holds what was sent, and says how
    surely: 95 of 100 within 1.96 standard deviations, none beyond 3, and a legal station's as surely as ever."""
    errors, stated = [], []
    for seed, deviation_hz in enumerate((60e3, 75e3, 80e3, 85e3, 90e3, 95e3, 100e3, 110e3, 120e3)):
        kinds = (("music", 6_750.0), ("speech", 6_750.0), ("music", 0.0))
        stations = [
            FmStation(97_500_000 + 600_000 * place, -18.0, programme=kind, pilot_dev_hz=pilot_hz, deviation_hz=deviation_hz)
            for place, (kind, pilot_hz) in enumerate(kinds)
        ]
        made = forge(stations, Receiver(), 98_100_000, 2.4e6, 1.0, 80 + seed)
        found = read(capture(made.samples, 2.4e6, 98_100_000))
        for truth in made.truth:
            row = found.loc[truth.channel_hz]
            if pd.notna(row["peak_dev_hz"]):
                errors.append((row["peak_dev_hz"] - truth.peak_dev_hz) / row["peak_dev_sd_hz"])
                stated.append(row["peak_dev_sd_hz"] / truth.peak_dev_hz)
    assert len(errors) >= 22  # the widest shake the envelope so much that some are not told
    assert np.mean(np.abs(errors) < 1.96) >= 0.9
    assert np.max(np.abs(errors)) < 3.0
    assert max(stated[:6]) < 0.02


@pytest.mark.parametrize("snr_db", [26.0, 32.0, 40.0])
def test_noise_on_a_silent_pilot_is_in_the_uncertainty_of_its_peak(snr_db: float) -> None:
    """A pilot alone: what noise adds to its peak is within twice what is stated (1.2 % would be a tenth of it at 26 dB)."""
    dice = np.random.default_rng(5)
    t = np.arange(2_400_000) / 2.4e6
    wave = 0.3 * np.exp(2j * np.pi * -300e3 * t - 1j * 6_750.0 / 19e3 * np.cos(2 * np.pi * 19e3 * t))
    noise = dice.standard_normal((2, len(t))) * 0.3 * np.sqrt(2.4e6 / 200e3 / 2) * 10 ** (-snr_db / 20)
    found = read(capture(wave + noise[0] + 1j * noise[1], 2.4e6, 98_200_000)).loc[97_900_000]
    assert abs(found["peak_dev_hz"] - 6_750.0) < 2.0 * found["peak_dev_sd_hz"]
    assert found["peak_dev_sd_hz"] < 0.3 * 6_750.0


@pytest.mark.parametrize("level_dbfs", [-15.0, -30.0])
def test_one_station_in_a_narrow_recording(level_dbfs: float) -> None:
    """256 kS/s hold one channel and hardly any noise beside it: level and pilot are right, the noise is right or remarked."""
    station = FmStation(93_100_000, level_dbfs, programme="music")
    row = read(forged([station], 93_100_000, rate_hz=256e3, seconds=1.0, encoding="ci16")).loc[93_100_000]
    assert row["level_dbfs"] == pytest.approx(level_dbfs, abs=0.3)
    assert row["pilot"]
    assert row["pilot_dev_hz"] == pytest.approx(6_750, rel=0.02)
    too_high_db = row["noise_dbfs"] - NOISE_200_KHZ
    assert too_high_db > -0.5
    assert too_high_db < 0.5 or "noise-upper-bound" in row["remarks"]


@pytest.mark.parametrize("programme", ["speech", "music", "tone"])
@pytest.mark.parametrize("level_dbfs", [-41.0, -35.0, -31.0])
def test_a_narrow_recordings_noise_is_told_where_spectrum_and_station_agree(programme: str, level_dbfs: float) -> None:
    """256 kS/s, one station 12, 18 or 22 dB over its noise: the noise within 0.5 dB, and no bound (issue 4)."""
    station = FmStation(93_100_000, level_dbfs, programme=programme)
    row = read(forged([station], 93_100_000, rate_hz=256e3, seconds=1.0, seed=8, encoding="ci16")).loc[93_100_000]
    assert row["noise_dbfs"] == pytest.approx(NOISE_200_KHZ, abs=0.5)
    assert pd.isna(row["remarks"]) or "noise-upper-bound" not in row["remarks"]


@pytest.mark.parametrize("rate_hz", [256e3, 2.4e6, 10e6])
def test_a_free_channel_holds_its_noise_and_no_emission(rate_hz: float) -> None:
    """Noise alone: its level within 0.2 dB, and no figure of an emission where none stands out."""
    found = read(forged([], 98_100_000, rate_hz=rate_hz, seconds=min(0.5, 1e6 / rate_hz), seed=5, encoding="ci16"))
    assert found["noise_dbfs"].to_numpy() == pytest.approx(np.full(len(found), NOISE_200_KHZ), abs=0.2)
    silent = found[found["level_dbfs"].isna()]
    assert len(silent) >= 0.9 * len(found)
    for name in ("snr_db", "carrier_error_hz", "pilot", "pilot_dev_hz", "peak_dev_hz"):
        assert silent[name].isna().all()
    assert not (found["snr_db"] > -10).any()


@pytest.mark.parametrize("centre_hz", [98_100_000, 98_000_000, 98_200_000, 98_037_500])
@pytest.mark.parametrize("dc_dbfs", [-50.0, -20.0])
def test_the_receivers_dc_line_is_no_emission(centre_hz: int, dc_dbfs: float) -> None:
    """In a channel's middle, on the edge between two, or anywhere else: 3 to 33 dB of DC leave all channels empty."""
    one = forged([], centre_hz, receiver=Receiver(dc_dbfs=dc_dbfs), seconds=0.5, seed=6)
    found = read(one)
    assert not (found["snr_db"] > -10).any()


@pytest.mark.parametrize("dc_dbfs", [-45.0, -25.0])
def test_a_wandering_dc_line_is_no_emission(dc_dbfs: float) -> None:
    """DC that moves by all of its size within 20 ms (gain control, supply) is 50 Hz wide: no emission either."""
    samples = 1_200_000
    rng = np.random.default_rng(15)
    steps = rng.standard_normal((2, samples // 48_000 + 2))
    wander = np.interp(np.arange(samples), 48_000 * np.arange(steps.shape[1]), steps[0] + 1j * steps[1])
    made = forge([], Receiver(), 98_100_000, 2.4e6, 0.5, 16).samples + wander * 10 ** (dc_dbfs / 20) / np.std(wander)
    found = read(capture(made, 2.4e6, 98_100_000))
    assert not (found["snr_db"] > -5).any()


def test_a_wandering_dc_line_does_not_make_a_stations_level_unsure() -> None:
    """Beside a station as strong as the line, what is taken off at the centre is the line's: level and doubt within 0.15 dB."""
    rng = np.random.default_rng(15)
    steps = rng.standard_normal((2, 27))
    wander = np.interp(np.arange(1_200_000), 48_000 * np.arange(27), steps[0] + 1j * steps[1])
    made = forge([FmStation(98_100_000, -35.0)], Receiver(), 98_100_000, 2.4e6, 0.5, 16).samples
    row = read(capture(made + wander * 10 ** (-35.0 / 20) / np.std(wander), 2.4e6, 98_100_000)).loc[98_100_000]
    assert abs(row["level_dbfs"] + 35.0) < 0.15
    assert row["level_sd_db"] < 0.15


@pytest.mark.parametrize("off_hz", [60.0, 100.0, 500.0])
def test_a_quiet_station_whose_carrier_stands_next_to_the_centre_keeps_its_level(off_hz: float) -> None:
    """Deviating by 9 kHz at most, much of it stands where the receiver's own offset may be: within 0.1 dB (issue 4)."""
    station = FmStation(98_100_000, -30.0, deviation_hz=9_000.0, pilot_dev_hz=6_750.0, carrier_error_hz=off_hz)
    found = forged([station], 98_100_000, seconds=1.0, receiver=Receiver(dc_dbfs=-40.0))
    assert read(found).loc[98_100_000, "level_dbfs"] == pytest.approx(-30.0, abs=0.1)


def test_a_station_on_the_centre_keeps_its_level_beside_the_dc_line() -> None:
    """A DC line as strong as the station in whose middle it stands costs it less than 0.15 dB."""
    stations = [FmStation(98_100_000, -30.0), FmStation(98_700_000, -30.0)]
    found = read(forged(stations, 98_100_000, receiver=Receiver(dc_dbfs=-30.0), seconds=1.0, seed=7))
    assert found.loc[98_100_000, "level_dbfs"] == pytest.approx(-30.0, abs=0.15)
    assert found.loc[98_100_000, "pilot"]


@pytest.mark.parametrize("centre_hz", [98_000_000.0, 98_000_037.0, 97_999_951.3])
def test_an_unmodulated_line_is_all_line(centre_hz: float) -> None:
    """A spur in a free channel has its level and its place, and nearly all of it stands in one line.

    Centres off the bins of 100 Hz too: what the channeliser leaves of a carrier is taken off.
    """
    row = read(forged([Spur(98_132_100.0, -30.0)], centre_hz, seconds=0.5, seed=8)).loc[98_100_000]
    assert row["level_dbfs"] == pytest.approx(-30.0, abs=0.1)
    assert row["line_share"] > 0.95
    assert row["centroid_hz"] == pytest.approx(32_100, abs=2_000)
    assert row["carrier_error_hz"] == pytest.approx(32_100, abs=20)


def test_two_lines_in_a_channel_are_no_station() -> None:
    """Spurs 5 and 26 kHz off the channel's middle, 7 dB apart: unmodulated both, so no station."""
    spurs = [Spur(98_095_000.0, -32.0), Spur(98_126_000.0, -39.0)]
    found = measure(forged(spurs, 98_300_000, seconds=1.0, seed=17), plan_for("us", "fm"))
    assert "station" not in set(decide([found])["holds"])


def test_a_station_has_a_steady_envelope_and_noise_has_not() -> None:
    """Variance of the power over its mean squared: near 0 for FM 30 dB over the noise, 1 for noise (exponential, textbook)."""
    found = read(forged([FmStation(98_100_000, -23.0)], 98_000_000, seconds=0.5, seed=9))
    assert found.loc[98_100_000, "envelope_scatter"] < 0.02
    assert found.loc[98_900_000, "envelope_scatter"] == pytest.approx(1.0, abs=0.1)


def test_a_burst_is_left_out_of_levels_and_said() -> None:
    """A start-up click 40 dB over everything in one frame of 10 ms changes no level and is remarked in every row."""
    station = FmStation(98_100_000, -35.0)
    made = forge([station], Receiver(), 98_000_000, 2.4e6, 0.5, 10)
    spoilt = made.samples.copy()
    spoilt[240_100:241_300] += 0.9
    calm, burst = (read(capture(wave, 2.4e6, 98_000_000)) for wave in (made.samples, spoilt))
    both = burst["level_dbfs"].notna() & calm["level_dbfs"].notna()
    assert both[98_100_000]
    np.testing.assert_allclose(burst.loc[both, "level_dbfs"], calm.loc[both, "level_dbfs"], atol=0.1)
    np.testing.assert_allclose(burst["noise_dbfs"], calm["noise_dbfs"], atol=0.1)
    assert all("bursts-left-out" in words.split(";") for words in burst["remarks"])
    assert not any("bursts" in words for words in calm["remarks"].fillna(""))


@pytest.mark.parametrize("tone_hz", [400.0, 1_000.0])
def test_a_loud_stations_pilot_is_read_within_two_percent_at_8_db(tone_hz: float) -> None:
    """68 kHz of a tone and a pilot of 6.75 kHz, 8 dB over white noise in 200 kHz, in closed form: within 2 % (issue 4).

    From whole samples of 240 kS/s it is 3 to 4 % low: noise takes the turns of the wide swings past half a circle.
    """
    rate_hz = 1.2e6
    at_s = np.arange(round(rate_hz)) / rate_hz
    turns = -68e3 / tone_hz * np.cos(2 * np.pi * tone_hz * at_s) - 6_750 / 19e3 * np.cos(2 * np.pi * 19e3 * at_s + 1.0)
    parts = np.random.default_rng(21).standard_normal((2, len(at_s)))
    sigma = np.sqrt(10**-0.8 * rate_hz / 200e3 / 2)
    wave = 0.05 * (np.exp(1j * (turns + 2 * np.pi * 200e3 * at_s)) + sigma * (parts[0] + 1j * parts[1]))
    station = read(capture(wave, rate_hz, 97_900_000, encoding="cf32")).loc[98_100_000]
    assert station["snr_db"] == pytest.approx(8.0, abs=0.2)
    assert station["pilot_dev_hz"] == pytest.approx(6_750, rel=0.02)
    assert abs(station["pilot_dev_hz"] - 6_750) < 3 * station["pilot_dev_sd_hz"]


def test_figures_are_the_same_in_batches_of_any_size(monkeypatch: pytest.MonkeyPatch) -> None:
    """Frames in batches of 8, or of 5: levels to 0.01 dB, carriers to 1 Hz, pilots to 0.1 %, deviations to 1 %."""
    one = forged(band(98_100_000, 5), 98_100_000, seconds=0.5, seed=11)
    eight = read(one)
    monkeypatch.setattr(fm, "BATCH", 5)
    five = read(one)
    assert list(five["pilot"]) == list(eight["pilot"])
    for name, tolerance in (("level_dbfs", 0.01), ("noise_dbfs", 0.01), ("carrier_error_hz", 1.0)):
        np.testing.assert_allclose(five[name], eight[name], atol=tolerance)
    for name, share in (("pilot_dev_hz", 1e-3), ("peak_dev_hz", 1e-2)):
        np.testing.assert_allclose(five[name], eight[name], rtol=share)


SAMPLES = 120_000
TURN = np.exp(2j * np.pi * 100e3 / 2.4e6 * np.arange(SAMPLES))


def white() -> np.ndarray:
    """Complex white noise of power 2."""
    parts = np.random.default_rng(12).standard_normal((2, SAMPLES))
    return np.asarray(parts[0] + 1j * parts[1])


ONE_BIT = np.where(np.random.default_rng(13).random(SAMPLES) < 0.5, 1.0, -1.0) / 255

# recordings that no band ever was: dead, stuck, overdriven, and floats of any size
ODD = [
    pytest.param("cu8", np.zeros(SAMPLES), id="zeros"),
    pytest.param("cu8", np.full(SAMPLES, 0.4 - 0.2j), id="stuck"),
    pytest.param("cu8", np.full(SAMPLES, 1.0 + 1.0j), id="stuck at full scale"),
    pytest.param("cu8", np.tile([1.0, -1.0], SAMPLES // 2), id="alternating"),
    pytest.param("cu8", white() * 10, id="overdriven noise"),
    pytest.param("cu8", np.where(np.arange(SAMPLES) == 100_000, 1.0, 0.0), id="one sample"),
    pytest.param("cu8", ONE_BIT, id="one bit of noise"),
    pytest.param("cf32", TURN, id="a tone and nothing else"),
    pytest.param("cf32", white() * 1e5, id="large floats"),
    pytest.param("cf32", white() * 1e-18, id="tiny floats"),
    pytest.param("cf32", np.zeros(SAMPLES), id="zeros as floats"),
]


@pytest.mark.parametrize(("encoding", "wave"), ODD)
def test_odd_recordings_give_figures_and_never_a_station(encoding: str, wave: np.ndarray) -> None:
    """Whatever the samples: a table that holds no infinite value, no warning, and a decision that is no station."""
    found = measure(capture(wave, 2.4e6, 98_000_000, encoding=encoding), plan_for("us", "fm"))
    assert not np.isinf(found.readings.select_dtypes("float64").to_numpy()).any()
    assert "station" not in set(decide([found])["holds"])


def test_floats_beyond_any_receivers_are_refused() -> None:
    """Samples of 1e11, where single precision would overflow: one line with the size, what is accepted and what to do."""
    with pytest.raises(RecordingError, match=r"holds samples of size 4.*e\+11; accepted: floats up to 1e\+06.*; scale the rec"):
        measure(capture(white() * 1e11, 2.4e6, 98_000_000, encoding="cf32"), plan_for("us", "fm"))


def test_unusable_floats_cost_what_they_spoil(tmp_path: Path) -> None:
    """NaN and infinity in a float recording become zeros, are counted, remarked, and change no level by more than 0.1 dB."""
    station = FmStation(98_100_000, -25.0)
    made = forge([station], Receiver(), 98_000_000, 2.4e6, 0.3, 14).samples
    spoilt = made.copy()
    spoilt[[1_000, 200_000, 400_001]] = [np.nan, complex(np.inf, 0), complex(0, np.nan)]
    levels = []
    for name, wave in (("whole", made), ("spoilt", spoilt)):
        path = tmp_path / f"{name}.cf32"
        wave.astype("<c8").tofile(path)
        (one,) = source.read(path, source.RawFormat("cf32", 2.4e6, 98_000_000))
        found = rows(measure(one, plan_for("us", "fm")))
        assert all(("bad-samples" in words) == (name == "spoilt") for words in found["remarks"].fillna(""))
        levels.append(found["level_dbfs"])
    assert levels[1][98_100_000] == pytest.approx(levels[0][98_100_000], abs=0.1)


@pytest.mark.parametrize("seed", [2, 3])
def test_a_full_bands_noise_is_read_from_its_stations_as_well(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A station on every channel, 15 to 31 dB over the noise: within 0.3 dB (issue 4), where its lowest places alone, all of
    them skirts, are further off."""
    dice = np.random.default_rng(seed)
    stations = [
        FmStation(97_100_000 + 200_000 * k, float(dice.uniform(-38, -22)), programme=("music", "speech", "tone")[k % 3])
        for k in range(10)
    ]
    one = forged(stations, 98_000_000, rate_hz=2.4e6, seconds=1.0, seed=seed)
    error_db = read(one)["noise_dbfs"] - noise_dbfs(2.4e6)
    assert np.abs(error_db).max() <= 0.3
    monkeypatch.setattr(fm_noise.noise, "held_against", lambda floor, *_: floor)
    alone_db = read(one)["noise_dbfs"] - noise_dbfs(2.4e6)
    assert np.square(error_db).mean() < 0.6 * np.square(alone_db).mean()


@pytest.mark.parametrize("seed", [5, 6, 7])
def test_a_wide_neighbours_spill_is_taken_off_a_level(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A tone of 82 kHz deviation, 28 dB stronger, 200 kHz from a station 12 dB over the noise: what reaches over shakes its
    envelope, by the Rice distribution (textbook), and is taken off; with its doubt."""
    weak, strong = FmStation(98_100_000, -41.0), FmStation(98_300_000, -13.0, programme="tone", deviation_hz=82e3)
    one = forged([weak, strong], 98_000_000, seconds=1.0, seed=seed)
    row = read(one).loc[98_100_000]
    assert abs(row["level_dbfs"] - weak.level_dbfs) < min(3.0 * row["level_sd_db"], 0.05)
    monkeypatch.setattr(fm_strange, "MOST_SPILL", 0.0)
    left = read(one).loc[98_100_000]
    assert left["level_dbfs"] - weak.level_dbfs > 0.06
    assert abs(left["level_dbfs"] - weak.level_dbfs) < 3.0 * left["level_sd_db"]


def test_a_loud_neighbours_pilot_is_not_a_weak_mono_stations(monkeypatch: pytest.MonkeyPatch) -> None:
    """Between two stations 38 dB stronger that deviate by 90 kHz (75 are allowed: 47 CFR 73.1570): their 19 kHz sways the weak
    one's frequency, by less than half of the 6 kHz that a pilot has at least (47 CFR 73.322); its own is seen."""
    beside = [FmStation(hz, noise_dbfs(3e6) + 38.0, deviation_hz=90e3, pilot_dev_hz=7e3) for hz in (98_300_000, 98_700_000)]

    def pilots(own_hz: float) -> int:
        weak = FmStation(98_500_000, noise_dbfs(3e6) + 3.0, "speech", pilot_dev_hz=own_hz)
        made = (forged([*beside, weak], 98_000_000, rate_hz=3e6, seconds=1.0, seed=seed) for seed in range(6))
        return sum(bool(read(one).loc[98_500_000, "pilot"]) for one in made)

    assert (pilots(0.0), pilots(6e3)) == (0, 6)
    monkeypatch.setattr(fm, "SWAYED_PILOT_HZ", 0.0)
    assert pilots(0.0) > 0


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_the_image_of_a_silent_station_is_told(seed: int) -> None:
    """A carrier with its pilot, little else: few lines, so few independent cells; they are the mirror's all the same."""
    dice = np.random.default_rng(seed)
    time = np.arange(2_400_000) / 2.4e6
    strong = np.exp(1j * (2 * np.pi * 500e3 * time + 7.0 / 19.0 * np.sin(2 * np.pi * 19e3 * time)))
    noise = dice.standard_normal((len(time), 2)) @ np.array([1.0, 1j]) * 10 ** (-60 / 20) * np.sqrt(6.0)
    wave = 0.2 * strong + 0.2 * 10 ** (-30 / 20) * np.exp(2j * np.pi * dice.random()) * strong.conj() + noise
    found = measure(capture(wave, 2.4e6, 98_000_000), plan_for("us", "fm"))
    held = decide([found]).set_index("channel_hz").loc[97_500_000]
    assert rows(found).loc[97_500_000, "snr_db"] > 6.0
    assert (held["holds"], held["remarks"]) == ("phantom", "image")


@pytest.mark.parametrize("late_us", [4.0, 12.0])
def test_an_echo_is_in_the_pilots_uncertainty(late_us: float) -> None:
    """A second ray of a tenth of the amplitude holds a hundredth of the power; a pilot moves by up to a tenth."""
    for seed in (1, 2, 3):
        made = forge([FmStation(98_100_000, -20.0, "music", pilot_dev_hz=6_750.0)], Receiver(), 98_000_000, 2.4e6, 1.0, seed)
        late = round(late_us * 2.4)
        wave = made.samples.copy()
        wave[late:] += 0.1 * np.exp(2j * seed) * made.samples[:-late]
        row = read(capture(wave, 2.4e6, 98_000_000)).loc[98_100_000]
        assert abs(row["pilot_dev_hz"] - 6_750.0) < 2.5 * row["pilot_dev_sd_hz"]


@pytest.mark.parametrize("over_db", [1.0, 3.0])
def test_a_digital_sideband_does_not_pull_a_stations_carrier(over_db: float) -> None:
    """The sideband lies on one side of the channel, its middle 36.5 kHz out (129 to 198 kHz from its station: common practice):
    where noise swallows a weak station's frequency, what is read in its place is taken off, with its doubt."""
    for seed, side in ((1, -1), (2, 1), (3, -1), (4, 1)):
        host_db = noise_dbfs(2.4e6) + 38.0
        host = FmStation(98_300_000, host_db, digital_db=-18.0)
        weak = FmStation(98_300_000 + side * 200_000, host_db - 18.0 + over_db, "speech", carrier_error_hz=500.0)
        row = read(forged([host, weak], 98_200_000, seconds=1.0, seed=seed)).loc[weak.channel_hz]
        assert abs(row["carrier_error_hz"] - 500.0) < 2.5 * row["carrier_sd_hz"]
        assert abs(row["carrier_error_hz"] - 500.0) < 6_000.0


@pytest.mark.parametrize("under_db", [6.0, 10.0, 14.0])
def test_a_spur_inside_a_stations_channel_is_in_its_uncertainties(under_db: float) -> None:
    """A spur 45 kHz off the carrier adds to the level and pulls the carrier: more than without it, and both are stated."""
    station = FmStation(98_100_000, -25.0)
    spur = Spur(98_145_000, -25.0 - under_db)
    alone = read(forged([station], 98_000_000, seconds=1.0, seed=5)).loc[98_100_000]
    row = read(forged([station, spur], 98_000_000, seconds=1.0, seed=5)).loc[98_100_000]
    added_db = 10 * np.log10(1 + 10 ** (-under_db / 10))
    assert row["level_dbfs"] - alone["level_dbfs"] == pytest.approx(added_db, abs=0.1)
    assert 0.7 * added_db < row["level_sd_db"] < 1.4 * added_db
    assert abs(row["carrier_error_hz"]) < 1.96 * row["carrier_sd_hz"]


@pytest.mark.parametrize("seed", [8, 9, 11])
@pytest.mark.parametrize("level_dbfs", [-28.0, -24.0, -16.0])
def test_what_is_called_an_upper_bound_of_the_noise_is_one(level_dbfs: float, seed: int) -> None:
    """256 kS/s, one station of each programme, 25 to 37 dB over its noise: where the row says bound, no less than the truth."""
    for programme in ("speech", "music", "tone"):
        station = FmStation(93_100_000, level_dbfs, programme=programme)
        one = forged([station], 93_100_000, rate_hz=256e3, seconds=1.0, seed=seed, encoding="ci16")
        row = read(one).loc[93_100_000]
        if "noise-upper-bound" in str(row["remarks"]):
            assert row["noise_dbfs"] > NOISE_200_KHZ
        else:
            assert abs(row["noise_dbfs"] - NOISE_200_KHZ) < 0.5


@pytest.mark.parametrize("slope_db", [4.0, 8.0, 12.0])
def test_a_full_bands_noise_on_a_slope_is_right(slope_db: float) -> None:
    """Ten stations on ten channels and a receiver that rises by up to 12 dB: no channel's noise is off by more than 0.5 dB
    (issue 4) nor by more than three times what is stated with it. What stations told is not called a bound, which half of such
    figures would break."""
    stations = [
        FmStation(97_100_000 + 200_000 * k, -38.0 + 2.0 * (k * 7 % 9), programme=("music", "speech", "tone")[k % 3])
        for k in range(10)
    ]
    for seed in (4, 5):
        one = forged(stations, 98_000_000, rate_hz=2.4e6, seconds=1.0, seed=seed, receiver=Receiver(slope_db=slope_db))
        for channel_hz, row in read(one).iterrows():
            true_db = noise_dbfs(2.4e6, int(channel_hz) - 98_000_000, slope_db)
            assert abs(row["noise_dbfs"] - true_db) < min(3.0 * row["noise_sd_db"], 0.5)
            if row["noise_sd_db"] < 0.9:
                assert "noise-upper-bound" not in str(row["remarks"])


@pytest.mark.parametrize("slope_db", [-8.0, 8.0])
def test_a_weak_stations_carrier_does_not_lean_with_the_receiver(slope_db: float) -> None:
    """Stations level with the noise on a slope of 8 dB over 2.4 MHz: where noise turns the phase about, its own centre is read,
    2.6 kHz off, and at 240 kS/s half of it: 0.7 kHz if it is not taken off (S. O. Rice 1963). Their mean error is under 250 Hz.
    """
    stations = [FmStation(97_300_000 + 400_000 * k, NOISE_200_KHZ + 0.5, programme="music") for k in range(4)]
    errors = []
    for seed in (31, 32, 33):
        one = forged(stations, 98_000_000, rate_hz=2.4e6, seconds=1.0, seed=seed, receiver=Receiver(slope_db=slope_db))
        errors += [read(one).loc[station.channel_hz, "carrier_error_hz"] for station in stations]
    assert abs(np.mean(errors)) < 250.0


def digital_dbfs(stations: list[FmStation], slope_db: float, seed: int) -> pd.Series:
    """Power of digital sidebands that is read in each channel."""
    one = forged(stations, 98_000_000, rate_hz=2.4e6, seconds=1.0, seed=seed, receiver=Receiver(slope_db=slope_db))
    return read(one)["digital_dbfs"]


def test_neither_a_slope_nor_a_weak_station_makes_a_digital_sideband() -> None:
    """A sideband is read from its mirror 400 kHz away: there a receiver's slope of 8 dB leaves 1.3 dB more noise, and a station
    3 dB under its noise to level with it is nearly as flat as a block. The sideband itself is read, on the slope as well."""
    host, guest = FmStation(98_100_000, -42.0), FmStation(97_900_000, -52.5)
    for slope_db in (-8.0, 8.0):
        assert digital_dbfs([host, guest], slope_db, 41).isna().all()
        made = digital_dbfs([FmStation(98_100_000, -20.0, digital_db=-20.0), guest], slope_db, 42)
        assert made[97_900_000] == pytest.approx(-40.0, abs=0.6)
    for seed in (43, 44, 45):
        mirror = FmStation(98_300_000, -53.5, programme="tone", tone_hz=1000.0)
        assert digital_dbfs([host, guest, mirror], 0.0, seed).isna().all()


def test_a_station_on_the_recordings_centre_keeps_its_level_and_says_what_it_may_have_lost() -> None:
    """Speech with pauses on a carrier 60 Hz off the receiver's own line: the level within 0.1 dB (issue 4) and within three
    times what is stated."""
    for seed in (51, 55, 56):
        station = FmStation(93_100_000, -25.0, programme="speech", carrier_error_hz=60.0, pilot_dev_hz=0.0)
        row = read(forged([station], 93_100_000, rate_hz=256e3, seconds=1.0, seed=seed)).loc[93_100_000]
        assert abs(row["level_dbfs"] + 25.0) < min(3.0 * row["level_sd_db"], 0.1)


@pytest.mark.parametrize(("deviation_hz", "pilot"), [(1_500.0, False), (2_200.0, False), (4_500.0, True), (6_000.0, True)])
def test_a_tone_at_19_khz_too_weak_for_a_pilot_is_remarked(deviation_hz: float, pilot: bool) -> None:
    """A mono programme with a steady tone there, through measuring and decision: below 4 kHz no pilot, from there on one."""
    dice = np.random.default_rng(int(deviation_hz))
    t = np.arange(2_400_000) / 2.4e6
    speech = 30e3 * np.sin(2 * np.pi * 410 * t + 3.0 * np.sin(2 * np.pi * 3.1 * t)) * np.sin(2 * np.pi * 1.7 * t)
    turns = np.cumsum(speech + deviation_hz * np.sin(2 * np.pi * 19e3 * t)) / 2.4e6 - 300e3 * t
    noise = dice.standard_normal((2, len(t))) * 0.3 * np.sqrt(2.4e6 / 200e3 / 2) * 10 ** (-16.0 / 20)
    wave = 0.3 * np.exp(2j * np.pi * turns) + noise[0] + 1j * noise[1]
    found = decide([measure(capture(wave, 2.4e6, 98_200_000), plan_for("us", "fm"))]).set_index("channel_hz").loc[97_900_000]
    assert (found["holds"], bool(found["pilot"]), "weak-pilot" in str(found["remarks"])) == ("station", pilot, not pilot)
    assert found["pilot_dev_hz"] == pytest.approx(deviation_hz, rel=0.03)
