"""Strong stations just outside a recording's span, folded in at its other edge through the decimation filter.

The signals are made here at twice the rate and thinned by a short filter. Where a source appears is arithmetic: 1.5 MHz above a
centre at 2.4 MS/s is 0.9 MHz below it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest
from measure.made import capture
from scipy.signal import butter, lfilter
from survey.made import AM_STATION, FM_STATION, NOTHING, recording

from bandscan.measure import measure
from bandscan.model import Measured
from bandscan.plans import plan_for
from bandscan.survey import gather
from bandscan.survey.holds import decide

RATE_HZ, SECONDS = 2.4e6, 0.4
SOURCE_HZ, GHOST_HZ, CENTRE_HZ = 99_500_000, 97_100_000, 98_000_000
STATIONS = {97_900_000: -25.0, 98_700_000: -30.0, SOURCE_HZ: -12.0}


def _fm(seed: int, at_hz: float, level_db: float, wide_hz: float) -> npt.NDArray[np.complex128]:
    """Noise for speech, 60 kHz of deviation, and a pilot."""
    count = int(wide_hz * SECONDS)
    dice = np.random.default_rng(seed)
    time_s = np.arange(count) / wide_hz
    voice = lfilter(*butter(2, [200.0 / (wide_hz / 2), 4000.0 / (wide_hz / 2)], "band"), dice.standard_normal(count))
    swing_hz = 60e3 * np.clip(0.4 * voice / voice.std(), -1, 1) + 6.75e3 * np.sin(2 * np.pi * 19e3 * time_s)
    return 10 ** (level_db / 20) * np.exp(2j * np.pi * (np.cumsum(swing_hz) / wide_hz + at_hz * time_s))


def _received(centre_hz: int, stations: dict[int, float], seed: int, rejection_db: float, rate_hz: float = RATE_HZ) -> Measured:
    """What a receiver with so much rejection of what lies beyond half the rate records; no filter but this step."""
    dice = np.random.default_rng([seed, centre_hz])
    total = np.zeros(int(2 * rate_hz * SECONDS), np.complex128)
    for number, (hz, level_db) in enumerate(stations.items()):
        off_hz = hz - centre_hz
        # rejection grows by 15 dB for every 100 kHz that the alias lies nearer to the centre than 0.9 MHz
        beyond_db = max(rejection_db + (abs(off_hz) - 1.5e6) * 15e-5, 0.0) if abs(off_hz) > rate_hz / 2 else 0.0
        if abs(off_hz) < rate_hz:
            total += _fm(seed * 10 + number, off_hz, level_db - beyond_db, 2 * rate_hz)
    samples = total[::2] + 10 ** (-42 / 20) / np.sqrt(2) * (dice.standard_normal((2, len(total) // 2)).T @ [1, 1j])
    name = f"at-{centre_hz}"
    found = measure(capture(samples.astype(np.complex64), rate_hz, centre_hz, name=name), plan_for("us", "fm"))
    return replace(found, started_utc="2026-03-01T10:00:00Z")


def _holds(group: list[Measured]) -> pd.DataFrame:
    return gather(group)[0].stations.set_index("channel_hz")


@pytest.mark.parametrize("seed", [1, 2])
def test_an_alias_is_a_phantom_where_another_centre_shows_its_place_empty(seed: int) -> None:
    """By recordings made: the alias of 99.5 at 97.1 is told by name, and all stations stay."""
    found = _holds([_received(centre, STATIONS, seed, 20.0) for centre in (CENTRE_HZ, 97_300_000, 99_300_000)])
    assert found.loc[GHOST_HZ, "holds"] == "phantom"
    assert "alias-of-99.5" in found.loc[GHOST_HZ, "remarks"].split(";")
    assert set(found.index[found["holds"] == "station"]) == set(STATIONS)


def test_an_alias_whose_place_no_other_recording_covers_is_unsure() -> None:
    """Nothing proves it, the station a rate away makes it likely; with that station unknown it is only at an edge."""
    first, second = (_received(centre, STATIONS, 3, 20.0) for centre in (CENTRE_HZ, 99_300_000))
    found = _holds([first, second])
    assert found.loc[GHOST_HZ, "holds"] == "unsure"
    assert "perhaps-alias-of-99.5" in found.loc[GHOST_HZ, "remarks"].split(";")
    assert "edge" in _holds([first]).loc[GHOST_HZ, "remarks"].split(";")


def _pair(ghost: dict[str, object], nearer: dict[str, object], **source: object) -> tuple[str, str]:
    """A channel at the first recording's edge, nearer to the second's centre, with the station a rate away in the third."""
    strong = FM_STATION | {"snr_db": 45.0} | source
    group = [
        recording({GHOST_HZ: ghost, CENTRE_HZ - 100_000: FM_STATION}, name="a", centre_hz=CENTRE_HZ),
        recording({GHOST_HZ: nearer}, name="b", centre_hz=97_300_000),
        recording({SOURCE_HZ: strong}, name="c", centre_hz=99_300_000),
    ]
    rows = decide(group).set_index("channel_hz").loc[GHOST_HZ]
    return str(rows["holds"].iloc[0]), str(rows["remarks"].iloc[0])


def test_a_station_a_rate_below_a_strong_one_stays() -> None:
    """It is there in both recordings at one level."""
    for snr_db in (20.0, 17.0):
        word, remarks = _pair(FM_STATION, FM_STATION | {"snr_db": snr_db})
        assert word == "station"
        assert "alias" not in remarks


def test_a_weak_station_under_an_alias_stays() -> None:
    """20 dB over the noise at the edge and 8 nearer to the centre: the 8 are a station, the edge's row says whose alias."""
    word, remarks = _pair(FM_STATION, FM_STATION | {"snr_db": 8.0, "envelope_scatter": 0.25})
    assert word == "station"
    assert "alias-of-99.5" in remarks


def test_no_alias_without_a_source_that_is_stronger() -> None:
    """Else it is as before: the recording that has the channel in its middle counts."""
    assert _pair(FM_STATION, NOTHING)[0] == "phantom"
    assert _pair(FM_STATION, NOTHING, snr_db=15.0)[0] == "empty"


def test_a_deafer_recording_proves_nothing() -> None:
    """Where the emission would not have been seen either, it is no phantom by that recording."""
    assert _pair(FM_STATION, NOTHING | {"noise_dbfs": -36.0})[0] == "empty"


def test_an_alias_off_the_raster_is_named() -> None:
    """2.048 MS/s is no multiple of 200 kHz: 99.3 folds to 97.252, 52 kHz over 97.2 and on no channel."""
    row = FM_STATION | {"pilot": False, "centroid_hz": 52e3}
    at = recording({97_200_000: row} | {97_900_000: FM_STATION}, name="a", centre_hz=98e6, rate_hz=2.048e6)
    strong = recording({99_300_000: FM_STATION | {"snr_db": 45.0}}, name="b", centre_hz=99e6, rate_hz=2.048e6)
    clear = recording({97_200_000: NOTHING}, name="c", centre_hz=97e6, rate_hz=2.048e6)
    rows = decide([at, strong, clear]).set_index(["recording", "channel_hz"])
    assert rows.loc[("a", 97_200_000), "holds"] == "phantom"
    assert "alias-of-99.3" in rows.loc[("a", 97_200_000), "remarks"]


def test_am_aliases_too() -> None:
    """250 kS/s: 1130 kHz, 130 kHz over 1000, folds to 880."""
    at = recording({880_000: AM_STATION, 1_000_000: AM_STATION}, band="am", name="a", centre_hz=1e6, rate_hz=250e3)
    strong = recording({1_130_000: AM_STATION | {"snr_db": 50.0}}, band="am", name="b", centre_hz=1.1e6, rate_hz=250e3)
    clear = recording({880_000: NOTHING}, band="am", name="c", centre_hz=0.9e6, rate_hz=250e3)
    rows = decide([at, strong, clear]).set_index(["recording", "channel_hz"])
    assert rows.loc[("a", 880_000), "holds"] == "phantom"
    assert "alias-of-1130" in rows.loc[("a", 880_000), "remarks"]
