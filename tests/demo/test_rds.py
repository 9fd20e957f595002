"""The data service against a decoder that shares nothing with the encoder: Annex B's parity matrix, and komm's polynomials."""

from __future__ import annotations

import komm
import numpy as np
import pytest
import scipy.signal

from bandscan.demo import FmStation, Receiver, forge
from bandscan.demo.rds import check_word, group_0a

# EN 50067 Annex B, first transmitted bit first, as data receivers have it
PARITY_ROWS = [
    512,
    256,
    128,
    64,
    32,
    16,
    8,
    4,
    2,
    1,
    732,
    366,
    183,
    647,
    927,
    787,
    853,
    886,
    443,
    513,
    988,
    494,
    247,
    679,
    911,
    795,
]
# Annex B: what those rows give for the offset words
SYNDROMES = {0x3D8: "A", 0x3D4: "B", 0x25C: "C", 0x258: "D"}


def syndrome(bits: np.ndarray) -> int:
    return int(np.bitwise_xor.reduce(np.array(PARITY_ROWS)[bits.astype(bool)], initial=0))


def demodulate(samples: np.ndarray, rate_hz: float) -> np.ndarray:
    """Bits of the data service by brute force: every half-bit phase is tried, the one with the widest eye is taken."""
    wide = samples.astype(np.complex128)
    swing = np.angle(wide[1:] * wide[:-1].conj())
    t = np.arange(len(swing)) / rate_hz
    near = np.exp(-2j * np.pi * 19_000 * t)
    pilot = scipy.signal.decimate(swing * near, 40, ftype="fir")[100:-100]
    data = scipy.signal.decimate(swing * near**3, 40, ftype="fir")[100:-100]
    base = data * (pilot.conj() / np.abs(pilot)) ** 3
    base = (base * np.exp(-0.5j * np.angle(np.sum(base**2)))).real  # onto one axis, whichever the station uses
    bit = rate_hz / 40 / 1187.5
    best: tuple[float, np.ndarray] = (-1.0, np.zeros(0))
    for start in np.arange(0, bit, bit / 32):
        at = np.arange(start, len(base) - bit, bit)
        cells = np.interp(at + bit / 4, np.arange(len(base)), base) - np.interp(at + 3 * bit / 4, np.arange(len(base)), base)
        eye = float(np.quantile(np.abs(cells), 0.05))
        if eye > best[0]:
            best = (eye, cells > 0)
    return (best[1][1:] != best[1][:-1]).astype(int)


def test_check_words_agree_with_komm():
    """komm's polynomial remainder of data * x^10 by g(x) gives the same check word for 2000 random words and the ends."""
    generator = komm.BinaryPolynomial(0b10110111001)
    for word in [1, 0xFFFF, *map(int, np.random.default_rng(1).integers(1, 0x10000, 2000))]:
        remainder = komm.BinaryPolynomial(word << 10) % generator
        assert check_word(word) == int(remainder)


def test_blocks_carry_the_published_offset_words():
    """0x54A8 with offset A is the block 0x152A3CA (own long division); the four blocks have the syndromes of A to D."""
    assert group_0a(0x54A8, "", 0, False)[0] == 0x152A3CA
    words = group_0a(0xD123, "MEADOW", 3, True)
    bits = [np.array([word >> shift & 1 for shift in range(25, -1, -1)]) for word in words]
    assert [SYNDROMES[syndrome(block)] for block in bits] == ["A", "B", "C", "D"]


@pytest.mark.parametrize(("seed", "pilot_error_hz"), [(1, 0.0), (2, -1.9), (3, 1.9)])  # both phases, several first bits
def test_identity_and_name_come_out_of_the_air(seed, pilot_error_hz):
    """From a loud station a stranger's decoder reads its PI in every group and its whole name."""
    sent = FmStation(98_100_000, -10.0, "music", pi=0xD9A5, ps="VELMARRO", rds_dev_hz=2000.0, pilot_error_hz=pilot_error_hz)
    made = forge([sent], Receiver(noise_dbfs_hz=-140.0), 98.1e6, 240_000.0, 1.5, seed)
    bits = demodulate(made.samples, 240_000.0)
    found = [(i, SYNDROMES[s]) for i in range(len(bits) - 25) if (s := syndrome(bits[i : i + 26])) in SYNDROMES]
    starts = {i for i, letter in found if letter == "A" and (i + 26, "B") in found and (i + 78, "D") in found}
    assert len(starts) >= 15  # of 1.5 s x 11.4 groups: the clock holds to the end
    name = ["?"] * 8
    for i in starts:
        words = [int("".join(map(str, bits[i + k * 26 : i + k * 26 + 16])), 2) for k in range(4)]
        assert words[0] == 0xD9A5
        assert words[1] >> 11 == 0  # group 0, version A
        name[2 * (words[1] & 3) : 2 * (words[1] & 3) + 2] = [chr(words[3] >> 8), chr(words[3] & 0xFF)]
    assert "".join(name) == "VELMARRO"
