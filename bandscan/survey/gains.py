"""Recordings of one survey at two receiver gains: a station moves by the step, what the receiver makes falls faster.

Second- and third-order products fall by two and three times the step (textbook), a station by the step and by what it fades
meanwhile. The step is what the recordings tell and the common shift of the strongest emissions shows; a front end's gain is
not quite what its driver says (common practice).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandscan.model import Measured, parse_utc

LEAST_STEP_DB = 4.0  # a smaller step does not part a product from a station that fades
SAME_GAIN_DB = 2.0  # recordings whose common shift is smaller are of one gain
FALLS_TOO_FAST = 1.6  # times the step: between a station's 1 and a second-order product's 2
FALLS_DOUBTFULLY = 1.3
FADES_DB = 4.5  # a station by itself between two recordings, and what the step is not known by (assumed)
MOST_ORDER = 5.0  # times the step: what is gone by more was not a product, but went off the air
TOLD_WITHIN_DB = 3.0
LEAST_TO_CORRECT = 3  # strong emissions that agree, before what was told is corrected
COMMON_SNR_DB = 15.0
LEAST_COMMON = 2
ABSENT_SNR_DB = 0.0  # what is not seen stands below this over the noise


@dataclass(frozen=True)
class Step:
    """Two recordings of the same channels, the first at the higher gain, and the step between them. [dB]"""

    high: Measured
    low: Measured
    step_db: float


def gain_steps(group: Sequence[Measured]) -> list[Step]:
    """Pairs of recordings of different gain that cover common channels."""
    seen = [_Strong.of(one) for one in group]
    steps = []
    for place, partner in sorted(_pairs(group)):
        one, other = group[place], group[partner]
        if seen[place].channels.isdisjoint(seen[partner].channels):
            continue
        step = _step_db(one, other, seen[place], seen[partner])
        if step is not None and abs(step) > SAME_GAIN_DB:
            steps.append(Step(one, other, step) if step > 0 else Step(other, one, -step))
    return steps


@dataclass(frozen=True, eq=False)
class _Strong:
    """The channels of one recording, and its strong emissions: `strong_hz` ascending, `level_dbfs` of each."""

    channels: frozenset[int]
    strong_hz: npt.NDArray[np.int64]
    level_dbfs: npt.NDArray[np.float64]

    @classmethod
    def of(cls, one: Measured) -> _Strong:
        """Those of a recording."""
        rows = one.readings.sort_values("channel_hz")
        strong = (rows["snr_db"] >= COMMON_SNR_DB).to_numpy(dtype=bool)
        channel_hz = rows["channel_hz"].to_numpy(dtype=np.int64)
        return cls(frozenset(channel_hz.tolist()), channel_hz[strong], rows["level_dbfs"].to_numpy(dtype=np.float64)[strong])


def _pairs(group: Sequence[Measured]) -> set[tuple[int, int]]:
    """Places of recordings to hold against each other.

    Of many of one centre and gain the one nearest in time is taken: an hour of passes holds hundreds of them, and what fades in
    between would pass for a product. Recordings that tell no gain or no time are paired with all.
    """
    starts = {
        place: start.timestamp()
        for place, one in enumerate(group)
        if one.gain_db is not None and (start := parse_utc(one.started_utc)) is not None
    }
    alike: dict[tuple[float, float | None], list[int]] = defaultdict(list)
    for place in starts:
        alike[group[place].centre_hz, group[place].gain_db].append(place)
    found = [(place, other) for place in range(len(group)) if place not in starts for other in range(len(group))]
    for places in alike.values():
        found += [(place, min(places, key=lambda other: abs(starts[other] - start))) for place, start in starts.items()]
    return {(min(pair), max(pair)) for pair in found if pair[0] != pair[1]}


@dataclass(frozen=True)
class Fall:
    """An emission that falls faster than the gain: its level before [dBFS], the evidence in words, and whether it is surely no
    station that faded."""

    level_dbfs: float
    evidence: str
    surely: bool


def falls(step: Step) -> dict[int, Fall]:
    """Channels whose emission falls faster than the gain, surely or perhaps."""
    columns = ["level_dbfs", "level_sd_db", "noise_dbfs", "snr_db"]
    high = step.high.readings.set_index("channel_hz")[columns]
    low = step.low.readings.set_index("channel_hz")[columns].reindex(high.index)
    # an AM carrier is measured far under the noise of its channel, with its own uncertainty
    seen = low["level_dbfs"].notna() & ((low["snr_db"] >= ABSENT_SNR_DB) | (step.high.band == "am"))
    after_db = low["level_dbfs"].where(seen, low["noise_dbfs"] + ABSENT_SNR_DB)
    doubt_db = 2.0 * np.hypot(high["level_sd_db"], low["level_sd_db"].where(seen, 0.5))
    drop_db = high["level_dbfs"] - after_db
    # what one of the two does not know compares as false
    least_db = (drop_db - doubt_db).where(low["noise_dbfs"].notna())
    surely = least_db > max(FALLS_TOO_FAST * step.step_db, step.step_db + FADES_DB)
    found = (least_db > FALLS_DOUBTFULLY * step.step_db) & ~(least_db > MOST_ORDER * step.step_db + FADES_DB)
    return {
        int(channel_hz): Fall(
            float(high.loc[channel_hz, "level_dbfs"]),
            f"falls-{'' if seen[channel_hz] else 'at-least-'}{drop_db[channel_hz]:.0f}dB-by-a-step-of-{step.step_db:.0f}dB",
            bool(surely[channel_hz]),
        )
        for channel_hz in high.index[found]
    }


def _step_db(one: Measured, other: Measured, mine: _Strong, others: _Strong) -> float | None:
    """How much higher the first recording's gain is, told or read from the strongest common emissions; None where unknown."""
    told = one.gain_db - other.gain_db if one.gain_db is not None and other.gain_db is not None else None
    common, at, at_other = np.intersect1d(mine.strong_hz, others.strong_hz, assume_unique=True, return_indices=True)
    if len(common) < LEAST_COMMON:
        return told
    shift = mine.level_dbfs[at] - others.level_dbfs[at_other]
    # emissions of one channel fade by themselves; only a shift that they share is the receiver's
    step = float(np.median(shift))
    shared = np.abs(shift - step) <= SAME_GAIN_DB
    read = step if shared.mean() > 0.5 and abs(step) > SAME_GAIN_DB else 0.0
    if told is None:
        return read
    if read and len(common) >= LEAST_TO_CORRECT and abs(read - told) <= TOLD_WITHIN_DB:
        # strong ones that compress shift by less than the step: of the two the larger is nearer
        return max(read, told, key=abs)
    return told
