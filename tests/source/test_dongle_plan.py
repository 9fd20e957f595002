"""Where the dongle is tuned to: bandscan/source/dongle_plan.py. The promises of the issue, channel by channel."""

from __future__ import annotations

import pytest

from bandscan.errors import UsageError
from bandscan.plans import BANDS, REGIONS, plan_for
from bandscan.source.dongle_plan import centres_hz, route, samples_of, second_gain

# tenths of a dB: the gains of the most common tuner, as its driver lists them (from memory)
GAINS = [0.0, 0.9, 1.4, 2.7, 3.7, 7.7, 8.7, 12.5, 14.4, 15.7, 16.6, 19.7, 20.7, 22.9, 25.4, 28.0, 29.7, 32.8, 33.8, 36.4, 49.6]


@pytest.mark.parametrize("rate_hz", [1_200_000, 2_048_000, 2_400_000, 3_200_000])
@pytest.mark.parametrize("band", BANDS)
@pytest.mark.parametrize("region", REGIONS)
def test_every_channel_is_in_a_flat_part_and_off_the_dc_line(region: str, band: str, rate_hz: int) -> None:
    """Each set of centres has every channel within 0.36 of the rate of a centre, and no carrier on any; the sets differ."""
    plan = plan_for(region, band)
    first, second = centres_hz(plan, rate_hz)
    for centres in (first, second):
        assert list(centres) == sorted(set(centres))
        for channel in plan.channels_hz:
            assert any(abs(channel - centre) <= 0.36 * rate_hz for centre in centres), channel
            # FM: half a channel's spacing away; AM: half of 10 or 9 kHz
            assert min(abs(channel - centre) for centre in centres) >= plan.step_hz // 2 - 1
    assert not set(first) & set(second)


def test_the_steps_of_the_us_fm_band() -> None:
    """20 MHz at 2.4 MS/s: 13 steps of 1.6 MHz, eight channels each, by hand."""
    first, second = centres_hz(plan_for("us", "fm"), 2_400_000)
    assert first == tuple(88_600_000 + 1_600_000 * step for step in range(13))
    assert second == tuple(87_800_000 + 1_600_000 * step for step in range(14))


@pytest.mark.parametrize("region", REGIONS)
def test_a_full_reference_takes_five_minutes_at_most_and_a_quick_one_less_than_one(region: str) -> None:
    """FM, two gains, three passes: at most 300 s; quick, with 31 looks of 0.35 s to choose a gain: under 60."""
    plan = plan_for(region, "fm")
    assert route(plan, [28.0, 19.7]).seconds <= 300
    assert route(plan, [28.0, 19.7], quick=True).seconds + 31 * 0.35 < 60


def test_passes_alternate_and_gains_are_neighbours_in_time() -> None:
    """Three passes over both sets; the second gain right after the first, at the same centre, for a third of the time."""
    way = route(plan_for("us", "fm"), [28.0, 19.7], turns=3, dwell_s=0.9)
    assert [one.number for one in way.dwells] == list(range(1, 81))
    assert [(one.turn, one.step, one.of, one.centre_hz, one.gain_db, one.seconds) for one in way.dwells[:3]] == [
        (1, 1, 13, 88_600_000, 28.0, 0.9),
        (1, 1, 13, 88_600_000, 19.7, 0.3),
        (1, 2, 13, 90_200_000, 28.0, 0.9),
    ]
    turns = [{one.centre_hz for one in way.dwells if one.turn == turn} for turn in (1, 2, 3)]
    assert turns[0] == turns[2]
    assert not turns[0] & turns[1]
    assert way.bytes == sum(2 * samples_of(one.seconds, 2_400_000) for one in way.dwells)


def test_am_is_one_step_in_passes_spread_over_time() -> None:
    """One step holds all of AM; passes start half a minute apart."""
    way = route(plan_for("us", "am"), [None])
    assert [(one.turn, one.of, one.centre_hz) for one in way.dwells] == [(1, 1, 915_000), (2, 1, 1_335_000), (3, 1, 915_000)]
    assert way.pause_s == 30.0
    assert 60 <= way.seconds <= 100


@pytest.mark.parametrize(
    ("gain", "second"), [(28.0, 19.7), (49.6, 36.4), (14.4, 7.7), (8.7, 0.9), (7.7, 0.0), (3.7, None), (0.0, None)]
)
def test_the_second_gain_is_some_eight_db_lower(gain: float, second: float | None) -> None:
    """The tuner's nearest to 8 dB under the first, at least 5 dB; none where the tuner has none."""
    assert second_gain(GAINS, gain) == second


def test_samples_come_in_whole_packets() -> None:
    """The driver takes lengths of whole 512 bytes: 256 samples."""
    assert samples_of(1.0, 2_400_000) == 2_400_000
    assert samples_of(0.1, 2_400_000) % 256 == 0
    assert samples_of(1e-9, 2_400_000) == 256


@pytest.mark.parametrize("rate_hz", [225_000, 300_001, 900_000, 3_200_001])
def test_rates_that_the_driver_does_not_take(rate_hz: int) -> None:
    """They are refused before anything is tuned (ranges by the driver's source)."""
    with pytest.raises(UsageError, match="accepted: 225001 to 300000 or 900001 to 3200000 S/s"):
        route(plan_for("us", "fm"), [None], rate_hz=rate_hz)
