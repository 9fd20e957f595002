"""What else than its station and noise stands in an FM channel, told by the envelope, which would be steady otherwise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandscan.measure.fm_noise import CHANNEL_HALF_WIDTH_HZ, beside, shaken

RealArray = npt.NDArray[np.float64]
ComplexArray = npt.NDArray[np.complex64]

EDGE = 0.9  # of a channel's half width
# a neighbour's spill over its part beyond that (1.5 to 4.5 in made bands); echoes shake the envelope too, not the edge
SPILL_OVER_EDGE = 6.0
MOST_SPILL, LEAST_SPILT = 0.2, 4.0  # of the station's power, and of the noise's: where the envelope measures spill
STEADY = 0.5  # at most so much of a station's power is something else
SPILL_DOUBT = 0.15  # of that spill (checked by simulation)


@dataclass(frozen=True)
class Strange:
    """Power of a neighbour's spill, to be taken off; the power that stays doubtful; how often it turns the phase about."""

    spill: float
    doubt: float
    turned: float


def strange(
    scatter: float, power: float, noise_power: float, known_power: float, excess: RealArray, offset_hz: RealArray
) -> Strange:
    """Weighs the envelope's scatter (variance of the power over its mean squared) of a station.

    power, noise_power: of everything over the noise in the channel and of the noise; known_power: of what is known to shake the
    envelope as well. excess: spectrum over the noise, power in each bin; offset_hz: its distance from the channel. [Hz]

    Anything but the station shakes its envelope: noise, a neighbour's spill, a spur, a spark's clicks, echoes. They turn the
    phase about exp(-ratio) of the time (S. O. Rice 1963).
    """
    other = max(shaken(scatter) * (power + noise_power + known_power) - noise_power - known_power, 0.0)
    turned = float(np.exp(-power / (noise_power + other)) - np.exp(-power / noise_power))
    half = CHANNEL_HALF_WIDTH_HZ
    edge = float(excess[(np.abs(offset_hz) <= half) & (np.abs(offset_hz) > EDGE * half)].sum())
    measured = other <= min(MOST_SPILL * power, SPILL_OVER_EDGE * edge) and power >= LEAST_SPILT * noise_power
    if measured and beside(excess, offset_hz) > power:
        return Strange(other, SPILL_DOUBT * other, turned)
    # where nothing steady prevails, as in a digital sideband, the envelope tells nothing of the level
    return Strange(0.0, other if other <= STEADY * power else max(edge, 0.0), turned)


def envelopes(samples: ComplexArray) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32]]:
    """Variance of the power over its mean squared, frame by frame: 0 for a steady carrier, 1 for noise; and the mean power.

    samples of shape (channels, frames, out_hop) give (channels, frames) and (channels,). Each frame by itself, so that fading
    does not count; at most 3, so that a click in one frame does not outweigh the rest.
    """
    power = np.square(samples.real) + np.square(samples.imag)
    mean = np.maximum(power.mean(axis=-1), np.float32(1e-30))
    scatter = np.einsum("ijk,ijk->ij", power, power) / (power.shape[-1] * mean) / mean - np.float32(1.0)
    return np.minimum(scatter, np.float32(3.0)), mean.mean(axis=1)
