"""A sample rate stated wrong by so much that stations stand nearer to other channels than their own."""

from __future__ import annotations

import numpy as np
import pytest

from bandscan.measure.fm_stretch import stretched_note

STEP_HZ = 200e3


def seen(stretch: float, stations: int, seed: int) -> list[tuple[float, float]]:
    """Stations within 2.5 MHz of the centre as a stretch shows them, each from its nearest channel and within 1 kHz; a quarter
    pulled by what stands beside them (from memory: a carrier at a channel's edge is read up to half a channel off)."""
    dice = np.random.default_rng(seed)
    places = STEP_HZ * dice.choice(np.arange(-12, 13), stations, replace=False)
    at = places * (1.0 + stretch) + dice.uniform(-1e3, 1e3, stations)
    at[: stations // 4] += dice.uniform(-60e3, 60e3, stations // 4)
    nearest = np.rint(at / STEP_HZ) * STEP_HZ
    return list(zip(nearest, at - nearest, strict=True))


@pytest.mark.parametrize("stretch", [0.05, 1 / 15, 0.1, -0.08])
def test_a_wide_recordings_wrong_rate_is_said(stretch: float) -> None:
    """At 6 MS/s told 5 % too much, stations 2 MHz away stand 100 kHz off: its period tells, to a third of a percent."""
    for seed in range(4):
        (note,) = stretched_note(seen(stretch, 12, seed), STEP_HZ)
        told = float(note.split("about ")[1].split(" %")[0]) / 100
        assert told == pytest.approx(abs(stretch), abs=0.0035)
        assert ("too high" in note) == (stretch > 0)


def test_a_right_rate_and_stray_carriers_say_nothing() -> None:
    """Stations on the raster, and carriers anywhere, which fit some stretch by chance once in a thousand recordings."""
    for seed in range(20):
        assert stretched_note(seen(0.0, 12, seed), STEP_HZ) == []
        dice = np.random.default_rng(seed)
        at = dice.uniform(-2.5e6, 2.5e6, 8)
        nearest = np.rint(at / STEP_HZ) * STEP_HZ
        assert stretched_note(list(zip(nearest, at - nearest, strict=True)), STEP_HZ) == []
