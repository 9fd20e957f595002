"""Stretches of a recording in which the samples stand still: blocks that were lost on the way and filled with one value."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from bandscan.model import ComplexArray

# noise of a fifth of a step, which tells no level any more, stands still so long once in 10^11 samples; USB loses longer blocks
LEAST = 1024
LEAST_AT_END = 384  # of a frame: the rest of it lies in the next one
NO_SIGNAL = (
    "holds no signal: its samples stand still, or nearly; what it says of the channels means nothing: "
    "check the receiver, its gain and the sample format, and record again"
)
STRIDE = 64  # one sample in so many is looked at first


def holes(frames: ComplexArray, hop: int) -> tuple[npt.NDArray[np.bool_], int]:
    """Which frames hold such a stretch, and how many samples stand still among the first `hop` of each; frames overlap."""
    looked_at = frames[:, ::STRIDE]
    equal = looked_at[:, 1:] == looked_at[:, :-1]
    spoilt, still = np.zeros(len(frames), bool), 0
    inside, at_end = LEAST // STRIDE - 1, LEAST_AT_END // STRIDE - 1
    for row in np.flatnonzero(equal.sum(axis=1) >= at_end):
        moves = np.flatnonzero(~equal[row])
        between = np.diff(np.concatenate([[-1], moves, [equal.shape[1]]])) - 1
        if between.max() < inside and max(between[0], between[-1]) < at_end:
            continue
        starts, ends = _stretches(frames[row])
        spoilt[row] = len(starts) > 0
        still += int((np.minimum(ends, hop) - np.minimum(starts, hop)).sum())
    return spoilt, still


def _stretches(samples: ComplexArray) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """First samples and ends of those that stand still."""
    changes = np.flatnonzero(samples[1:] != samples[:-1]) + 1
    starts, ends = np.concatenate([[0], changes]), np.concatenate([changes, [len(samples)]])
    at_end = (starts == 0) | (ends == len(samples))
    long = ends - starts >= np.where(at_end, min(LEAST_AT_END, len(samples)), LEAST)
    return starts[long], ends[long]


def holes_note(lost: int, rate_hz: float, seconds: float) -> list[str]:
    """How much of the recording there is not."""
    if not lost:
        return []
    return [
        f"lost samples: {1e3 * lost / rate_hz:.1f} ms of {1e3 * seconds:.0f} ms are filled with one value, and left out with "
        "what stands next to them; record again at a lower rate or on another port"
    ]


def leave_out(multiplex: npt.NDArray[np.float32], whole: npt.NDArray[np.bool_]) -> None:
    """Zeroes the frames that lack samples, and the turn from each of them to the next one's first sample."""
    multiplex[:, ~whole] = 0.0
    after = np.flatnonzero(~whole[:-1]) + 1
    multiplex[:, after, 0] = multiplex[:, after, 1]
