"""FM: a bare carrier that its supply sways is no station; stations of little sound, or with hum, stay what they are."""

from __future__ import annotations

import numpy as np
import pytest
from measure.made import capture

from bandscan.demo import FmStation, Receiver, forge
from bandscan.measure import measure
from bandscan.plans import plan_for
from bandscan.survey.holds import decide

RATE_HZ, CENTRE_HZ, HERE_HZ = 1.2e6, 98_000_000, 98_100_000
NOISE_DBFS = -106.0 + 53.0


def judged(swing_hz: np.ndarray, snr_db: float) -> tuple[str, str]:
    """Word and remarks of a carrier of this frequency over time, beside a station of the demo."""
    made = forge([FmStation(97_700_000, -28.0)], Receiver(), CENTRE_HZ, RATE_HZ, 1.0, 11).samples
    amplitude = 10 ** ((NOISE_DBFS + snr_db) / 20)
    phase = 2 * np.pi * np.cumsum(HERE_HZ - CENTRE_HZ + swing_hz) / RATE_HZ
    found = measure(capture(made + amplitude * np.exp(1j * phase), RATE_HZ, CENTRE_HZ), plan_for("us", "fm"))
    rows = decide([found]).set_index("channel_hz")
    assert rows.loc[97_700_000, "holds"] == "station"
    return str(rows.loc[HERE_HZ, "holds"]), str(rows.loc[HERE_HZ, "remarks"])


@pytest.mark.parametrize("snr_db", [8.0, 14.0, 28.0])
@pytest.mark.parametrize(("hz", "dev_hz"), [(60.0, 5e3), (50.0, 30e3), (100.0, 14e3)])
def test_a_carrier_swayed_by_hum_is_unsure(hz: float, dev_hz: float, snr_db: float) -> None:
    """A supply's ripple, flattened on one side, at any strength."""
    sine = np.sin(2 * np.pi * hz * np.arange(round(RATE_HZ)) / RATE_HZ)
    word, remarks = judged(dev_hz * (sine + 0.1 * sine**2), snr_db)
    assert (word, "hum-only" in remarks) == ("unsure", True)


@pytest.mark.parametrize("snr_db", [8.0, 14.0, 28.0])
def test_a_carrier_that_wanders_is_unsure(snr_db: float) -> None:
    """By 8 kHz within half a second."""
    at = np.arange(round(RATE_HZ)) / RATE_HZ
    word, remarks = judged(8e3 * np.sin(2 * np.pi * 1.1 * at) + 3e3 * np.sin(2 * np.pi * 4.3 * at), snr_db)
    assert (word, "hum-only" in remarks) == ("unsure", True)


@pytest.mark.parametrize("hum_hz", [0.0, 250.0, 20e3])
def test_a_tone_beside_hum_is_a_station(hum_hz: float) -> None:
    """Of 700 Hz, mono, with hum of up to a quarter of the deviation."""
    at = np.arange(round(RATE_HZ)) / RATE_HZ
    assert judged(20e3 * np.sin(2 * np.pi * 700.0 * at) + hum_hz * np.sin(2 * np.pi * 60.0 * at), 20.0)[0] == "station"


def test_a_bare_line_at_a_channels_edge_is_not_said_to_hum() -> None:
    """It lies in two channels and is a station in neither."""
    at = np.arange(round(RATE_HZ)) / RATE_HZ
    made = forge([FmStation(97_700_000, -28.0)], Receiver(), CENTRE_HZ, RATE_HZ, 1.0, 13).samples
    line = 10 ** ((NOISE_DBFS + 14.0) / 20) * np.exp(2j * np.pi * 198e3 * at)
    rows = decide([measure(capture(made + line, RATE_HZ, CENTRE_HZ), plan_for("us", "fm"))]).set_index("channel_hz")
    assert set(rows.loc[[98_100_000, 98_300_000], "holds"]) == {"spur", "empty"}
    assert not rows["remarks"].fillna("").str.contains("hum-only").any()


def test_stations_of_little_sound_are_stations() -> None:
    """Stereo silence has its pilot, and mono talk of 3 kHz peak and music are heard."""
    stations = [
        FmStation(97_700_000, -36.0, programme="silence"),
        FmStation(98_100_000, -30.0, pilot_dev_hz=0.0, deviation_hz=3e3),
        FmStation(98_300_000, -33.0, pilot_dev_hz=0.0, programme="music"),
    ]
    made = forge(stations, Receiver(), CENTRE_HZ, RATE_HZ, 1.0, 12).samples
    found = measure(capture(made, RATE_HZ, CENTRE_HZ), plan_for("us", "fm"))
    rows = decide([found]).set_index("channel_hz")
    assert not rows["remarks"].fillna("").str.contains("hum-only").any()
    assert rows.loc[97_700_000, "holds"] == "station"
    assert rows.loc[98_300_000, "holds"] == "station"
