"""FM stations that an unfiltered converter folds into the AM band: told, and never AM stations.

The signals are made here: a frequency modulator with noise for speech, and carriers with tones. 28.8 MS/s of a direct-sampling
receiver put 87.9 MHz on 1500 kHz (87.9 - 3 * 28.8 = 1.5: arithmetic).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
from measure.made import capture
from scipy.signal import butter, lfilter

from bandscan.measure import measure
from bandscan.model import Measured
from bandscan.plans import plan_for
from bandscan.survey.holds import decide

Signal = npt.NDArray[np.complex128]
RATE_HZ, CENTRE_HZ, DURATION_S = 1.2e6, 1_150_000, 2.0
TIME_S = np.arange(int(RATE_HZ * DURATION_S)) / RATE_HZ
AM_HZ = (620_000, 800_000, 930_000, 1_000_000, 1_490_000)


def _fm(dice: np.random.Generator, at_hz: float, level_db: float, tone_hz: float = 0.0) -> Signal:
    """Speech of 60 kHz deviation with pauses, or a tone, and a pilot of 6 kHz."""
    low, high = 200.0 / (RATE_HZ / 2), 3000.0 / (RATE_HZ / 2)
    voice = lfilter(*butter(2, [low, high], "band"), dice.standard_normal(len(TIME_S)))
    voice *= np.clip(np.sin(2 * np.pi * 1.7 * TIME_S + dice.uniform(0, 6)) + 0.2, 0, None)
    programme = np.sin(2 * np.pi * tone_hz * TIME_S) if tone_hz else np.clip(0.35 * voice / voice.std(), -1, 1)
    swing_hz = 60e3 * programme + 6e3 * np.sin(2 * np.pi * 19e3 * TIME_S)
    return 10 ** (level_db / 20) * np.exp(2j * np.pi * (np.cumsum(swing_hz) / RATE_HZ + (at_hz - CENTRE_HZ) * TIME_S))


def _am(at_hz: float, level_db: float, tone_hz: float, depth: float = 0.4) -> Signal:
    carrier = 10 ** (level_db / 20) * np.exp(2j * np.pi * (at_hz - CENTRE_HZ) * TIME_S)
    return carrier * (1 + depth * np.sin(2 * np.pi * tone_hz * TIME_S))


def _noise(dice: np.random.Generator, level_db: float) -> Signal:
    return 10 ** (level_db / 20) / np.sqrt(2) * (dice.standard_normal(len(TIME_S)) + 1j * dice.standard_normal(len(TIME_S)))


def _band(dice: np.random.Generator, more: Signal) -> Measured:
    stations = sum((_am(hz, -16.0 - 3.0 * place, 300.0 + 100.0 * place) for place, hz in enumerate(AM_HZ)), np.zeros(1))
    samples = (stations + _noise(dice, -42.0) + more).astype(np.complex64)
    return measure(capture(samples, RATE_HZ, CENTRE_HZ), plan_for("us", "am"))


@pytest.mark.parametrize("level_db", [-18.0, -28.0, -38.0])
@pytest.mark.parametrize(("seed", "tone_hz"), [(0, 0.0), (1, 0.0), (2, 1000.0)])
def test_a_folded_fm_station_makes_no_am_station(level_db: float, seed: int, tone_hz: float) -> None:
    """On and off the raster, its lines too; real stations outside it stay, one under it is not lost silently."""
    dice = np.random.default_rng(seed)
    found = _band(dice, _fm(dice, 1_500_000 - 37_000 * (seed % 2), level_db, tone_hz))
    holds = decide([found]).set_index("channel_hz")["holds"]
    stations = set(holds[holds == "station"].index)
    assert stations <= set(AM_HZ)
    assert stations >= set(AM_HZ[:-1])
    assert holds[1_490_000] in ("station", "unsure")


def test_a_folded_fm_station_is_named_with_what_to_do() -> None:
    """Where it stands and what keeps it out; its channels are `phantom`."""
    dice = np.random.default_rng(5)
    found = _band(dice, _fm(dice, 1_400_000, -18.0))
    told = [note for note in found.notes if "FM emissions stand in the AM band, near 1" in note]
    assert len(told) == 1
    assert "low-pass filter of 2 MHz" in told[0]
    decided = decide([found]).set_index("channel_hz")
    assert decided.loc[1_440_000, "holds"] == "phantom"
    assert "fm-fold-over" in decided.loc[1_440_000, "remarks"]


@pytest.mark.parametrize(
    "make",
    [
        lambda dice: _noise(dice, -20.0) * np.exp(2j * np.pi * 3e5 * TIME_S),
        lambda dice: lfilter(*butter(2, 60e3 / (RATE_HZ / 2)), _noise(dice, -10.0)) * np.exp(2j * np.pi * 3e5 * TIME_S),
        lambda dice: _am(1_400_000, -12.0, 7_500.0, 0.9),
        lambda dice: _am(1_400_000, -12.0, 400.0) + _am(1_440_000, -12.0, 4_000.0) + _am(1_470_000, -15.0, 2_500.0, 1.0),
    ],
    ids=["noise", "hash of 120 kHz", "one note at 90 %", "three strong stations"],
)
def test_noise_and_stations_are_no_folded_fm(make: Callable[[np.random.Generator], Signal]) -> None:
    """What is wide but scatters as noise does, and what is strong but stands in carriers."""
    dice = np.random.default_rng(11)
    assert not [note for note in _band(dice, make(dice)).notes if "FM emissions" in note]
