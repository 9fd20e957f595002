"""The frames in which a recording is transformed, and the smaller frames in which a channel leaves the channeliser.

Overlap-save: each frame of `size` samples overlaps the next; a channel is a slice of its bins, transformed back with `out_size`
points, of which `out_trim` at either end are spoilt by the filter and dropped. What is left joins without a seam.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Grid:
    """Sizes of the shared transform at one sample rate.

    `hop` input samples give `out_hop` = out_size - 2 out_trim samples of a channel; size, hop and out_size are chosen so that
    both are whole numbers. `bin_hz` is the spacing of the bins and `out_rate_hz` the sample rate of a channel.
    """

    rate_hz: float
    size: int
    hop: int
    out_size: int
    out_trim: int

    @property
    def bin_hz(self) -> float:
        """Spacing of the bins. [Hz]"""
        return self.rate_hz / self.size

    @property
    def out_hop(self) -> int:
        """Samples of a channel that each frame gives."""
        return self.out_size - 2 * self.out_trim

    @property
    def out_rate_hz(self) -> float:
        """Sample rate of a channel. [Hz]"""
        return self.out_size * self.bin_hz

    def full_frames(self, samples: int) -> int:
        """Number of frames that lie wholly within `samples`."""
        return max(0, (samples - self.size) // self.hop + 1)

    def bin_of(self, offset_hz: float) -> int:
        """The bin nearest to an offset from the centre, which may be negative."""
        return round(offset_hz / self.bin_hz)


def make_grid(
    rate_hz: float, *, bin_hz: float, out_size: int, out_trim: int, step: int, primes: tuple[int, ...] = (2, 3, 5)
) -> Grid:
    """Sizes near the wanted bin spacing.

    The size is `step` times a number with no prime factor but `primes`, which the transform likes, and at least `out_size`;
    `step` must be a multiple of what makes the hop whole: out_size / gcd(out_size, 2 out_trim). A long transform without fives
    costs a sixth less (measured: 98304 points against 96000).
    """
    wanted = max(rate_hz / bin_hz, float(out_size)) / step
    multiples = _smooth_numbers(int(2 * wanted) + 8, primes)
    multiple = min(multiples, key=lambda m: (abs(m - wanted) + 1e9 * (m * step < out_size), m))
    size = multiple * step
    hop, rest = divmod(size * (out_size - 2 * out_trim), out_size)
    if rest:
        raise ValueError("step does not make the hop a whole number")
    return Grid(rate_hz, size, hop, out_size, out_trim)


def _smooth_numbers(limit: int, primes: tuple[int, ...]) -> list[int]:
    numbers = [1]
    for prime in primes:
        # those of the last step are met again as the list grows, so that powers follow
        for number in numbers:
            if number * prime <= limit:
                numbers.append(number * prime)
    return sorted(numbers)
