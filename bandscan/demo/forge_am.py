"""One AM station as a spectrum around its carrier, mono or C-QUAM (47 CFR 73.128: envelope 1 + L + R, 25 Hz pilot in L - R)."""

from __future__ import annotations

import numpy as np

from bandscan.demo.programme import audio_band, filtered, processed, programme
from bandscan.demo.span import Emission, Span, emission
from bandscan.demo.stations import AmStation

_AM_RATE_HZ = 64_000.0
_STEREO_PILOT_HZ = 25.0
_STEREO_PILOT_DEPTH = 0.05  # from memory of 73.128(c)
_SIDE_SHARE = 0.3  # how much of the stereo programme's width is sent


def am_emission(station: AmStation, span: Span, offset_hz: float, rng: np.random.Generator) -> Emission:
    """The station's emission over `span`, its carrier `offset_hz` from the middle bin."""
    points = span.points(_AM_RATE_HZ)
    rate_hz = points / span.seconds
    left, right = programme(station.programme, points, rate_hz, rng, station.tone_hz)
    mid, side = (left + right) / 2, (left - right) / 2
    if station.programme in ("speech", "music"):
        mid = processed(filtered(mid, rate_hz, audio_band(station.audio_hz)), rate_hz, station.audio_hz)
    envelope = 1.0 + station.depth * mid
    wave = envelope.astype(np.complex128)
    if station.stereo:
        width = filtered(side, rate_hz, audio_band(station.audio_hz)) * _SIDE_SHARE
        tone = np.sin(2 * np.pi * (_STEREO_PILOT_HZ * span.times_s(points) + rng.random()))
        wave += 1j * (width + _STEREO_PILOT_DEPTH * tone)
        wave *= envelope / np.abs(wave)
    middle = span.middle(points)
    wave /= wave[middle].mean()  # the carrier is what stays when the programme is averaged away
    depth = float(np.quantile(np.abs(wave[middle].real - 1.0), 0.995))
    turns = offset_hz * span.times_s(points) + rng.random()
    return Emission(emission(wave * np.exp(2j * np.pi * turns), span), am_depth=depth)
