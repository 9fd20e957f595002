"""The data subcarrier's bits and their waveform: group 0A with a programme service name.

Source: EN 50067 (IEC 62106): generator polynomial x^10+x^8+x^7+x^5+x^4+x^3+1, offset words A 0FC, B 198, C 168, D 1B4,
differential coding, biphase symbols shaped by cos(pi f td / 4) below 2 / td, bit rate a 16th of the pilot.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from bandscan.demo.span import FloatArray

BITS_PER_PILOT_CYCLE = 1.0 / 16.0
_GENERATOR = 0b101_1011_1001
_OFFSETS = (0x0FC, 0x198, 0x168, 0x1B4)
_NO_ALTERNATIVES = 0xE0CD  # "no alternative frequency" and a filler
_GROUP_0A_MUSIC = 0x0008
_REACH = 4  # bits on either side that a symbol's waveform reaches
_STEPS = 256


def check_word(data: int) -> int:
    """The 10 check bits of 16 data bits, before the offset word: the remainder of data * x^10."""
    remainder = data << 10
    for shift in range(15, -1, -1):
        if remainder & (1 << (shift + 10)):
            remainder ^= _GENERATOR << shift
    return remainder


def group_0a(pi: int, ps: str, segment: int, stereo: bool) -> list[int]:
    """The four 26-bit blocks of the group that carries characters 2 * segment and 2 * segment + 1 of the name."""
    name = ps.ljust(8)[:8].encode("ascii")
    decoder_bit = 0x0004 if segment == 3 and stereo else 0
    pair = name[2 * segment] << 8 | name[2 * segment + 1]
    words = (pi, _GROUP_0A_MUSIC | decoder_bit | segment, _NO_ALTERNATIVES, pair)
    return [word << 10 | (check_word(word) ^ offset) for word, offset in zip(words, _OFFSETS, strict=True)]


def bits(pi: int, ps: str, stereo: bool, count: int, first: int = 0) -> npt.NDArray[np.uint8]:
    """`count` bits of the endless sequence of groups 0A, from bit `first` on, as sent before differential coding."""
    blocks = [block for segment in range(4) for block in group_0a(pi, ps, segment, stereo)]
    period = np.array([block >> shift & 1 for block in blocks for shift in range(25, -1, -1)], dtype=np.uint8)
    return period[(first + np.arange(count)) % len(period)]


def waveform(sent: npt.NDArray[np.uint8], position: FloatArray) -> FloatArray:
    """The biphase waveform of differentially coded `sent`, peak 1, at `position` in bits (ascending, within them)."""
    coded = 2.0 * (np.cumsum(sent) % 2) - 1.0
    padded = np.concatenate([np.zeros(_REACH), coded, np.zeros(_REACH)])
    which = np.floor(position).astype(np.int64)
    within = position - which
    steps = np.arange(-_REACH * _STEPS, (_REACH + 1) * _STEPS + 1) / _STEPS
    table = _symbol(steps)
    wave = np.zeros(len(position))
    for away in range(-_REACH, _REACH + 1):
        # the symbol of bit which + away, seen from its own beginning
        wave += padded[which + away + _REACH] * np.interp(within - away, steps, table)
    return np.asarray(wave / np.abs(wave).max())


def _symbol(t: FloatArray) -> FloatArray:
    """One symbol: an impulse at its beginning and an opposite one half a bit later, both shaped; `t` in bits."""

    def shaped(u: FloatArray) -> FloatArray:
        return np.asarray(np.sinc(4.0 * u + 0.5) + np.sinc(4.0 * u - 0.5))

    return shaped(t - 0.25) - shaped(t - 0.75)
