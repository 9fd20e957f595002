"""Whether two channels of one recording carry the same programme, by their demodulated mono audio.

Of each station's audio between 200 and 1800 Hz only the phases are kept, first in frequency, then in time: loudness, tone
control and processing do not matter, and no syllable or note outweighs the rest. For one programme there is a delay at
which two such signals agree; for two programmes they agree by chance, and the squared correlation over its mean at delays
nearby is exponentially distributed: exp(-x) is the chance of x or more at one delay. That mean is taken from the pair
itself: steady tones of one pitch agree over a whole stretch of delays, raise it as they raise the correlation, and so prove
nothing.

Compared are only audio frequencies at which a station sends something: between the notes and in pauses there is the
receiver's own noise, of which a part is common to all channels. A station that is silent or sends a bare tone is not
compared.

Limits: the first 10 s of a recording; delays up to a third of that (0.3 s for 1 s, 3.3 s for 10 s or more); both channels
in one recording. Two programmes that play one recorded sound and little else in that time are told as one. The same
programme now is no proof of the same programme always.

Sources: phase transform: Knapp and Carter 1976; the distribution: textbook (sum of many phasors of random phase).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.fft
import scipy.ndimage

from bandscan.units import from_db

FALSE_ALARM = 1e-5  # chance of any match in a recording without one, by the exponential law
DECIMATION = 60  # 240 kS/s to 4 kS/s
WINDOW_S = 10.0
BAND_HZ = (200.0, 1800.0)
LEAST_RMS_HZ = 500.0  # a programme swings several kilohertz; a receiver's own hum and phase noise some ten hertz
LOUD_DB = -30.0  # of a station's mean power in the band: fainter audio frequencies are left out
LEAST_SIZE = 0.1  # of the flattened audio's rms: less is a pause
LEAST_BINS = 100  # that are loud: a bare tone spreads over some twenty
LONGEST_DELAY = 1 / 3  # of the window: beyond it too little of the two overlaps
NEARBY_S = 0.064  # to either side: delays that tell the pair's own mean
_OVERSAMPLED = 2  # a peak between two delays loses at most 1 dB
_TAPS = 4 * DECIMATION
_CUTOFF_HZ = 1900.0


@dataclass(frozen=True)
class Match:
    """Two channels that carry the same programme.

    delay_s: how much later the second has it [s]. agreement: of their audio, flat in frequency and time, 0 to 1.
    """

    first: int
    second: int
    delay_s: float
    agreement: float


class ProgrammeSum:
    """Mono audio of several channels at a low rate, at most `WINDOW_S` of it."""

    def __init__(self, channels: int, rate_hz: float, samples: int) -> None:
        """`samples` is how many of each channel will come at most."""
        self.rate_hz = rate_hz / DECIMATION
        self._audio = np.zeros((channels, min(samples // DECIMATION, round(WINDOW_S * self.rate_hz))), np.float32)
        self._filled = 0
        time = (np.arange(_TAPS) - (_TAPS - 1) / 2) / rate_hz
        taps = np.sinc(2 * _CUTOFF_HZ * time) * np.hamming(_TAPS)
        self._taps = (taps / taps.sum()).astype(np.float32).reshape(_TAPS // DECIMATION, DECIMATION).T.copy()
        self._before = np.zeros((channels, _TAPS // DECIMATION - 1, _TAPS // DECIMATION), np.float32)

    def add(self, frequency_hz: npt.NDArray[np.float32]) -> None:
        """Adds instantaneous frequencies; shape (channels, samples), samples a multiple of `DECIMATION`. [Hz]"""
        channels, samples = frequency_hz.shape
        room = self._audio.shape[1] - self._filled
        count = min(samples // DECIMATION, room)
        if count <= 0:
            return
        # a part of the filter for each block of samples, then the parts that belong to one output added up
        blocks = frequency_hz.reshape(channels * (samples // DECIMATION), DECIMATION) @ self._taps
        parts = np.concatenate([self._before, blocks.reshape(channels, -1, blocks.shape[1])], axis=1)
        out = self._audio[:, self._filled : self._filled + count]
        for part in range(parts.shape[2]):
            out += parts[:, part : part + count, part]
        self._before = parts[:, -self._before.shape[1] :].copy()
        self._filled += count

    def audio(self, channel: int) -> npt.NDArray[np.float32]:
        """What is kept of a channel, at `rate_hz`. [Hz]"""
        return self._audio[channel, : self._filled]

    @property
    def longest_delay_s(self) -> float:
        """Delays are looked at up to this. [s]"""
        return LONGEST_DELAY * self._filled / self.rate_hz

    def matches(self, channels: Sequence[int]) -> list[Match]:
        """Pairs of these channels that carry the same programme."""
        size = int(scipy.fft.prev_fast_len(self._filled, real=True)) if self._filled else 0
        if size < LEAST_BINS or len(channels) < 2:
            return []
        told, flat = self._flattened(channels, size)
        return self._compared(told, flat, size)

    def _flattened(self, channels: Sequence[int], size: int) -> tuple[list[int], npt.NDArray[np.complex64]]:
        """The channels that can be compared, and spectra of their audio, flat in frequency and in time; shape (told, bins)."""
        window = np.hanning(size).astype(np.float32)
        low, high = (round(edge * size / self.rate_hz) for edge in BAND_HZ)
        told, flat = [], []
        for channel in channels:
            audio = self._audio[channel, :size]
            spectrum = scipy.fft.rfft((audio - audio.mean()) * window)[low:high]
            power = np.square(spectrum.real) + np.square(spectrum.imag)
            loud = power > from_db(LOUD_DB) * power.mean()
            if 2 * float(power.sum()) / (size * np.sum(window**2)) < LEAST_RMS_HZ**2 or np.count_nonzero(loud) < LEAST_BINS:
                continue
            spectrum[loud] /= np.sqrt(power[loud])
            spectrum[~loud] = 0.0
            wave = scipy.fft.ifft(spectrum)
            size_of = np.abs(wave)
            # a pause holds the receiver's noise
            wave = np.where(size_of > np.float32(LEAST_SIZE) * np.sqrt(np.mean(size_of**2)), wave / (size_of + 1e-30), 0)
            told.append(channel)
            flat.append(scipy.fft.fft(wave))
        return told, np.array(flat, np.complex64).reshape(len(told), high - low)

    def _compared(self, channels: Sequence[int], flat: npt.NDArray[np.complex64], size: int) -> list[Match]:
        bins = flat.shape[1]
        points = int(scipy.fft.next_fast_len(_OVERSAMPLED * bins))
        # an inverse transform over the band's bins alone: one point is this much delay
        step_s = size / self.rate_hz / points
        reach = int(self.longest_delay_s / step_s)
        delays = np.concatenate([np.arange(reach + 1), np.arange(-reach, 0)])
        near = 2 * round(NEARBY_S / step_s) + 1
        trials = len(channels) * (len(channels) - 1) // 2 * len(delays)
        found = []
        for first, second in itertools.combinations(range(len(channels)), 2):
            correlation = scipy.fft.ifft(flat[first].conj() * flat[second], n=points)
            square = np.square(correlation.real) + np.square(correlation.imag)
            over = (square / scipy.ndimage.uniform_filter1d(square, near, mode="wrap"))[delays]
            best = int(np.argmax(over))
            if float(over[best]) >= math.log(trials / FALSE_ALARM):
                at = int(delays[best])
                agreement = math.sqrt(float(square[at])) * points / bins**2
                found.append(Match(channels[first], channels[second], at * step_s, agreement))
        return found
