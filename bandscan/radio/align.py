"""Lays a sweep's ticks over the reference list: in order, with the pointer solved for, and every doubt kept.

An analog pointer cannot tell a station (one AM channel is under a millimetre of dial), but order, levels and readings together
can. Here the places are found where the pointer may stand: a grid of offset and slope, its best places refined by
expectation-maximisation over all alignments. `draws` then weighs what lies around them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandscan.radio.bench import Bench, Block
from bandscan.radio.chain import Chain, log_likelihood, posterior
from bandscan.radio.hearing import Grading, Listeners, Radios, chances, followed_chance, listeners
from bandscan.radio.pointer import Dial, Pointers, across, design, reading_factors, share_of_dial

FloatArray = npt.NDArray[np.float64]

_MOST_PLACES = 4
_ROUNDS = 8
# how strongly the usual reading noise holds against the sheet's own, in ticks
_NOISE_TICKS = 3.0
# unknowns of a pointer: offset, slope, curve, backlash, the reading noise's logarithm and its tilt along the dial
UNKNOWNS = 6
# log likelihood below the best at which a place of the grid is dropped
_HOPELESS = 18.0


@dataclass(frozen=True, eq=False)
class Sweeps:
    """A band's sweeps with all that is needed to weigh them. `weight` discounts sweeps that repeat each other.

    `repeats` are the sweeps' ticks marked R: no stations, but they tell of what makes doubles.
    """

    bench: Bench
    blocks: tuple[Block, ...]
    grading: Grading
    dial: Dial
    weight: FloatArray
    repeats: tuple[Block, ...] = ()

    def chain(self, block: Block, pointers: Pointers, listener: Listeners, radio: Radios) -> Chain:
        """One sweep's chain."""
        place, beside = reading_factors(self.bench, block, self.dial, pointers)
        heard, missed = chances(self.bench, block.pad_db, self.grading, listener, radio)
        grade = self.grading.classes(block.grade)
        # extras come in any grade; a geometric number of them between stations has this mean
        mean = share_of_dial(self.bench)[:, None] * listener.extra
        beside = beside * self.grading.extra_shares()[grade][:, None, None]
        return Chain(place, beside, heard, grade, missed, mean / (1.0 + mean))

    def log_likelihood(self, pointers: Pointers, listener: Listeners, radio: Radios) -> FloatArray:
        """All sweeps together, shape (M, K)."""
        parts = [
            weight * log_likelihood(self.chain(block, pointers, listener, radio))
            for block, weight in zip(self.blocks, self.weight, strict=True)
        ]
        return np.asarray(np.sum(parts, axis=0), dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Places:
    """P places where the pointer may stand: mean (P, 6) and covariance (P, 6, 6) of the UNKNOWNS, scaled.

    Scaled by the dial's prior deviations: each is standard normal beforehand, offset and slope but for their wide part.
    """

    mean: FloatArray
    covariance: FloatArray


def repeat_weights(blocks: tuple[Block, ...], listener_db: float, spread_db: float) -> FloatArray:
    """How much of a full sweep each one is worth.

    Sweeps through the same attenuator share each station's own spread, so B of them together tell as much as
    s^2 / (spread^2 + listener^2 / B) says; far apart in attenuation other stations stand near the threshold.
    """
    pads = np.array([block.pad_db for block in blocks])
    total = listener_db**2 + spread_db**2
    alike = np.exp(-(np.subtract.outer(pads, pads) ** 2) / (4.0 * total)).sum(axis=1)
    return np.asarray(total / (alike * spread_db**2 + listener_db**2), dtype=np.float64)


def followed_count(block: Block) -> int:
    """How many stops of a sweep were followed."""
    return sum(grade in ("2", "3") for grade in block.grade)


def counted_threshold_db(bench: Bench, block: Block) -> float:
    """The threshold at which the list should give as many stations as a sweep has. [dB]"""
    if not bench.has_levels:
        return 0.0
    known = np.isfinite(bench.level_db)
    levels = bench.level_db[known] - block.pad_db
    grid = np.arange(levels.min() - 15.0, levels.max() + 15.0, 0.5)
    expected = followed_chance(bench, grid, block.pad_db)[known].sum(axis=0)
    return float(grid[np.argmin(np.abs(expected - followed_count(block)))])


def find_places(sweeps: Sweeps, threshold_db: float) -> Places:
    """Where the pointer may stand, best first, at one threshold and for the usual listener."""
    if sweeps.dial.kind != "pointer":
        # nothing to look for: the prior itself, since draws narrower than it would hang on a few of their number
        return Places(np.zeros((1, UNKNOWNS)), np.eye(UNKNOWNS)[None])
    starts, broad = _starts(sweeps, threshold_db)
    refined = _refine(sweeps, starts, threshold_db)
    # where little is known the best place is not where most of the weight lies: the grid's own spread is one more place
    return Places(np.concatenate([refined.mean, broad.mean]), np.concatenate([refined.covariance, broad.covariance]))


def log_prior(scaled: FloatArray, slips: float) -> FloatArray:
    """Log density (but for a constant) of scaled pointers (M, 6).

    Offset and slope are mostly normal, of a share `slips` far wider (a slipped pointer); the rest is normal.
    """
    square = (scaled[:, :2] ** 2).sum(axis=1)
    wide = np.log((1.0 - slips) * np.exp(-square / 2.0) + slips / 9.0 * np.exp(-square / 18.0))
    return np.asarray(wide - 0.5 * (scaled[:, 2:] ** 2).sum(axis=1))


def pointers_of(sweeps: Sweeps, scaled: FloatArray) -> Pointers:
    """Pointers in hertz for scaled ones (M, 6)."""
    dial = sweeps.dial
    return Pointers(scaled[:, :4] * dial.prior_hz, np.exp(scaled[:, 4] * dial.noise_log), scaled[:, 5] * dial.tilt)


def _usual(sweeps: Sweeps, count: int) -> Listeners:
    return listeners(sweeps.bench.band, np.zeros((count, 4)))


def _starts(sweeps: Sweeps, threshold_db: float) -> tuple[FloatArray, Places]:
    """The best places of a grid of offset and slope, apart from each other, scaled (P, 6), and the whole grid as one place."""
    a, b = (values.ravel() for values in np.meshgrid(np.linspace(-3.2, 3.2, 33), np.linspace(-2.6, 2.6, 9), indexing="ij"))
    grid = np.zeros((len(a), UNKNOWNS))
    grid[:, 0], grid[:, 1], grid[:, 4] = a, b, 0.2 / sweeps.dial.noise_log  # a little more noise, for what the grid misses
    radio = Radios(np.array([threshold_db]))
    value = sweeps.log_likelihood(pointers_of(sweeps, grid), _usual(sweeps, len(a)), radio)[:, 0]
    value += log_prior(grid, sweeps.dial.slips)
    chosen: list[int] = []
    for index in np.argsort(-value, kind="stable"):
        apart = all(abs(a[index] - a[other]) > 0.55 or abs(b[index] - b[other]) > 1.4 for other in chosen)
        if apart and value[index] > value.max() - _HOPELESS:
            chosen.append(int(index))
        if len(chosen) == _MOST_PLACES:
            break
    weight = np.exp(value - value.max())
    weight /= weight.sum()
    mean = weight @ grid
    covariance = np.diag([0.1**2, 0.33**2, 0.7**2, 1.0, 0.25, 1.0])
    covariance[:2, :2] += np.cov(grid[:, :2].T, aweights=weight, ddof=0)
    return grid[chosen], Places(mean[None], covariance[None])


def _refine(sweeps: Sweeps, scaled: FloatArray, threshold_db: float) -> Places:
    """Expectation-maximisation: alignments given the pointer, pointer given the alignments. Places that meet become one."""
    bench, dial, count = sweeps.bench, sweeps.dial, len(scaled)
    noise_hz, x = dial.noise_hz(bench, bench.channel_hz), across(bench, bench.channel_hz)
    radio, usual = Radios(np.array([threshold_db])), _usual(sweeps, count)
    # the wide part of the prior: what the ticks say well is not pulled back
    prior = np.diag(1.0 / (dial.prior_hz * np.array([2.0, 2.0, 1.0, 1.0])) ** 2)
    pointers = pointers_of(sweeps, scaled)
    precision = np.repeat(prior[None], count, axis=0)
    known = np.full(count, dial.tilt**-2)
    for _ in range(_ROUNDS):
        precision, pull = np.repeat(prior[None], count, axis=0), np.zeros((count, 4))
        parts = []
        for block in sweeps.blocks:
            matched, _ = posterior(sweeps.chain(block, pointers, usual, radio))
            columns = design(bench, bench.channel_hz, block.direction)
            error = np.nan_to_num(block.reading_hz)[:, None] - bench.channel_hz
            sd_hz = noise_hz[:, None] * pointers.noise_at(x)
            z = (error[:, :, None] - columns @ pointers.coefficients.T) / sd_hz
            # a reading that fits nowhere is a slip and says nothing about the pointer
            sound = matched[:, :, :, 0] * np.isfinite(block.reading_hz)[:, None, None] * (np.abs(z) < 4.0)
            by_station = sound / sd_hz**2
            precision += np.einsum("ijm,jp,jq->mpq", by_station, columns, columns)
            pull += np.einsum("ijm,ij,jp->mp", by_station, error, columns)
            parts.append((sound, error, columns))
        coefficients = np.linalg.solve(precision, pull[:, :, None])[:, :, 0]
        square, ticks = np.full(count, _NOISE_TICKS), np.full(count, _NOISE_TICKS)
        known, steeper = np.full(count, dial.tilt**-2), -pointers.tilt * dial.tilt**-2
        for sound, error, columns in parts:
            rest = (error[:, :, None] - columns @ coefficients.T) / (noise_hz[:, None] * np.exp(x[:, None] * pointers.tilt))
            square = square + (sound * rest**2).sum(axis=(0, 1))
            ticks = ticks + sound.sum(axis=(0, 1))
            # one step of Fisher scoring: the log likelihood's slope and curvature in the tilt
            steeper += np.einsum("ijm,j->m", sound * ((rest / pointers.noise) ** 2 - 1.0), x)
            known += 2.0 * np.einsum("ijm,j->m", sound, x * x)
        pointers = Pointers(coefficients, np.sqrt(square / ticks), pointers.tilt + np.clip(steeper / known, -0.3, 0.3))
    mean = np.column_stack(
        [pointers.coefficients / dial.prior_hz, np.log(pointers.noise) / dial.noise_log, pointers.tilt / dial.tilt]
    )
    covariance = np.zeros((count, UNKNOWNS, UNKNOWNS))
    covariance[:, :4, :4] = np.linalg.inv(precision) / np.outer(dial.prior_hz, dial.prior_hz)
    covariance[:, 4, 4] = 0.5 / (ticks * dial.noise_log**2)
    covariance[:, 5, 5] = 1.0 / (known * dial.tilt**2)
    kept: list[int] = []
    for index in range(count):
        width = np.sqrt(np.diagonal(covariance[index]))
        if not any((np.abs(mean[index] - mean[other]) < 0.5 * width).all() for other in kept):
            kept.append(index)
    return Places(mean[kept], covariance[kept])
