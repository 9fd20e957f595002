"""Shape of an emission in its channel: what stands over the noise, how wide, where, and how much of it is one line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

RealArray = npt.NDArray[np.float64]

LINE_HZ = 300.0  # a line of a Hann spectrum with 100 Hz bins is this wide
LINES_APART_HZ = 1e3
MOST_LINES = 3  # spurs that one channel may hold; a modulated carrier has many lines


@dataclass(frozen=True)
class Shape:
    """Power over the noise within the channel, the part of it in the core, width that holds 90 % of it [Hz], its centre of
    gravity [Hz] and the share of its three strongest lines of 300 Hz."""

    power: float
    core: float
    width_hz: float
    centroid_hz: float
    line_share: float


def shape(density: RealArray, offset_hz: RealArray, noise_density: RealArray, half_width_hz: float, core_hz: float) -> Shape:
    """Shape of what stands over the noise within `half_width_hz` of a channel's carrier.

    density, noise_density, offset_hz: averaged spectrum and noise [1/Hz] and the bins' distance from the nominal carrier [Hz];
    shape (bins,).
    The noise is taken off bin by bin without clipping, so that noise alone gives zero on average, not a positive power.
    """
    inside = np.abs(offset_hz) <= half_width_hz
    offset, excess = offset_hz[inside], (density - noise_density)[inside]
    bin_hz = float(offset[1] - offset[0])
    power = float(excess.sum() * bin_hz)
    core = float(excess[np.abs(offset) <= core_hz].sum() * bin_hz)
    if power <= 0:
        return Shape(power, core, float("nan"), float("nan"), float("nan"))
    taps = max(1, round(LINE_HZ / bin_hz))
    line = _lines(np.convolve(excess, np.ones(taps), "valid"), max(taps, round(LINES_APART_HZ / bin_hz))) * bin_hz
    # widths and centre from windows of about 2 kHz, clipped at zero: single bins of noise would smear them
    step = max(1, round(2e3 / bin_hz))
    count = len(excess) // step
    coarse = np.maximum(excess[: count * step].reshape(count, step).sum(axis=1), 0.0)
    place = offset[: count * step].reshape(count, step).mean(axis=1)
    total = coarse.sum()
    if total <= 0:
        return Shape(power, core, float("nan"), float("nan"), min(line / power, 1.0))
    running = np.cumsum(coarse) / total
    low, high = np.interp([0.05, 0.95], running, place)
    centroid = float((coarse * place).sum() / total)
    return Shape(power, core, float(high - low), centroid, float(min(line / power, 1.0)))


def _lines(running: RealArray, apart: int) -> float:
    """Sum of the highest `MOST_LINES` values that lie `apart` bins from each other; those below zero are none."""
    left, found = running.copy(), 0.0
    for _ in range(MOST_LINES):
        peak = int(np.argmax(left))
        found += max(float(left[peak]), 0.0)
        left[max(peak - apart, 0) : peak + apart + 1] = 0.0
    return found
