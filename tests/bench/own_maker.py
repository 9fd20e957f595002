"""A second maker of bands with known truth, in the time domain, sharing no code and no statistics with the demo's forger.

Programmes are shaped noise driven hard into clippers; frequency modulation is a running sum of the multiplex (by
trapezoids: 57 kHz is 0.2 % low at 2.4 MS/s and 19 kHz 0.02 %); the receiver's tilt is a filter over the whole recording.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import scipy.fft
import scipy.integrate
import scipy.signal

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complexfloating]


@dataclass(frozen=True)
class Fm:
    """An FM station. `level_dbfs` is its power without digital sidebands, `digital_db` each of those relative to it."""

    channel_hz: int
    level_dbfs: float
    programme: str = "song"  # voice, song, hot, tone
    pilot_hz: float = 6_750.0  # 0: mono
    peak_hz: float = 75_000.0
    tau_s: float = 75e-6
    carrier_hz: float = 0.0
    data: bool = False
    subcarrier: bool = False  # 67 kHz, 7.5 kHz of injection
    digital_db: float | None = None


@dataclass(frozen=True)
class Am:
    """An AM station; `second` is another carrier on its channel: (Hz away, dB relative)."""

    channel_hz: int
    level_dbfs: float
    carrier_hz: float = 0.0
    depth: float = 0.9
    stereo: bool = False
    second: tuple[float, float] | None = None


@dataclass(frozen=True)
class Front:
    """The receiver. The slope is over the whole rate, the droop at both edges; the image is the mirror's level. [dB]"""

    noise_dbfs_hz: float = -106.0
    slope_db: float = 0.0
    droop_db: float = 0.0
    image_db: float | None = None
    dc_dbfs: float | None = None
    cubic: float = 0.0  # y = x - a x |x|^2 before the noise
    lines: tuple[tuple[float, float], ...] = ()  # unmodulated (Hz, dBFS)

    def response_db(self, of_rate: Real) -> Real:
        """Gain at a share of the rate from the centre."""
        return np.asarray(self.slope_db * of_rate - self.droop_db * (2 * np.abs(of_rate)) ** 10)


@dataclass
class Recording:
    """Samples before quantising, and by channel what was put in: level as recorded, peak deviation, depth."""

    samples: Complex
    level_dbfs: dict[int, float] = field(default_factory=dict)
    peak_hz: dict[int, float] = field(default_factory=dict)
    depth: dict[int, float] = field(default_factory=dict)


def make(stations: list[Fm] | list[Am], front: Front, centre_hz: float, rate_hz: float, seconds: float, seed: int) -> Recording:
    """A recording of the stations."""
    dice = np.random.default_rng([seed, 77])
    count = round(rate_hz * seconds)
    total = np.zeros(count, np.complex128)
    found = Recording(total)
    for number, station in enumerate(stations):
        own = np.random.default_rng([seed, number, station.channel_hz])
        wave, figure = _fm(station, rate_hz, count, own) if isinstance(station, Fm) else _am(station, rate_hz, count, own)
        offset_hz = station.channel_hz + station.carrier_hz - centre_hz
        amplitude = 10 ** (station.level_dbfs / 20)
        total += amplitude * wave * _turn(offset_hz / rate_hz, count, float(own.random()))
        gain_db = float(front.response_db(np.array(offset_hz / rate_hz)))
        found.level_dbfs[station.channel_hz] = station.level_dbfs + gain_db
        (found.peak_hz if isinstance(station, Fm) else found.depth)[station.channel_hz] = figure
    for at_hz, level_dbfs in front.lines:
        total += 10 ** (level_dbfs / 20) * _turn((at_hz - centre_hz) / rate_hz, count, float(dice.random()))
    found.samples = _received(total, front, rate_hz, dice)
    return found


def _received(total: Complex, front: Front, rate_hz: float, dice: np.random.Generator) -> Complex:
    count = len(total)
    if front.cubic:
        wide = scipy.signal.resample_poly(total, 2, 1)
        total = scipy.signal.resample_poly(wide - front.cubic * wide * np.abs(wide) ** 2, 1, 2)
    sigma = np.sqrt(10 ** (front.noise_dbfs_hz / 10) * rate_hz / 2)
    total = total + sigma * (dice.standard_normal(count) + 1j * dice.standard_normal(count))
    if front.slope_db or front.droop_db:
        of_rate = scipy.fft.fftfreq(count)
        total = scipy.fft.ifft(scipy.fft.fft(total) * 10 ** (front.response_db(of_rate) / 20))
    if front.image_db is not None:
        total = total + 10 ** (front.image_db / 20) * np.exp(0.7j) * np.conj(total)
    if front.dc_dbfs is not None:
        total = total + 10 ** (front.dc_dbfs / 20) * np.exp(2.1j)
    return np.asarray(total)


def _turn(per_sample: float, count: int, start: float) -> Complex:
    return np.exp(2j * np.pi * np.mod(start + per_sample * np.arange(count), 1.0))


def _shaped(points: int, rate_hz: float, low_hz: float, top_hz: float, tilt: float, dice: np.random.Generator) -> Real:
    """Noise between two frequencies whose amplitude falls by f^-tilt, standard deviation 1."""
    frequency = scipy.fft.rfftfreq(points, 1 / rate_hz)
    inside = (frequency >= low_hz) & (frequency <= top_hz)
    spectrum = scipy.fft.rfft(dice.standard_normal(points)) * inside / np.maximum(frequency, low_hz) ** tilt
    wave = scipy.fft.irfft(spectrum, n=points)
    return np.asarray(wave / wave.std())


def _sound(kind: str, points: int, rate_hz: float, dice: np.random.Generator) -> tuple[Real, Real]:
    """Left and right before processing."""
    at_s = np.arange(points) / rate_hz
    if kind == "tone":
        wave = np.sin(2 * np.pi * (float(dice.choice([400.0, 1000.0])) * at_s + dice.random()))
        return wave, wave
    if kind == "voice":
        gate = np.clip(_shaped(points, rate_hz, 1.0, 6.0, 0.0, dice) + 0.4, 0.0, 2.0)
        middle = _shaped(points, rate_hz, 110.0, 7e3, 0.8, dice) * gate
        return middle + 0.05 * _shaped(points, rate_hz, 110.0, 7e3, 0.8, dice), middle
    beat = 1.0 + 0.5 * np.sin(2 * np.pi * (2.1 * at_s + dice.random()))
    parts = [_shaped(points, rate_hz, 45.0, 15e3, 0.5, dice) * beat for _ in range(3)]
    wide = 0.7 if kind == "song" else 0.35
    return parts[0] + wide * parts[1], parts[0] + wide * parts[2]


def _loud(sound: Real, rate_hz: float, tau_s: float, drive: float, top_hz: float) -> Real:
    """Pre-emphasised, gained up, clipped and band-limited twice, peak about 1."""
    frequency = scipy.fft.rfftfreq(len(sound), 1 / rate_hz)
    lifted = scipy.fft.irfft(scipy.fft.rfft(sound) * (1 + 2j * np.pi * frequency * tau_s), n=len(sound))
    lifted *= drive / max(float(lifted.std()), 1e-12)
    taps = scipy.signal.firwin(301, top_hz, fs=rate_hz)
    for _ in range(2):
        lifted = scipy.signal.oaconvolve(np.clip(lifted, -1.0, 1.0), taps, mode="same")
    return np.asarray(lifted)


def _fm(station: Fm, rate_hz: float, count: int, dice: np.random.Generator) -> tuple[Complex, float]:
    """Wave of power 1 and the peak deviation by the contract's definition."""
    up = max(1, round(rate_hz / 256e3))
    low_hz, points = rate_hz / up, -(-count // up) + 40
    at = np.arange(points) / low_hz
    left, right = _sound(station.programme, points, low_hz, dice)
    drive = {"voice": 0.5, "song": 0.45, "hot": 1.2, "tone": 1.0}[station.programme]
    if station.programme != "tone":
        left, right = (_loud(side, low_hz, station.tau_s, drive, 15e3) for side in (left, right))
    if not station.pilot_hz:
        left = right = (left + right) / 2
    cycle = np.mod(19e3 * at + dice.random(), 1.0)
    audio = (left + right) / 2 + (left - right) / 2 * np.sin(4 * np.pi * cycle)
    extra = station.pilot_hz * np.sin(2 * np.pi * cycle)
    if station.data:
        # biphase symbols at 1187.5 per second, smoothed by a raised cosine's length
        bits = dice.choice([-1.0, 1.0], points)[np.floor(at * 2375.0 / 2).astype(int)]
        half = np.where(np.mod(at * 1187.5, 1.0) < 0.5, 1.0, -1.0)
        extra = extra + 2.2e3 * scipy.signal.oaconvolve(
            bits * half, scipy.signal.firwin(401, 2.4e3, fs=low_hz), "same"
        ) * np.sin(6 * np.pi * cycle)
    if station.subcarrier:
        talk = np.clip(_shaped(points, low_hz, 100.0, 5e3, 0.7, dice) / 2, -1, 1)
        extra = extra + 7.5e3 * np.sin(2 * np.pi * np.mod(67e3 * at + np.cumsum(6e3 * talk) / low_hz, 1.0))
    room_hz = station.peak_hz - float(np.abs(extra).max())
    multiplex = room_hz * audio / float(np.quantile(np.abs(audio), 0.9995)) + extra
    full = scipy.signal.resample_poly(multiplex, up, 1)[10 * up : 10 * up + count]
    seen = scipy.signal.oaconvolve(multiplex, scipy.signal.firwin(801, 62e3, fs=low_hz), "same")[10 : 10 + count // up]
    peak_hz = float(np.quantile(np.abs(seen - np.median(seen)), 0.999))
    # by Simpson's rule: a mean of two samples would take 2.7 % from a pilot at 256 kS/s
    turns = scipy.integrate.cumulative_simpson(full, dx=1 / rate_hz, initial=0.0)
    wave = np.exp(2j * np.pi * np.mod(turns, 1.0))
    if station.digital_db is not None:
        frequency = scipy.fft.fftfreq(count, 1 / rate_hz)
        spectrum = np.zeros(count, complex)
        for side in (-1, 1):
            inside = np.flatnonzero((side * frequency >= 129e3) & (side * frequency < 198e3))
            white = dice.standard_normal((2, len(inside)))
            block = white[0] + 1j * white[1]
            spectrum[inside] = block * count * np.sqrt(10 ** (station.digital_db / 10) / np.sum(np.abs(block) ** 2))
        wave = wave + scipy.fft.ifft(spectrum)
    return wave, peak_hz


def _am(station: Am, rate_hz: float, count: int, dice: np.random.Generator) -> tuple[Complex, float]:
    """Wave whose carrier is 1 and the depth by the contract's definition. The rate must be a multiple of 48 kS/s."""
    up = round(rate_hz / 48e3)
    points = -(-count // up) + 40
    at = np.arange(points) / 48e3
    loud = _loud(_shaped(points, 48e3, 60.0, 7e3, 0.6, dice), 48e3, 75e-6, 0.6, 9.5e3)
    audio = np.clip(station.depth * loud / float(np.quantile(np.abs(loud), 0.999)), -0.98, 1.25)
    audio -= audio.mean()
    wave = 1.0 + audio + 0j
    if station.stereo:
        side = 0.15 * _shaped(points, 48e3, 100.0, 5e3, 0.6, dice) / 3
        wave = wave + 1j * (side + 0.05 * np.sin(2 * np.pi * (25.0 * at + dice.random())))
        wave *= (1.0 + audio) / np.abs(wave)
    kept = slice(10, 10 + count // up)
    wave /= wave[kept].mean()
    depth = float(np.quantile(np.abs(wave[kept].real - 1.0), 0.995))
    if station.second is not None:
        away_hz, second_db = station.second
        wave = wave + 10 ** (second_db / 20) * np.exp(2j * np.pi * (away_hz * at + dice.random()))
    return np.asarray(scipy.signal.resample_poly(wave, up, 1)[10 * up : 10 * up + count]), depth
