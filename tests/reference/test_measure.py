"""What `measure` reads of signals made of the rules' and textbook's own lines: no modulator of ours stands between."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest
import scipy.special

from bandscan.measure import measure
from bandscan.model import Capture
from bandscan.plans import plan_for

Wave = npt.NDArray[np.complex128]
FM_RATE_HZ, AM_RATE_HZ = 480_000.0, 96_000.0


class Held:
    """Samples in memory."""

    full_scale = None
    bad_samples = 0

    def __init__(self, wave: Wave) -> None:
        self._wave = wave.astype(np.complex64)

    def __len__(self) -> int:
        return len(self._wave)

    def frames(
        self, start: int, rows: int, length: int, hop: int, out: npt.NDArray[np.complex64] | None = None
    ) -> npt.NDArray[np.complex64]:
        """Frames that all lie within the recording: `measure` asks for no others."""
        found = np.stack([self._wave[start + row * hop : start + row * hop + length] for row in range(rows)])
        assert found.shape == (rows, length)
        if out is None:
            return found
        out[...] = found
        return out


def read(wave: Wave, band: str, rate_hz: float, centre_hz: float, channel_hz: int, noise_dbfs_hz: float = -110.0) -> pd.Series:
    """The row that `measure` gives for a channel, the wave standing in white noise."""
    dice = np.random.default_rng(11)
    white = dice.standard_normal((2, len(wave))) * np.sqrt(0.5 * rate_hz * 10 ** (noise_dbfs_hz / 10))
    capture = Capture("made", Path("made.cf32"), Held(wave + white[0] + 1j * white[1]), rate_hz, centre_hz)
    readings = measure(capture, plan_for("us", band)).readings
    return readings.set_index("channel_hz").loc[channel_hz]


def times_s(rate_hz: float, seconds: float) -> npt.NDArray[np.float64]:
    """Time of each sample."""
    return np.arange(round(seconds * rate_hz)) / rate_hz


def fm_of_lines(deviation_hz: float, modulating_hz: float, carrier_hz: float, seconds: float = 2.0) -> Wave:
    """Jacobi and Anger's series: line k of a tone's FM has the amplitude J_k(deviation / modulating frequency)."""
    time_s = times_s(FM_RATE_HZ, seconds)
    reach = int(deviation_hz / modulating_hz) + 30
    turn = np.exp(2j * np.pi * np.mod(modulating_hz * time_s, 1.0))
    wave = np.zeros(len(time_s), complex)
    line = turn**-reach
    for order in range(-reach, reach + 1):
        weight = scipy.special.jv(order, deviation_hz / modulating_hz)
        if abs(weight) > 1e-9:
            wave += weight * line
        line *= turn
    return wave * np.exp(2j * np.pi * np.mod(carrier_hz * time_s, 1.0))


# 47 CFR 73.322(a)(2): 19 kHz within 2 Hz, 8 to 10 % of 75 kHz; 73.1545: the carrier within 2 kHz
@pytest.mark.parametrize(("pilot_hz", "deviation_hz"), [(18_998.0, 6_000.0), (19_000.0, 6_750.0), (19_002.0, 7_500.0)])
@pytest.mark.parametrize("carrier_error_hz", [-2_000.0, 2_000.0])
def test_pilot_and_carrier_at_the_rules_limits_are_read(pilot_hz: float, deviation_hz: float, carrier_error_hz: float) -> None:
    """A silent stereo station at each corner of the rules: pilot, its deviation and the carrier's error are read."""
    wave = 0.1 * fm_of_lines(deviation_hz, pilot_hz, 100_000.0 + carrier_error_hz)
    row = read(wave, "fm", FM_RATE_HZ, 98_000_000, 98_100_000)
    assert row["pilot"]
    assert row["pilot_dev_hz"] == pytest.approx(deviation_hz, rel=0.005)
    assert row["carrier_error_hz"] == pytest.approx(carrier_error_hz, abs=20)
    assert row["level_dbfs"] == pytest.approx(-20.0, abs=0.05)


def test_noise_is_no_pilot() -> None:
    """Noise alone, whose discriminated 19 kHz is as strong as a weak pilot, is no pilot and no emission."""
    row = read(np.zeros(960_000, complex), "fm", FM_RATE_HZ, 98_000_000, 98_100_000)
    assert pd.isna(row["level_dbfs"])
    assert pd.isna(row["pilot"])
    assert row["noise_dbfs"] == pytest.approx(-110 + 53.01, abs=0.3)  # 10 log10 of 200 kHz


def test_a_line_20_hz_beside_the_pilot_is_no_pilot() -> None:
    """47 CFR 73.322(a): nobody may use 19 kHz within 20 Hz for anything else, so a line further off is something else."""
    row = read(0.1 * fm_of_lines(6_750.0, 19_030.0, 100_000.0), "fm", FM_RATE_HZ, 98_000_000, 98_100_000)
    assert not row["pilot"]


@pytest.mark.parametrize(("deviation_hz", "modulating_hz"), [(75_000.0, 997.0), (22_500.0, 997.0), (75_000.0, 397.0)])
def test_peak_deviation_of_test_modulation_is_read(deviation_hz: float, modulating_hz: float) -> None:
    """47 CFR 73.1570(b): 100 % is 75 kHz; 30 % is what receiver sheets test with (1 kHz or 400 Hz).

    Just beside the round figures, so that the meter's samples do not fall on the same few places of every cycle.
    """
    wave = 0.1 * fm_of_lines(deviation_hz, modulating_hz, 100_000.0)
    row = read(wave, "fm", FM_RATE_HZ, 98_000_000, 98_100_000, noise_dbfs_hz=-125.0)  # 52 dB over noise: 50 Hz of jitter
    assert row["peak_dev_hz"] == pytest.approx(deviation_hz, abs=200)


def am_of_lines(depth: float, carrier_error_hz: float, stereo_pilot: float = 0.0, seconds: float = 4.0) -> Wave:
    """A carrier of -40 dBFS with two lines of depth/2 at 400 Hz, and in quadrature those of the 25 Hz stereo pilot."""
    time_s = times_s(AM_RATE_HZ, seconds)
    sideband, pilot = (np.exp(2j * np.pi * at_hz * time_s) for at_hz in (400.0, 25.0))
    wave = 1 + depth / 2 * (sideband + sideband.conj()) + 1j * stereo_pilot / 2 * (pilot + pilot.conj())
    return 0.01 * wave * np.exp(2j * np.pi * np.mod((10_000.0 + carrier_error_hz) * time_s, 1.0))


# sum of both sidebands, 10 log10 (m^2 / 2): each stands 20 log10 (m/2) under the carrier, 30 % -16.48, 80 % -7.96 dB (textbook)
@pytest.mark.parametrize(("depth", "sidebands_db"), [(0.30, -13.47), (0.80, -4.95), (1.00, -3.01)])
@pytest.mark.parametrize("carrier_error_hz", [-20.0, 0.0, 20.0])
def test_an_am_tones_depth_sidebands_and_carrier_are_read(depth: float, sidebands_db: float, carrier_error_hz: float) -> None:
    """At the carrier tolerance of 47 CFR 73.1545, 20 Hz, level, frequency, depth and sidebands are those that were put in."""
    row = read(am_of_lines(depth, carrier_error_hz), "am", AM_RATE_HZ, 990_000, 1_000_000)
    assert row["level_dbfs"] == pytest.approx(-40.0, abs=0.05)
    assert row["carrier_error_hz"] == pytest.approx(carrier_error_hz, abs=0.1)
    assert row["am_depth"] == pytest.approx(depth, abs=0.02)
    assert row["sideband_db"] == pytest.approx(sidebands_db, abs=0.2)
    assert not row["am_stereo"]


def test_the_am_stereo_pilot_is_seen() -> None:
    """C-QUAM: 25 Hz (second-hand) in quadrature at 5 % (from memory), each line 32.04 dB under the carrier."""
    assert read(am_of_lines(0.3, 5.0, stereo_pilot=0.05), "am", AM_RATE_HZ, 990_000, 1_000_000)["am_stereo"]
