"""Whistles and rasters: faults that show in where ticks stand, not in which stations are missing.

A receiver whistles at multiples of its own intermediate frequency; a switching converter near the radio whistles at multiples
of its own. A digital set of the wrong region stops on the raster of that region.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln, logsumexp

from bandscan.model import Finding
from bandscan.radio.align import Sweeps
from bandscan.radio.pointer import design, error_at
from bandscan.radio.suspects import if_candidates_hz
from bandscan.radio.threshold import Fit, even_draw
from bandscan.radio.weighing import against_all
from bandscan.units import channel_text, db

FloatArray = npt.NDArray[np.float64]

_PRIOR_ODDS = 0.2
# spacings of a comb, each 0.2 % over the last; which share of its teeth is heard, each as likely; whistles beside it; and
# whistles of a band without a pattern (all from memory)
_STEP = 1.002
_COMB_HZ = np.asarray(25_000.0 * _STEP ** np.arange(1244), dtype=np.float64)
_HEARD = np.array([0.25, 0.5, 0.75, 0.95])
_ELSEWHERE = 0.5
_SCATTERED = 4.0
_POINTERS = 16
_ON_RASTER_HZ = 1.0
_RASTERS_HZ = {"fm": ((100_000, 200_000), (0, 200_000)), "am": ((0, 9_000), (0, 10_000))}


def whistle_findings(fit: Fit, sweeps_hz: Sequence[FloatArray], if_hz: float | None) -> tuple[Finding, ...]:
    """Two or more whistles on AM, held against fixed places and against a comb, which are rivals.

    `sweeps_hz` are the whistles' readings by the dial, an array for each sweep. [Hz]
    """
    bench, dial = fit.sweeps.bench, fit.sweeps.dial
    plan = bench.plan
    sweeps = [heard[np.isfinite(heard)] for heard in sweeps_hz]
    heard = np.concatenate(sweeps) if sweeps else np.array([])
    if plan.band != "am" or len(heard) < 2 or dial.kind == "none":
        return ()
    error, _ = error_at(bench, fit.draws.pointers, fit.weight, heard)
    noise_hz = dial.noise_hz(bench, heard) * float(fit.weight @ fit.draws.pointers.noise)
    # a digital set shows the stop nearest to the whistle
    noise_hz = np.hypot(noise_hz, plan.step_hz / np.sqrt(12.0) if dial.kind == "digits" else 0.0)
    at_hz, each_hz = heard - error, np.split(noise_hz, np.cumsum([len(one) for one in sweeps])[:-1])
    # multiples of the set's own frequency are a comb of that spacing, from the second on: it does not receive the first
    candidates = np.array(if_candidates_hz(if_hz))
    fixed, comb = _log_comb(fit, sweeps, each_hz, candidates), _log_comb(fit, sweeps, each_hz, _COMB_HZ)
    best_hz = float(candidates[int(np.argmax(fixed))])
    low_khz, high_khz = _likely(comb) / 1e3
    spacing = f"about {_COMB_HZ[int(np.argmax(comb))] / 1e3:.1f} kHz (95 %: {low_khz:.1f} to {high_khz:.1f})"
    even = sum(_log_scattered(len(one)) for one in sweeps)
    log_odds = [float(logsumexp(each)) - np.log(len(each)) - even + np.log(_PRIOR_ODDS) for each in (fixed, comb)]
    evidence = tuple(int(round(hz, -3)) for hz in np.sort(at_hz))
    said = (
        (
            "fixed-whistle",
            f"whistles stand at multiples of the IF, {best_hz / 1e3:g} kHz: {_places(at_hz)}",
            "look for a missing shield or an open IF filter capacitor at the detector; detune slightly: the beat changes",
        ),
        (
            "comb",
            f"whistles stand at even spacing, {spacing}: {_places(at_hz)}",
            "unplug converters, chargers and lamps one by one; feed the set from a battery",
        ),
    )
    return tuple(
        Finding(fault, text, evidence, test, round(weight, 2), round(log / np.log(10.0), 2))
        for (fault, text, test), log, weight in zip(said, log_odds, against_all(log_odds), strict=True)
        if log >= 0.0
    )


def _likely(comb: FloatArray) -> FloatArray:
    """Least and most of the likeliest spacings that hold 95 % together [Hz], to half a step of their ladder.

    Not from 2.5 to 97.5 %: half a spacing explains every comb a little, and an interval over both would tell of neither.
    """
    chance = np.exp(comb - logsumexp(comb))
    order = np.argsort(-chance, kind="stable")
    inside = order[: int(np.searchsorted(np.cumsum(chance[order]), 0.95)) + 1]
    return np.asarray(_COMB_HZ[[inside.min(), inside.max()]] * np.sqrt([1.0 / _STEP, _STEP]))


def _log_comb(fit: Fit, sweeps: Sequence[FloatArray], noise_hz: Sequence[FloatArray], spacing_hz: FloatArray) -> FloatArray:
    """Log likelihood of a comb of each spacing, over pointers and shares of teeth that are heard.

    Of each sweep's whistles, low to high, every one is the next tooth that is heard or stands anywhere: no two are one tooth.
    In units of the band's width.
    """
    bench = fit.sweeps.bench
    # dials reach a little further than channels do: twice 262.5 kHz is heard at 525
    low_hz, high_hz = bench.plan.first_hz - 3 * bench.plan.step_hz, bench.plan.last_hz + bench.plan.step_hz
    drawn, share = even_draw(fit.weight, _POINTERS)
    total = np.zeros((len(drawn), len(_HEARD), len(spacing_hz)))
    for readings, sd_hz in zip(sweeps, noise_hz, strict=True):
        order = np.argsort(readings, kind="stable")
        columns = design(bench, readings[order], 0)
        for place, pointer in enumerate(drawn):
            at_hz = readings[order] - columns @ fit.draws.pointers.coefficients[pointer]
            ways = np.zeros((len(order) + 1, len(_HEARD), len(spacing_hz)))
            ways[0] = np.exp(-_ELSEWHERE)
            for tooth in range(2, int(high_hz / spacing_hz.min()) + 1):
                inside = (tooth * spacing_hz >= low_hz) & (tooth * spacing_hz <= high_hz)
                # a spacing stands for all up to half way to its neighbours
                wide_hz = np.hypot(sd_hz[order, None], tooth * spacing_hz[inside] * (_STEP - 1.0) / np.sqrt(12.0))
                z = (at_hz[:, None] - tooth * spacing_hz[inside]) / wide_hz
                there = (high_hz - low_hz) / (np.sqrt(2.0 * np.pi) * wide_hz) * np.exp(-0.5 * z**2)
                old = ways[:, :, inside]
                # whistles of another origin since the last tooth come first
                beside = (at_hz[:, None] < tooth * spacing_hz[inside]) & (at_hz[:, None] > (tooth - 1) * spacing_hz[inside])
                for whistle in np.flatnonzero(beside.any(axis=1)):
                    old[whistle + 1] += old[whistle] * _ELSEWHERE * beside[whistle]
                new = old * (1.0 - _HEARD[:, None])
                new[1:] += old[:-1] * there[:, None] * _HEARD[:, None]
                ways[:, :, inside] = new
            last_hz = spacing_hz * np.floor(high_hz / spacing_hz)
            for beyond, hz in enumerate(at_hz):
                ways[beyond + 1] += ways[beyond] * _ELSEWHERE * (hz > last_hz)
            total[place] += np.log(np.maximum(ways[-1], 1e-300))
    return np.asarray(logsumexp(total, axis=(0, 1), b=share[:, None, None] / len(_HEARD)))


def _log_scattered(count: int) -> float:
    """Log likelihood of so many whistles anywhere, in units of the band's width: a geometric number at even places."""
    return float(gammaln(count + 1.0) + count * np.log(_SCATTERED / (1.0 + _SCATTERED)) - np.log(1.0 + _SCATTERED))


def raster_findings(fit: Fit) -> tuple[Finding, ...]:
    """A digital dial whose readings stand on another raster than the stations do."""
    sweeps = fit.sweeps
    findings = []
    for seen in rasters_seen(sweeps):
        # the raster's first place in the band
        low = seen.first_hz + seen.step_hz * -(-(sweeps.bench.plan.first_hz - seen.first_hz) // seen.step_hz)
        off = sweeps.bench.channel_hz[off_raster_hz(sweeps.bench.channel_hz, seen) >= _ON_RASTER_HZ]
        findings.append(
            Finding(
                "raster",
                f"{seen.on} of {seen.readings} readings stand on a raster of {seen.step_hz / 1e3:g} kHz from"
                f" {channel_text(sweeps.bench.band, low)},"
                f" and {len(off)} of {len(sweeps.bench)} stations do not",
                tuple(int(hz) for hz in off[:8]),
                "find the region jumper, diode or menu; set the region as the set's manual says",
                seen.weight,
            )
        )
    return tuple(findings)


@dataclass(frozen=True)
class Raster:
    """A raster that so many of the readings stand on, and log10 of its odds against a sound set's."""

    first_hz: int
    step_hz: int
    on: int
    readings: int
    weight: float


def rasters_seen(sweeps: Sweeps) -> list[Raster]:
    """Rasters that the readings of a digital dial stand on more than its stations do, where that is likelier than chance."""
    readings = np.concatenate([block.reading_hz for block in sweeps.blocks])
    readings = readings[np.isfinite(readings)]
    seen = []
    for first, step in _RASTERS_HZ[sweeps.bench.band] if sweeps.dial.kind == "digits" else ():
        raster = Raster(first, step, 0, len(readings), 0.0)
        on = int(np.count_nonzero(off_raster_hz(readings, raster) < _ON_RASTER_HZ))
        usual = float((off_raster_hz(sweeps.bench.channel_hz, raster) < _ON_RASTER_HZ).mean())
        if len(readings) < 4 or usual > 0.9:
            continue
        # readings of a sound set are its stations' channels: so many of them stand on this raster anyway
        share = min(max(usual, 0.05), 0.95)
        log_odds = on * np.log(0.98 / share) + (len(readings) - on) * np.log(0.02 / (1.0 - share))
        seen.append(replace(raster, on=on, weight=_weight(float(log_odds))))
    return [raster for raster in seen if raster.weight >= 0.0]


def off_raster_hz(at_hz: npt.NDArray[np.float64] | npt.NDArray[np.int64], raster: Raster) -> FloatArray:
    """How far frequencies are from the raster's nearest place. [Hz]"""
    step_hz = float(raster.step_hz)
    return np.asarray(np.abs((at_hz - raster.first_hz + step_hz / 2.0) % step_hz - step_hz / 2.0), dtype=np.float64)


def _weight(log_odds: float) -> float:
    return round(float(log_odds / np.log(10.0)) + db(_PRIOR_ODDS) / 10.0, 2)


def _places(at_hz: FloatArray) -> str:
    return ", ".join(channel_text("am", round(hz, -4)) for hz in np.sort(at_hz)[:6]) + " kHz"
