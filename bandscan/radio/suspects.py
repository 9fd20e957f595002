"""Competing explanations of a sweep: what each suspected fault would do to the chance of every station being heard.

A suspect is a set of settings with a prior that sums to one, or a little more where deafness may come besides;
its likelihood is that of the sweep, summed over them and over all
alignments. `findings` compares it with that of "nothing wrong", for which the threshold is the reference's within its doubt.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from bandscan.radio.align import Sweeps
from bandscan.radio.bench import Bench, Block
from bandscan.radio.hearing import NEIGHBOUR_HZ, Radios, followed_chance

FloatArray = npt.NDArray[np.float64]

# the usual intermediate frequencies of AM sets (trade practice) [Hz]
IMAGE_IF_HZ = (262_500.0, 455_000.0, 450_000.0, 460_000.0)
# losses that a tilt may have at the weak end: small ones are common, and the last stands for all that are larger
_TILT_DB = np.array([6.0, 9.0, 12.0, 16.0, 22.0, 30.0, 40.0, 52.0])
_DEAF_MEAN_DB, _DEAF_LEAST_DB, _DEAF_MOST_DB = 12.0, 3.0, 90.0
# a set with a fault along the dial may be deaf all over besides: the odds, seldom (from memory), and by how much
_DEAF_BESIDES_ODDS = 0.05
_BESIDES_DB = np.array([4.0, 8.0, 12.0, 16.0, 20.0, 26.0, 34.0])
_FITS_DB = 5.0  # so far over the thresholds that fit a sweep none does
GONE = 0.01  # chance to hear what the fault takes away
LOST = 0.05  # beside a neighbour, or of the strongest
_REJECTION_DB = np.array([10.0, 20.0, 30.0, 40.0])
# share of its doubles that a listener who marks repeats marks so; the others he grades (from memory)
_MARKED = 0.5
_TICKED = 0.5  # chance that a strong station has a sideband that is ticked (from memory)
# how far levels at the radio's plug may be from the list's where the antenna is another one, or something is intermittent
_OTHER_ANTENNA_DB = 10.0


@dataclass(frozen=True, eq=False)
class Suspect:
    """One fault: the sweeps as it sees them (more stations, where it makes any) and its settings.

    `value` (K,) is what the fault says of itself in each setting.
    `takes` (J, K) is what it takes away from each station, for the evidence; `made` marks stations that it adds.
    """

    fault: str
    sweeps: Sweeps
    radio: Radios
    log_prior: FloatArray
    value: FloatArray
    takes: FloatArray
    made: npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Healthy:
    """Thresholds of a set with nothing wrong, and their weights; and those that fit the sweeps, whatever is wrong."""

    threshold_db: FloatArray
    log_weight: FloatArray
    known: bool
    fitted_db: FloatArray


def if_candidates_hz(own_hz: float | None) -> tuple[float, ...]:
    """The usual intermediate frequencies of AM sets, and the one that sheet or family give. [Hz]"""
    return tuple(dict.fromkeys((*IMAGE_IF_HZ, *([] if own_hz is None else [own_hz]))))


def healthy_thresholds(centre_db: float | None, sd_db: float, fitted_db: FloatArray) -> Healthy:
    """Around the reference; where there is none, whatever fits the sweeps."""
    if centre_db is None:
        return Healthy(fitted_db, np.full(len(fitted_db), -np.log(len(fitted_db))), False, fitted_db)
    steps = np.linspace(-2.4, 2.4, 9)
    log_weight = -0.5 * steps**2
    return Healthy(centre_db + sd_db * steps, log_weight - np.log(np.exp(log_weight).sum()), True, fitted_db)


def _perhaps_deaf(healthy: Healthy) -> Healthy:
    """The same set, or one that is deaf all over besides, for which only the threshold is another.

    Where there is no reference the thresholds fit the sweeps as they are.
    """
    if not healthy.known:
        return healthy
    at_db = float(np.exp(healthy.log_weight) @ healthy.threshold_db) + _BESIDES_DB
    weight = np.gradient(_BESIDES_DB) * np.exp(-_BESIDES_DB / _DEAF_MEAN_DB)
    log_weight = np.log(_DEAF_BESIDES_ODDS * weight / weight.sum())
    # what takes stations away besides leaves the others a threshold below the one that fits them all: the rest is not tried
    tried = at_db <= healthy.fitted_db.max() + _FITS_DB
    return replace(
        healthy,
        threshold_db=np.concatenate([healthy.threshold_db, at_db[tried]]),
        log_weight=np.concatenate([healthy.log_weight, log_weight[tried]]),
    )


def nothing_wrong(sweeps: Sweeps, healthy: Healthy) -> Suspect:
    """A sound radio, as the suspect that all others are held against."""
    one = np.ones((len(sweeps.bench), 1))
    return _suspect("nothing", sweeps, healthy, 0.0 * one, one, np.ones(1), np.zeros(1))


def all_suspects(sweeps: Sweeps, healthy: Healthy, if_hz: float | None) -> Iterator[Suspect]:
    """Every fault that this band could show."""
    if healthy.known:
        yield _deaf(sweeps, healthy)
    if sweeps.dial.kind == "none" and not any((block.anchor >= 0).any() for block in sweeps.blocks):
        return  # order alone cannot say where on the dial something is missing
    perhaps_deaf = _perhaps_deaf(healthy)
    yield _tilt("weak-high-end", sweeps, perhaps_deaf)
    yield _tilt("weak-low-end", sweeps, perhaps_deaf)
    yield _dead_beyond(sweeps, perhaps_deaf)
    yield from _neighbours(sweeps, healthy)
    yield _strongest(sweeps, healthy)
    yield _other_antenna(sweeps, healthy)
    if sweeps.bench.band == "am":
        yield from _images(sweeps, healthy, if_candidates_hz(if_hz))
    else:
        yield from _made("overload-repeats", sweeps, healthy, _third_order(sweeps.bench))
    yield from _made("sideband-ticked", sweeps, healthy, _sidebands(sweeps.bench))


def _suspect(
    fault: str,
    sweeps: Sweeps,
    healthy: Healthy,
    loss_db: FloatArray,
    keeps: FloatArray,
    prior: FloatArray,
    value: FloatArray,
    made: npt.NDArray[np.bool_] | None = None,
) -> Suspect:
    """Every healthy threshold with every variant of a fault: `loss_db`, `keeps` (J, variants), `prior`, `value` (variants,)."""
    variant = np.tile(np.arange(loss_db.shape[1]), len(healthy.threshold_db))
    threshold_db = np.repeat(healthy.threshold_db, loss_db.shape[1])
    log_prior = np.repeat(healthy.log_weight, loss_db.shape[1]) + np.log(prior / prior.sum())[variant]
    return Suspect(
        fault,
        sweeps,
        Radios(threshold_db, loss_db[:, variant], keeps[:, variant]),
        log_prior,
        value[variant],
        np.maximum(loss_db / 10.0, 1.0 - keeps)[:, variant],
        np.zeros(len(sweeps.bench), dtype=bool) if made is None else made,
    )


def _deaf(sweeps: Sweeps, healthy: Healthy) -> Suspect:
    """All stations lose the same."""
    centre_db = float(np.exp(healthy.log_weight) @ healthy.threshold_db)
    loss_db = np.arange(_DEAF_LEAST_DB, _DEAF_MOST_DB, 3.0)
    each = np.repeat(loss_db[None], len(sweeps.bench), axis=0)
    suspect = _suspect(
        "deaf", sweeps, healthy, each, np.ones_like(each), np.exp(-(loss_db - _DEAF_LEAST_DB) / _DEAF_MEAN_DB), loss_db
    )
    return replace(suspect, value=suspect.radio.threshold_db + suspect.value - centre_db)


def _along(bench: Bench) -> FloatArray:
    """Where on the dial each station stands, 0 at the low and 1 at the high end."""
    return (bench.channel_hz - bench.plan.first_hz) / (bench.plan.last_hz - bench.plan.first_hz)


def _tilt(fault: str, sweeps: Sweeps, healthy: Healthy) -> Suspect:
    """Loss that grows along the dial to one end."""
    along = _along(sweeps.bench) if fault == "weak-high-end" else 1.0 - _along(sweeps.bench)
    # even along the dial, or mostly towards its end
    loss_db = np.concatenate([np.outer(along, _TILT_DB), np.outer(along**2, _TILT_DB)], axis=1)
    prior = np.tile(np.exp(-_TILT_DB / _DEAF_MEAN_DB), 2)
    return _suspect(fault, sweeps, healthy, loss_db, np.ones_like(loss_db), prior, np.tile(_TILT_DB, 2))


def _dead_beyond(sweeps: Sweeps, healthy: Healthy) -> Suspect:
    """Nothing is heard beyond some place of the dial: `value` [Hz], negative where the low side is dead.

    A wholly dead band is none of them: where something is heard it is not dead, and `silent` weighs where nothing is.
    """
    hz = sweeps.bench.channel_hz
    middles = (hz[1:] + hz[:-1]) / 2.0
    edges = np.concatenate([middles, -middles])
    dead = np.where(edges > 0, hz[:, None] > np.abs(edges), hz[:, None] < np.abs(edges))
    # an edge is as likely as the piece of dial in which it may lie
    width = np.diff(np.concatenate([[sweeps.bench.plan.first_hz], middles, [sweeps.bench.plan.last_hz]]))
    piece = (width[1:] + width[:-1]) / 2.0
    prior = np.concatenate([piece, piece])
    likely = _worth_trying(sweeps, dead)
    keeps = np.where(dead, GONE, 1.0)
    prior = prior / prior.sum()
    # the weight of the edges left out stays with them: their likelihood is nil
    suspect = _suspect(
        "dead-beyond", sweeps, healthy, np.zeros_like(keeps[:, likely]), keeps[:, likely], prior[likely], edges[likely]
    )
    lost = np.log(prior[likely].sum())
    return replace(suspect, log_prior=suspect.log_prior + lost)


def _worth_trying(sweeps: Sweeps, dead: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Edges that the ticks allow: hardly more than the live side has stations, and few beyond: one in six, and three at most.

    A station named by ear is surer than a reading: one in four may be another.
    """
    ticks = max((len(block) for block in sweeps.blocks), default=0)
    alive = (~dead).sum(axis=0)
    beyond_ticks, beyond_names, names = np.zeros(dead.shape[1]), np.zeros(dead.shape[1]), 0
    for block in sweeps.blocks[:1]:
        read = block.reading_hz[np.isfinite(block.reading_hz)]
        named = block.anchor[block.anchor >= 0]
        names, beyond_names = len(named), dead[named].sum(axis=0)
        tolerance = 3.0 * float(sweeps.dial.prior_hz[0])
        for edge in range(dead.shape[1]):
            places = sweeps.bench.channel_hz[dead[:, edge]]
            if len(places) and len(read):
                beyond_ticks[edge] = ((read > places.min() + tolerance) & (read < places.max() - tolerance)).sum()
    keep = (alive + 4 >= ticks) & (beyond_ticks <= min(3, ticks // 6)) & (beyond_names <= names // 4)
    return np.asarray(keep if keep.any() else np.arange(dead.shape[1]) == 0, dtype=np.bool_)


def _neighbours(sweeps: Sweeps, healthy: Healthy) -> Iterator[Suspect]:
    """A station is lost beside a stronger one, on either or on one side only."""
    bench, least_db = sweeps.bench, np.array([0.0, 5.0, 10.0, 20.0])
    for fault, sides in (("neighbours-lost", ((-1, 1),)), ("one-side-lost", ((1,), (-1,)))):
        lost = np.stack([beside_stronger(bench, least, side) for side in sides for least in least_db], axis=1)
        if lost.any():
            keeps = np.where(lost, LOST, 1.0)
            yield _suspect(
                fault, sweeps, healthy, np.zeros_like(keeps), keeps, np.ones(keeps.shape[1]), np.tile(least_db, len(sides))
            )


def beside_stronger(bench: Bench, least_db: float, sides: tuple[int, ...] = (-1, 1)) -> npt.NDArray[np.bool_]:
    """Stations (J,) within a channel of one that is so much stronger, below (-1) or above them (1)."""
    apart = np.subtract.outer(bench.channel_hz, bench.channel_hz).T  # [j, k] = f_k - f_j
    stronger = np.nan_to_num(np.subtract.outer(bench.level_db, bench.level_db).T, nan=-99.0) >= least_db
    near = (np.abs(apart) <= NEIGHBOUR_HZ[bench.band]) & np.isin(np.sign(apart), sides)
    return np.asarray((near & stronger).any(axis=1), dtype=np.bool_)


def _strongest(sweeps: Sweeps, healthy: Healthy) -> Suspect:
    """The one to three strongest are lost. `value` is how many."""
    order = np.argsort(np.argsort(-np.nan_to_num(sweeps.bench.level_db, nan=-999.0), kind="stable"), kind="stable")
    how_many = np.array([1.0, 2.0, 3.0])
    keeps = np.where(order[:, None] < how_many, LOST, 1.0)
    return _suspect("strongest-missing", sweeps, healthy, np.zeros_like(keeps), keeps, np.ones(3), how_many)


def _other_antenna(sweeps: Sweeps, healthy: Healthy) -> Suspect:
    """What is heard does not go by the list's levels."""
    bench = replace(sweeps.bench, spread_db=np.hypot(sweeps.bench.spread_db, _OTHER_ANTENNA_DB))
    one = np.ones((len(bench), 1))
    return _suspect("other-antenna", replace(sweeps, bench=bench), healthy, 0.0 * one, one, np.ones(1), np.zeros(1))


def _images(sweeps: Sweeps, healthy: Healthy, candidates_hz: tuple[float, ...]) -> Iterator[Suspect]:
    """A station is heard again two intermediate frequencies below its place."""
    for if_hz in candidates_hz:
        for suspect in _made(
            "image", sweeps, healthy, [(index, hz - 2.0 * if_hz) for index, hz in enumerate(sweeps.bench.channel_hz)]
        ):
            yield replace(suspect, value=np.full(len(suspect.value), if_hz))


def _third_order(bench: Bench) -> list[tuple[int, float]]:
    """Places 2 f1 - f2 of the five strongest, each with the stronger of the two as its source."""
    strongest = np.argsort(-np.nan_to_num(bench.level_db, nan=-999.0), kind="stable")[:5]
    pairs = [(a, b) for a in strongest for b in strongest if a != b]
    return [(int(a), float(2.0 * bench.channel_hz[a] - bench.channel_hz[b])) for a, b in pairs]


def _sidebands(bench: Bench) -> list[tuple[int, float]]:
    """Places beside the strongest third of the stations, where digital sidebands and splatter are."""
    count = max(2, len(bench) // 3)
    strongest = np.argsort(-np.nan_to_num(bench.level_db, nan=-999.0), kind="stable")[:count]
    step_hz = NEIGHBOUR_HZ[bench.band]
    return [(int(a), float(bench.channel_hz[a] + side * step_hz)) for a in strongest for side in (-1.0, 1.0)]


def _made(fault: str, sweeps: Sweeps, healthy: Healthy, places: list[tuple[int, float]]) -> Iterator[Suspect]:
    """The radio makes stations that are not on the air, weaker than their source by an unknown rejection."""
    bench, plan = sweeps.bench, sweeps.bench.plan
    half_hz = NEIGHBOUR_HZ[bench.band] / 2.0
    free = [
        (source, hz)
        for source, hz in places
        if plan.first_hz - half_hz <= hz <= plan.last_hz + half_hz
        and np.isfinite(bench.level_db[source])
        and np.abs(bench.channel_hz - hz).min() >= half_hz
    ]
    if not free:
        return
    hz = np.concatenate([bench.channel_hz, [place for _, place in free]])
    source = np.concatenate([np.arange(len(bench)), [index for index, _ in free]]).astype(np.int64)
    order = np.argsort(hz, kind="stable")
    made = (np.arange(len(hz)) >= len(bench))[order]
    source = source[order]
    wider = Bench(
        bench.band,
        plan,
        bench.unit,
        hz[order],
        bench.level_db[source],
        bench.spread_db[source],
        bench.snr_db[source],
        bench.air[source],
        bench.stereo[source],
        tuple(bench.names[index] for index in source),
        tuple(bench.shown[index] for index in source),
    )
    place_of = {int(index): int(place) for place, index in enumerate(source) if not made[place]}
    blocks = tuple(_renumbered(block, place_of) for block in sweeps.blocks)
    # a real station beside it covers what the radio makes
    audible = followed_chance(bench, np.array([float(np.median(healthy.threshold_db))]))[:, 0]
    near = np.abs(np.subtract.outer(wider.channel_hz, bench.channel_hz)) <= 1.5 * NEIGHBOUR_HZ[bench.band]
    heard = 1.0
    if fault == "sideband-ticked":  # it stands beside its own source; not every strong station has one that somebody ticks
        near[np.arange(len(source)), source] = False
        heard = _TICKED
    open_air = heard * np.where(near, 1.0 - audible, 1.0).prod(axis=1)
    if sweeps.repeats:
        open_air = _MARKED * open_air
    keeps = np.where(made, open_air, 1.0)[:, None].repeat(len(_REJECTION_DB), axis=1)
    loss_db = np.where(made[:, None], _REJECTION_DB, 0.0)
    yield _suspect(
        fault,
        replace(sweeps, bench=wider, blocks=blocks),
        healthy,
        loss_db,
        keeps,
        np.ones(len(_REJECTION_DB)),
        _REJECTION_DB,
        made,
    )


def _renumbered(block: Block, place_of: dict[int, int]) -> Block:
    anchor = np.array([place_of.get(int(index), -1) for index in block.anchor], dtype=np.int64)
    return replace(block, anchor=anchor)
