"""The receiver's mirror image: a station at +f that leaks to -f with its spectrum turned round.

An image is the conjugate of its original, so X[k] X[-k] keeps its phase from bin to bin and frame to frame, while two
stations' product turns at random. The coherent mean gives the image's amplitude; its share of what stands at -f is the answer.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

ComplexArray = npt.NDArray[np.complex64]

LEAST_REJECTION = 0.03  # an image is at least 15 dB under its original


class MirrorSum:
    """Running products of a spectrum with its mirror."""

    def __init__(self, size: int) -> None:
        self.size = size
        # a bin's product with its mirror is its mirror's with it: one half is kept, and nothing of the centre, its own mirror
        self._product = np.zeros(size // 2 + 1, np.complex128)
        self._square = np.zeros(size // 2 + 1)
        self._both = np.zeros(size // 2 + 1)
        self._power = np.zeros(size)

    def add(self, transform: ComplexArray) -> None:
        """Adds one unscaled transform; shape (size,)."""
        half = self.size // 2
        power = np.square(transform.real) + np.square(transform.imag)
        self._power += power
        self._product[1:] += transform[1 : half + 1] * transform[: self.size - half - 1 : -1]
        # in double precision: the square of a power of floats overflows single
        square = power[1 : half + 1].astype(np.float64) * power[: self.size - half - 1 : -1]
        self._square[1:] += square
        self._both[1:] += np.sqrt(square)

    def image(self, centre_bin: int, half_width: int) -> tuple[float, float]:
        """What the mirror channel puts into the channel around `centre_bin`.

        Returns its share of all that stands there (0 to 1) and its significance, which what is unrelated passes with
        probability exp(-significance^2): of n independent cells, few where a quiet station has one line in them, its share
        passes s with (1 - s)^(n - 1) (N. R. Goodman 1957, squared coherence of complex normal numbers).
        """
        bins = np.arange(centre_bin - half_width, centre_bin + half_width + 1) % self.size
        here, there = float(self._power[bins].sum()), float(self._power[-bins % self.size].sum())
        pairs = np.minimum(bins, self.size - bins)
        square = float(self._square[pairs].sum())
        coherent = abs(complex(self._product[pairs].sum()))
        # the weaker of the two is the image: receivers reject it by 20 dB at least
        if min(here, there, square) <= 0 or here > LEAST_REJECTION * there:
            return 0.0, 0.0
        share = min(coherent**2 / (here * there), 1.0)
        cells = float(self._both[pairs].sum()) ** 2 / square
        return share, float(np.sqrt(-max(cells - 1.0, 0.0) * np.log(max(1.0 - share, 1e-12))))
