"""Whistles and rasters: faults that show in where ticks stand, not in which stations are missing.

A receiver whistles at multiples of its own intermediate frequency; a switching converter near the radio whistles at multiples
of its own. A digital set of the wrong region stops on the raster of that region.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp

from bandscan.model import Finding
from bandscan.radio.header import number
from bandscan.radio.pointer import error_at
from bandscan.radio.threshold import Fit
from bandscan.units import channel_text, db

FloatArray = npt.NDArray[np.float64]

# the usual intermediate frequencies of AM sets (trade practice) [Hz]
IMAGE_IF_HZ = (262_500.0, 455_000.0, 450_000.0, 460_000.0)
_PRIOR_ODDS = 0.2
# how many of the whistles a fault explains; the rest stand anywhere
_EXPLAINED = 0.9
_COMB_HZ = np.arange(25_000.0, 300_000.0, 100.0)
_RASTERS_HZ = {"fm": ((100_000, 200_000), (0, 200_000)), "am": ((0, 9_000), (0, 10_000))}


def whistle_findings(fit: Fit, whistle_hz: FloatArray, if_hz: float | None) -> tuple[Finding, ...]:
    """Two or more whistles on AM, readings [Hz] by the dial, held against fixed places and against a comb."""
    plan = fit.sweeps.bench.plan
    heard = whistle_hz[np.isfinite(whistle_hz)]
    if plan.band != "am" or len(heard) < 2 or fit.sweeps.dial.kind == "none":
        return ()
    error, doubt = error_at(fit.sweeps.bench, fit.draws.pointers, fit.weight, heard)
    noise = float(fit.weight @ fit.draws.pointers.noise)
    at_hz = heard - error
    sd_hz = np.hypot(fit.sweeps.dial.noise_hz(fit.sweeps.bench, heard) * noise, doubt)
    log_even = -len(heard) * np.log(plan.last_hz - plan.first_hz)
    findings = []
    candidates = IMAGE_IF_HZ if if_hz is None else (if_hz,)
    fixed = [_log_at(at_hz, sd_hz, _multiples(hz, plan.first_hz, plan.last_hz), log_even) for hz in candidates]
    best_hz = candidates[int(np.argmax(fixed))]
    weight = _weight(float(logsumexp(fixed)) - np.log(len(fixed)) - log_even)
    findings.append(
        Finding(
            "fixed-whistle",
            f"whistles stand at multiples of the IF, {best_hz / 1e3:g} kHz: {_places(at_hz)}",
            tuple(int(round(hz, -3)) for hz in np.sort(at_hz)),
            "look for a missing shield or an open IF filter capacitor at the detector; detune slightly: the beat changes",
            weight,
        )
    )
    comb = [_log_at(at_hz, sd_hz, _multiples(hz, plan.first_hz, plan.last_hz), log_even) for hz in _COMB_HZ]
    spacing_hz = float(_COMB_HZ[int(np.argmax(comb))])
    weight = _weight(float(logsumexp(comb)) - np.log(len(comb)) - log_even)
    findings.append(
        Finding(
            "comb",
            f"whistles stand at even spacing, about {spacing_hz / 1e3:.1f} kHz: {_places(at_hz)}",
            tuple(int(round(hz, -3)) for hz in np.sort(at_hz)),
            "unplug converters, chargers and lamps one by one; feed the set from a battery",
            weight,
        )
    )
    return tuple(finding for finding in findings if finding.weight >= 0.0)


def raster_findings(fit: Fit, header: Mapping[str, str]) -> tuple[Finding, ...]:
    """A digital dial whose readings all stand on another raster than the stations do."""
    sweeps = fit.sweeps
    if sweeps.dial.kind != "digits":
        return ()
    readings = np.concatenate([block.reading_hz for block in sweeps.blocks])
    readings = readings[np.isfinite(readings)]
    step_hz = (number(header, "raster_khz") or 0.0) * 1e3
    findings = []
    for first, step in _RASTERS_HZ[sweeps.bench.band]:
        if step_hz and step != step_hz:
            continue
        on = _stands_on(readings, first, step)
        usual = float(_stands_on(sweeps.bench.channel_hz, first, step).mean())
        if len(readings) < 4 or usual > 0.9:
            continue
        # readings of a sound set are its stations' channels: so many of them stand on this raster anyway
        share = min(max(usual, 0.05), 0.95)
        log_odds = on.sum() * np.log(0.98 / share) + (~on).sum() * np.log(0.02 / (1.0 - share))
        off = sweeps.bench.channel_hz[~_stands_on(sweeps.bench.channel_hz, first, step)]
        findings.append(
            Finding(
                "raster",
                f"all readings stand on a raster of {step / 1e3:g} kHz from {channel_text(sweeps.bench.band, first or step)},"
                f" and {len(off)} of {len(sweeps.bench)} stations do not",
                tuple(int(hz) for hz in off[:8]),
                "find the region jumper, diode or menu; set the region as the set's manual says",
                _weight(float(log_odds)),
            )
        )
    return tuple(finding for finding in findings if finding.weight >= 0.0)


def _stands_on(at_hz: FloatArray, first_hz: float, step_hz: float) -> npt.NDArray[np.bool_]:
    return np.asarray(np.abs((at_hz - first_hz + step_hz / 2.0) % step_hz - step_hz / 2.0) < 1.0, dtype=np.bool_)


def _multiples(spacing_hz: float, first_hz: float, last_hz: float) -> FloatArray:
    """Multiples of a frequency in the band, from the second on: a set does not receive its own intermediate frequency. [Hz]"""
    multiples = spacing_hz * np.arange(2, int(last_hz / spacing_hz) + 1)
    return np.asarray(multiples[multiples >= first_hz - 10e3])


def _log_at(at_hz: FloatArray, sd_hz: FloatArray, places_hz: FloatArray, log_even: float) -> float:
    """Log likelihood of whistles that mostly stand at places, each as likely, else anywhere."""
    if not len(places_hz):
        return log_even
    z = (at_hz[:, None] - places_hz) / sd_hz[:, None]
    there = np.exp(-0.5 * z**2).mean(axis=1) / (np.sqrt(2.0 * np.pi) * sd_hz)
    return float(np.log(_EXPLAINED * there + (1.0 - _EXPLAINED) * np.exp(log_even / len(at_hz))).sum())


def _weight(log_odds: float) -> float:
    return round(float(log_odds / np.log(10.0)) + db(_PRIOR_ODDS) / 10.0, 2)


def _places(at_hz: FloatArray) -> str:
    return ", ".join(channel_text("am", round(hz, -4)) for hz in np.sort(at_hz)[:6]) + " kHz"
