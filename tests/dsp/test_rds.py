"""The data service from the multiplex to its claims: against theory in white noise, and on forged stations."""

from __future__ import annotations

import math
import pickle

import numpy as np
import numpy.typing as npt
import pytest
import scipy.special
from dsp.rds_made import (
    RATE_HZ,
    at_snr,
    bits_of,
    block,
    demodulated,
    forged,
    group,
    group_0a,
    groups,
    noise_for,
    subcarrier,
    symbols_of,
)

from bandscan.dsp.rds import Identity, RdsSum
from bandscan.dsp.rds_blocks import places_of, words_of
from bandscan.dsp.rds_service import Service, agreement

PI = 0xE123


def heard(*waves: npt.NDArray[np.floating], rate_hz: float = RATE_HZ, batch: int = 18_720) -> list[Identity]:
    """What comes out for each channel when they come in batches."""
    stacked = np.stack(waves).astype(np.float32)
    service = RdsSum(len(stacked), rate_hz)
    for first in range(0, stacked.shape[1], batch):
        service.add(stacked[:, first : first + batch])
    return [service.result(channel) for channel in range(len(stacked))]


def bench_service(seconds: float, error_hz: float = 0.0) -> npt.NDArray[np.float64]:
    """The subcarrier of a station whose groups are 40 % of type 0A."""
    return subcarrier(bits_of(groups(PI, "BENCH FM", math.ceil(seconds * 11.5) + 1)), seconds, error_hz)


def block_limit(bit_energy_db: float) -> float:
    """Share of bad blocks for differentially decoded coherent BPSK: all 27 symbols right, or all wrong (textbook)."""
    wrong = 0.5 * scipy.special.erfc(math.sqrt(10 ** (bit_energy_db / 10)))
    return float(1 - (1 - wrong) ** 27 - wrong**27)


@pytest.mark.parametrize("bit_energy_db", [3.0, 6.0])
def test_bad_blocks_are_as_many_as_theory_allows(bit_energy_db: float) -> None:
    """White noise, a clock far off: within 0.15 dB of ideal carrier, clock and filter, and three sigmas of 2700 blocks."""
    wave = bench_service(10.0, error_hz=11.3)
    rng = np.random.default_rng(3)
    found = heard(*(wave + noise_for(wave, bit_energy_db, rng) for _ in range(6)))
    blocks = sum(one.blocks for one in found)
    bad = sum(one.blocks * one.bad_share for one in found) / blocks
    low, high = block_limit(bit_energy_db + 0.15), block_limit(bit_energy_db - 0.15)
    scatter = 3 * math.sqrt(low * (1 - low) / blocks)
    assert blocks == pytest.approx(60 * 1187.5 / 26, abs=18)
    assert low - scatter < bad < high + scatter


@pytest.mark.parametrize("error_hz", [-11.7, 0.0, 11.7])
def test_any_legal_subcarrier_and_any_clock_is_followed(error_hz: float) -> None:
    """6 Hz of the station's and 100 ppm of the receiver's clock together: every block of three seconds is clean."""
    (found,) = heard(bench_service(3.0, error_hz))
    assert found.pi == PI
    assert found.bad_share == 0
    assert found.ps == "BENCH FM"


def test_segments_join_and_batches_do_not_matter() -> None:
    """12 s in pieces of any size: the same claims, no block lost or spoilt where seconds meet."""
    wave = bench_service(12.0, error_hz=3.3)
    whole, small, odd = (heard(wave, batch=batch)[0] for batch in (len(wave), 2_340, 18_721))
    assert whole == small == odd
    assert whole.blocks == pytest.approx(12 * 1187.5 / 26, abs=2)
    assert whole.bad_share == 0
    assert whole.pi_blocks == whole.a_blocks


def test_a_line_keeps_its_amplitude_across_batches() -> None:
    """1 kHz of deviation at 57.1 kHz is a steady phasor of amplitude 1 kHz at the slow rate, wherever batches are cut."""
    tone = 1000 * np.cos(2 * np.pi * 57_100 * np.arange(48_000) / RATE_HZ).astype(np.float32)
    service = RdsSum(1, RATE_HZ)
    for part in np.split(tone, [7, 1000, 1024, 20_011]):
        service.add(part[None])
    slow = service._slow[0, service._margin + 8 : service._filled]
    assert np.abs(slow) == pytest.approx(np.full(len(slow), 1000.0), abs=2.0)
    turns = np.angle(slow[1:] * slow[:-1].conj()) / (2 * np.pi) * service.slow_rate_hz
    assert turns == pytest.approx(np.full(len(turns), 100.0), abs=2.0)


@pytest.mark.parametrize("rate_hz", [225e3, 250e3, 256e3])
def test_other_rates_do_as_well(rate_hz: float) -> None:
    """The rate at which channels leave the channeliser is near 240 kS/s, not always that."""
    time_s = np.arange(round(1.5 * rate_hz)) / rate_hz
    wave = bench_service(1.6)
    there = np.arange(len(wave)) / RATE_HZ
    slow = wave * np.exp(-2j * np.pi * 57_000 * there)
    smooth = np.fft.ifft(np.fft.fft(slow) * (np.abs(np.fft.fftfreq(len(wave), 1 / RATE_HZ)) < 4000))
    again = 2 * np.interp(time_s, there, smooth.real) * np.cos(2 * np.pi * 57_000 * time_s)
    again -= 2 * np.interp(time_s, there, smooth.imag) * np.sin(2 * np.pi * 57_000 * time_s)
    (found,) = heard(again, rate_hz=rate_hz)
    assert (found.pi, found.bad_share) == (PI, 0.0)


def test_what_is_kept_does_not_grow() -> None:
    """After 16 s the state is no larger than after 8 s, but for the counters' digits."""
    wave = bench_service(16.0).astype(np.float32)[None]
    service = RdsSum(1, RATE_HZ)
    half = wave.shape[1] // 2
    for first in range(0, half, 18_720):
        service.add(wave[:, first : min(first + 18_720, half)])
    before = len(pickle.dumps(service))
    for first in range(half, wave.shape[1], 18_720):
        service.add(wave[:, first : first + 18_720])
    assert len(pickle.dumps(service)) < 1.1 * before
    assert before < 400_000


def test_a_result_is_final() -> None:
    """What came later would not join: that is said, not swallowed."""
    service = RdsSum(1, RATE_HZ)
    service.add(np.zeros((1, 24_000), np.float32))
    service.result(0)
    with pytest.raises(ValueError, match="what comes after it would not join"):
        service.add(np.zeros((1, 24_000), np.float32))


@pytest.mark.parametrize("seconds", [0.0, 0.0427, 0.1])
def test_a_short_recording_claims_nothing(seconds: float) -> None:
    """Too few blocks for an agreement; silence, and no samples at all, are no error."""
    (found,) = heard(bench_service(seconds) if seconds else np.zeros(0))
    assert found.pi is None
    assert found.ps == ""
    assert math.isnan(found.bad_share)


def test_noise_claims_nothing() -> None:
    """Sixteen channels of 4 s of discriminated noise: no PI, no name; a subcarrier in a few seconds of 64 at most."""
    rng = np.random.default_rng(5)
    white = rng.standard_normal((16, 960_000)) + 1j * rng.standard_normal((16, 960_000))
    found = heard(*(demodulated(wave) for wave in white))
    assert all(one.pi is None and not one.ps and not one.blocks for one in found)
    assert sum(one.subcarrier_s for one in found) <= 3  # one second in a thousand by theory


# a bare tone near 57 kHz, its beat with another, and a third harmonic of the pilot that distortion left
@pytest.mark.parametrize(
    "tones_hz", [(57_000,), (57_593.75, 56_406.25), (57_003.0, 58_187.5, 55_812.5), (57_045.673, 56_954.327)]
)
def test_products_of_tones_claim_nothing(tones_hz: tuple[float, ...]) -> None:
    """Whatever pattern of bits they make, it holds no station."""
    time_s = np.arange(3 * 240_000) / RATE_HZ
    rng = np.random.default_rng(6)
    wave = sum(2000 * np.cos(2 * np.pi * (tone * time_s + rng.random())) for tone in tones_hz)
    (found,) = heard(wave + 200 * rng.standard_normal(len(time_s)))
    assert (found.pi, found.ps) == (None, "")


@pytest.mark.parametrize(
    "repeated",
    [[block(PI, 0)], [block(PI, 0), block(8, 1)], [block(PI, 0), block(8, 1), block(PI, 0), 0]],
    ids=["26", "52", "104"],
)
def test_a_repeated_pattern_is_no_agreement(repeated: list[int]) -> None:
    """Blocks A alone, or with one other place, for three seconds without an error: not enough."""
    (found,) = heard(subcarrier(bits_of(repeated * 200), 3.0))
    assert found.pi is None


def agreed(*blocks: int) -> tuple[int, int] | None:
    """The agreement on blocks without noise."""
    symbols = symbols_of(blocks)
    return agreement(symbols, places_of(words_of(symbols)))


def test_what_an_agreement_takes() -> None:
    """Two blocks A alike, in groups that follow, and three other clean blocks in two places; one less of anything is none."""
    full = [*group_0a(PI, "BENCH FM", 0), block(PI, 0)]
    spoilt = block(0, 1) ^ 0x1FFFF  # a block that fails every check
    assert agreed(*full) == (0, PI)
    assert agreed(*full[:2], spoilt, *full[3:]) is None
    assert agreed(*full[:4], block(PI ^ 1, 0)) is None
    assert agreed(*full[:4], block(PI, 0) ^ 0b111) is None
    same_place = [block(PI, 0), block(8, 1), spoilt, spoilt] * 3
    assert agreed(*same_place, block(PI, 0)) is None


def test_the_name_is_read_where_the_text_changes() -> None:
    """As met off-air: the pair 1 of an old text, then the pairs 0 to 3 of the new one."""
    sent = group_0a(PI, "OLD TEXT", 1)
    for segment in range(4):
        sent += group_0a(PI, "NEW ONE", segment) + group(PI, 0x2020, 0x4142, 0x4344)
    (found,) = heard(subcarrier(bits_of(sent), 9.3 * 104 / 1187.5))
    assert found.ps == "NEW ONE "


def test_blocks_are_read_on_while_no_window_agrees(monkeypatch: pytest.MonkeyPatch) -> None:
    """Once the phase is known it holds, also when the window moves on."""
    symbols = symbols_of(groups(PI, "BENCH FM", 120))
    service = Service()
    service.add(symbols[:4750])
    monkeypatch.setattr("bandscan.dsp.rds_service.agreement", lambda *_: None)
    for first in range(4750, 12_000, 1187):
        service.add(symbols[first : first + 1187])
    assert service.clean == service.blocks == pytest.approx(12_000 / 26, abs=46)


def test_a_pair_of_characters_is_read_from_the_average_of_two_spoilt_blocks() -> None:
    """Three strong wrong symbols in each, at different places: none can be mended, averages need no mending, and agree."""
    pair = 0x4B59
    service = Service()
    for turned in ([2, 11, 20], [5, 14, 23], [2, 11, 20]):
        assert not service.name.seen
        for address in range(4):
            sent = symbols_of([block(pair, 3)])
            if address == 3:
                sent[turned] *= -0.9
            service._pair(address, int(words_of(sent)[0]), address < 3, address < 3, sent)
    assert list(service.name.seen) == ["KYKYKYKY"]


@pytest.mark.parametrize("programme", ["speech", "music", "tone"])
@pytest.mark.parametrize("pilot_dev_hz", [6750.0, 0.0])
def test_one_second_at_20_db_gives_the_code(programme: str, pilot_dev_hz: float) -> None:
    """2 kHz of injection, with a pilot and without; the share over many seconds is in tests/bench/identity.py."""
    station = at_snr(20.0, programme=programme, pilot_dev_hz=pilot_dev_hz, pi=PI, ps="BENCH FM")
    (found,) = heard(demodulated(forged(station, 1.0, seed=7)))
    assert found.pi == PI
    assert found.bad_share < 0.25


@pytest.mark.parametrize("programme", ["speech", "music"])
def test_two_paths_leave_the_code_readable(programme: str) -> None:
    """26 dB, and a second ray of -6 dB that comes 5 us later, in and out of phase."""
    samples = forged(at_snr(26.0, programme=programme, pi=PI, ps="BENCH FM"), 1.0, seed=8)
    late = np.exp(-2j * np.pi * 5e-6 * np.fft.fftfreq(len(samples), 1 / RATE_HZ))
    for phase in (0.0, np.pi):
        paths = np.fft.ifft(np.fft.fft(samples) * (1 + 0.5 * np.exp(1j * phase) * late))
        assert heard(demodulated(paths))[0].pi == PI


def test_the_name_comes_in_two_seconds_at_the_same_bit_energy() -> None:
    """6 dB a bit, about what 20 dB snr gives 2 kHz; 40 % of the groups bring it: 20 of 20 made recordings."""
    rng = np.random.default_rng(9)
    waves = [subcarrier(bits_of(groups(PI, "BENCH FM", 25, seed)), 2.0, start=100 * rng.random()) for seed in range(20)]
    found = heard(*(wave + noise_for(wave, 6.0, rng) for wave in waves))
    assert [one.ps for one in found] == ["BENCH FM"] * 20
