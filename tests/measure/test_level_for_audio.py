"""The level at which this receiver would give 30 dB of audio signal-to-noise, and stereo's: measure/fm.py and am.py."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from measure.made import forged, read

from bandscan.demo import AmStation, FmStation

FM_HZ, AM_HZ = 98_100_000, 1_000_000


@pytest.mark.parametrize("programme", ["speech", "music"])
def test_a_station_at_that_level_sounds_like_that(programme: str) -> None:
    """What a strong FM station tells holds when it is forged anew: 30 dB are passed within 1.5 dB of that level.

    They lie on the threshold, where audio falls by 4 dB for each dB of level.
    """

    def at(level_dbfs: float) -> pd.Series:
        return read(forged([FmStation(FM_HZ, level_dbfs, programme)], FM_HZ, rate_hz=600e3, seconds=2.0)).loc[FM_HZ]

    strong = at(-20.0)
    needed = float(strong["level_30db_dbfs"])
    assert at(needed - 1.5)["audio_snr_db"] < 30.0 < at(needed + 1.5)["audio_snr_db"]
    # the weak one tells the same level
    assert at(needed + 1.5)["level_30db_dbfs"] == pytest.approx(needed, abs=1.0)


def test_an_am_stations_audio_follows_its_carrier() -> None:
    """The same for AM, whose audio's signal-to-noise goes decibel by decibel with the carrier (textbook)."""
    strong = read(forged([AmStation(AM_HZ, -30.0)], 1_120_000, seconds=4.0), "am").loc[AM_HZ]
    needed = float(strong["level_30db_dbfs"])
    assert strong["level_dbfs"] - needed == pytest.approx(strong["audio_snr_db"] - 30.0, abs=0.01)
    weak = read(forged([AmStation(AM_HZ, needed)], 1_120_000, seconds=4.0), "am").loc[AM_HZ]
    assert weak["audio_snr_db"] == pytest.approx(30.0, abs=1.5)


def test_stereo_is_told_where_there_is_a_pilot() -> None:
    """Stereo lies 15 to 24 dB under mono (penalty of 23 dB for 75 us, textbook, less what S adds); a mono station has none."""
    rows = {
        dev: read(forged([FmStation(FM_HZ, -30.0, pilot_dev_hz=dev)], FM_HZ, rate_hz=600e3, seconds=1.0)).loc[FM_HZ]
        for dev in (0.0, 6750.0)
    }
    assert pd.isna(rows[0.0]["stereo_snr_db"])
    assert 15.0 < rows[6750.0]["audio_snr_db"] - rows[6750.0]["stereo_snr_db"] < 24.0
    assert np.isfinite(rows[0.0]["level_30db_dbfs"])
