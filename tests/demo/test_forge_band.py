"""The band and the receiver: levels, noise and every fault against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from bandscan.demo import AmStation, FmStation, Receiver, Spur, forge

RATE_HZ = 2_400_000.0
BUSY = [
    FmStation(97_300_000, -20.0, "music", carrier_error_hz=900.0, pi=0xD111, ps="ONE"),
    FmStation(97_900_000, -45.0, "speech", pilot_dev_hz=0.0),
    FmStation(98_700_000, -33.0, "speech", digital_db=-20.0),
]


@pytest.mark.parametrize("rate_hz", [2_400_000.0, 3_200_000.0, 1_024_000.0, 2_048_001.0])
def test_stations_have_their_levels_at_any_rate(band_dbfs, rate_hz):
    """The power around each carrier is its level within 0.05 dB, whatever the recording's rate and wherever it stands."""
    quiet = Receiver(noise_dbfs_hz=-170.0)
    made = forge(BUSY[:2], quiet, 97.6e6, rate_hz, 0.3, seed=1)
    for truth in made.truth:
        at = truth.channel_hz - 97.6e6
        assert band_dbfs(made.samples, rate_hz, at - 190e3, at + 190e3) == pytest.approx(truth.level_dbfs, abs=0.05)


def test_noise_has_its_density(band_dbfs):
    """Noise alone has the stated density; of 0.4 s in 1 MHz the scatter is 4.34 / sqrt(400000) dB, well under 0.05."""
    made = forge([], Receiver(noise_dbfs_hz=-106.0), 98e6, RATE_HZ, 0.4, seed=2)
    for low in (-1.1e6, 0.1e6):
        assert band_dbfs(made.samples, RATE_HZ, low, low + 1e6) - 60 == pytest.approx(-106, abs=0.05)
    assert abs(np.mean(made.samples**2)) < 0.005 * np.mean(np.abs(made.samples) ** 2)  # circular: as much in I as in Q


def test_same_seed_same_samples():
    """A seed decides every sample; another seed gives another noise and another programme."""
    first, again, other = (forge(BUSY, Receiver(), 98e6, RATE_HZ, 0.1, seed) for seed in (3, 3, 4))
    assert np.array_equal(first.samples, again.samples)
    assert first.truth == again.truth
    assert abs(np.vdot(first.samples, other.samples)) < 0.02 * np.vdot(first.samples, first.samples).real


def test_a_station_does_not_depend_on_the_others():
    """Taking one station away leaves the others' samples as they were."""
    quiet = Receiver(noise_dbfs_hz=-200.0)
    both = forge(BUSY[:2], quiet, 98e6, RATE_HZ, 0.1, 5).samples
    parts = [forge([one], quiet, 98e6, RATE_HZ, 0.1, 5).samples for one in BUSY[:2]]
    assert np.abs(both - parts[0] - parts[1]).max() < 2e-6


def test_each_station_has_its_own_programme():
    """Two stations that differ in nothing but the channel do not send the same."""
    pair = [FmStation(97_500_000, -20.0, "music"), FmStation(98_500_000, -20.0, "music")]
    first, second = forge(pair, Receiver(), 98e6, RATE_HZ, 0.1, 6).truth
    assert abs(first.peak_dev_hz - second.peak_dev_hz) > 100
    first, second = forge([AmStation(at, -20.0) for at in (910_000, 1_010_000)], Receiver(), 1e6, RATE_HZ, 0.1, 6).truth
    assert abs(first.am_depth - second.am_depth) > 1e-4


def test_truth_names_what_has_its_carrier_inside():
    """A station beyond the edge is not in the truth, though its skirt may be in the samples."""
    made = forge([*BUSY, FmStation(99_300_000, -20.0)], Receiver(noise_dbfs_hz=-170), 98e6, RATE_HZ, 0.1, 6)
    assert [truth.channel_hz for truth in made.truth] == [97_300_000, 97_900_000, 98_700_000]


def test_slope_and_droop(line_dbfs):
    """Over the whole rate the slope is slope_db, half of it up at the upper edge; the edges droop; truth says the same."""
    tilted = Receiver(noise_dbfs_hz=-150.0, slope_db=4.0, droop_db=3.0)
    made = forge([Spur(98e6 + at, -30.0) for at in (-1.19e6, -0.6e6, 0.6e6)], tilted, 98e6, RATE_HZ, 0.2, 7)
    low, below, above = (line_dbfs(made.samples, RATE_HZ, at) for at in (-1.19e6, -0.6e6, 0.6e6))
    assert above - below == pytest.approx(2.0, abs=0.02)
    assert low == pytest.approx(-30 - 4 * 1.19 / 2.4 - 3.0 * (1.19 / 1.2) ** 8, abs=0.02)
    assert [truth.level_dbfs for truth in made.truth] == pytest.approx([low, below, above], abs=0.02)


def test_dc_line_and_image(line_dbfs):
    """The DC line has its level, and an unbalanced receiver shows a line again on the other side of the centre."""
    made = forge([Spur(98.3e6, -10.0)], Receiver(noise_dbfs_hz=-150, dc_dbfs=-35.0, image_db=-38.0), 98e6, RATE_HZ, 0.2, 8)
    assert line_dbfs(made.samples, RATE_HZ, 0) == pytest.approx(-35, abs=0.02)
    assert line_dbfs(made.samples, RATE_HZ, -300e3) == pytest.approx(-48, abs=0.02)


@pytest.mark.parametrize("ppm", [-30.0, 20.0])
def test_clock_error_moves_carriers_and_pilots(line_dbfs, ppm):
    """A clock that is fast by p shows f / (1 + p) - centre: 20 ppm at 98.1 MHz is 1962 Hz low."""
    made = forge([FmStation(98_100_000, -20.0, "silence")], Receiver(noise_dbfs_hz=-160, ppm=ppm), 98e6, RATE_HZ, 0.5, 9)
    at = 98.1e6 / (1 + ppm * 1e-6) - 98e6
    carrier = line_dbfs(made.samples, RATE_HZ, at)
    assert line_dbfs(made.samples, RATE_HZ, at + 19_000 / (1 + ppm * 1e-6)) - carrier == pytest.approx(-14.87, abs=0.02)
    assert made.truth[0].carrier_error_hz == 0.0


def test_third_order_products_follow_their_law(line_dbfs):
    """y = x - a x |x|^2: two equal lines A give products a A^3 at 2 f1 - f2, and 10 dB less gain takes 30 dB from them."""
    lines = [Spur(97.7e6, -12.0), Spur(98.1e6, -12.0)]
    shown = {}
    for gain_db in (30.0, 20.0):
        receiver = Receiver(noise_dbfs_hz=-170, compression=0.1, gain_db=gain_db, levels_at_gain_db=30.0)
        made = forge(lines, receiver, 98e6, RATE_HZ, 0.2, 10)
        shown[gain_db] = [line_dbfs(made.samples, RATE_HZ, at) for at in (-300e3, -700e3, 500e3)]
    assert shown[30.0][1:] == pytest.approx([20 * np.log10(0.1) - 36] * 2, abs=0.02)
    assert shown[20.0][1:] == pytest.approx([20 * np.log10(0.1) - 66] * 2, abs=0.02)
    assert shown[30.0][0] == pytest.approx(-12 + 20 * np.log10(1 - 3 * 0.1 * 10**-1.2), abs=0.02)


def test_gain_lifts_signals_and_noise_alike(band_dbfs):
    """A recording at 8 dB less gain than the levels are meant for holds 8 dB less of everything; the truth says so."""
    less = Receiver(noise_dbfs_hz=-100, gain_db=12.0, levels_at_gain_db=20.0)
    made = forge([AmStation(1_000_000, -30.0, "silence")], less, 1.1e6, 500_000.0, 0.5, 11)
    assert made.truth[0].level_dbfs == -38.0
    assert made.noise_dbfs_hz == -108.0
    assert band_dbfs(made.samples, 500_000, -101e3, -99e3) == pytest.approx(-38, abs=0.05)
    assert band_dbfs(made.samples, 500_000, 0, 200e3) == pytest.approx(-108 + 53.01, abs=0.05)


def test_snr_is_meant_in_the_channel_width():
    """FM: 200 kHz, AM: 10 kHz (contract): -40 dBFS over -106 dBFS/Hz is 13.0 dB on FM and 26.0 dB on AM."""
    fm = forge([FmStation(98_100_000, -40.0)], Receiver(), 98e6, RATE_HZ, 0.1, 12).truth[0]
    am = forge([AmStation(1_000_000, -40.0)], Receiver(), 1.1e6, RATE_HZ, 0.1, 12).truth[0]
    assert fm.snr_db == pytest.approx(12.99, abs=0.01)
    assert am.snr_db == pytest.approx(26.00, abs=0.01)
