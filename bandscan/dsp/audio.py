"""Audio signal-to-noise of FM stations, estimated from the multiplex, and of AM stations, from sidebands and noise.

Definitions. All powers are mean squares of frequency deviation after de-emphasis and below 15 kHz. [Hz^2]
- programme, mono: of M = (L + R) / 2 as sent, noise taken off; stereo: of M and S = (L - R) / 2 together, the mean of L and R.
- noise, mono: what a receiver adds to M; stereo: to M and S together. Its density in the multiplex is k f^2, where k is noise
  density over carrier power before the discriminator, plus clicks, which are white.
- snr, mono and stereo: programme over noise, as a listener gets it from this programme; a quiet programme has less.
k is read where a station sends nothing: 16.3 to 18.4 and 19.6 to 21.7 kHz for mono, and for S halfway (in decibels) between
that and 59.8 to 62.5 kHz: a neighbour's or a second path's noise, which need not follow f^2, is so met near where it is heard.

What the channel's filter leaves of the programme's own outer sidebands looks like noise: beyond 70 dB in mono and 50 dB in
stereo the figures are lower bounds.

Sources: FM noise, de-emphasis, stereo penalty: textbook integrals (tests/dsp/test_audio_theory.py); clicks: Rice's
rate, textbook, from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.fft
import scipy.special

from bandscan.units import db, from_db

RealArray = npt.NDArray[np.float64]

AUDIO_TOP_HZ = 15_000.0
STEREO_HZ = 38_000.0
CHANNEL_HZ = 200_000.0  # noise bandwidth before the discriminator
LOW_ZONES_HZ = (
    (16_300.0, 18_400.0),
    (19_600.0, 21_700.0),
)  # a filtered programme ends at 16.05 kHz; the window reaches 0.43 kHz
HIGH_ZONES_HZ = ((59_800.0, 62_500.0),)
_FRAMES_PER_SECOND = 107.0  # spacing of bins in hertz, too
_EVERY = 4  # one frame in so many is transformed: noise and loudness need no more
_MODEL_SD_DB = 0.3  # how well the law of the noise holds, from forged stations
_SIGMAS = 5.0  # a programme stands over its noise's uncertainty by this much, or is none
_WINDOW_BINS = 2.0044  # equivalent noise bandwidth of the four-term Blackman-Harris window, 92 dB down beside a pilot


def noise_integrals(deemphasis_s: float) -> tuple[float, float]:
    """Integrals to 15 kHz of the de-emphasis' power response, by itself [Hz] and times f^2 [Hz^3]; 0 s is no de-emphasis.

    With f1 = 1 / (2 pi tau): f1 atan(B / f1) and f1^2 (B - f1 atan(B / f1)).
    """
    top = AUDIO_TOP_HZ
    if deemphasis_s <= 0:
        return top, top**3 / 3
    corner = 1.0 / (2 * math.pi * deemphasis_s)
    flat = corner * math.atan(top / corner)
    return flat, corner**2 * (top - flat)


def noise_powers(k: float, k_stereo: float, clicks: float, deemphasis_s: float) -> tuple[float, float]:
    """Noise of M and of S. [Hz^2]

    k, k_stereo: noise density over f^2, near the audio band and near 38 kHz [1/Hz]. clicks: white density [Hz^2/Hz].
    S is moved down from 38 kHz with both sides: its density is that at 38 kHz - f and at 38 kHz + f together.
    """
    flat, square = noise_integrals(deemphasis_s)
    mono = k * square + clicks * flat
    return mono, 2 * (k_stereo * (STEREO_HZ**2 * flat + square) + clicks * flat)


def click_density(k: float, mean_deviation_hz: float) -> float:
    """Density of the clicks: each is one turn, so a rate of N gives a white density of 2 N. [Hz^2/Hz]

    k: noise density over carrier power before the discriminator [1/Hz]. mean_deviation_hz: mean of abs(deviation).
    """
    if k <= 0:
        return 0.0
    ratio = 1.0 / (k * CHANNEL_HZ)
    resting = CHANNEL_HZ / (2 * math.sqrt(3)) * math.erfc(math.sqrt(ratio))
    return 2 * (resting + mean_deviation_hz * math.exp(-ratio))


def snr_for(audio_snr_db: float, programme: float, mean_deviation_hz: float, deemphasis_s: float) -> float:
    """The level over noise in 200 kHz at which a mono listener gets `audio_snr_db` from a programme. [dB]

    programme: mono, de-emphasised [Hz^2]. NaN for none. With the noise of the channel added to it this is a level.
    """
    if not programme > 0:
        return float("nan")
    low, high = -5.0, 80.0
    while high - low > 0.01:
        middle = (low + high) / 2
        k = 1.0 / (float(from_db(middle)) * CHANNEL_HZ)
        noise, _ = noise_powers(k, k, click_density(k, mean_deviation_hz), deemphasis_s)
        low, high = (middle, high) if programme / noise < from_db(audio_snr_db) else (low, middle)
    return (low + high) / 2


def am_audio_snr_db(sideband_db: float, snr_db: float) -> float:
    """Audio signal-to-noise of an AM station: in-phase sidebands over the in-phase half of the noise. [dB]

    sideband_db: mean square of the in-phase modulation over the carrier [dB]. snr_db: carrier over noise in the channel of
    twice the audio's width [dB]. Source: textbook, m^2 CNR for a tone of depth m, whose sidebands are m^2 / 2.
    """
    return sideband_db + snr_db + db(2.0)


@dataclass(frozen=True)
class Audio:
    """How one FM channel sounds, by the definitions at the top of this file.

    programme_mono_hz, programme_stereo_hz: rms deviations, de-emphasised; 0 where nothing stands over the noise. [Hz]
    noise_mono_hz, noise_stereo_hz: rms noise in M, and in M and S together. [Hz]
    mono_snr_db, stereo_snr_db: programme over noise, NaN without a programme; stereo is meant only where there is a pilot. [dB]
    snr_sd_db: standard uncertainty of both. [dB]
    snr_30db: level over noise in 200 kHz at which this receiver would give 30 dB in mono from this programme. [dB]
    noise_over_carrier: noise density over carrier power before the discriminator, k above. [1/Hz]
    clicks: their white density. [Hz^2/Hz]
    """

    programme_mono_hz: float
    programme_stereo_hz: float
    noise_mono_hz: float
    noise_stereo_hz: float
    mono_snr_db: float
    stereo_snr_db: float
    snr_sd_db: float
    snr_30db: float
    noise_over_carrier: float
    clicks: float


class AudioSum:
    """Averaged spectra of the multiplex of several channels; what is kept does not grow with the recording."""

    def __init__(self, channels: int, rate_hz: float, deemphasis_s: float) -> None:
        self.deemphasis_s = deemphasis_s
        self.frame = 16 * int(scipy.fft.prev_fast_len(max(round(rate_hz / _FRAMES_PER_SECOND / 16), 1), real=True))
        self.bin_hz = rate_hz / self.frame
        self.frames = 0
        turn = 2 * np.pi * np.arange(self.frame) / self.frame
        # source: F. J. Harris 1978, four-term minimum of sidelobes (also scipy.signal.windows.blackmanharris)
        window = 0.35875 - 0.48829 * np.cos(turn) + 0.14128 * np.cos(2 * turn) - 0.01168 * np.cos(3 * turn)
        self._window = window.astype(np.float32)
        self._shape = np.abs(scipy.fft.rfft(window)) / float(window.sum())  # of a line at zero
        self._frequency: RealArray = np.arange(self.frame // 2 + 1, dtype=np.float64) * self.bin_hz
        # one-sided density of the window's power; a discriminator that subtracts neighbouring phases droops by sinc
        droop = np.sinc(self._frequency / rate_hz) ** 2
        self._scale = 2.0 / (rate_hz * float(np.sum(window**2)) * droop)
        self._sum = np.zeros((channels, len(self._frequency)))
        heard = self._frequency[self._frequency <= AUDIO_TOP_HZ]
        self._response = self._deemphasis(heard).astype(np.float32)
        self._loudness = np.zeros((2, channels))  # sums over frames of the audio's power and of its square
        self._level = np.zeros(channels)
        self._next = _EVERY * self.frame  # samples until the next frame; a recording's first ones may hold a transient

    def add(self, frequency_hz: npt.NDArray[np.float32], whole: npt.NDArray[np.bool_] | None = None) -> None:
        """Adds instantaneous frequencies; shape (channels, samples). Frames that reach over the end are left out. [Hz]

        whole: which of as many equal parts of these samples are to be used.
        """
        samples = frequency_hz.shape[1]
        part = samples if whole is None else samples // len(whole)
        while self._next + self.frame <= samples:
            if whole is not None and not whole[self._next // part : -(-(self._next + self.frame) // part)].all():
                self._next += self.frame
                continue
            spectrum = scipy.fft.rfft(frequency_hz[:, self._next : self._next + self.frame] * self._window, axis=1)
            power = np.square(spectrum.real) + np.square(spectrum.imag)
            self._sum += power
            loudness = power[:, : len(self._response)] @ self._response
            loudness = loudness.astype(np.float64)
            self._loudness += np.stack([loudness, loudness**2])
            self._level += spectrum[:, 0].real
            self.frames += 1
            self._next += _EVERY * self.frame
        self._next = max(self._next - samples, 0)

    def result(self, channel: int) -> Audio:
        """The figures of one channel; all NaN where less than a frame was added."""
        if not self.frames:
            return Audio(*[float("nan")] * 10)
        # the carrier's own offset is no programme, though the window spreads it over the lowest notes
        offset = self._level[channel] / self.frames * self._shape
        density = np.maximum(self._sum[channel] / self.frames - offset**2, 0.0) * self._scale
        frequency = self._frequency
        low, high = _zone(frequency, LOW_ZONES_HZ), _zone(frequency, HIGH_ZONES_HZ)
        square = float(np.mean(frequency[low] ** 2))
        found = float(density[low].mean())
        within = frequency <= 60_000.0
        modulation = float(np.sum(density[within] - found / square * frequency[within] ** 2)) * self.bin_hz
        mean_deviation = math.sqrt(2 / math.pi * max(modulation, 0.0))  # of a Gaussian of that variance
        k = _without_clicks(found, square, mean_deviation)
        clicks = max(found - k * square, 0.0)
        k_high = max(float(density[high].mean()) - clicks, 0.0) / float(np.mean(frequency[high] ** 2))
        k_stereo = math.sqrt(k * k_high)
        noise_mono, noise_side = noise_powers(k, k_stereo, clicks, self.deemphasis_s)
        # windowed frames a whole step apart are independent; neighbouring bins share what the window spreads
        values = self.frames * np.count_nonzero(low) / _WINDOW_BINS
        mono = self._programme(density - k * frequency**2 - clicks, frequency, 1.0)
        if mono < _SIGMAS * noise_mono / math.sqrt(values):
            mono = 0.0
        side = self._programme(density - k_stereo * frequency**2 - clicks, np.asarray(np.abs(frequency - STEREO_HZ)), 2.0)
        loudness, square_loudness = self._loudness[:, channel] / self.frames
        unsteadiness = math.sqrt(max(square_loudness / max(loudness**2, 1e-300) - 1.0, 0.0) / self.frames)
        return Audio(
            programme_mono_hz=math.sqrt(mono),
            programme_stereo_hz=math.sqrt(mono + side),
            noise_mono_hz=math.sqrt(noise_mono),
            noise_stereo_hz=math.sqrt(noise_mono + noise_side),
            mono_snr_db=_ratio_db(mono, noise_mono),
            stereo_snr_db=_ratio_db(mono + side, noise_mono + noise_side),
            snr_sd_db=math.hypot(4.343 / math.sqrt(values), 4.343 * unsteadiness, _MODEL_SD_DB),
            snr_30db=snr_for(30.0, mono, mean_deviation, self.deemphasis_s),
            noise_over_carrier=k,
            clicks=clicks,
        )

    def _programme(self, density: RealArray, audio_hz: RealArray, sides: float) -> float:
        """Power of a programme whose audio frequency in each bin is `audio_hz`. [Hz^2]

        sides: 2 for a subcarrier's, whose sidebands add in amplitude where noise adds in power.
        """
        heard = audio_hz <= AUDIO_TOP_HZ
        return max(sides * float(np.sum(density[heard] * self._deemphasis(audio_hz[heard]))) * self.bin_hz, 0.0)

    def _deemphasis(self, audio_hz: RealArray) -> RealArray:
        """Power response."""
        return np.asarray(1.0 / (1.0 + (2 * math.pi * self.deemphasis_s * audio_hz) ** 2))


def _zone(frequency_hz: RealArray, zones_hz: tuple[tuple[float, float], ...]) -> npt.NDArray[np.bool_]:
    inside = np.zeros(len(frequency_hz), bool)
    for low, high in zones_hz:
        inside |= (frequency_hz >= low) & (frequency_hz <= high)
    return inside


def _without_clicks(density: float, square: float, mean_deviation_hz: float) -> float:
    """The k for which k f^2 and the clicks that go with it make up `density`; `square` is the mean of f^2."""
    low, high = 0.0, density / square
    for _ in range(40):
        middle = (low + high) / 2
        over = middle * square + click_density(middle, mean_deviation_hz) > density
        low, high = (low, middle) if over else (middle, high)
    return high


def _ratio_db(programme: float, noise: float) -> float:
    return db(programme / noise) if programme > 0 and noise > 0 else float("nan")
