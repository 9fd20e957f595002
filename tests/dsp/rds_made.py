"""Data services made for tests: groups, bits, the subcarrier in noise, and a plain FM receiver. Shares nothing with dsp."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from bandscan.demo import FmStation, Receiver, forge
from bandscan.demo.rds import check_word, waveform

Wave = npt.NDArray[np.float64]

RATE_HZ = 240_000.0
OFFSETS = (0x0FC, 0x198, 0x168, 0x1B4)
NOISE_DBFS_HZ = -106.0


def block(data: int, place: int) -> int:
    """A block of 26 bits; place 0 to 3 is A to D."""
    return data << 10 | (check_word(data) ^ OFFSETS[place])


def group(*data: int) -> list[int]:
    """A group of four blocks."""
    return [block(word, place) for place, word in enumerate(data)]


def group_0a(pi: int, ps: str, segment: int) -> list[int]:
    """A group that brings two characters of the name."""
    name = ps.ljust(8).encode("ascii")
    return group(pi, 0x0008 | segment, 0xE0CD, name[2 * segment] << 8 | name[2 * segment + 1])


def groups(pi: int, ps: str, count: int, seed: int = 0) -> list[int]:
    """Blocks of groups of which two in five are of type 0A; the others are of type 2A with text drawn at random."""
    rng = np.random.default_rng(seed)
    blocks: list[int] = []
    segment = int(rng.integers(4))
    for number in range(count):
        if number % 5 in (0, 2):
            blocks += group_0a(pi, ps, segment % 4)
            segment += 1
        else:
            blocks += group(pi, 0x2020 | number % 16, *(int(word) for word in rng.integers(0, 65536, 2)))
    return blocks


def bits_of(blocks: Sequence[int]) -> npt.NDArray[np.uint8]:
    """Bits of blocks, first transmitted bit first."""
    return np.array([one >> shift & 1 for one in blocks for shift in range(25, -1, -1)], np.uint8)


def symbols_of(blocks: Sequence[int]) -> Wave:
    """Coded symbols, +1 and -1, with the one before the first bit."""
    return 1.0 - 2.0 * np.concatenate([[0], np.cumsum(bits_of(blocks)) % 2])


def subcarrier(bits: npt.NDArray[np.uint8], seconds: float, error_hz: float = 0.0, start: float = 0.3) -> Wave:
    """Deviation of the data subcarrier alone, peak 2 kHz; `error_hz` is its own and, in proportion, the bits'. [Hz]"""
    cycles = (57_000.0 + error_hz) * np.arange(round(seconds * RATE_HZ)) / RATE_HZ + start
    position = cycles / 48
    sent = np.resize(bits, int(position[-1]) + 2)
    return np.asarray(2000.0 * waveform(sent, position) * np.cos(2 * np.pi * cycles))


def noise_for(wave: Wave, bit_energy_db: float, rng: np.random.Generator) -> Wave:
    """White noise over which a bit of `wave` has that energy over noise density (one-sided). [Hz]"""
    density = float(np.mean(wave**2)) / 1187.5 / 10 ** (bit_energy_db / 10)
    return rng.standard_normal(len(wave)) * math.sqrt(density * RATE_HZ / 2)


def forged(station: FmStation, seconds: float, seed: int, rate_hz: float = RATE_HZ, noise: float = NOISE_DBFS_HZ) -> Wave:
    """A station's samples at `rate_hz`, complex, tuned to its channel by a receiver 20 ppm off."""
    return np.asarray(
        forge([station], Receiver(noise_dbfs_hz=noise, ppm=20.0), station.channel_hz, rate_hz, seconds, seed).samples
    )


def at_snr(snr_db: float, **what: object) -> FmStation:
    """A station whose power is `snr_db` over the noise of `forged` in 200 kHz."""
    return FmStation(98_100_000, NOISE_DBFS_HZ + 10 * math.log10(200e3) + snr_db, **what)  # type: ignore[arg-type]


def demodulated(samples: npt.NDArray[np.complexfloating], rate_hz: float = RATE_HZ) -> npt.NDArray[np.float32]:
    """Instantaneous frequency of what a filter with steep edges at +-100 kHz lets through; shape (samples - 1,). [Hz]"""
    bins = np.fft.fft(samples)
    bins[np.abs(np.fft.fftfreq(len(samples), 1 / rate_hz)) > 100e3] = 0
    wave = np.fft.ifft(bins)
    return np.asarray(np.angle(wave[1:] * wave[:-1].conj()) * rate_hz / (2 * np.pi), np.float32)
