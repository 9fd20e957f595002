"""The data service's blocks and codes against published values and komm. Call letters are those that the sources print."""

from __future__ import annotations

import itertools
import string

import komm
import numpy as np
import pytest

from bandscan.dsp.rds_blocks import GENERATOR, OFFSETS, mended, places_of, remainder, words_of
from bandscan.dsp.rds_symbols import BIT_HZ, SUBCARRIER_HZ
from bandscan.plans.callsign import call_letters, claim

# EN 50067 annex B, first transmitted bit first: second-hand, and 0 for all 65,536 code words of the generator
PARITY_ROWS = np.array(
    [512, 256, 128, 64, 32, 16, 8, 4, 2, 1, 732, 366, 183, 647, 927, 787, 853, 886, 443, 513, 988, 494, 247, 679, 911, 795]
)  # fmt: skip
# annex B's syndromes of the offset words: A, B, C, D second-hand; C' from the matrix
SYNDROMES = {0x0FC: 0x3D8, 0x198: 0x3D4, 0x168: 0x25C, 0x350: 0x3CC, 0x1B4: 0x258}


def bits_of(word: int) -> np.ndarray:
    """26 bits, first transmitted first."""
    return word >> np.arange(25, -1, -1) & 1


def parity_syndrome(word: int) -> int:
    """Syndrome by annex B's matrix."""
    return int(np.bitwise_xor.reduce(PARITY_ROWS[bits_of(word).astype(bool)], initial=0))


# EN 50067 sections 1 and 2: 57 kHz, a 48th of it, 26 bits, 104 bits
def test_the_rates_are_the_standards() -> None:
    """1187.5 bit/s, a bit of 842.105 us, a group of 87.58 ms."""
    assert SUBCARRIER_HZ == 57_000
    assert BIT_HZ == 1187.5
    microseconds, milliseconds = 1e6 / BIT_HZ, 1e3 * 104 / BIT_HZ
    assert microseconds == pytest.approx(842.105, abs=0.001)
    assert milliseconds == pytest.approx(87.58, abs=0.005)


# EN 50067 annex B (generator) and annex A (offset words), second-hand from several open sources that agree
def test_generator_and_offset_words_are_the_standards() -> None:
    """x^10 + x^8 + x^7 + x^5 + x^4 + x^3 + 1; A 0FC, B 198, C 168, C' 350, D 1B4."""
    assert GENERATOR == 0x5B9
    assert [f"{word:03X}" for place in OFFSETS for word in place] == ["0FC", "198", "168", "350", "1B4"]


# computed twice outside bandscan: own division and komm
@pytest.mark.parametrize(
    ("data", "check"), [(0x0001, 0x1B9), (0x1234, 0x096), (0x54A8, 0x336), (0xC201, 0x291), (0xFFFF, 0x0CD)]
)
def test_check_words_are_komms(data: int, check: int) -> None:
    """The remainder that bandscan finds is komm's polynomial remainder, and none once the check word is there."""
    theirs = komm.BinaryPolynomial(data << 10) % komm.BinaryPolynomial(0b10110111001)
    assert remainder(data << 10) == int(theirs) == check
    assert remainder(data << 10 | check) == 0


def test_remainders_of_random_words_are_komms() -> None:
    """500 words of 26 bits."""
    generator = komm.BinaryPolynomial(0b10110111001)
    for word in np.random.default_rng(1).integers(0, 1 << 26, 500).tolist():
        assert remainder(word) == int(komm.BinaryPolynomial(word) % generator)


# computed outside bandscan from the generator and the offset words
@pytest.mark.parametrize(("word", "place"), [(0x152A3CA, 0), (0x152A2AE, 1), (0x048D06A, 0), (0x048D122, 3)])
def test_whole_blocks_are_told_by_their_place(word: int, place: int) -> None:
    """0x54A8 as A and B, 0x1234 as A and D."""
    assert places_of(np.array([word])).tolist() == [place]


@pytest.mark.parametrize(("offset", "syndrome"), SYNDROMES.items())
def test_clean_blocks_have_annex_bs_syndromes(offset: int, syndrome: int) -> None:
    """What bandscan calls clean for an offset word has that word's syndrome by the parity matrix, for 200 random blocks."""
    for data in np.random.default_rng(2).integers(0, 1 << 16, 200).tolist():
        word = data << 10 | (remainder(data << 10) ^ offset)
        assert remainder(word) == offset
        assert parity_syndrome(word) == syndrome


# EN 50067 annex B: bursts of up to 10 bits are all detected, 99.8 % of 11 bits, about 99.9 % of 12 (percentages from memory;
# the counts recomputed); correction of bursts up to 5 bits: data sheet of a data receiver, 1997
@pytest.mark.parametrize(("length", "bursts", "slip"), [(5, 8, 0), (10, 256, 0), (11, 512, None), (12, 1024, None)])
def test_bursts_are_detected_as_annex_b_says(length: int, bursts: int, slip: int | None) -> None:
    """A burst of `length` bits starts and ends with a wrong bit; at each place of a block none of up to 10 bits goes unseen."""
    unseen = total = 0
    for inner in range(bursts):
        pattern = 1 << (length - 1) | inner << 1 | 1
        for shift in range(26 - length + 1):
            total += 1
            unseen += remainder(pattern << shift) == 0
    if slip is not None:
        assert unseen == slip
    else:
        assert (unseen, total) == {11: (16, 8192), 12: (15, 15_360)}[length]


def test_bursts_of_five_bits_can_be_told_apart_and_of_six_cannot() -> None:
    """367 bursts of up to 5 bits have as many remainders; 703 of up to 6 have 569 (recomputed with numpy)."""
    for longest, bursts, distinct in ((5, 367, 367), (6, 703, 569)):
        patterns = {
            word
            for length in range(1, longest + 1)
            for inner in range(1 << max(length - 2, 0))
            for word in [(1 if length == 1 else 1 << (length - 1) | inner << 1 | 1) << shift for shift in range(27 - length)]
        }
        assert len(patterns) == bursts
        assert len({remainder(word) for word in patterns}) == distinct


def test_a_wrong_symbol_is_a_burst_of_two_and_is_mended() -> None:
    """Differential coding makes one wrong symbol two wrong bits, well within the five that the code could mend."""
    right = 0x152A3CA
    symbols = 1.0 - 2.0 * np.concatenate([[0], np.cumsum(bits_of(right)) % 2])
    symbols[12] *= -0.1
    wrong = int(words_of(symbols)[0])
    assert (wrong ^ right).bit_count() == 2
    assert mended(wrong, 0, symbols) == right


# public forum thread "... area FM stations on my cellphone": calls beside the codes that a receiver showed
THREAD = [("1528", "KBYU"), ("2528", "KIAI"), ("3528", "KOBW"), ("4528", "KUDK"), ("5528", "WAEY"), ("6528", "WGGM")]
THREAD += [("7528", "WMIA"), ("8528", "WSJO"), ("9528", "WYLC"), ("A528", "KYHS")]
# forum threads print the names, the formula gives the codes
FORMULA = [("14F8", "KBWY"), ("199C", "KDQQ"), ("1529", "KBYV"), ("17EE", "KDAC"), ("180D", "KDBH"), ("180E", "KDBI")]
FORMULA += [("180F", "KDBJ"), ("1810", "KDBK"), ("3ED9", "KRTH"), ("21C7", "KGTB")]
# NRSC-4 annex D: the ends of both ranges (second-hand)
ENDS = [("54A7", "KZZZ"), ("54A8", "WAAA"), ("994F", "WZZZ")]
# exceptions, from memory of NRSC-4 annex D: xy00 as AFxy, x000 as AFAx
EXCEPTIONS = [("AF1C", "KEOE"), ("AF32", "KMWU"), ("AFA1", "KAAA"), ("AFA2", "KGBO"), ("AFA8", "WQKU")]
# NRSC-4-B table D.7, second-hand from an open source that carries it
THREE = [("9950", "KEX"), ("9951", "KFH"), ("9952", "KFI"), ("9953", "KGA"), ("9954", "KGO"), ("9955", "KGU"), ("9956", "KGW")]
THREE += [("9957", "KGY"), ("9958", "KID")]


@pytest.mark.parametrize(("code", "call"), THREAD + FORMULA + ENDS + EXCEPTIONS + THREE)
def test_published_codes_claim_their_call_letters(code: str, call: str) -> None:
    """Each source above, by name."""
    assert call_letters(int(code, 16)) == call
    assert claim(int(code, 16), "us") == f"claims to be {call}"


def sent(call: str) -> int:
    """The code of a four-letter call by the rule and its exceptions, worked from the letters."""
    a, b, c = (string.ascii_uppercase.index(letter) for letter in call[1:])
    code = f"{(4096 if call[0] == 'K' else 21672) + 676 * a + 26 * b + c:04X}"
    if code[1] == "0":
        code = "A" + code[0] + code[2:]
    if code[2:] == "00":
        code = "AF" + code[:2]
    return int(code, 16)


def test_every_call_has_one_code_and_every_code_one_call() -> None:
    """35,152 calls both ways; 2295 of them as Axyz alone, 138 as AFxy, nine of which are both (counts recomputed)."""
    calls = ["".join(letters) for letters in itertools.product("KW", *[string.ascii_uppercase] * 3)]
    codes = [sent(call) for call in calls]
    assert len(set(codes)) == len(calls) == 35_152
    assert [call_letters(code) for code in codes] == calls
    assert sum(code >> 12 == 0xA and code >> 8 != 0xAF for code in codes) == 2304 - 9
    assert sum(code >> 8 == 0xAF for code in codes) == 138
    assert sum(code >> 4 == 0xAFA for code in codes) == 9
    silent = set(range(65_536)) - set(codes) - set(range(0x9950, 0x9959))
    assert {call_letters(code) for code in silent} == {""}


# the same thread: one owner's stations show the calls of the left column; the licensed calls are from memory
@pytest.mark.parametrize(
    ("shown", "licensed"), [("KBYU", 0x7528), ("KBWY", 0x74F8), ("KDQQ", 0x699C), ("KBYV", 0x7529), ("KDAC", 0x57EE)]
)
def test_an_altered_first_digit_shows_another_stations_call(shown: str, licensed: int) -> None:
    """The trap that makes a code a claim: five of five displayed calls are the licensed codes with a first digit of 1."""
    assert call_letters(licensed & 0xFFF | 0x1000) == shown != call_letters(licensed)


@pytest.mark.parametrize("region", ["eu", "jp"])
def test_elsewhere_a_code_claims_no_call_letters(region: str) -> None:
    """The rule is for region us."""
    assert claim(0x1528, region) == ""


@pytest.mark.parametrize("code", [0x0000, 0x0FFF, 0x5028, 0x3200, 0xAF10, 0xA100, 0xC201, 0xE123, 0xFFFF, 0x9A31])
def test_codes_that_the_rule_never_sends_claim_nothing(code: int) -> None:
    """Outside both ranges, or in a form that an exception replaces."""
    assert claim(code, "us") == ""
