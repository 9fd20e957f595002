"""A recording with known truth: stations and spurs on the air, received by a receiver.

Shares no arithmetic with the rooms that measure: everything is put together in one long spectrum, in which each station's own
spectrum is laid at its place (interpolation by Fourier transform, no filters and no mixing).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import fft

from bandscan.demo.forge_am import am_emission
from bandscan.demo.forge_fm import fm_emission
from bandscan.demo.span import ComplexArray, Emission, FloatArray, Span, emission
from bandscan.demo.stations import AmStation, FmStation, Receiver, Source, Spur, Truth
from bandscan.units import db, from_db

_REACH_HZ = 250_000.0  # no emission reaches further from its carrier
_BLOCK = 2**18  # bins at a time, to keep long recordings within memory
_SNR_WIDTH_HZ = {"fm": 200_000.0, "am": 10_000.0, "spur": 200_000.0}


@dataclass(frozen=True, eq=False)
class Forged:
    """`samples` before quantising (1.0 is full scale), and what is in them."""

    samples: ComplexArray
    rate_hz: float
    centre_hz: float
    noise_dbfs_hz: float
    truth: tuple[Truth, ...]


def forge(
    sources: Sequence[Source],
    receiver: Receiver,
    centre_hz: float,
    rate_hz: float,
    seconds: float,
    seed: int | Sequence[int],
) -> Forged:
    """A recording of `seconds` at `rate_hz`, tuned to `centre_hz`.

    The same seed gives the same signals; a station's own signal does not depend on which others are there. What lies
    outside the rate is left out, as an ideal filter in front of the receiver would; `truth` names what has its carrier inside.
    """
    clock = 1.0 + receiver.ppm * 1e-6
    span = Span.around(round(seconds * rate_hz), rate_hz * clock)
    bins = np.zeros(span.samples, dtype=np.complex64)
    truth = []
    for source in sources:
        offset_hz = _at_hz(source) - centre_hz * clock
        if abs(offset_hz) > span.rate_hz / 2 + _REACH_HZ:
            continue
        place = round(offset_hz / span.bin_hz)
        made = _emission(source, span, offset_hz - place * span.bin_hz, seed)
        amplitude = np.sqrt(from_db(source.level_dbfs + receiver.gain_change_db)) * span.samples / len(made.bins)
        _lay(bins, made.bins * np.float32(amplitude), place)
        if abs(offset_hz) < span.rate_hz / 2:
            truth.append(_truth(source, made, receiver, offset_hz / span.rate_hz))
    samples = _received(bins, span, receiver, _rng(seed, 0, 0))
    return Forged(samples, rate_hz, centre_hz, receiver.noise_dbfs_hz + receiver.gain_change_db, tuple(truth))


def _received(bins: ComplexArray, span: Span, receiver: Receiver, rng: np.random.Generator) -> ComplexArray:
    """The samples that the receiver makes of what is on the air."""
    if receiver.compression:
        bins = _compressed(bins, receiver.compression)
    sigma = np.sqrt(0.5 * span.samples * span.rate_hz * from_db(receiver.noise_dbfs_hz + receiver.gain_change_db))
    for first in range(0, span.samples, _BLOCK):
        block = bins[first : first + _BLOCK]
        block += rng.standard_normal(2 * len(block), dtype=np.float32).view(np.complex64) * np.float32(sigma)
        of_rate = np.arange(first, first + len(block)) / span.samples - 0.5
        block *= np.sqrt(from_db(_response_db(receiver, of_rate))).astype(np.float32)
    wave = fft.ifft(bins, overwrite_x=True)
    wave[1::2] *= np.float32(-1)  # the same as moving the middle bin to the front before the transform
    samples: ComplexArray = wave[span.middle(span.samples)]
    if receiver.image_db is not None:
        samples += np.float32(np.sqrt(from_db(receiver.image_db))) * samples.conj()
    if receiver.dc_dbfs is not None:
        samples += np.complex64(np.sqrt(from_db(receiver.dc_dbfs)) * np.exp(2j * np.pi * rng.random()))
    return samples


def _compressed(bins: ComplexArray, compression: float) -> ComplexArray:
    """The spectrum after y = x - a x |x|^2, at twice the rate so that no product folds back into it."""
    wide = np.zeros(2 * len(bins), dtype=np.complex64)
    inner = slice(len(bins) // 2, len(bins) // 2 + len(bins))
    wide[inner] = bins
    wave = fft.ifft(fft.ifftshift(wide), overwrite_x=True) * np.float32(2.0)
    wave *= np.float32(1.0) - np.float32(compression) * (wave.real**2 + wave.imag**2)
    return np.asarray(fft.fftshift(fft.fft(wave, overwrite_x=True))[inner] * np.float32(0.5))


def _lay(bins: ComplexArray, emitted: ComplexArray, place: int) -> None:
    """Add a centred spectrum to a longer or shorter one, `place` bins above its middle; what falls outside is left out."""
    first = len(bins) // 2 + place - len(emitted) // 2
    low, high = max(first, 0), min(first + len(emitted), len(bins))
    if low < high:
        bins[low:high] += emitted[low - first : high - first]


def _emission(source: Source, span: Span, offset_hz: float, seed: int | Sequence[int]) -> Emission:
    if isinstance(source, FmStation):
        return fm_emission(source, span, offset_hz, _rng(seed, 1, source.channel_hz))
    if isinstance(source, AmStation):
        return am_emission(source, span, offset_hz, _rng(seed, 2, source.channel_hz + round(source.carrier_error_hz)))
    points = span.points(1000.0)
    turns = offset_hz * span.times_s(points) + _rng(seed, 3, round(source.at_hz)).random()
    return Emission(emission(np.exp(2j * np.pi * turns), span))


def _truth(source: Source, made: Emission, receiver: Receiver, of_rate: float) -> Truth:
    kind = "fm" if isinstance(source, FmStation) else "am" if isinstance(source, AmStation) else "spur"
    response_db = receiver.gain_change_db + float(_response_db(receiver, np.array(of_rate)))
    level_dbfs = source.level_dbfs + response_db
    snr_db = source.level_dbfs - receiver.noise_dbfs_hz - db(_SNR_WIDTH_HZ[kind])
    if isinstance(source, Spur):
        return Truth(kind, round(source.at_hz), level_dbfs, snr_db)
    truth = Truth(
        kind,
        source.channel_hz,
        level_dbfs,
        snr_db,
        carrier_error_hz=source.carrier_error_hz,
        programme=source.programme,
        name=source.name,
    )
    if isinstance(source, AmStation):
        return replace(truth, am_depth=made.am_depth, am_stereo=source.stereo)
    return replace(
        truth,
        pilot_dev_hz=source.pilot_dev_hz,
        pilot_error_hz=source.pilot_error_hz,
        peak_dev_hz=made.peak_dev_hz,
        rds_pi="" if source.pi is None else f"{source.pi:04X}",
        rds_ps="" if source.pi is None else source.ps.ljust(8),
        digital_db=source.digital_db,
    )


def _at_hz(source: Source) -> float:
    return source.at_hz if isinstance(source, Spur) else source.channel_hz + source.carrier_error_hz


def _response_db(receiver: Receiver, of_rate: FloatArray) -> FloatArray:
    """Gain of the receiver's filters over frequency, given as a share of the rate (-0.5 ... 0.5)."""
    fourth = (2.0 * of_rate) ** 2 * (2.0 * of_rate) ** 2
    return np.asarray(receiver.slope_db * of_rate - receiver.droop_db * fourth * fourth)


def _rng(seed: int | Sequence[int], kind: int, place: int) -> np.random.Generator:
    """A generator of its own for each signal."""
    parts = [seed] if isinstance(seed, int) else list(seed)
    return np.random.default_rng([*parts, kind, place])
