"""Third-order products of strong stations: what a compressing front end makes of a, b and c at a + b - c.

Such a product is a b c* sample by sample. So a suspect is multiplied with what the strong channels would make of it: a product
keeps its phase, a station of its own does not. Checked on sparse rows of samples; products of stations outside the recording
cannot be seen this way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

ComplexArray = npt.NDArray[np.complex64]

STRONGEST = 5  # channels that are tried as makers
WEAKER_DB = 15.0  # a product lies at least this far below each of its makers


@dataclass(frozen=True)
class Product:
    """A product's makers (indices of channels: first + second - third) and its share of the suspect's power."""

    first: int
    second: int
    third: int
    share: float


class ProductSum:
    """Running correlation of suspects with the products that could stand in their channels."""

    def __init__(self, channels_hz: tuple[int, ...], residues_hz: list[float], rate_hz: float, length: int) -> None:
        self._channels_hz, self._residues_hz = channels_hz, residues_hz
        self._time_s = np.arange(length) / rate_hz
        self._index = {hz: index for index, hz in enumerate(channels_hz)}
        self._power = np.zeros(len(channels_hz))
        self._sums: dict[tuple[int, int, int, int], tuple[float, float]] = {}

    def add(self, samples: ComplexArray) -> None:
        """Adds one row of each channel; shape (channels, length)."""
        power = np.mean(np.square(samples.real) + np.square(samples.imag), axis=1, dtype=np.float64)
        self._power += power
        strongest = np.argsort(self._power)[::-1][:STRONGEST]
        weaker = 10.0 ** (-WEAKER_DB / 10.0)
        for place, first in enumerate(strongest):
            for second in strongest[place:]:
                pair: ComplexArray | None = None
                for third in strongest:
                    at_hz = self._channels_hz[first] + self._channels_hz[second] - self._channels_hz[third]
                    suspect = self._index.get(at_hz)
                    if suspect is None or third in (first, second):
                        continue
                    if self._power[suspect] > weaker * self._power[[first, second, third]].min():
                        continue
                    if pair is None:
                        pair = samples[first] * samples[second]
                    self._correlate(samples, (int(first), int(second), int(third), suspect), pair)

    def _correlate(self, samples: ComplexArray, key: tuple[int, int, int, int], pair: ComplexArray) -> None:
        made = pair * np.conj(samples[key[2]])
        residues = self._residues_hz
        drift_hz = residues[key[0]] + residues[key[1]] - residues[key[2]] - residues[key[3]]
        if abs(drift_hz) > 1e-6:
            made = made * np.exp(-2j * np.pi * drift_hz * self._time_s).astype(np.complex64)
        suspect = samples[key[3]]
        coherent = abs(complex(np.vdot(made, suspect))) ** 2
        whole = float(np.vdot(made, made).real) * float(np.vdot(suspect, suspect).real)
        # two unrelated rows of n samples correlate by 1/n of their power
        coherent -= whole / len(suspect)
        before = self._sums.get(key, (0.0, 0.0))
        self._sums[key] = (before[0] + coherent, before[1] + whole)

    def product(self, channel: int) -> Product | None:
        """The product with the largest share of a channel's power, None where none was possible."""
        found = [
            Product(key[0], key[1], key[2], min(max(coherent / whole, 0.0), 1.0))
            for key, (coherent, whole) in self._sums.items()
            if key[3] == channel and whole > 0
        ]
        return max(found, key=lambda product: product.share, default=None)
