"""One AM station against textbook relations."""

from __future__ import annotations

import numpy as np
import pytest

from bandscan.demo import AmStation, Receiver, forge

QUIET = Receiver(noise_dbfs_hz=-190.0)
RATE_HZ = 250_000.0


def am(**changes: object) -> AmStation:
    return AmStation(**{"channel_hz": 1_000_000, "level_dbfs": -20.0, "programme": "tone"} | changes)


@pytest.mark.parametrize(("depth", "sideband_dbc"), [(0.3, -16.48), (0.8, -7.96)])  # textbook: 20 log10(m/2)
def test_tone_sidebands(line_dbfs, depth, sideband_dbc):
    """Each sideband of a tone stands 20 log10(m / 2) over the carrier, which keeps its level and its error."""
    made = forge([am(depth=depth, carrier_error_hz=-13.5)], QUIET, 1.02e6, RATE_HZ, 1.0, seed=1)
    at = -20_000 - 13.5
    assert line_dbfs(made.samples, RATE_HZ, at) == pytest.approx(-20, abs=0.005)
    for side in (-400, 400):
        assert line_dbfs(made.samples, RATE_HZ, at + side) == pytest.approx(-20 + sideband_dbc, abs=0.01)


@pytest.mark.parametrize("programme", ["speech", "music"])
@pytest.mark.parametrize("stereo", [False, True])
def test_programme_keeps_carrier_depth_and_width(line_dbfs, band_dbfs, programme, stereo):
    """With a programme the carrier keeps its level, no trough passes the depth, and nothing lies beyond the audio's end."""
    sent = am(programme=programme, depth=0.9, audio_hz=5000.0, stereo=stereo)
    made = forge([sent], QUIET, 1e6, RATE_HZ, 2.0, seed=2)
    assert abs(made.samples.mean()) == pytest.approx(0.1, rel=0.003)
    envelope = np.abs(made.samples) / 0.1
    assert 0.09 < envelope.min() < 0.35
    assert envelope.max() < 1.91
    beyond_db = -40 if stereo else -60  # C-QUAM's phase spreads a little
    assert band_dbfs(made.samples, RATE_HZ, 6_500, 60_000) < -20 + beyond_db
    in_phase = (made.samples / made.samples.mean()).real - 1
    assert np.quantile(np.abs(in_phase), 0.995) == pytest.approx(made.truth[0].am_depth, rel=0.01)


def test_stereo_pilot_is_in_quadrature(line_dbfs):
    """C-QUAM (73.128): a silent station keeps its envelope and swings in phase by 5 % at 25 Hz, each line -32.04 dBc."""
    made = forge([am(programme="silence", stereo=True)], QUIET, 1e6, RATE_HZ, 2.0, seed=3)
    assert np.std(np.abs(made.samples)) < 1e-4 * 0.1
    for side in (-25, 25):
        assert line_dbfs(made.samples, RATE_HZ, side) == pytest.approx(-20 - 32.04, abs=0.02)
    mono = forge([am(programme="silence")], QUIET, 1e6, RATE_HZ, 2.0, seed=3)
    assert line_dbfs(mono.samples, RATE_HZ, 25) < -20 - 80


def test_two_stations_on_one_channel_are_two_lines(line_dbfs):
    """A second carrier 7 Hz away stands on its own."""
    both = [am(programme="silence"), am(programme="silence", carrier_error_hz=7.0, level_dbfs=-33.0)]
    made = forge(both, QUIET, 1e6, RATE_HZ, 4.0, seed=4)
    assert line_dbfs(made.samples, RATE_HZ, 0) == pytest.approx(-20, abs=0.01)
    assert line_dbfs(made.samples, RATE_HZ, 7) == pytest.approx(-33, abs=0.01)
