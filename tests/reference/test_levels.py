"""Levels of the trade against published and hand-worked pairs. The source stands beside each value."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bandscan.units import (
    db,
    dbf_to_dbm,
    dbf_to_microvolt,
    dbuv_to_microvolt,
    from_db,
    microvolt_to_dbf,
)

# Matched volts from V = sqrt(1 fW x 10^(dBf/10) x R), worked with a pocket calculator's formula outside bandscan.
# The definition (dB above 1 fW of available power; IHF-T-200, the same text as IEEE 185-1975) is second-hand.
MATCHED = [
    # dBf, ohm, uV, half a unit of the last printed digit
    (0.0, 300, 0.5477, 0.00005),
    (0.0, 75, 0.2739, 0.00005),
    (9.3, 75, 0.80, 0.005),
    (10.8, 300, 1.90, 0.005),
    (11.2, 300, 1.99, 0.005),
    (11.2, 75, 0.994, 0.0005),
    (14.8, 300, 3.01, 0.005),
    (17.2, 300, 3.97, 0.005),
    (37.2, 300, 39.7, 0.05),
    (45.0, 300, 97.4, 0.05),
    (65.0, 300, 974.0, 0.5),
    (65.0, 75, 487.0, 0.5),
    (85.0, 300, 9740.0, 5.0),
]

REVERSE = [(2.0, 300, 11.25), (1.0, 75, 11.25), (1.0, 50, 13.01), (10.0, 50, 33.01), (1000.0, 300, 65.23)]


@pytest.mark.parametrize(("level_dbf", "ohm", "microvolt", "half_digit"), MATCHED)
def test_dbf_to_microvolts(level_dbf: float, ohm: float, microvolt: float, half_digit: float) -> None:
    """dBf to matched microvolts across 75 and 300 ohm, to the last printed digit."""
    assert dbf_to_microvolt(level_dbf, ohm) == pytest.approx(microvolt, abs=half_digit * 1.001)


@pytest.mark.parametrize(("microvolt", "ohm", "level_dbf"), REVERSE)
def test_microvolts_to_dbf(microvolt: float, ohm: float, level_dbf: float) -> None:
    """Matched microvolts to dBf, to a hundredth of a decibel."""
    assert microvolt_to_dbf(microvolt, ohm) == pytest.approx(level_dbf, abs=0.005)


def test_a_microvolt_across_50_ohm_in_dbm() -> None:
    """1 uV across 50 ohm is 13.01 dBf or -106.99 dBm: the two scales are 120 dB apart (1 fW against 1 mW)."""
    assert dbf_to_dbm(microvolt_to_dbf(1.0, 50)) == pytest.approx(-106.99, abs=0.005)
    assert dbf_to_dbm(0.0) == -120.0
    assert dbf_to_dbm(59.1) == pytest.approx(-60.9)


def test_the_ticks_of_a_published_chart() -> None:
    """Audio magazine, December 1980: 0.55 and 1.74 uV across 300 ohm stand over 0 and 10 dBf (the chart rounds 1.732)."""
    assert dbf_to_microvolt(0.0, 300) == pytest.approx(0.55, abs=0.005)
    assert dbf_to_microvolt(10.0, 300) == pytest.approx(1.74, abs=0.01)


def test_a_car_receivers_printed_pair() -> None:
    """A maker's specification reprinted on a hobby page: 9.3 dBf is 0.8 uV across 75 ohm."""
    assert microvolt_to_dbf(0.8, 75) == pytest.approx(9.3, abs=0.05)


def test_a_tuner_circuits_printed_pairs() -> None:
    """Data sheet quoted in an article: 1.1 uV across 50 ohm is -106 dBm and 14 dBf; 15 uV is -83 dBm and 37 dBf."""
    assert dbf_to_dbm(microvolt_to_dbf(1.1, 50)) == pytest.approx(-106, abs=0.5)
    assert microvolt_to_dbf(1.1, 50) == pytest.approx(14, abs=0.5)
    assert dbf_to_dbm(microvolt_to_dbf(15.0, 50)) == pytest.approx(-83, abs=0.5)
    assert microvolt_to_dbf(15.0, 50) == pytest.approx(37, abs=0.5)


def test_open_circuit_volts_are_6_db_more() -> None:
    """Japanese practice quotes open-circuit volts (a repair firm's table, second-hand): 0 dBf is 0.55 uV at 75 ohm."""
    assert 2 * dbf_to_microvolt(0.0, 75) == pytest.approx(0.55, abs=0.005)
    assert 2 * dbf_to_microvolt(0.0, 300) == pytest.approx(1.1, abs=0.005)
    assert 2 * dbf_to_microvolt(60.0, 75) == pytest.approx(550, abs=5)
    assert db(4.0) == pytest.approx(6.02, abs=0.005)


# dB(uV/m) and mV/m by definition; 54, 57, 60 and 70 also as quoted in a broadcast engineer's post (second-hand)
@pytest.mark.parametrize(
    ("dbu", "millivolt"), [(40, 0.1), (54, 0.501), (57, 0.708), (60, 1.0), (66, 2.0), (70, 3.162), (74, 5.01), (100, 100.0)]
)
def test_decibels_over_a_microvolt(dbu: float, millivolt: float) -> None:
    """dB over 1 uV to volts, at the service contours of 47 CFR 73.215 (54, 57 and 60)."""
    assert dbuv_to_microvolt(dbu) / 1000 == pytest.approx(millivolt, rel=0.003)


def test_power_ratios_of_rules_and_textbooks() -> None:
    """47 CFR 73.317(d): 43 + 10 log P is 53 dB at 10 W, 73 dB at 1 kW and 80 dB at 5012 W. Zero power is -inf, unwarned."""
    assert 43 + db(10.0) == pytest.approx(53)
    assert 43 + db(1000.0) == pytest.approx(73)
    assert 43 + db(5012.0) == pytest.approx(80, abs=0.001)
    assert db(0.0) == -math.inf
    np.testing.assert_allclose(db(np.array([0.0, 1.0, 1000.0])), [-math.inf, 0.0, 30.0])
    np.testing.assert_allclose(from_db(np.array([-3.0103, 0.0, 20.0])), [0.5, 1.0, 100.0], rtol=1e-6)


@pytest.mark.parametrize(("bandwidth_hz", "noise_dbm"), [(1.0, -173.975), (10_000.0, -133.98), (200_000.0, -120.96)])
def test_thermal_noise_in_a_channel(bandwidth_hz: float, noise_dbm: float) -> None:
    """k T0 B at 290 K, with k = 1.380649e-23 J/K (SI): the floor under any receiver."""
    assert db(1.380649e-23 * 290 * bandwidth_hz / 1e-3) == pytest.approx(noise_dbm, abs=0.005)


def test_fm_threshold_level_in_the_trades_units() -> None:
    """Textbook: 200 kHz, noise figure 6 dB and 10 dB over noise is -105.0 dBm, 15.0 dBf, 3.1 uV across 300 ohm."""
    level_dbm = db(1.380649e-23 * 290 * 200e3 / 1e-3) + 6 + 10
    assert level_dbm == pytest.approx(-105.0, abs=0.05)
    assert dbf_to_microvolt(level_dbm + 120, 300) == pytest.approx(3.1, abs=0.05)
