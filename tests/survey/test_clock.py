"""The receiver's own frequency error from many carriers: survey/clock.py."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import scipy.stats

from bandscan.plans import plan_for
from bandscan.survey.clock import clock_error, without_clock_error

FM, AM = plan_for("us", "fm"), plan_for("us", "am")


def carriers(band: str, count: int, seed: int, ppm: float = 0.0, fixed_hz: float = 0.0, sd_hz: float = 1.0) -> pd.DataFrame:
    """Stations evenly within their tolerance (47 CFR 73.1545) as a receiver of a given error shows them."""
    rng = np.random.default_rng(seed)
    plan = FM if band == "fm" else AM
    channels = rng.choice(plan.channels_hz, count, replace=False)
    own = rng.uniform(-plan.carrier_tolerance_hz, plan.carrier_tolerance_hz, count)
    shown = own - ppm * 1e-6 * channels + fixed_hz + rng.normal(0, sd_hz, count)
    return pd.DataFrame(
        {"channel_hz": channels, "carrier_error_hz": shown, "carrier_sd_hz": sd_hz, "holds": "station", "true_hz": own}
    )


@pytest.mark.parametrize("ppm", [-47.0, 0.0, 33.0])
@pytest.mark.parametrize("band", ["fm", "am"])
def test_the_stated_interval_holds_the_clocks_error(band: str, ppm: float) -> None:
    """Of 200 dials of 14 stations the 95 % interval holds the truth as often as a binomial of 95 % allows (1e-4)."""
    plan = FM if band == "fm" else AM
    held = 0
    for seed in range(200):
        found = clock_error(carriers(band, 14, seed, ppm), plan)
        assert found is not None
        held += abs((found.ppm if not found.fixed_hz else np.inf) - ppm) <= 1.96 * found.sd
    low, high = scipy.stats.binom.interval(0.9999, 200, 0.95)
    # an AM dial of equal stations may pass for an upconverter's now and then
    assert (low if band == "fm" else 0.9 * low) <= held <= high


def test_many_carriers_beat_any_one() -> None:
    """Tolerance 2 kHz / sqrt(3) at 98 MHz is 11.8 ppm for one carrier, a quarter of that for 16."""
    found = clock_error(carriers("fm", 16, 1), FM)
    assert found is not None
    assert found.sd == pytest.approx(11.8 / 4, rel=0.1)
    assert found.carriers == 16


def test_one_carrier_off_its_channel_does_not_count() -> None:
    """A station 30 kHz off is left out; the others decide."""
    rows = carriers("fm", 12, 2, ppm=20.0)
    rows.loc[3, "carrier_error_hz"] += 30_000
    found = clock_error(rows, FM)
    assert found is not None
    assert found.carriers == 11
    assert found.ppm == pytest.approx(20.0, abs=1.96 * found.sd + 1)


def test_an_upconverters_error_is_told_from_a_clocks() -> None:
    """55 Hz at all AM frequencies is no clock's: that would triple from 540 to 1700 kHz."""
    found = clock_error(carriers("am", 25, 3, fixed_hz=55.0), AM)
    assert found is not None
    assert found.fixed_hz == pytest.approx(55.0, abs=1.96 * found.sd)
    assert found.significant
    assert "upconverter" in found.said()


def test_a_significant_error_is_taken_off_and_others_are_not() -> None:
    """50 ppm come off the carriers; what lies within the stations' own tolerance stays."""
    rows = carriers("fm", 14, 4, ppm=50.0)
    corrected, found = without_clock_error(rows, FM)
    assert found is not None
    assert found.significant
    left = corrected["carrier_error_hz"] - rows["true_hz"]
    assert abs(float(left.mean())) < 1.96 * found.sd * 1e-6 * 98e6
    calm = carriers("fm", 14, 5)
    same, found = without_clock_error(calm, FM)
    assert found is not None
    assert not found.significant
    assert same["carrier_error_hz"].equals(calm["carrier_error_hz"])


def test_fewer_than_two_carriers_tell_nothing() -> None:
    """One station's error is its own or the receiver's: not told."""
    assert clock_error(carriers("fm", 1, 6), FM) is None
    twice = pd.concat([carriers("fm", 1, 7), carriers("fm", 1, 7)])
    assert clock_error(twice, FM) is None
