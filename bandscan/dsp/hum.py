"""Whether a demodulated FM channel holds nothing but the mains' hum or a slow wander: a supply's or an oscillator's line."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import scipy.fft

MAINS_HZ = (50.0, 60.0)
SLOW_HZ = 130.0  # the mains, what rectifies both halves of it, and wander; no programme ends here
HEARD_HZ = 1700.0
MAINS_DRIFT = 0.004  # of a grid's frequency (from memory)
WIDTH_BINS = 4.0  # a Hann line's reach, its first side lobes included
LEAST_S = 0.2  # a shorter time parts no lines of 50 Hz
OVER_REST = 10.0  # hum over all that is heard beside it, noise included: a voice has a tenth of its power below 130 Hz
RIPPLE = 0.3  # of the slow part may stand in the mains' further lines: a sawtooth's have 0.28 above 130 Hz (Fourier series)
PROGRAMME_HZ = 20.0  # rms from which something is sent: a pause of low-deviation talk has as much noise of the studio
NOISE_DOUBT = 0.5  # of the noise near the threshold
SKIRTS = 3e-4  # of the hum beside its lines: a wander's, and what the channel's filter makes of wide swings


def only_hum(audio_hz: npt.NDArray[np.float32], rate_hz: float, noise_over_carrier: float, clicks: float) -> bool:
    """Whether all that stands over the noise in a channel's frequency lies below 130 Hz or on lines of the mains.

    audio_hz: that frequency, low-passed near 2 kHz [Hz], at rate_hz. noise_over_carrier [1/Hz] and clicks [Hz^2/Hz]: of the
    discriminator's noise (dsp.audio).
    """
    samples = len(audio_hz)
    if samples < LEAST_S * rate_hz or not np.isfinite(noise_over_carrier + clicks):
        return False
    window = np.hanning(samples).astype(np.float64)
    spectrum = scipy.fft.rfft((audio_hz - audio_hz.mean()) * window)
    power: npt.NDArray[np.float64] = 2.0 * np.square(np.abs(spectrum), dtype=np.float64) / (samples * float(np.sum(window**2)))
    bin_hz = rate_hz / samples
    frequency = np.arange(len(power), dtype=np.float64) * bin_hz
    slow = frequency <= max(SLOW_HZ, 2 * MAINS_HZ[-1] * (1.0 + MAINS_DRIFT) + WIDTH_BINS * bin_hz)
    heard = ~slow & (frequency <= HEARD_HZ)
    return any(_hum(power, frequency, bin_hz, slow, heard, mains, noise_over_carrier, clicks) for mains in MAINS_HZ)


def _hum(
    power: npt.NDArray[np.float64],
    frequency: npt.NDArray[np.float64],
    bin_hz: float,
    slow: npt.NDArray[np.bool_],
    heard: npt.NDArray[np.bool_],
    mains_hz: float,
    noise_over_carrier: float,
    clicks: float,
) -> bool:
    away = np.abs(frequency - np.rint(frequency / mains_hz) * mains_hz)
    lines = (
        heard
        & (away <= WIDTH_BINS * bin_hz + MAINS_DRIFT * frequency)
        & (WIDTH_BINS * bin_hz + MAINS_DRIFT * frequency < mains_hz / 4)
    )
    rest = heard & ~lines
    hum, ripple, other = (float(power[part].sum()) for part in (slow, lines, rest))
    noise = float(np.sum(noise_over_carrier * frequency[rest] ** 2 + clicks)) * bin_hz
    sent = other - (1.0 + NOISE_DOUBT) * noise
    return hum >= OVER_REST * other and ripple <= RIPPLE * hum + other and sent <= PROGRAMME_HZ**2 + SKIRTS * hum
