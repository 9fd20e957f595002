"""Frame sizes: whatever the sample rate, hops are whole and sizes are ones that a transform likes."""

from __future__ import annotations

import pytest
from dsp.cut import RATES_HZ, am_grid, fm_grid

from bandscan.dsp.grid import Grid, make_grid

# rates that no design had in mind: odd, fractional, just over a limit of the dongle's
ODD_RATES_HZ = (225_001.0, 250_000.0, 999_999.0, 1_024_000.5, 2_399_998.7, 2.56e6, 61.44e6)


@pytest.mark.parametrize("make", [fm_grid, am_grid])
@pytest.mark.parametrize("rate_hz", RATES_HZ + ODD_RATES_HZ)
def test_hops_join_without_a_seam(make: object, rate_hz: float) -> None:
    """A hop of the recording is exactly a hop of the channel: hop / size = out_hop / out_size, both whole numbers."""
    grid: Grid = make(rate_hz)  # type: ignore[operator]
    assert grid.hop * grid.out_size == grid.size * grid.out_hop
    assert 0 < grid.hop < grid.size
    assert grid.out_hop == grid.out_size - 2 * grid.out_trim
    assert grid.out_rate_hz == pytest.approx(rate_hz * grid.out_size / grid.size)


@pytest.mark.parametrize("make", [fm_grid, am_grid])
@pytest.mark.parametrize("rate_hz", RATES_HZ + ODD_RATES_HZ)
def test_a_size_has_no_prime_factor_above_five(make: object, rate_hz: float) -> None:
    """Transforms of sizes 2^a 3^b 5^c are the quick ones, and no channel is asked of more bins than there are."""
    grid: Grid = make(rate_hz)  # type: ignore[operator]
    rest = grid.size
    for prime in (2, 3, 5):
        while rest % prime == 0:
            rest //= prime
    assert rest == 1
    assert grid.size >= grid.out_size


@pytest.mark.parametrize("rate_hz", [rate for rate in RATES_HZ + ODD_RATES_HZ if rate > 300e3])
def test_bins_are_about_as_wide_as_asked(rate_hz: float) -> None:
    """Numbers 2^a 3^b 5^c from 25 up are at most 1 : 1.125 apart (27 to 30 is the widest step: computed), so half of that."""
    assert fm_grid(rate_hz).bin_hz == pytest.approx(100.0, rel=0.06)


@pytest.mark.parametrize("rate_hz", [225e3, 256e3, 300e3])
def test_a_slow_recording_has_frames_as_long_as_its_channel(rate_hz: float) -> None:
    """Under 240 kS/s a channel leaves at the recording's own rate or a little more than 200 kHz, never more than there is."""
    grid = fm_grid(rate_hz)
    assert 200e3 < grid.out_rate_hz <= rate_hz


def test_full_frames_lie_within_the_samples() -> None:
    """The last whole frame ends at or before the last sample, and one more would not."""
    grid = Grid(rate_hz=1000.0, size=100, hop=90, out_size=10, out_trim=0)
    for samples in range(0, 1000, 7):
        count = sum(1 for start in range(0, 1000, 90) if start + 100 <= samples)
        assert grid.full_frames(samples) == count


def test_bins_are_counted_from_the_centre() -> None:
    """Offsets below the centre have negative bins; the nearest bin is taken on both sides."""
    grid = fm_grid(2.4e6)
    assert (grid.bin_of(-700_000.0), grid.bin_of(0.0), grid.bin_of(149.0), grid.bin_of(-151.0)) == (-7000, 0, 1, -2)


def test_a_step_that_splits_a_hop_is_refused() -> None:
    """A size that makes the hop a fraction is a defect and says so, instead of losing a part of a sample at every seam."""
    with pytest.raises(ValueError, match="hop a whole number"):
        make_grid(1000.0, bin_hz=10.0, out_size=49, out_trim=1, step=1)
