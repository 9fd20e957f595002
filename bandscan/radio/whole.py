"""Which of a band's sweeps are whole: one that was left in the middle would count against the radio as a deaf ear does.

One that was swept in pieces is whole where they are put together.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from bandscan.radio.align import counted_threshold_db, followed_count
from bandscan.radio.bench import Bench, Block
from bandscan.radio.hearing import NEIGHBOUR_HZ, followed_chance
from bandscan.radio.order import noise_of

# fewer stops in the fullest sweep tell too little of the others
_LEAST = 6
# standard deviations of a count below what the fullest sweep lets expect: the same set and ears do not differ by so many
_SHORT_SDS = 4.0
# stops of the fullest sweep beyond another's last one: one in seven is missed the next time, and hardly ever five in a row
_BEYOND = 5
# two readings of one stop differ by less, in channels
_APART = 3.0
# two sweeps of so many stops, and of so many each, hardly ever part the dial between them by chance: once in a hundred
_PIECES, _PIECE = 10, 3
# common practice: a lead that lost contact when the attenuator was put in is commoner than a fault that comes with it
_AGAIN = "sweep through it once more; if it is silent again, look at the attenuator and its leads"


def in_one(bench: Bench, blocks: list[Block]) -> tuple[list[Block], list[str]]:
    """The sweeps with those put together that each cover a part of the dial, and what to say of them."""
    said = [
        f"{bench.band.upper()}: sweep {block.sweep} begins again at {block.begins}: taken as one sweep in two pieces"
        for block in blocks
        if block.begins
    ]
    left, whole = list(blocks), list[Block]()
    while left:
        one = left.pop(0)
        for other in left:
            if (both := _put_together(one, other)) is not None:
                left.remove(other)
                names = f"{one.sweep} and {other.sweep}"
                said.append(f"{bench.band.upper()}: sweeps {names} each cover a part of the dial: taken as one sweep")
                left.insert(0, both)
                break
        else:
            whole.append(one)
    return whole, said


def _put_together(one: Block, other: Block) -> Block | None:
    """One sweep of two through the same attenuator that share no part of the dial; None where they do, or hold few stops."""
    low, high = sorted((one, other), key=lambda block: float(np.nan_to_num(block.reading_hz).max(initial=0.0)))
    enough = min(len(one), len(other)) >= _PIECE and len(one) + len(other) >= _PIECES
    read = [block.reading_hz[np.isfinite(block.reading_hz)] for block in (low, high)]
    if one.pad_db != other.pad_db or not enough or not all(map(len, read)):
        return None
    if read[1].min() < read[0].max() - noise_of(np.concatenate(read)):
        return None
    joined = {}
    for field in fields(Block):
        first, second = getattr(low, field.name), getattr(high, field.name)
        if isinstance(first, tuple):
            joined[field.name] = first + second
        elif isinstance(first, np.ndarray):
            joined[field.name] = np.concatenate([first, second])
    direction = one.direction if one.direction == other.direction else 0
    return replace(one, sweep=f"{one.sweep}+{other.sweep}", direction=direction, **joined)


def whole_sweeps(bench: Bench, blocks: list[Block]) -> tuple[list[Block], list[str], tuple[str, str] | None]:
    """The sweeps that were not left in the middle, judged by the one with the most stops, and what to say of the others.

    The third is a silent sweep that the fullest one speaks against, and what to do; None where there is none. It is not
    weighed: no threshold gives both, and the silent one would make any healthy set deaf.
    """
    fullest = max(blocks, key=followed_count, default=None)
    if fullest is None or followed_count(fullest) < _LEAST:
        return blocks, [], None
    kept, said = list[Block](), list[str]()
    against: tuple[str, str] | None = None
    for block in blocks:
        expected, sd = _expected(bench, fullest, block)
        # a pad that was not in line makes the others seem short: one with no more in line has to be half as full too
        half = block.pad_db > fullest.pad_db or followed_count(block) <= followed_count(fullest) / 2.0
        short = half and followed_count(block) < expected - _SHORT_SDS * sd
        if block is fullest or not (short or _stops_early(bench, fullest, block)):
            kept.append(block)
            continue
        name = " ".join(
            ["sweep", *([block.sweep] if block.sweep else []), *([f"through {block.pad_db:g} dB"] if block.pad_db else [])]
        )
        if not len(block):
            silence = f"{name} is silent where about {expected:.0f} stops were expected after the other"
            against = against or (silence, _AGAIN)
            said.append(
                f"{bench.band.upper()}: {silence}: they speak against each other, and this one is not weighed; {_AGAIN}"
            )
            continue
        stops = f"{len(block)} stop{'' if len(block) == 1 else 's'}"
        said.append(
            f"{bench.band.upper()}: {name} has {stops}, about {expected:.0f} are expected after the other:"
            " taken as left in the middle and not counted; finish it, or if it was whole, something came and went: sweep"
            " once more"
        )
    return kept, said, against


def _expected(bench: Bench, fullest: Block, block: Block) -> tuple[float, float]:
    """How many stations a sweep should give by the fullest one, and the standard deviation of the difference.

    Without levels as many as that; nothing through more of an attenuator, which then tells nothing.
    """
    if not bench.has_levels:
        return (float(followed_count(fullest)) if block.pad_db <= fullest.pad_db else 0.0), 0.0
    threshold_db = np.array([counted_threshold_db(bench, fullest)])
    own, other = (followed_chance(bench, threshold_db, one.pad_db)[:, 0] for one in (block, fullest))
    return float(own.sum()), float(np.sqrt(sum((chance * (1.0 - chance)).sum() for chance in (own, other)) + 1.0))


def _stops_early(bench: Bench, fullest: Block, block: Block) -> bool:
    """Whether a sweep through the same attenuator ends far from where the fullest one does, at either end of the dial."""
    if block.pad_db != fullest.pad_db or not np.isfinite(block.reading_hz).any() or not np.isfinite(fullest.reading_hz).any():
        return False
    apart_hz = _APART * NEIGHBOUR_HZ[bench.band]
    beyond = (
        (fullest.reading_hz > np.nanmax(block.reading_hz) + apart_hz).sum(),
        (fullest.reading_hz < np.nanmin(block.reading_hz) - apart_hz).sum(),
    )
    return bool(max(beyond) >= _BEYOND)
