"""Ticks that the listener marked as repeats, as evidence of what makes doubles: images, overload, sidebands.

They are surely no station of the list: each is the double that a suspect makes, or one of no known origin anywhere on the dial.
A set with nothing wrong has only the latter, so what a suspect makes of them is told against that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from bandscan.radio.align import Sweeps, repeat_weights
from bandscan.radio.bench import Bench, Block, dial_to_hz
from bandscan.radio.chain import Chain, log_likelihood
from bandscan.radio.hearing import LISTENER_DB, Grading, Listeners, Radios, chances
from bandscan.radio.pointer import Pointers, reading_factors, share_of_dial

FloatArray = npt.NDArray[np.float64]

# marked repeats of no known origin on a sheet that has any, a mean (from memory)
_ELSEWHERE = 1.0


def marked_repeats(aside: pd.DataFrame, blocks: Sequence[Block], bench: Bench, header: Mapping[str, str]) -> tuple[Block, ...]:
    """The ticks marked R whose dial was read, for each sweep that counts, ascending along the dial."""
    found = []
    for block in blocks:
        own = aside["sweep"].isin(block.sweep.split("+")) & (aside["pad_db"] == block.pad_db)
        rows = aside[own & (aside["grade"] == "R") & aside["dial_hz"].notna()]
        if not len(rows):
            continue
        reading_hz = dial_to_hz(rows["dial_hz"].to_numpy(dtype=np.float64), bench, header)
        order = np.argsort(reading_hz, kind="stable")
        rows = rows.iloc[order]
        found.append(
            replace(
                block,
                reading_hz=reading_hz[order],
                grade=tuple(rows["grade"]),
                lamp=("",) * len(rows),
                dial=tuple(rows["dial"].fillna("")),
                anchor=np.full(len(rows), -1, dtype=np.int64),
                row=rows.index.to_numpy(dtype=np.int64),
            )
        )
    return tuple(found)


def log_marked(
    sweeps: Sweeps, made: npt.NDArray[np.bool_], pointers: Pointers, listener: Listeners, radio: Radios
) -> FloatArray:
    """How much likelier a suspect's doubles make the marked repeats than nothing wrong does, natural log, (M, K)."""
    total = np.zeros((len(pointers), radio.threshold_db.shape[-1]))
    weights = repeat_weights(sweeps.repeats, LISTENER_DB, float(np.median(sweeps.bench.spread_db)))
    for block, weight in zip(sweeps.repeats, weights, strict=True):
        chain = marked_chain(sweeps, made, block, pointers, listener, radio)
        none = replace(chain, heard=np.zeros_like(chain.heard[..., :1]), missed=np.ones_like(chain.missed[..., :1]))
        total += weight * (log_likelihood(chain) - log_likelihood(none))
    return total


def marked_chain(
    sweeps: Sweeps, made: npt.NDArray[np.bool_], block: Block, pointers: Pointers, listener: Listeners, radio: Radios
) -> Chain:
    """One sweep's marked repeats laid over the places `made` alone."""
    place = np.flatnonzero(made)
    whole = sweeps.bench
    bench = replace(
        whole,
        channel_hz=whole.channel_hz[place],
        level_db=whole.level_db[place],
        spread_db=whole.spread_db[place],
        snr_db=whole.snr_db[place],
        air=whole.air[place],
        stereo=whole.stereo[place],
        names=tuple(whole.names[index] for index in place),
        shown=tuple(whole.shown[index] for index in place),
    )
    loss_db, keeps = (None if one is None else one[place] for one in (radio.loss_db, radio.keeps))
    # whoever marks a repeat heard it, how well he does not say
    _, missed = chances(bench, block.pad_db, Grading(True, False), listener, Radios(radio.threshold_db, loss_db, keeps))
    fits, beside = reading_factors(bench, block, sweeps.dial, pointers)
    mean = np.repeat(_ELSEWHERE * share_of_dial(bench)[:, None], len(pointers), axis=1)
    return Chain(fits, beside, (1.0 - missed)[None], np.zeros(len(block), dtype=np.int64), missed, mean / (1.0 + mean))
