"""From the 57 kHz subcarrier, slowed and turned down to zero, to soft biphase symbols.

The subcarrier is suppressed; its square is not. Over a second its phase is a straight line, since transmitter and receiver
both run on crystals, so frequency and phase are read from the line that the squared signal shows near twice its offset: no
loop to lock, nothing to lose at the start. Bits are sent at a 48th of the subcarrier (EN 50067 section 1), so its frequency
also gives theirs; only their phase is left, and that is the phase of the bit-rate line in the squared in-phase component.
The pilot's third harmonic, which has the same frequency, would add nothing: bad blocks are as many as with an ideal carrier
(tests/dsp/test_rds.py), and stations without a pilot are followed as well.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import scipy.fft

from bandscan.dsp.phasor import phasor

ComplexArray = npt.NDArray[np.complex64]
RealArray = npt.NDArray[np.float64]

SUBCARRIER_HZ = 57_000.0
CYCLES_PER_BIT = 48
BIT_HZ = SUBCARRIER_HZ / CYCLES_PER_BIT
SEARCH_HZ = 14.0  # legal 6 Hz, 100 ppm of the receiver's clock, and room
FALSE_RATE = 1e-3  # a second of noise shows a squared line this often; what follows then finds no blocks
_SQUARE_HZ = 150.0  # rate at which the squared signal's line is looked for
_PADDING = 4


@lru_cache(maxsize=4)
def matched_response(size: int, rate_hz: float) -> ComplexArray:
    """Response of the matched filter for biphase symbols in the order of a transform; shape (size,).

    Source: EN 50067 section 1: cos(pi f t_d / 4) below 2 / t_d, once in the transmitter and once in the receiver, around an
    impulse pair half a bit apart. Both together leave no trace of a symbol at its neighbours' middles.
    """
    bits = scipy.fft.fftfreq(size, 1.0 / rate_hz) / BIT_HZ
    shape = np.where(np.abs(bits) <= 2.0, np.cos(np.pi * bits / 4) * np.sin(np.pi * bits / 2), 0.0)
    return np.asarray(-1j * shape, np.complex64)


@dataclass(frozen=True)
class Subcarrier:
    """The subcarrier's offset from 57 kHz [Hz] and its phase [cycles, modulo a half] at the segment's first sample."""

    offset_hz: float
    phase: float


def find_subcarrier(filtered: ComplexArray, rate_hz: float) -> Subcarrier | None:
    """The subcarrier of a matched-filtered segment, shape (samples,), or None where its squared line does not stand out."""
    step = max(1, round(rate_hz / _SQUARE_HZ))
    square_rate = rate_hz / step
    count = len(filtered) // step
    squared = np.square(filtered[: count * step]).reshape(count, step).mean(axis=1)
    power = np.abs(scipy.fft.fft(squared, n=_PADDING * count)) ** 2
    frequency = scipy.fft.fftfreq(len(power), 1.0 / square_rate)
    near = np.abs(frequency) <= 2 * SEARCH_HZ
    peak = int(np.argmax(np.where(near, power, 0.0)))
    # noise has an exponential distribution in each independent bin; zero-padding looks between the bins too, which is worth
    # about as many places again
    places = 2 * (1 + 4 * SEARCH_HZ / square_rate * count)
    if power[peak] < math.log(places / FALSE_RATE) * float(power[~near].mean()):
        return None
    # four places to a bin: at most an eighth of one off, which costs 0.1 dB at the segment's ends
    offset = float(frequency[peak])
    turn = np.exp(-2j * np.pi * offset / square_rate * np.arange(count))
    # a mean over `step` samples stands for their middle
    angle = np.angle(np.sum(squared * turn)) / (2 * np.pi) - offset * (step - 1) / 2 / rate_hz
    return Subcarrier(offset / 2, float(angle) / 2)


@dataclass(frozen=True, eq=False)
class Symbols:
    """Soft symbols of a segment, mean square 1; `first` is the first one's time, `period` their spacing [samples]."""

    values: RealArray
    first: float
    period: float


def symbols_of(filtered: ComplexArray, rate_hz: float, carrier: Subcarrier, begin: float, end: float) -> Symbols:
    """Symbols whose middles lie in begin <= time < end [samples], with two samples to spare on either side.

    Their sign is that of `carrier.phase`, which is known but for a half turn.
    """
    turned = filtered * phasor(len(filtered), -carrier.offset_hz / rate_hz, -2 * math.pi * carrier.phase)
    in_phase: npt.NDArray[np.float32] = turned.real
    period = rate_hz / (BIT_HZ * (1.0 + carrier.offset_hz / SUBCARRIER_HZ))
    # einsum, not a dot product: threads of the linear algebra library cost more here than they bring
    tone = np.einsum("i,i", np.square(in_phase), phasor(len(filtered), -1.0 / period))
    middle = -float(np.angle(tone)) / (2 * np.pi) * period
    first = middle + math.ceil((begin - middle) / period) * period
    count = max(0, math.ceil((end - first) / period))
    times: RealArray = first + period * np.arange(count, dtype=np.float64)
    values = _between(in_phase, times)
    size = math.sqrt(float(np.mean(np.square(values)))) if count else 0.0
    return Symbols(values / size if size > 0 else values, first, period)


def _between(samples: RealArray | npt.NDArray[np.float32], times: RealArray) -> RealArray:
    """Samples at fractional times by the cubic through the four nearest; eight samples to a bit keep its error below 1e-3."""
    index = np.floor(times).astype(np.int64)
    u = times - index
    before, here, after, beyond = (samples[index + n].astype(np.float64) for n in (-1, 0, 1, 2))
    return np.asarray(
        here * (1 + u) * (1 - u) * (2 - u) / 2
        + after * u * (1 + u) * (2 - u) / 2
        - before * u * (1 - u) * (2 - u) / 6
        - beyond * u * (1 - u) * (1 + u) / 6
    )
