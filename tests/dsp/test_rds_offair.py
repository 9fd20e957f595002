"""The data service on real signals, which are no part of the project; tests/offair/test_offair.py says where they are from."""

from __future__ import annotations

import numpy as np
import pytest
from dsp.rds_made import demodulated
from places import RECORDINGS, needs_recordings

from bandscan.dsp.rds import Identity, RdsSum

pytestmark = needs_recordings


def claimed(name: str, dtype: str, rate_hz: float) -> Identity:
    """What the channel in the middle of a recording claims; its first 600 samples hold a start-up transient."""
    samples = np.fromfile(RECORDINGS / name, dtype).astype(np.float32).view(np.complex64)[600:]
    service = RdsSum(1, rate_hz)
    for part in np.array_split(demodulated(samples, rate_hz), 13):
        service.add(part[None])
    return service.result(0)


def test_the_class_recordings_code_is_read_in_every_group() -> None:
    """Checked independently: PI 9331 in 12 of 12 groups, no bad block, a name of eight characters."""
    found = claimed("us-93p1-256k.ci16", "<i2", 256_000.0)
    assert found.pi == 0x9331
    assert (found.pi_blocks, found.a_blocks) == (12, 12)
    assert found.bad_share == 0.0
    assert len(found.ps) == 8
    assert len(found.ps.strip()) == 5
    assert found.subcarrier_s == pytest.approx(1.022, abs=0.01)


def test_the_noise_recording_claims_nothing() -> None:
    """Three seconds of receiver noise: no code, no name, no block."""
    found = claimed("us-107p9-noise-300k.ci8", "i1", 300_000.0)
    assert (found.pi, found.ps, found.blocks) == (None, "", 0)
