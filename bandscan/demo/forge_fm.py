"""One FM station as a spectrum around its carrier.

The multiplex follows 47 CFR 73.322: M = (L + R) / 2 below 15 kHz, S = (L - R) / 2 on 38 kHz, which rises through zero at every
zero of the 19 kHz pilot; the data subcarrier at three times the pilot (EN 50067). The frequency is integrated in its spectrum,
where that is exact, and not by adding samples, which would lift the pilot by 0.3 % and 57 kHz by 2 %.
"""

from __future__ import annotations

import numpy as np
from scipy import fft

from bandscan.demo import rds
from bandscan.demo.programme import audio_band, filtered, processed, programme
from bandscan.demo.span import ComplexArray, Emission, FloatArray, Span, emission
from bandscan.demo.stations import FmStation
from bandscan.units import from_db

_AUDIO_RATE_HZ = 40_000.0
_FM_RATE_HZ = 480_000.0
_AUDIO_TOP_HZ = 15_000.0
_PILOT_HZ = 19_000.0
_DIGITAL_HZ = (129_000.0, 198_000.0)  # from the carrier, on either side


def fm_emission(station: FmStation, span: Span, offset_hz: float, rng: np.random.Generator) -> Emission:
    """The station's emission over `span`, its carrier `offset_hz` from the middle bin."""
    points = span.points(_FM_RATE_HZ)
    multiplex_hz = _multiplex_hz(station, span, points, rng)
    frequency = fft.rfft(multiplex_hz)
    frequency[0] = 0.0
    frequency[1:] /= 1j * fft.rfftfreq(points, span.seconds / points)[1:]
    # rfft / (2 pi j f), times 2 pi: cycles of frequency become radians of phase
    turns = offset_hz * span.times_s(points) + rng.random()
    phase = np.mod(fft.irfft(frequency, n=points) + 2 * np.pi * turns, 2 * np.pi).astype(np.float32)
    wave = np.empty(points, dtype=np.complex64)
    wave.real, wave.imag = np.cos(phase), np.sin(phase)
    bins = emission(wave, span)
    if station.digital_db is not None:
        bins += _digital_sidebands(station.digital_db, points, span.bin_hz, rng)
    kept = multiplex_hz[span.middle(points)]
    return Emission(bins, peak_dev_hz=float(np.quantile(np.abs(kept - np.median(kept)), 0.999)))


def _multiplex_hz(station: FmStation, span: Span, points: int, rng: np.random.Generator) -> FloatArray:
    """The multiplex in hertz of deviation, its peak at most `deviation_hz`, faded at the ends of the span."""
    low_points = span.points(_AUDIO_RATE_HZ)
    left, right = _audio(station, low_points, low_points / span.seconds, rng)
    pilot_hz = _PILOT_HZ + station.pilot_error_hz
    start = rng.random()
    data = _data(station, pilot_hz * span.times_s(low_points) + start, rng)
    rows = np.stack([(left + right) / 2, (left - right) / 2, data]) * span.fade(low_points)
    low = fft.rfft(rows.astype(np.float32), axis=-1)
    wide = np.zeros((3, points // 2 + 1), dtype=np.complex64)
    wide[:, : low.shape[1]] = low * np.float32(points / low_points)
    mid, side, data = fft.irfft(wide, n=points, axis=-1)

    cycles = np.mod(pilot_hz * span.times_s(points) + start, 1.0).astype(np.float32)
    sine, cosine = np.sin(2 * np.pi * cycles), np.cos(2 * np.pi * cycles)
    if rng.random() < 0.5:
        third = sine * (3 - 4 * sine * sine)  # sin 3x: in phase with the pilot's third harmonic
    else:
        third = cosine * (4 * cosine * cosine - 3)  # cos 3x: in quadrature to it; both are allowed
    service = station.pilot_dev_hz * sine + (station.rds_dev_hz if station.pi is not None else 0.0) * data * third
    audio = mid + side * (2 * sine * cosine) if station.pilot_dev_hz else mid
    # a tone's crests may fall between the points
    loudest = 1.0 if station.programme == "tone" else float(np.abs(audio).max())
    gain = (station.deviation_hz - float(np.abs(service).max())) / loudest if loudest > 0 else 0.0
    return np.asarray((gain * audio + service) * span.fade(points), dtype=np.float64)


def _audio(station: FmStation, points: int, rate_hz: float, rng: np.random.Generator) -> FloatArray:
    """Left and right, pre-emphasised, limited and band-limited; shape (2, points)."""
    sound = programme(station.programme, points, rate_hz, rng, station.tone_hz)
    if station.programme == "tone":
        return np.asarray(sound)
    top = audio_band(_AUDIO_TOP_HZ)
    tau_s = station.preemphasis_s
    lifted = filtered(sound, rate_hz, lambda f_hz: np.hypot(1.0, 2 * np.pi * f_hz * tau_s) * top(f_hz))
    return processed(lifted, rate_hz, _AUDIO_TOP_HZ)


def _data(station: FmStation, pilot_cycles: FloatArray, rng: np.random.Generator) -> FloatArray:
    """The data subcarrier's envelope, peak 1; zero where the station sends none."""
    if station.pi is None:
        return np.zeros(len(pilot_cycles))
    position = pilot_cycles * rds.BITS_PER_PILOT_CYCLE
    first = int(rng.integers(0, 416))
    sent = rds.bits(station.pi, station.ps, station.pilot_dev_hz > 0, int(position[-1]) + 2, first)
    return rds.waveform(sent, position)


def _digital_sidebands(digital_db: float, points: int, bin_hz: float, rng: np.random.Generator) -> ComplexArray:
    """Flat noise on either side of the carrier, each side of exactly `digital_db` relative to unit power."""
    f_hz = np.abs(np.arange(points) - points // 2) * bin_hz
    inside = np.flatnonzero((f_hz >= _DIGITAL_HZ[0]) & (f_hz < _DIGITAL_HZ[1]))
    bins = np.zeros(points, dtype=np.complex64)
    for side in (inside[inside < points // 2], inside[inside > points // 2]):
        noise = rng.standard_normal((len(side), 2)) @ np.array([1.0, 1j])
        bins[side] = noise * points * np.sqrt(from_db(digital_db) / np.sum(np.abs(noise) ** 2))
    return bins
