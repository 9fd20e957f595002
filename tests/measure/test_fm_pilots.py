"""Blocks that came twice, in the place of lost ones: pilots are as unsure as they are wrong, and it is said."""

from __future__ import annotations

import numpy as np
import pytest
from measure.made import capture

from bandscan.demo import FmStation, Receiver, forge
from bandscan.measure import measure
from bandscan.plans import plan_for

RATE_HZ, CENTRE_HZ = 2.4e6, 98_000_000
PILOTS_HZ = {97_300_000: 6750.0, 97_700_000: 7100.0, 98_700_000: 6200.0}


@pytest.mark.parametrize(
    ("blocks", "length", "told"), [(0, 16384, False), (1, 16384, False), (12, 16384, True), (12, 12600, True)]
)
@pytest.mark.parametrize("seed", [1, 2])
def test_pilots_under_repeated_blocks(blocks: int, length: int, told: bool, seed: int) -> None:
    """Each within three of its uncertainties, which stay below 5 %; one block of 7 ms in a second is not worth a note."""
    stations = [FmStation(hz, -28.0, pilot_dev_hz=dev_hz) for hz, dev_hz in PILOTS_HZ.items()]
    wave = forge(stations, Receiver(), CENTRE_HZ, RATE_HZ, 1.0, seed).samples.copy()
    for first in np.random.default_rng(seed).integers(0, len(wave) - 2 * length, blocks):
        wave[first + length : first + 2 * length] = wave[first : first + length].copy()
    found = measure(capture(wave, RATE_HZ, CENTRE_HZ), plan_for("us", "fm"))
    assert any("lost samples" in note for note in found.notes) is told
    rows = found.readings.set_index("channel_hz")
    for hz, dev_hz in PILOTS_HZ.items():
        sd_hz = rows.loc[hz, "pilot_dev_sd_hz"]
        assert abs(rows.loc[hz, "pilot_dev_hz"] - dev_hz) < 3 * sd_hz
        assert sd_hz < 0.05 * dev_hz
