"""One capture: which channels it covers, which pass measures them, and the table that leaves the room."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pandas as pd
from threadpoolctl import ThreadpoolController

from bandscan import tables
from bandscan.errors import RecordingError
from bandscan.measure.am import AmPass, am_grid, raster_error_hz
from bandscan.measure.fm import FmPass, fm_grid
from bandscan.measure.frames import USABLE
from bandscan.measure.steps import coarse_note, doubt_db
from bandscan.model import Capture, Measured
from bandscan.plans import BandPlan
from bandscan.units import channel_text_unit


@functools.cache
def _linear_algebra() -> ThreadpoolController:
    """The linear algebra library's threads: for products as small as these they cost more than they bring."""
    return ThreadpoolController()


def covered(capture: Capture, plan: BandPlan) -> tuple[int, ...]:
    """Channels of the plan whose guard lies within the usable part of the recording. [Hz]"""
    reach = USABLE * capture.rate_hz - plan.guard_half_width_hz
    return tuple(channel for channel in plan.channels_hz if abs(channel - capture.centre_hz) <= reach)


def measure(capture: Capture, plan: BandPlan) -> Measured:
    """READINGS of every channel of the plan that the capture covers.

    Raises:
        RecordingError: no channel is covered, or the capture is shorter than one frame (10 ms for FM, 40 ms for AM).
    """
    where = capture.path.name if capture.path.name.startswith(capture.name) else f"{capture.path.name} ({capture.name})"
    channels = covered(capture, plan)
    if not channels:
        low, high = plan.channels_hz[0], plan.channels_hz[-1]
        raise RecordingError(
            f"covers no {plan.band.upper()} channel of region {plan.region}: {capture.rate_hz:.0f} S/s around "
            f"{channel_text_unit(plan.band, capture.centre_hz)}",
            where=where,
            accepted=f"channels {channel_text_unit(plan.band, low)} to {channel_text_unit(plan.band, high)}, each with its "
            "guard within 0.45 of the rate from the centre",
            do="check the centre frequency, the rate, --region and --band",
        )
    grid = fm_grid(capture.rate_hz) if plan.band == "fm" else am_grid(capture.rate_hz)
    if grid.full_frames(len(capture.samples)) < 2:
        raise RecordingError(
            f"lasts {1e3 * capture.duration_s:.1f} ms",
            where=where,
            accepted=f"at least {2e3 / grid.bin_hz:.0f} ms for {plan.band.upper()}",
            do="record for a second or more",
        )
    error_hz = raster_error_hz(capture, plan) if plan.band == "am" else 0.0
    seen_as = replace(capture, centre_hz=capture.centre_hz - error_hz)
    task = FmPass(seen_as, plan, channels) if plan.band == "fm" else AmPass(seen_as, plan, channels)
    with _linear_algebra().limit(limits=1, user_api="blas"):
        task.run()
        frame = pd.DataFrame(task.rows())
    said = [*task.notes(), *coarse_note(task.seen.steps)]
    for name in ("noise_sd_db", "level_sd_db"):
        if name in frame.columns:
            frame[name] = np.hypot(frame[name], doubt_db(task.seen.steps))
    if error_hz:
        said.append(
            f"carriers stand {error_hz:+.0f} Hz off the {plan.step_hz / 1e3:.0f} kHz raster: taken for the upconverter's "
            "error and taken off; an error by whole channels cannot be seen, so check one station you know"
        )
    notes = [f"{capture.name}: {note}" for note in said]
    for name in tables.READINGS.names:
        if name not in frame.columns:
            frame[name] = None
    frame["recording"], frame["started_utc"], frame["band"] = capture.name, capture.started_utc, plan.band
    frame["overload_share"] = task.seen.overload_share
    common = list(capture.remarks)
    if task.seen.bursts:
        common.append("bursts-left-out")
    if capture.samples.bad_samples:
        common.append("bad-samples")
    if common:
        extra = ";".join(common)
        frame["remarks"] = [f"{words};{extra}" if words else extra for words in frame["remarks"]]
    return Measured(
        recording=capture.name,
        band=plan.band,
        region=plan.region,
        rig=capture.rig,
        started_utc=capture.started_utc,
        duration_s=capture.duration_s,
        survey_id=capture.survey_id,
        gain_db=capture.gain_db,
        forged=capture.forged,
        rate_hz=capture.rate_hz,
        centre_hz=capture.centre_hz,
        overload_share=task.seen.overload_share,
        readings=tables.check(frame, tables.READINGS),
        notes=(*capture.notes, *notes),
    )
