"""One capture: which channels it covers, which pass measures them, and the table that leaves the room."""

from __future__ import annotations

import functools
import math
from dataclasses import replace

import numpy as np
import pandas as pd
from threadpoolctl import ThreadpoolController

from bandscan import tables
from bandscan.errors import RecordingError
from bandscan.measure.am import AmPass, am_grid, raster_error_hz
from bandscan.measure.fm import FmPass, fm_grid
from bandscan.measure.fm_noise import CHANNEL_HALF_WIDTH_HZ
from bandscan.measure.frames import USABLE, Pass
from bandscan.measure.holes import NO_SIGNAL, holes_note
from bandscan.measure.notes import overload_note, scale_note
from bandscan.measure.steps import among_carriers_db, coarse_note, doubt_db
from bandscan.model import WITHIN_ROUNDING, Capture, Measured
from bandscan.plans import BandPlan
from bandscan.units import channel_text_unit, from_db

STRONG_DB = 10.0  # over the noise: a carrier whose envelope is steady or, on AM, at least no noise's
# where rounding leaves levels so unsure, its error passes for stations: a sawtooth, whose strongest line is a step over pi
_ROUNDED_DB = 1.0
_NOISE_WIDTH_HZ = {"fm": 2 * CHANNEL_HALF_WIDTH_HZ, "am": 10e3}


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
            accepted=f"at least {10 * math.ceil(100 * (grid.size + grid.hop) / capture.rate_hz)} ms for {plan.band.upper()}",
            do="record for a second or more",
        )
    error_hz = raster_error_hz(capture, plan) if plan.band == "am" else 0.0
    seen_as = replace(capture, centre_hz=capture.centre_hz - error_hz)
    task = FmPass(seen_as, plan, channels) if plan.band == "fm" else AmPass(seen_as, plan, channels)
    with _linear_algebra().limit(limits=1, user_api="blas"):
        task.run()
        dead = not task.seen.whole_frames
        if dead:
            # there is nothing to leave the dead part out of
            task = FmPass(seen_as, plan, channels) if plan.band == "fm" else AmPass(seen_as, plan, channels)
            task.seen.holes_left_out = False
            task.run()
        frame = pd.DataFrame(task.rows())
    said = [*task.notes(), *_coarse(frame, task.seen, capture.rate_hz, plan)]
    if dead:
        said = [NO_SIGNAL, *overload_note(task.seen)]
    said += scale_note(task.seen.float_peak)
    said += holes_note(task.seen.lost, capture.rate_hz, capture.duration_s)
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
    common = [*capture.remarks, *([tables.NO_SIGNAL] if dead else [])]
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


def _coarse(frame: pd.DataFrame, seen: Pass, rate_hz: float, plan: BandPlan) -> list[str]:
    """Adds what coarse steps of the samples leave to the uncertainties of noise and levels; the line for the user."""
    weak_db, own_db = doubt_db(seen.steps), np.full(len(frame), doubt_db(seen.steps))
    among_db = 0.0
    strong = (frame["snr_db"] >= STRONG_DB).to_numpy() if "snr_db" in frame.columns else np.zeros(0, bool)
    if strong.any():
        noise = float(np.mean(from_db(frame["noise_dbfs"].to_numpy(float)))) * rate_hz / _NOISE_WIDTH_HZ[plan.band]
        # half of the noise is in I, and a twelfth of a squared step in it is the rounding's own
        noise_steps = float(np.sqrt(max(noise / 2 / seen.step**2 - 1.0 / 12.0, 0.0)))
        amplitudes = np.sqrt(from_db(frame["level_dbfs"].to_numpy(float)[strong])) / seen.step
        among_db, carriers_db = among_carriers_db(amplitudes, noise_steps)
        weak_db = max(weak_db, among_db)
        own_db[:] = weak_db
        own_db[strong] = np.maximum(doubt_db(seen.steps), carriers_db)
        if among_db >= _ROUNDED_DB:
            small = from_db(frame["level_dbfs"].to_numpy(float)) < (seen.step / np.pi) ** 2
            frame.loc[small, "remarks"] = [f"{words};{WITHIN_ROUNDING}".strip(";") for words in frame.loc[small, "remarks"]]
    frame["noise_sd_db"] = np.hypot(frame["noise_sd_db"], weak_db)
    if "level_sd_db" in frame.columns:
        frame["level_sd_db"] = np.hypot(frame["level_sd_db"], own_db)
    return coarse_note(seen.steps, among_db)
