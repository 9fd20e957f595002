"""Lays a sweep's ticks over the reference list: in order, with the pointer solved for, and every doubt kept.

An analog pointer cannot tell a station (one AM channel is under a millimetre of dial), but order, levels and readings together
can. The pointer is found on a grid of offset and slope, the best candidates are refined by expectation-maximisation over all
alignments, and each keeps its weight (Laplace).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandscan.radio.bench import Bench, Block
from bandscan.radio.chain import Chain, log_likelihood, posterior
from bandscan.radio.hearing import Grading, Hearings, chances, followed_chance, settings
from bandscan.radio.pointer import COLUMNS, Dial, Pointers, design, reading_factors

FloatArray = npt.NDArray[np.float64]

_MOST_CANDIDATES = 4
_ROUNDS = 10
# how strongly the usual reading noise holds against the sheet's own, in ticks
_NOISE_TICKS = 6.0
# log weight below the best at which a candidate is dropped
_HOPELESS = 9.0


@dataclass(frozen=True, eq=False)
class Sweeps:
    """A band's sweeps with all that is needed to weigh them. `weight` discounts sweeps that repeat each other."""

    bench: Bench
    blocks: tuple[Block, ...]
    grading: Grading
    dial: Dial
    weight: FloatArray

    def chain(self, block: Block, pointers: Pointers, hearings: Hearings, *, doubt: bool = True) -> Chain:
        """One sweep's chain."""
        place, beside = reading_factors(self.bench, block, self.dial, pointers, doubt=doubt)
        heard, missed = chances(self.bench, block.pad_db, self.grading, hearings)
        return Chain(place, beside, heard, self.grading.classes(block.grade), missed, hearings.extra)

    def log_likelihood(self, pointers: Pointers, hearings: Hearings) -> FloatArray:
        """All sweeps together, with the candidates' own weights, shape (M, K)."""
        total = np.repeat(pointers.log_weight[:, None], len(hearings), axis=1)
        for block, weight in zip(self.blocks, self.weight, strict=True):
            total = total + weight * log_likelihood(self.chain(block, pointers, hearings))
        return total


def repeat_weights(blocks: tuple[Block, ...], listener_db: float, spread_db: float) -> FloatArray:
    """How much of a full sweep each one is worth.

    Sweeps through the same attenuator share each station's own spread, so B of them together tell as much as
    s^2 / (spread^2 + listener^2 / B) says; far apart in attenuation other stations stand near the threshold.
    """
    pads = np.array([block.pad_db for block in blocks])
    total = listener_db**2 + spread_db**2
    alike = np.exp(-(np.subtract.outer(pads, pads) ** 2) / (4.0 * total)).sum(axis=1)
    return np.asarray(total / (alike * spread_db**2 + listener_db**2), dtype=np.float64)


def no_pointer(count: int = 1) -> Pointers:
    """Pointers that add nothing, where no dial was read."""
    return Pointers(np.zeros((count, 4)), np.zeros((count, 4, 4)), np.ones(count), np.zeros(count))


def counted_threshold_db(sweeps: Sweeps) -> float:
    """The threshold at which the list should give as many stations as the first sweep has. [dB]"""
    bench, block = sweeps.bench, sweeps.blocks[0]
    if not bench.has_levels:
        return 0.0
    levels = bench.level_db[np.isfinite(bench.level_db)] - block.pad_db
    grid = np.arange(levels.min() - 15.0, levels.max() + 15.0, 0.5)
    known = np.isfinite(bench.level_db)
    expected = followed_chance(bench, grid, block.pad_db)[known].sum(axis=0)
    count = sum(grade in ("2", "3") for grade in block.grade)
    return float(grid[np.argmin(np.abs(expected - count))])


def find_pointers(sweeps: Sweeps, threshold_db: float) -> Pointers:
    """Candidate pointers, best first, refined at one threshold."""
    if sweeps.dial.kind == "none":
        return no_pointer()
    hearing = settings(np.array([threshold_db]), sweeps.bench.band, sweeps.grading, fine=False)
    if sweeps.dial.kind == "digits":
        start = Pointers(np.zeros((1, 4)), np.zeros((1, 4, 4)), np.ones(1), np.zeros(1))
        return _refine(sweeps, start, hearing, rounds=3)
    return _refine(sweeps, _starts(sweeps, hearing), hearing, rounds=_ROUNDS)


def _starts(sweeps: Sweeps, hearing: Hearings) -> Pointers:
    """The best places of a grid of offset and slope, apart from each other."""
    offset_sd, slope_sd = sweeps.dial.prior_hz[:2]
    offsets = np.linspace(-3.2, 3.2, 33)
    slopes = np.linspace(-2.6, 2.6, 9)
    a, b = (values.ravel() for values in np.meshgrid(offsets, slopes, indexing="ij"))
    coefficients = np.zeros((len(a), 4))
    coefficients[:, 0], coefficients[:, 1] = a * offset_sd, b * slope_sd
    grid = Pointers(coefficients, np.zeros((len(a), 4, 4)), np.full(len(a), 1.2), _log_prior(a, b))
    value = sweeps.log_likelihood(grid, hearing)[:, 0]
    chosen: list[int] = []
    for index in np.argsort(-value, kind="stable"):
        apart = all(abs(a[index] - a[other]) > 0.55 or abs(b[index] - b[other]) > 1.4 for other in chosen)
        if apart and value[index] > value.max() - 2.0 * _HOPELESS:
            chosen.append(int(index))
        if len(chosen) == _MOST_CANDIDATES:
            break
    return grid.pick(chosen)


def _log_prior(offset: FloatArray, slope: FloatArray) -> FloatArray:
    """Prior of offset and slope in their standard deviations: mostly normal, one in seven far wider (a slipped pointer)."""
    square = offset**2 + slope**2
    return np.asarray(np.log(0.86 * np.exp(-square / 2.0) + 0.14 / 9.0 * np.exp(-square / 18.0)) - np.log(2.0 * np.pi))


def _refine(sweeps: Sweeps, pointers: Pointers, hearing: Hearings, rounds: int) -> Pointers:
    """Expectation-maximisation: alignments given the pointer, pointer given the alignments."""
    bench, dial = sweeps.bench, sweeps.dial
    # the wide part of the prior: what the ticks say well is not pulled back
    prior_precision = np.diag(1.0 / (dial.prior_hz * np.array([2.0, 2.0, 1.0, 1.0])) ** 2)
    for _ in range(rounds):
        precision = np.repeat(prior_precision[None], len(pointers), axis=0)
        pull = np.zeros((len(pointers), 4))
        parts = []
        for block in sweeps.blocks:
            matched, _ = posterior(sweeps.chain(block, pointers, hearing, doubt=False))
            read = np.isfinite(block.reading_hz)
            columns = design(bench, bench.channel_hz, block.direction)
            noise = dial.noise_hz(bench, bench.channel_hz)
            error = np.nan_to_num(block.reading_hz)[:, None] - bench.channel_hz
            centre = columns @ pointers.coefficients.T
            z = (error[:, :, None] - centre) / (noise[:, None] * pointers.noise)
            # a reading that fits nowhere is a slip and says nothing about the pointer
            sound = matched[:, :, :, 0] * read[:, None, None] * (np.abs(z) < 4.0)
            by_station = sound / noise[:, None] ** 2
            precision += np.einsum("ijm,jp,jq->mpq", by_station, columns, columns) / pointers.noise[:, None, None] ** 2
            pull += np.einsum("ijm,ij,jp->mp", by_station, error, columns) / pointers.noise[:, None] ** 2
            parts.append((sound, error, columns, noise))
        covariance = np.linalg.inv(precision)
        coefficients = np.einsum("mpq,mq->mp", covariance, pull)
        square, ticks = np.full(len(pointers), _NOISE_TICKS), np.full(len(pointers), _NOISE_TICKS)
        for sound, error, columns, noise in parts:
            rest = (error[:, :, None] - columns @ coefficients.T) / noise[:, None]
            square = square + (sound * rest**2).sum(axis=(0, 1))
            ticks = ticks + sound.sum(axis=(0, 1))
        pointers = Pointers(coefficients, covariance, np.sqrt(square / ticks), np.zeros(len(pointers)))
    scaled = pointers.coefficients / dial.prior_hz
    log_prior = _log_prior(scaled[:, 0], scaled[:, 1]) - 0.5 * (scaled[:, 2] ** 2 + scaled[:, 3] ** 2)
    width = 0.5 * np.linalg.slogdet(pointers.covariance / np.outer(dial.prior_hz, dial.prior_hz))[1]
    noise_prior = -_NOISE_TICKS * (np.log(pointers.noise) + 0.5 / pointers.noise**2)
    return Pointers(pointers.coefficients, pointers.covariance, pointers.noise, log_prior + width + noise_prior)


def keep_likely(sweeps: Sweeps, pointers: Pointers, hearing: Hearings) -> Pointers:
    """The candidates that are not hopeless, and none twice."""
    value = sweeps.log_likelihood(pointers, hearing).max(axis=1)
    kept: list[int] = []
    for index in np.argsort(-value, kind="stable"):
        gap = np.abs(pointers.coefficients[kept] - pointers.coefficients[index]) if kept else np.empty((0, 4))
        same = (gap < 0.3 * np.sqrt(np.diag(pointers.covariance[index]))).all(axis=1).any()
        if value[index] > value.max() - _HOPELESS and not same:
            kept.append(int(index))
    return pointers.pick(kept)


def model_words(sweeps: Sweeps, pointers: Pointers) -> str:
    """Which parts of the pointer's error the sweeps support, best candidate."""
    if sweeps.dial.kind == "none":
        return "order only"
    if sweeps.dial.kind == "digits":
        return "digits"
    sd = np.sqrt(np.diag(pointers.covariance[0]))
    shown = [name for name, value, width in zip(COLUMNS, pointers.coefficients[0], sd, strict=True) if abs(value) > 2.0 * width]
    return " and ".join(shown) if shown else "no error seen"
