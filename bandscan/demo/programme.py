"""Programmes to send: speech-like, music-like, a tone, silence. Invented sound, shaped only so far as a spectrum shows it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import fft

from bandscan.demo.span import FloatArray

_OVERSHOOT_ROUNDS = 6
_CLIPPED_TO = 0.85
_FORMANTS_HZ = ((500.0, 120.0, 1.0), (1500.0, 180.0, 0.5), (2500.0, 250.0, 0.25), (5500.0, 2500.0, 0.05))
_CHORDS = ((0, 4, 7), (5, 9, 12), (7, 11, 14), (9, 12, 16))  # semitones over the key: a common turn of four chords


def programme(kind: str, points: int, rate_hz: float, rng: np.random.Generator, tone_hz: float = 1000.0) -> FloatArray:
    """Left and right channel as shape (2, points), at most +-1, nothing below 40 Hz."""
    if kind == "silence":
        return np.zeros((2, points))
    if kind == "tone":
        wave = np.sin(2 * np.pi * (tone_hz / rate_hz * np.arange(points) + rng.random()))
        return np.stack([wave, wave])
    sound = _speech(points, rate_hz, rng) if kind == "speech" else _music(points, rate_hz, rng)
    sound = filtered(sound, rate_hz, audio_band(rate_hz / 2))
    return np.asarray(sound / np.abs(sound).max())


def filtered(sound: FloatArray, rate_hz: float, response: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """`sound` (..., points) through a filter given by its response over frequency [Hz]."""
    points = sound.shape[-1]
    spectrum = fft.rfft(sound, axis=-1) * response(fft.rfftfreq(points, 1.0 / rate_hz))
    return np.asarray(fft.irfft(spectrum, n=points, axis=-1), dtype=np.float64)


def audio_band(top_hz: float) -> Callable[[FloatArray], FloatArray]:
    """A response that is flat from 40 Hz to `top_hz`, gone at 20 Hz and 7 % over the top."""

    def response(f_hz: FloatArray) -> FloatArray:
        fall = np.clip((f_hz / top_hz - 1.0) / 0.07, 0.0, 1.0)
        return np.asarray(np.clip(f_hz / 20.0 - 1.0, 0.0, 1.0) * (0.5 + 0.5 * np.cos(np.pi * fall)))

    return response


def processed(sound: FloatArray, rate_hz: float, top_hz: float) -> FloatArray:
    """`sound` made loud as stations do: driven into a soft limiter and band-limited, peak 1, often near it."""
    rms = float(np.sqrt(np.mean(sound**2)))
    if rms == 0.0:
        return sound
    sound = filtered(np.tanh(sound / rms), rate_hz, audio_band(top_hz))
    for _ in range(_OVERSHOOT_ROUNDS):
        # band-limiting overshoots; clipping a little and band-limiting again leaves less each time
        ceiling = _CLIPPED_TO * float(np.abs(sound).max())
        sound = filtered(np.clip(sound, -ceiling, ceiling), rate_hz, audio_band(top_hz))
    return np.asarray(sound / np.abs(sound).max())


def _speech(points: int, rate_hz: float, rng: np.random.Generator) -> FloatArray:
    """A voice: a buzz of gliding pitch and breath through formants, in syllables, a little room on either side."""
    pitch_hz = rng.uniform(95.0, 210.0) * (1.0 + 0.2 * _slow_noise(points, rate_hz, 3.0, rng))
    buzz = 2.0 * np.mod(np.cumsum(pitch_hz) / rate_hz, 1.0) - 1.0
    syllables = np.clip(_slow_noise(points, rate_hz, 5.0, rng) + 0.6, 0.05, None)
    mouth = rng.uniform(0.85, 1.2)

    def formants(f_hz: FloatArray) -> FloatArray:
        return np.asarray(sum(g / np.sqrt(1.0 + ((f_hz / mouth - at) / width) ** 2) for at, width, g in _FORMANTS_HZ))

    voice = filtered((buzz + 0.2 * rng.standard_normal(points)) * syllables, rate_hz, formants)
    room = filtered(rng.standard_normal((2, points)) * syllables, rate_hz, formants)
    return np.asarray(voice + 0.1 * room)


def _music(points: int, rate_hz: float, rng: np.random.Generator) -> FloatArray:
    """Chords of plucked notes, a bass and a brush on the beat, spread over left and right."""
    seconds = points / rate_hz
    key_hz, beat_s, start_s = rng.uniform(150.0, 280.0), rng.uniform(0.35, 0.6), rng.uniform(0.0, 0.5)
    beats = (np.arange(points) / rate_hz + start_s) / beat_s
    pluck = np.exp(-3.0 * np.mod(beats, 1.0))
    sound = np.zeros((2, points))
    for place, chord in enumerate(_CHORDS):
        sounding = np.floor(beats / 2.0).astype(np.int64) % len(_CHORDS) == place
        if not sounding.any():
            continue
        for semitones in (*chord, -12 + chord[0]):
            lines = np.zeros(points // 2 + 1, dtype=np.complex128)
            harmonics = np.arange(1, 16)
            bins = np.rint(harmonics * key_hz * 2.0 ** (semitones / 12.0) * seconds).astype(np.int64)
            bins, harmonics = bins[bins < len(lines)], harmonics[bins < len(lines)]
            lines[bins] = harmonics**-1.1 * np.exp(2j * np.pi * rng.random(len(bins)))
            note = fft.irfft(lines, n=points) * points * pluck * sounding
            left = rng.uniform(0.2, 0.8)
            sound += np.outer([left, 1.0 - left], note)
    brush = filtered(rng.standard_normal((2, points)), rate_hz, lambda f_hz: np.minimum(f_hz / 6000.0, 1.0) ** 2)
    return np.asarray(sound + 0.5 * brush * np.exp(-8.0 * np.mod(2.0 * beats, 1.0)))


def _slow_noise(points: int, rate_hz: float, top_hz: float, rng: np.random.Generator) -> FloatArray:
    """Noise of standard deviation 1 that holds nothing above about `top_hz`."""
    noise = filtered(rng.standard_normal(points), rate_hz, lambda f_hz: np.exp(-((f_hz / top_hz) ** 2)) * (f_hz > 0))
    return np.asarray(noise / noise.std())
