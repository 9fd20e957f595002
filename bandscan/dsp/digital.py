"""Digital sidebands of an FM station: flat noise-like blocks 129-198 kHz from its carrier on both sides (common practice).

What one of them puts into a neighbour's channel is read from the other, since both carry the same power.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

RealArray = npt.NDArray[np.float64]

BLOCK_HZ = (131e3, 196e3)  # inner part of a block, clear of its ends
BLOCK_WIDTH_HZ = 69e3
LEAST_OVER_FLOOR = 0.25  # a weaker block changes neither a level nor a decision
_WINDOW_HZ = 5e3
_FLAT = 1.6  # 90th over 10th percentile of the windows' density; a station's skirt falls by far more over a block


def block(density: RealArray, offset_hz: RealArray, floor: float, side: int) -> tuple[float, bool]:
    """Density over the floor [1/Hz] of the block on one side (-1 below, +1 above) of a carrier, and whether it is flat.

    density, offset_hz: averaged spectrum [1/Hz] and its bins' distance from the carrier [Hz], ascending.
    """
    inside = (side * offset_hz >= BLOCK_HZ[0]) & (side * offset_hz <= BLOCK_HZ[1])
    reaches = side * (offset_hz[-1] if side > 0 else offset_hz[0]) >= BLOCK_HZ[1]
    values = density[inside]
    per_window = max(1, round(_WINDOW_HZ / float(offset_hz[1] - offset_hz[0])))
    count = len(values) // per_window
    if not reaches or count < 4:
        return float("nan"), False
    windows = values[: count * per_window].reshape(count, per_window).mean(axis=1)
    low, middle, high = (float(np.percentile(windows, share)) for share in (10, 50, 90))
    return middle - floor, low > 0 and high <= _FLAT * low


def shared_power(here: tuple[float, bool], mirror: tuple[float, bool], floor: float) -> float:
    """Power of a digital sideband in a neighbour's channel, from the block there and its mirror; 0 where it is none.

    The mirror must be flat and stand out of the floor. The smaller of the two is taken, since a station on either only adds.
    """
    if not mirror[1] or not np.isfinite(mirror[0]) or mirror[0] < LEAST_OVER_FLOOR * floor:
        return 0.0
    return max(min(here[0], mirror[0]), 0.0) * BLOCK_WIDTH_HZ


def of_neighbours(over_noise: RealArray, offset_hz: RealArray, apart_hz: float, sides: Sequence[int]) -> tuple[float, float]:
    """Power that the stations `apart_hz` to these sides put into a channel with their digital sidebands, over its noise density
    [Hz], and the side from which it comes: 1 above, -1 below, between them where it comes from both.

    over_noise, offset_hz: spectrum over the noise and its bins' distance from the channel's carrier [Hz], ascending.
    """
    found, leans = 0.0, 0.0
    for side in sides:
        here, mirror = (block(over_noise, offset_hz - side * apart_hz, 1.0, at) for at in (-side, side))
        power = shared_power(here, mirror, 1.0)
        found, leans = found + power, leans + side * power
    return found, leans / found if found else 0.0
