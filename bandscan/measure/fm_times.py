"""Stations that are on the air for a part of the recording only: a mean over all of it is no figure of theirs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from bandscan.measure.notes import joined
from bandscan.tables import INTERMITTENT
from bandscan.units import db, from_db

RealArray = npt.NDArray[np.floating[Any]]

LEAST_PARTS = 8  # of about 80 ms
LEAST_TIME = 2  # parts in which it is on, and in which it is off
ON, OFF = 0.5, 0.1  # of its power while it is on: more is on, less is off
LEAST_OVER_NOISE = 10.0  # while it is on, so that the noise of a part does not pass for one or the other
QUIET_DB, STRONG_DB = 0.0, 10.0  # over the noise: channels that tell how it changes; and how the receiver does
TOGETHER = 0.5  # of the strong stations, two at least: so many do not leave the air at once, the receiver's gain changes
MOST_SWITCHES = 4  # and between them no time spent on the way: fading takes its time, and flutter comes again


def share_on(powers: RealArray, snr: float, noise_change: RealArray | float = 1.0) -> float | None:
    """Share of the time in which an intermittent station is on the air; None where it is on, off or fading all the time.

    powers: of all that stands in the channel, in equal parts of the recording; snr: of their mean over the noise (ratio);
    noise_change: the noise's in each part, over its mean.
    """
    if len(powers) < LEAST_PARTS:
        return None
    mean = float(powers.mean())
    noise = mean / (1.0 + snr)
    own = powers - noise * noise_change
    level = float(np.median(own[own >= ON * own.max()]))
    on, off = own >= ON * level, own < OFF * level
    switches = int(np.count_nonzero(np.diff(off)))
    steady = switches <= MOST_SWITCHES and np.count_nonzero(~on & ~off) <= switches
    if level < LEAST_OVER_NOISE * noise or min(on.sum(), off.sum()) < LEAST_TIME or not steady:
        return None
    return min((mean - noise) / level, 1.0)


def mark_intermittent(rows: Sequence[dict[str, Any]], powers: RealArray) -> None:
    """Says so in the remarks of a row, whose level's uncertainty then holds the level while it is on as well.

    powers: of shape (parts of the recording, rows).
    """
    snr_db = np.array([row.get("snr_db", -np.inf) for row in rows])
    quiet = powers[:, snr_db < QUIET_DB]
    change = np.median(quiet / np.maximum(quiet.mean(axis=0), 1e-30), axis=1) if quiet.size else np.ones(len(powers))
    shares: dict[int, float] = {}
    for place, own in enumerate(powers.T):
        snr = from_db(float(snr_db[place]))
        share = share_on(own, snr, change) if np.isfinite(snr_db[place]) else None
        # what changes as the noise does is the receiver
        if share is not None and share_on(own / np.maximum(change, 1e-6), snr) is not None:
            shares[place] = share
    strong = np.flatnonzero(snr_db >= STRONG_DB)
    together = sum(int(place) in shares for place in strong)
    if together >= 2 and together > TOGETHER * len(strong):
        return
    for place, share in shares.items():
        row = rows[place]
        row["remarks"] = joined(row["remarks"], INTERMITTENT)
        row["level_sd_db"] = float(np.hypot(row["level_sd_db"], db(share)))
