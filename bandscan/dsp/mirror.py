"""The receiver's mirror image: a station at +f that leaks to -f with its spectrum turned round.

An image is the conjugate of its original, so X[k] X[-k] keeps its phase from bin to bin and frame to frame, while two
stations' product turns at random. The coherent mean gives the image's amplitude; its share of what stands at -f is the answer.

What shifts a recording after the mixer (a clock's correction, a band cut out of a wider one) takes the mirror's axis along: the
square of x + g conj(x) holds a steady 2 g |x|^2, which the shift turns into a line at twice itself. There it is looked for.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import scipy.fft

ComplexArray = npt.NDArray[np.complex64]
RealArray = npt.NDArray[np.float64]

LEAST_REJECTION = 0.03  # an image is at least 15 dB under its original
NEAR_BINS, LINE_OVER = 256, 20.0  # of a line in the square, over what stands around it: noise reaches 13 in 400,000 places
MOST_LINES = 16  # each silent station squares into one as well
BARE_OVER = 10.0  # of a bin, over what stands around it
TINY = float(np.finfo(np.float32).tiny)
TOLD_BY = 100.0  # bins: bare carriers give 10, steady notes of two stations 60 (made ones), most images of 10 dB hundreds
TOLD_BY_CUT = 700.0  # the same where bare carriers are cut down: their stumps give up to 450 (made bands, 4 of 10 silent)


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
        coherent = abs(complex(self._product[pairs].sum()))
        return _share(here, there, coherent, float(self._square[pairs].sum()), float(self._both[pairs].sum()))


class TurnedMirror:
    """Samples beside their mirror about an axis that is not the centre; frames of shape (rows, size) that follow each other."""

    def __init__(self, frames: ComplexArray, axis: float) -> None:
        """`axis`: cycles per sample, from the centre."""
        self.size = frames.shape[1]
        self._here = scipy.fft.fft(frames, axis=-1)
        turn = np.exp(4j * np.pi * axis * np.arange(frames.size)).astype(np.complex64)
        self._there = scipy.fft.fft(np.conj(frames) * turn.reshape(frames.shape), axis=-1)

    def image(self, centre_bin: int, half_width: int) -> tuple[float, float]:
        """As of MirrorSum; an axis that was looked for is so much less significant."""
        bins = np.arange(centre_bin - half_width, centre_bin + half_width + 1) % self.size
        here, there = self._here[:, bins].astype(np.complex128), self._there[:, bins].astype(np.complex128)
        both = np.abs(here * there)
        coherent = abs(complex((here * np.conj(there)).sum()))
        power_here, power_there = (float(np.square(np.abs(one)).sum()) for one in (here, there))
        share, significance = _share(power_here, power_there, coherent, float(np.square(both).sum()), float(both.sum()))
        return share, float(np.sqrt(max(significance**2 - np.log(self._here.size), 0.0)))


def find_axis(frames: ComplexArray) -> float | None:
    """The mirror's axis, cycles per sample from the centre; None where no image tells of it.

    frames: samples without their mean, of shape (rows, size), that follow each other.
    """
    flat = frames.reshape(-1)[: frames.size // NEAR_BINS * NEAR_BINS]
    if not flat.any():
        return None
    # a window, lest the skirts of a bare carrier fill the band; and in the samples' own measure, whose fourth power is taken
    window = np.hanning(len(flat)) / float(np.abs(flat).max())
    flat = flat * window.astype(np.float32)
    whole = scipy.fft.fft(flat)
    found = _find(flat, whole, TOLD_BY)
    if found is None:
        # once more without bare carriers, whose products with anything may outweigh all others
        parts, around = _surroundings(whole)
        level = np.sqrt(BARE_OVER * around[:, None])
        parts *= level / np.maximum(np.abs(parts), np.maximum(level, TINY))
        found = _find(scipy.fft.ifft(whole), whole, TOLD_BY_CUT)
    return found


def _find(flat: ComplexArray, whole: ComplexArray, least: float) -> float | None:
    """The axis of samples and their spectrum, if at least so many bins tell of it."""
    squared = scipy.fft.fft(np.square(flat), overwrite_x=True)
    parts, around = _surroundings(squared)
    power = np.square(np.abs(parts))
    over = power.max(axis=1) / np.maximum(around, TINY)
    lines = [part for part in np.argsort(-over)[:MOST_LINES] if over[part] > LINE_OVER]
    tops = [int(part) * NEAR_BINS + int(power[part].argmax()) for part in lines]
    told, top = max(((_told_by(whole, top), top) for top in tops), default=(0.0, 0))
    return ((_between(squared, top) + 0.5) % 1.0 - 0.5) / 2.0 if told > least else None


def _surroundings(spectrum: ComplexArray) -> tuple[ComplexArray, npt.NDArray[np.floating]]:
    """The spectrum in parts of NEAR_BINS, shape (parts, NEAR_BINS), and the mean power of a bin in each, lines left out."""
    parts = spectrum.reshape(-1, NEAR_BINS)
    # an exponential's median is ln 2 of its mean
    power = np.square(parts.real) + np.square(parts.imag)
    return parts, np.partition(power, NEAR_BINS // 2, axis=1)[:, NEAR_BINS // 2] / np.float32(np.log(2.0))


def _told_by(spectrum: ComplexArray, twice: int) -> float:
    """How many bins tell of an axis at half a bin's number: few where two bare carriers stand about it."""
    products = spectrum * np.roll(spectrum[::-1], twice + 1)
    squares = float(np.square(np.abs(products), dtype=np.float64).sum())
    return abs(complex(products.sum(dtype=np.complex128))) ** 2 / squares if squares > 0 else 0.0


def _between(spectrum: ComplexArray, top: int) -> float:
    """Frequency of a windowed line from its highest bin and that bin's neighbours, cycles per sample (log parabola)."""
    before, at, after = (np.log(max(abs(spectrum[place % len(spectrum)]), TINY)) for place in (top - 1, top, top + 1))
    whole = 2.0 * at - before - after
    return float(top + (0.5 * (after - before) / whole if whole else 0.0)) / len(spectrum)


def _share(here: float, there: float, coherent: float, square: float, both: float) -> tuple[float, float]:
    """Share and significance, from the sums of powers, of the products and of their squares and magnitudes."""
    # the weaker of the two is the image: receivers reject it by 20 dB at least
    if min(here, there, square) <= 0 or here > LEAST_REJECTION * there:
        return 0.0, 0.0
    share = min(coherent**2 / (here * there), 1.0)
    cells = both**2 / square
    return share, float(np.sqrt(-max(cells - 1.0, 0.0) * np.log(max(1.0 - share, 1e-12))))
