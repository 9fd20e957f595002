"""The same programme on two channels of one recording, from samples to remarks: measure/fm.py."""

from __future__ import annotations

import numpy as np
import pytest
from measure.made import capture, read

from bandscan.demo import FmStation, Receiver, forge
from bandscan.measure import measure
from bandscan.plans import plan_for
from bandscan.survey import gather

RATE_HZ, CENTRE_HZ = 2.4e6, 98_000_000
PARENT, RELAY, OTHER = 97_300_000, 98_700_000, 97_900_000
NOISE_DBFS_HZ = -106.0
NOISE_DBFS = NOISE_DBFS_HZ + 53.0  # in 200 kHz


def relayed(relay_snr_db: float, *, seconds: float = 1.0, delay_s: float = 0.05, kind: str = "speech", seed: int = 1):  # type: ignore[no-untyped-def]
    """A parent 40 dB over the noise, a relay that moves its wave to another channel, later and weaker, and a third station."""
    quiet = Receiver(noise_dbfs_hz=-250.0)
    level = NOISE_DBFS + 40.0
    parent = forge([FmStation(PARENT, level, kind, pi=0xE123, ps="PARENT")], quiet, CENTRE_HZ, RATE_HZ, seconds + delay_s, seed)
    around = forge(
        [FmStation(OTHER, level, kind)], Receiver(noise_dbfs_hz=NOISE_DBFS_HZ), CENTRE_HZ, RATE_HZ, seconds, seed + 1
    )
    count, late = len(around.samples), round(delay_s * RATE_HZ)
    moved = np.exp(2j * np.pi * np.mod((RELAY - PARENT) / RATE_HZ * np.arange(count), 1.0))
    moved *= 10 ** ((relay_snr_db - 40.0) / 20)
    return around.samples + parent.samples[late : late + count] + parent.samples[:count] * moved


@pytest.mark.parametrize("relay_snr_db", [10.0, 30.0])
def test_a_relay_and_its_parent_name_each_other(relay_snr_db: float) -> None:
    """By their sound alone, in a second, down to 10 dB over the noise; the third station is named by nobody."""
    found = read(capture(relayed(relay_snr_db), RATE_HZ, CENTRE_HZ))["remarks"].fillna("")
    assert found[PARENT] == "same-programme-as-98.7:by-audio"
    assert found[RELAY] == "same-programme-as-97.3:by-audio"
    assert not found[OTHER]


def test_a_survey_tells_code_and_sound() -> None:
    """Where the code is read on both channels too, both reasons stand on both rows of the survey's stations."""
    (survey,) = gather([measure(capture(relayed(30.0), RATE_HZ, CENTRE_HZ), plan_for("us", "fm"))])
    stations = survey.stations.set_index("channel_hz")
    assert stations["holds"][[PARENT, RELAY, OTHER]].tolist() == ["station"] * 3
    assert stations["remarks"][PARENT] == "same-programme-as-98.7:by-audio;same-programme-as-98.7:by-code"
    assert stations["remarks"][RELAY] == "same-programme-as-97.3:by-audio;same-programme-as-97.3:by-code"


def test_different_programmes_name_nobody() -> None:
    """Ten stations side by side, with different programmes of each kind and one frequency of tone, name nobody."""
    kinds = ("speech", "music", "tone")
    stations = [FmStation(hz, -30.0, kinds[i % 3]) for i, hz in enumerate(range(97_100_000, 99_000_000, 200_000))]
    made = forge(stations, Receiver(), CENTRE_HZ, RATE_HZ, 1.0, 5)
    assert not read(capture(made.samples, RATE_HZ, CENTRE_HZ))["remarks"].fillna("").str.contains("same-programme").any()
