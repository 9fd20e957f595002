"""AM recordings of known truth: carriers, depth, stereo pilot, what stands in the receiver's middle, and odd samples."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from measure.made import capture, forged, read

from bandscan.demo import AmStation, Receiver, Spur, forge
from bandscan.dsp.am import CarrierSum
from bandscan.measure import am, measure
from bandscan.plans import plan_for
from bandscan.survey.holds import decide

# -106 dBFS/Hz and the noise of the 8-bit steps, -49.89 dBFS over 2.4 MHz (see test_fm), in 10 kHz
NOISE_10_KHZ = 10 * np.log10((10**-10.6 + 10**-4.989 / 2.4e6) * 10e3)


def dial(count: int = 10) -> list[AmStation]:
    """Stations every 110 kHz from 560 kHz, 2 to 45 dB over the noise in 10 kHz, of each programme, two in stereo."""
    programmes = ("speech", "music", "tone")
    return [
        AmStation(
            560_000 + 110_000 * place,
            -20.0 - 43.0 * (place * 3 % count) / count,
            programme=programmes[place % 3],
            depth=0.4 + 0.05 * place,
            carrier_error_hz=(-1.0) ** place * 2.0 * place,
            stereo=place in (1, 5),
        )
        for place in range(count)
    ]


@pytest.mark.parametrize(
    ("rate_hz", "region", "centre_hz", "seconds"), [(2.4e6, "us", 1_120_000, 2.0), (3.2e6, "us", 1_005_000, 1.0)]
)
def test_a_forged_dial_is_read_as_it_was_made(rate_hz: float, region: str, centre_hz: int, seconds: float) -> None:
    """Carrier 0.1 dB and 0.02 Hz from 8 dB, depth 0.05 from 20 dB (tones 25), noise 0.3 dB, stereo from 10 dB (issue 4)."""
    made = forge(dial(), Receiver(), centre_hz, rate_hz, seconds, 1)
    found = read(capture(made.samples, rate_hz, centre_hz), "am", region)
    for truth in made.truth:
        row = found.loc[truth.channel_hz]
        assert row["noise_dbfs"] == pytest.approx(NOISE_10_KHZ, abs=0.3)
        if truth.snr_db < 8:
            continue
        assert row["level_dbfs"] == pytest.approx(truth.level_dbfs, abs=0.1)
        assert row["carrier_error_hz"] == pytest.approx(truth.carrier_error_hz, abs=0.02 if seconds >= 2 else 0.05)
        # a tone's percentile is lifted by nearly twice the noise's standard deviation, of which one is taken off
        if truth.snr_db >= (25 if truth.programme == "tone" else 20):
            assert row["am_depth"] == pytest.approx(truth.am_depth, abs=0.05)
            assert not np.isnan(row["sideband_db"])
        if truth.snr_db >= 10:
            assert bool(row["am_stereo"]) == truth.am_stereo


def test_a_nine_kilohertz_dial_is_read_too() -> None:
    """Carriers on multiples of 9 kHz, noise meant in 9 kHz: 0.46 dB less than in 10 kHz."""
    stations = [AmStation(9_000 * number, -30.0 - number % 7, carrier_error_hz=3.0) for number in range(70, 160, 15)]
    found = read(forged(stations, 1_080_000, seconds=1.0, seed=2), "am", "eu")
    for station in stations:
        row = found.loc[station.channel_hz]
        assert row["level_dbfs"] == pytest.approx(station.level_dbfs, abs=0.1)
        assert row["carrier_error_hz"] == pytest.approx(3.0, abs=0.05)
        assert row["noise_dbfs"] == pytest.approx(NOISE_10_KHZ - 0.46, abs=0.3)


@pytest.mark.parametrize(("region", "audio_hz"), [("us", 5e3), ("eu", 4.5e3)])
def test_the_noise_of_a_full_band_is_told_by_its_stations(region: str, audio_hz: float) -> None:
    """Every channel occupied, sidebands from carrier to carrier: 0.3 dB for 19 of 20, as sure as it is said to be (issue 4)."""
    rng = np.random.default_rng(31)
    channels = [hz for hz in plan_for(region, "am").channels_hz if abs(hz - 1_005_000) < 440e3]
    programmes = rng.choice(["speech", "music"], len(channels))
    stations = [
        AmStation(hz, rng.uniform(-56.0, -26.0), programme=str(kind), audio_hz=audio_hz, carrier_error_hz=rng.uniform(-15, 15))
        for hz, kind in zip(channels, programmes, strict=True)
    ]
    made = forge(stations, Receiver(), 1_005_000, 1.024e6, 2.0, 31)
    found = read(capture(made.samples, 1.024e6, 1_005_000), "am", region).loc[channels]
    width_hz = 10e3 if region == "us" else 9e3
    truth = 10 * np.log10((10**-10.6 + 10**-4.989 / 1.024e6) * width_hz)
    error = (found["noise_dbfs"] - truth).abs()
    assert error.quantile(0.95) <= 0.3
    assert (error <= 2 * found["noise_sd_db"]).mean() >= 0.88


def test_depth_is_given_from_15_db_up_only() -> None:
    """A weaker carrier's depth would be its noise: the cell is empty."""
    stations = [AmStation(700_000, -65.0 + 18.0), AmStation(900_000, -65.0 + 12.0)]
    found = read(forged(stations, 1_120_000, seconds=1.0, seed=3), "am")
    assert 0.5 < found.loc[700_000, "am_depth"] < 1.2
    assert pd.isna(found.loc[900_000, "am_depth"])


def test_a_bare_carrier_has_no_sidebands() -> None:
    """An unmodulated carrier has its level and frequency, and an empty sideband figure; a modulated one has one."""
    found = read(forged([Spur(1_000_004.0, -40.0), AmStation(1_300_000, -40.0)], 1_120_000, seconds=1.0, seed=4), "am")
    assert found.loc[1_000_000, "level_dbfs"] == pytest.approx(-40.0, abs=0.1)
    assert found.loc[1_000_000, "carrier_error_hz"] == pytest.approx(4.0, abs=0.05)
    assert pd.isna(found.loc[1_000_000, "sideband_db"])
    assert found.loc[1_300_000, "sideband_db"] > -20


def test_a_strong_neighbour_is_not_read_into_a_free_channel() -> None:
    """10 kHz beside a carrier 50 dB over the noise there is no carrier 0 to 180 Hz from the raster."""
    found = read(forged([AmStation(1_000_000, -20.0, depth=0.95)], 1_120_000, seconds=1.0, seed=5), "am")
    for channel in (990_000, 1_010_000):
        assert not found.loc[channel, "snr_db"] > 0


@pytest.mark.parametrize("centre_hz", [1_120_000, 1_125_000, 1_120_030])
def test_the_receivers_dc_line_is_no_station(centre_hz: int) -> None:
    """DC 40 dB over a channel's noise, on a carrier's place, between two channels or 30 Hz beside one: no carrier is given."""
    found = measure(forged([], centre_hz, receiver=Receiver(dc_dbfs=-25.0), seconds=1.0, seed=6), plan_for("us", "am"))
    assert "station" not in set(decide([found])["holds"])
    assert not (found.readings["snr_db"] > -15).any()


def test_a_carrier_in_the_receivers_middle_says_that_it_is_not_told() -> None:
    """A station whose carrier falls on the centre cannot be told from the receiver's DC: the row says `receiver-centre`."""
    found = read(forged([AmStation(1_120_000, -30.0)], 1_120_000, seconds=1.0, seed=7), "am")
    assert "receiver-centre" in str(found.loc[1_120_000, "remarks"]).split(";")


@pytest.mark.parametrize("image_db", [-15.0, -30.0])
@pytest.mark.parametrize("off_hz", [-1_700.0, 3_000.0])
def test_a_spur_and_its_image_beside_the_receivers_line_are_no_modulation(off_hz: float, image_db: float) -> None:
    """Amplitude modulation has like sidebands at both sides (textbook), a spur's image is 15 dB or more weaker: no station; one
    in the middle of a receiver of the same imbalance stays one."""
    receiver = Receiver(dc_dbfs=-30.0, image_db=image_db)
    spur = measure(
        forged([Spur(1_120_000.0 + off_hz, -45.0)], 1_120_000, receiver=receiver, seconds=2.0, seed=12), plan_for("us", "am")
    )
    assert "station" not in set(decide([spur])["holds"])
    one = AmStation(1_120_000, -35.0, programme="speech")
    found = measure(forged([one], 1_120_000, receiver=receiver, seconds=2.0, seed=12), plan_for("us", "am"))
    assert decide([found]).set_index("channel_hz").loc[1_120_000, "holds"] == "station"


@pytest.mark.parametrize("seed", [13, 14, 15])
def test_noise_and_its_image_beside_the_receivers_line_are_no_modulation(seed: int) -> None:
    """Noise with an image 20 dB down holds 0.2 of itself more in one phase than across it (E z^2 = 2 r): no station."""
    one = forged([], 1_120_000, receiver=Receiver(dc_dbfs=-45.0, image_db=-20.0), seconds=2.0, seed=seed)
    assert "station" not in set(decide([measure(one, plan_for("us", "am"))])["holds"])


def test_figures_are_the_same_in_batches_of_any_size(monkeypatch: pytest.MonkeyPatch) -> None:
    """Frames in batches of 4, or of 3: the segments are the same samples, so are the figures."""
    one = forged(dial(), 1_120_000, seconds=1.0, seed=8)
    four = read(one, "am")
    monkeypatch.setattr(am, "BATCH", 3)
    three = read(one, "am")
    for name, tolerance in (("level_dbfs", 0.01), ("noise_dbfs", 0.01), ("carrier_error_hz", 0.005), ("am_depth", 0.005)):
        np.testing.assert_allclose(three[name], four[name], atol=tolerance)


SAMPLES = 480_000


def white(seed: int = 9) -> np.ndarray:
    """Complex white noise of power 2."""
    parts = np.random.default_rng(seed).standard_normal((2, SAMPLES))
    return np.asarray(parts[0] + 1j * parts[1])


@pytest.mark.parametrize(
    ("encoding", "wave"),
    [
        pytest.param("cu8", np.zeros(SAMPLES), id="zeros"),
        pytest.param("cu8", np.full(SAMPLES, 0.4 - 0.2j), id="stuck"),
        pytest.param("cu8", np.full(SAMPLES, 1.0 + 1.0j), id="stuck at full scale"),
        pytest.param("cu8", np.tile([1.0, -1.0], SAMPLES // 2), id="alternating"),
        pytest.param("cu8", white() * 10, id="overdriven noise"),
        pytest.param("cf32", white() * 1e5, id="large floats"),
        pytest.param("cf32", white() * 1e-18, id="tiny floats"),
        pytest.param("cf32", np.zeros(SAMPLES), id="zeros as floats"),
    ],
)
def test_odd_recordings_give_figures_and_never_a_station(encoding: str, wave: np.ndarray) -> None:
    """Whatever the samples: a table that holds no infinite value, no warning, and a decision that is no station."""
    found = measure(capture(wave, 2.4e6, 1_120_000, encoding=encoding), plan_for("us", "am"))
    assert not np.isinf(found.readings.select_dtypes("float64").to_numpy()).any()
    assert "station" not in set(decide([found])["holds"])


@pytest.mark.parametrize("off_hz", [2_000, -3_600])
def test_the_receivers_line_beside_a_carrier_leaves_it_its_sidebands(off_hz: int) -> None:
    """DC 20 dB over a station, within the channel but not on its carrier: a station still, with its depth within 0.05."""
    station = AmStation(1_120_000, -45.0, programme="music", depth=0.7)
    one = forged([station], 1_120_000 + off_hz, receiver=Receiver(dc_dbfs=-25.0), seconds=2.0, seed=9)
    found = measure(one, plan_for("us", "am"))
    assert decide([found]).set_index("channel_hz").loc[1_120_000, "holds"] == "station"
    alone = read(forged([station], 1_120_000 + off_hz, seconds=2.0, seed=9), "am").loc[1_120_000]
    row = found.readings.set_index("channel_hz").loc[1_120_000]
    assert row["am_depth"] == pytest.approx(alone["am_depth"], abs=0.05)
    assert row["level_dbfs"] == pytest.approx(-45.0, abs=0.1)


@pytest.mark.parametrize("image_db", [-25.0, -40.0])
def test_an_am_stations_mirror_image_is_a_phantom(image_db: float) -> None:
    """The mirror's carrier stands exactly as far on the other side of the centre; a station that happens to stand on a mirror
    channel, 5 Hz from the place, is one."""
    stations = [
        AmStation(1_070_000, -20.0, carrier_error_hz=4.0),
        AmStation(1_150_000, -18.0, carrier_error_hz=-3.0),
        AmStation(1_090_000, -55.0, carrier_error_hz=8.0),
    ]
    one = forged(stations, 1_120_000, receiver=Receiver(image_db=image_db), seconds=2.0, seed=21)
    holds = decide([measure(one, plan_for("us", "am"))]).set_index("channel_hz")["holds"]
    assert holds[1_170_000] == "phantom"
    assert holds[[1_070_000, 1_150_000]].tolist() == ["station"] * 2
    # image and station on one channel: either may be the stronger
    assert holds[1_090_000] in ("station", "unsure", "phantom")
    alone = forged([*stations, AmStation(1_170_000, -45.0, carrier_error_hz=1.0)], 1_120_000, seconds=2.0, seed=22)
    holds = decide([measure(alone, plan_for("us", "am"))]).set_index("channel_hz")["holds"]
    assert holds[[1_170_000, 1_090_000]].tolist() == ["station"] * 2


@pytest.mark.parametrize(
    ("more", "image_db", "words"),
    [
        pytest.param([], -30.0, ("perhaps-image:-7.", "Hz:-18dB"), id="image"),
        pytest.param([Spur(1_169_998.0, -50.0)], None, ("second-carrier:-5.", "Hz:-18dB"), id="2 Hz beside"),
        pytest.param([Spur(1_169_996.0, -34.0)], None, ("second-carrier:-7.", "Hz:-2dB"), id="too strong"),
    ],
)
def test_a_mirror_stations_image_is_no_second_carrier(more: list[Spur], image_db: float | None, words: tuple[str, str]) -> None:
    """Beside a station on the mirror channel an image stands as far above the centre as its maker stands below: it may be one.

    A carrier 2 Hz from that place or within 15 dB of the other station is one, as it was.
    """
    stations = [AmStation(1_070_000, -20.0, carrier_error_hz=4.0), AmStation(1_170_000, -32.0, carrier_error_hz=3.0)]
    one = forged([*stations, *more], 1_120_000, receiver=Receiver(image_db=image_db), seconds=2.0, seed=25)
    remarks = str(read(one, "am").loc[1_170_000, "remarks"])
    assert remarks.startswith(words[0])
    assert remarks.endswith(words[1])


@pytest.mark.parametrize("seed", [31, 32, 33])
def test_exact_carriers_on_mirror_channels_are_two_stations(seed: int) -> None:
    """Transmitters locked to one standard and a receiver without error: the carriers stand as a station and its image would, to
    the hundredth of a hertz, but each has a programme of its own."""
    stations = [
        AmStation(1_070_000, -20.0, programme="music"),
        AmStation(1_170_000, -45.0, programme="speech"),
        AmStation(1_090_000, -60.0, programme="music"),
        AmStation(1_150_000, -22.0, programme="speech"),
    ]
    holds = decide([measure(forged(stations, 1_120_000, seconds=2.0, seed=seed), plan_for("us", "am"))])
    assert (holds.set_index("channel_hz").loc[[one.channel_hz for one in stations], "holds"] == "station").all()


@pytest.mark.parametrize("off_hz", [2.0, 5.0])
def test_a_station_beside_the_receivers_own_line_is_not_passed_over(off_hz: float) -> None:
    """A line 10 dB stronger 2 or 5 Hz beside its carrier: it cannot be told for certain, and its level is within 2 dB."""
    station = AmStation(1_120_000, -30.0, programme="music", carrier_error_hz=off_hz)
    found = measure(forged([station], 1_120_000, receiver=Receiver(dc_dbfs=-20.0), seconds=2.0, seed=23), plan_for("us", "am"))
    row = decide([found]).set_index("channel_hz").loc[1_120_000]
    assert row["holds"] == "unsure"
    assert row["level_dbfs"] == pytest.approx(-30.0, abs=2.0)


@pytest.mark.parametrize("turn", [0.0, 0.5, 1.2, 1.57])
def test_sidebands_are_seen_in_whatever_phase_they_stand_to_their_carrier(turn: float) -> None:
    """Selective fading turns a carrier against its sidebands, up to a right angle, where amplitude modulation becomes phase
    modulation (textbook): their power is still read within 1 dB, and noise of the same power is no sideband."""
    rng = np.random.default_rng(24)
    sums = np.cumsum(rng.standard_normal(24_000))
    programme = np.diff(np.convolve(sums, np.ones(8) / 8, "same"), prepend=0.0)
    programme *= 0.2 / programme.std()
    noise = 0.003 * (rng.standard_normal(24_000) + 1j * rng.standard_normal(24_000))
    for sound, seen in ((programme * np.exp(1j * turn), True), (noise * 40, False)):
        one = CarrierSum(24_000, 12_000.0)
        one.add((1.0 + sound + noise).astype(np.complex64))
        assert (one.sidebands() > 0) == seen
        if seen:
            assert 10 * np.log10(one.sidebands() / 0.04) == pytest.approx(0.0, abs=1.0)


@pytest.mark.parametrize("level_db", [None, -43.0, -20.0])
def test_a_line_of_a_comb_that_meets_a_channel_is_no_station(level_db: float | None) -> None:
    """Thirteen lines of -50 dBFS every 30,146 Hz, of a supply that is dimmed 217 times a second: that on 1020 kHz and a station
    there cannot be told apart, unless it is far stronger; the others stand off the raster, each by 146 Hz more."""
    at_s = np.arange(800_000) / 400e3
    dimmed = 0.003 * (1.0 + 0.2 * np.sign(np.cos(2 * np.pi * 217 * at_s)))
    rng = np.random.default_rng(26)
    wave = 0.002 * (rng.standard_normal(len(at_s)) + 1j * rng.standard_normal(len(at_s)))
    for number in range(-6, 7):
        wave += dimmed * np.exp(2j * np.pi * ((15_004.0 + 30_146.0 * number) * at_s + rng.uniform()))
    if level_db is not None:
        station = forge(
            [AmStation(1_020_000, level_db, programme="music")], Receiver(noise_dbfs_hz=-160.0), 1_005_000, 400e3, 2.0, 1
        )
        wave += station.samples[: len(wave)]
    found = measure(capture(wave, 400e3, 1_005_000), plan_for("us", "am"))
    assert any("every 30.15 kHz" in note for note in found.notes)
    row = decide([found]).set_index("channel_hz").loc[1_020_000]
    assert row["holds"] == ("station" if level_db == -20.0 else "unsure")
    assert ("comb" in str(row["remarks"]).split(";")) == (level_db != -20.0)
    assert set(decide([found]).set_index("channel_hz")["holds"].drop(1_020_000)) <= {"empty", "spur", "unsure"}


def test_the_level_of_a_carrier_that_fades_slowly_is_as_sure_as_it_says() -> None:
    """Mean power over the recording of Rician carriers (K of 0 dB, Doppler 0.05 Hz, of many paths: textbook), 4 s, an eighth of
    which is no whole segment: at 95 %, more than 5 of 40 outside have a probability of 1 %; 3 sd is missed by none."""
    at_s, paths, missed = np.arange(4 * 256_000) / 256e3, 12, []
    for seed in range(4):
        rng = np.random.default_rng(4_000 + seed)
        wave, truth = 0.0003 * (np.array([1, 1j]) @ rng.standard_normal((2, len(at_s)))), {}
        for channel_hz in range(910_000, 1_100_000, 20_000):
            height, hz = np.array([1, 1j]) @ rng.standard_normal((2, paths)), rng.normal(0.0, 0.05, paths)
            slow_s = at_s[::256]
            fades = 1.0 + np.exp(2j * np.pi * slow_s[:, None] * hz) @ height / np.sqrt(2.0 * paths)
            truth[channel_hz] = 20 * np.log10(0.02) + 10 * np.log10(np.mean(np.abs(fades) ** 2))
            programme = 1.0 + 0.5 * np.cos(2 * np.pi * rng.integers(200, 900) * at_s)
            turn = np.exp(2j * np.pi * (channel_hz - 1_000_000 + rng.uniform(-4, 4)) * at_s)
            wave += 0.02 * programme * turn * np.interp(at_s, slow_s, fades)
        found = read(capture(wave, 256e3, 1_000_000, encoding="cf32"), "am").loc[list(truth)]
        missed += list((found["level_dbfs"] - pd.Series(truth)).abs() / found["level_sd_db"])
    assert np.isfinite(missed).all()
    assert len(missed) == 40
    assert sum(np.array(missed) > 1.96) <= 5
    assert max(missed) <= 3.0
