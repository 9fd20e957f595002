"""The same programme on two channels: dsp/programme.py."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pytest
import scipy.signal

from bandscan.demo.programme import programme
from bandscan.dsp import programme as room
from bandscan.dsp.programme import Match, ProgrammeSum

RATE_HZ = 240_000.0
AUDIO_HZ = 24_000.0
BATCH = 18_720
Wave = npt.NDArray[np.float64]


def sound(kind: str, seconds: float, seed: int) -> Wave:
    """Mono audio at 24 kS/s as loud as stations are, mean power that of 7 kHz. [Hz]"""
    wave = programme(kind, round(seconds * AUDIO_HZ), AUDIO_HZ, np.random.default_rng(seed)).mean(axis=0)
    return np.asarray(wave / wave.std() * 7000.0)


def sent(audio: Wave, seed: int = 0, noise_hz: float = 20.0) -> Wave:
    """A multiplex at 240 kS/s: the audio, a pilot, something on 38 kHz and a receiver's noise. [Hz]"""
    rng = np.random.default_rng(seed)
    wave = scipy.signal.resample_poly(audio, 10, 1)
    cycles = 19_000.0 * np.arange(len(wave)) / RATE_HZ + rng.random()
    side = scipy.signal.resample_poly(rng.standard_normal(len(audio)) * 3000.0, 10, 1)
    pilot = 6750.0 * np.sin(2 * np.pi * cycles) + side * np.sin(4 * np.pi * cycles)
    return np.asarray(wave + pilot + noise_hz * rng.standard_normal(len(wave)))


def found(waves: Sequence[Wave], batch: int = BATCH) -> list[Match]:
    """What comes of channels that arrive in batches."""
    stacked = np.array(waves, np.float32)
    stacked = stacked[:, : stacked.shape[1] // room.DECIMATION * room.DECIMATION]
    programmes = ProgrammeSum(len(stacked), RATE_HZ, stacked.shape[1])
    for first in range(0, stacked.shape[1], batch):
        programmes.add(np.ascontiguousarray(stacked[:, first : first + batch]))
    return programmes.matches(range(len(stacked)))


def turned(audio: Wave) -> Wave:
    """Through four all-passes at 200 Hz, as processors make voices less lopsided (common practice)."""
    tangent = np.tan(np.pi * 200.0 / AUDIO_HZ)
    c = (tangent - 1) / (tangent + 1)
    for _ in range(4):
        audio = scipy.signal.lfilter([c, 1], [1, c], audio)
    return np.asarray(audio)


def squeezed(audio: Wave) -> Wave:
    """Through a quick automatic gain and a clipper, thin and dull: another station's taste."""
    audio = scipy.signal.lfilter(*scipy.signal.butter(1, [300, 3000], "bandpass", fs=AUDIO_HZ), audio)
    slow = np.exp(-1 / (0.02 * AUDIO_HZ))
    envelope = np.sqrt(scipy.signal.lfilter([1 - slow], [1, -slow], audio**2) + 1.0)
    return np.asarray(np.tanh(1.5 * audio / envelope**0.8 / np.std(audio / envelope**0.8)) * 30_000.0)


@pytest.mark.parametrize(
    ("kind", "change", "seconds"),
    [
        ("speech", lambda audio: audio, 1.0),
        ("music", lambda audio: audio, 1.0),
        ("speech", turned, 1.0),
        ("music", turned, 2.0),
        ("speech", lambda audio: squeezed(turned(audio)), 2.0),
        ("music", lambda audio: squeezed(turned(audio)), 4.0),
    ],
)
def test_a_relay_is_found_with_its_delay(kind: str, change, seconds: float) -> None:  # type: ignore[no-untyped-def]
    """The same programme 0.12 s later, differently processed, is found among others, and so is the delay to 1 ms."""
    audio = sound(kind, seconds + 0.2, 1)
    late = round(0.12 * AUDIO_HZ)
    first, second = audio[late:], change(audio)[: len(audio) - late]
    others = [sound(kind, seconds + 0.2, seed)[late:] for seed in (2, 3)]
    waves = [sent(wave[: round(seconds * AUDIO_HZ)], seed) for seed, wave in enumerate([others[0], first, others[1], second])]
    (match,) = found(waves)
    assert (match.first, match.second) == (1, 3)
    assert match.delay_s == pytest.approx(0.12, abs=1e-3)
    assert match.agreement > 0.1
    (back,) = found(waves[::-1])
    assert back.delay_s == pytest.approx(-0.12, abs=1e-3)


@pytest.mark.parametrize("kind", ["speech", "music"])
def test_chance_follows_the_exponential_law(monkeypatch: pytest.MonkeyPatch, kind: str) -> None:
    """Of 780 pairs of different programmes none matches; with 20 matches allowed for by the law there are 2 to 40.

    Source: the squared sum of many phasors of random phase is exponentially distributed (textbook). The trials are twice the
    number of independent delays, so that fewer than 20 are met.
    """
    waves = [sent(sound(kind, 1.0, seed), seed) for seed in range(40)]
    assert found(waves) == []
    monkeypatch.setattr(room, "FALSE_ALARM", 20.0)
    assert 2 <= len(found(waves)) <= 40


def chord(seconds: float, seed: int) -> Wave:
    """Thirty steady partials of one chord, the same pitches for every seed, other phases."""
    time = np.arange(round(seconds * AUDIO_HZ)) / AUDIO_HZ
    phases = np.random.default_rng(seed).random((6, 5))
    notes = [220.0 * 2 ** (steps / 12) for steps in (0, 4, 7, 12, 16, 19)]
    parts = [
        np.sin(2 * np.pi * (note * (n + 1) * time + phases[i, n])) / (n + 1) for i, note in enumerate(notes) for n in range(5)
    ]
    return np.asarray(3000.0 * np.sum(parts, axis=0))


def pulses(seconds: float, seed: int) -> Wave:
    """A buzz of 120 Hz, the same for every seed but for its start."""
    at = np.mod(np.arange(round(seconds * AUDIO_HZ)) * 120.0 / AUDIO_HZ + np.random.default_rng(seed).random(), 1.0)
    return 40_000.0 * np.exp(-(((at - 0.5) / 0.03) ** 2))


@pytest.mark.parametrize("seconds", [1.0, 4.0])
@pytest.mark.parametrize("made", [lambda s, seed: sound("tone", s, seed), chord, pulses])
def test_the_same_pitch_is_not_the_same_programme(made, seconds: float) -> None:  # type: ignore[no-untyped-def]
    """Tones, chords and buzzes of the same pitch on several stations are no relays of each other."""
    assert found([sent(made(seconds, seed), seed) for seed in range(6)]) == []


@pytest.mark.parametrize("kind", ["speech", "music", "silence"])
def test_what_the_receiver_adds_to_all_channels_is_no_programme(kind: str) -> None:
    """Phase noise and lost samples, which all channels share, make no match: neither in pauses nor under silent stations."""
    rng = np.random.default_rng(9)
    audible = np.sin(2 * np.pi * 1.3 * np.arange(round(2.0 * AUDIO_HZ)) / AUDIO_HZ) > -0.3
    shared = rng.standard_normal(round(2.0 * RATE_HZ)) * 60.0  # 7 Hz of it between 200 and 1800 Hz
    shared[rng.integers(0, len(shared), 60)] += RATE_HZ / 2  # half a turn from one sample to the next
    silent = kind == "silence"
    audios = [np.zeros(len(audible)) if silent else sound(kind, 2.0, seed) * audible for seed in range(6)]
    assert found([sent(audio, seed) + shared for seed, audio in enumerate(audios)]) == []


def test_batches_do_not_matter() -> None:
    """The same audio in batches of one block and all at once gives the same match."""
    audio = sound("speech", 1.0, 4)
    waves = [sent(audio[500:], 1), sent(audio[:-500], 2)]
    (small,), (large,) = found(waves, room.DECIMATION), found(waves, 10**7)
    assert small.delay_s == large.delay_s == pytest.approx(500 / AUDIO_HZ, abs=1e-3)
    assert small.agreement == pytest.approx(large.agreement, rel=1e-3)


def test_only_the_first_ten_seconds_are_kept() -> None:
    """What comes after the window changes nothing, so that memory does not grow with the recording."""
    short, long = (ProgrammeSum(2, RATE_HZ, round(seconds * RATE_HZ)) for seconds in (10.0, 3600.0))
    assert long.longest_delay_s == 0.0
    batch = np.random.default_rng(1).standard_normal((2, BATCH)).astype(np.float32)
    for number in range(140):
        batch[1] += number < 130  # 10.1 s
        for one in (short, long):
            one.add(batch)
    assert long.longest_delay_s == short.longest_delay_s == pytest.approx(10.0 / 3, rel=1e-3)


def test_too_little_says_nothing() -> None:
    """No sample, one channel, 20 ms: no match and no failure."""
    assert ProgrammeSum(2, RATE_HZ, 0).matches([0, 1]) == []
    wave = sent(sound("speech", 1.0, 1))
    assert found([wave]) == []
    assert found([wave[:4800], wave[:4800]]) == []
