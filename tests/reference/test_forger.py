"""The demo's forger against Bessel's lines, the rules' limits and textbook relations, read with numpy's transform alone."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from bandscan.demo import AmStation, FmStation, Receiver, forge, forge_fm
from bandscan.demo.rds import check_word

RATE_HZ = 480_000.0
QUIET = Receiver(noise_dbfs_hz=-200.0)

# Zeros of J0 (scipy.special.jn_zeros): at 75 kHz deviation the carrier vanishes for these modulating frequencies.
CARRIER_NULLS_HZ = [13_587.0, 8_667.0]
# 20 log10 (J1/J0) of the pilot's peak deviation over 19 kHz, the programme silent; 6.0 and 7.5 kHz are the limits of
# 47 CFR 73.322(a)(2), 8 and 10 % of 75 kHz
PILOT_LINES = [(6_000.0, -15.92), (6_750.0, -14.87), (7_500.0, -13.92)]


class Lines:
    """The Hann spectrum of one forged station alone at the centre, half a second long."""

    def __init__(self, station: FmStation | AmStation) -> None:
        samples = forge([station], QUIET, station.channel_hz, RATE_HZ, 0.5, 5).samples.astype(np.complex128)
        taper = np.hanning(len(samples) + 1)[:-1]
        self.power: npt.NDArray[np.float64] = np.abs(np.fft.fft(samples * taper)) ** 2 / np.sum(taper**2) / len(samples)
        self.frequency_hz = np.fft.fftfreq(len(samples), 1 / RATE_HZ)

    def dbfs(self, at_hz: float, within_hz: float = 4.0) -> float:
        """Power near a frequency."""
        return float(10 * np.log10(self.power[np.abs(self.frequency_hz - at_hz) <= within_hz].sum()))


def tone_station(modulating_hz: float, deviation_hz: float) -> FmStation:
    """A mono station that sends one tone."""
    return FmStation(98_100_000, -20.0, programme="tone", tone_hz=modulating_hz, pilot_dev_hz=0.0, deviation_hz=deviation_hz)


@pytest.mark.parametrize("modulating_hz", CARRIER_NULLS_HZ)
def test_the_carrier_vanishes_where_bessel_says(modulating_hz: float) -> None:
    """At 75 kHz deviation and 13.587 or 8.667 kHz the carrier is gone: 40 dB under the emission."""
    assert Lines(tone_station(modulating_hz, 75_000.0)).dbfs(0.0) < -60


def test_the_carrier_is_there_off_the_null() -> None:
    """At 22.5 kHz deviation and 10 kHz, beta 2.25, the carrier is J0(2.25) = 0.0827 (tables): -21.65 dB under the emission."""
    assert Lines(tone_station(10_000.0, 22_500.0)).dbfs(0.0) == pytest.approx(-20 - 21.65, abs=0.5)


@pytest.mark.parametrize(("deviation_hz", "line_dbc"), PILOT_LINES)
def test_the_pilot_has_the_published_lines(deviation_hz: float, line_dbc: float) -> None:
    """A silent stereo station shows its pilot at +-19 kHz of the printed level under the carrier."""
    lines = Lines(FmStation(98_100_000, -20.0, programme="silence", pilot_dev_hz=deviation_hz))
    assert lines.dbfs(-19_000.0) - lines.dbfs(0.0) == pytest.approx(line_dbc, abs=0.01)
    assert lines.dbfs(19_000.0) - lines.dbfs(0.0) == pytest.approx(line_dbc, abs=0.01)


# each sideband of a tone of depth m stands 20 log10(m/2) under the carrier; the carrier's own level is what the station states
@pytest.mark.parametrize(("depth", "sideband_dbc"), [(0.30, -16.48), (0.40, -13.98), (0.80, -7.96), (1.00, -6.02)])
def test_an_am_tones_sidebands_are_those_of_the_textbook(depth: float, sideband_dbc: float) -> None:
    """Textbook: 30 % -16.48, 40 % -13.98, 80 % -7.96, 100 % -6.02 dB under the carrier, on both sides."""
    lines = Lines(AmStation(1_000_000, -30.0, programme="tone", tone_hz=400.0, depth=depth))
    assert lines.dbfs(0.0) == pytest.approx(-30.0, abs=0.01)
    assert lines.dbfs(400.0) - lines.dbfs(0.0) == pytest.approx(sideband_dbc, abs=0.02)
    assert lines.dbfs(-400.0) - lines.dbfs(0.0) == pytest.approx(sideband_dbc, abs=0.02)


@pytest.mark.parametrize(("depth", "gain_db"), [(0.30, 0.19), (0.80, 1.21), (1.00, 1.76)])
def test_am_power_grows_by_half_the_square_of_the_depth(depth: float, gain_db: float) -> None:
    """Textbook: total over carrier power is 1 + m^2/2."""
    lines = Lines(AmStation(1_000_000, -30.0, programme="tone", tone_hz=400.0, depth=depth))
    assert 10 * np.log10(lines.power.sum()) - lines.dbfs(0.0) == pytest.approx(gain_db, abs=0.02)


def test_the_am_stereo_pilots_lines_stand_32_db_down() -> None:
    """C-QUAM: 25 Hz (second-hand) at 5 % (from memory): each line 20 log10(0.05/2) = -32.04 dB under the carrier."""
    lines = Lines(AmStation(1_000_000, -30.0, programme="silence", stereo=True))
    assert lines.dbfs(25.0) - lines.dbfs(0.0) == pytest.approx(-32.04, abs=0.1)
    assert lines.dbfs(-25.0) - lines.dbfs(0.0) == pytest.approx(-32.04, abs=0.1)


# computed twice outside bandscan: own division by g(x) = 0x5B9 and komm's polynomial remainder
@pytest.mark.parametrize(
    ("data", "check"), [(0x0001, 0x1B9), (0x1234, 0x096), (0x54A8, 0x336), (0xC201, 0x291), (0xFFFF, 0x0CD)]
)
def test_check_words_of_the_data_service(data: int, check: int) -> None:
    """EN 50067 annex B: the ten check bits of a block, before its offset word is added."""
    assert check_word(data) == check


# 10 log10 (1 + (2 pi f tau)^2): the network of 47 CFR 73.317(e), 75 us, and of ITU-R BS.450-3 section 1.2, 50 us
@pytest.mark.parametrize(
    ("time_constant_s", "at_hz", "lift_db"),
    [
        (50e-6, 1_000, 0.41),
        (50e-6, 3_183.1, 3.01),
        (50e-6, 10_000, 10.36),
        (50e-6, 15_000, 13.66),
        (75e-6, 1_000, 0.87),
        (75e-6, 2_122.1, 3.01),
        (75e-6, 10_000, 13.66),
        (75e-6, 15_000, 17.07),
    ],
)
def test_preemphasis_lifts_as_the_network_does(
    time_constant_s: float, at_hz: float, lift_db: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the forger sends is lifted by the published figures at 1, 10 and 15 kHz and by 3 dB at the corner 1/(2 pi tau)."""
    points, rate_hz = 40_000, 40_000.0
    sent = np.cos(2 * np.pi * round(at_hz) / rate_hz * np.arange(points))
    monkeypatch.setattr(forge_fm, "programme", lambda *_: np.stack([sent, sent]))
    monkeypatch.setattr(forge_fm, "processed", lambda sound, *_: sound)
    station = FmStation(98_100_000, -20.0, preemphasis_s=time_constant_s)
    lifted = forge_fm._audio(station, points, rate_hz, np.random.default_rng(1))
    assert 10 * np.log10(np.mean(lifted**2) / np.mean(sent**2)) == pytest.approx(lift_db, abs=0.006)
