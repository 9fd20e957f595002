"""Real signals, recorded by others. Each recording is cited here once; it is no part of the project.

- us-93p1-256k.ci16: a university class's recording, repository joshlinero/CE387FM_Radio: one strong stereo station.
- us-107p9-noise-300k.ci8: repository yjiang0929/ADC_lab1: receiver noise only.
- ar-94p6-2400k: dataset fabrirecchiniUNC/lad-clusters-ady, 42.7 ms: eight stations on a 100 kHz raster.

What they hold was checked independently of bandscan; the figures asserted are those of that check.
"""

from __future__ import annotations

from functools import cache

import pandas as pd
import pytest
from places import RECORDINGS, needs_recordings

from bandscan.measure import measure
from bandscan.model import Measured
from bandscan.plans import plan_for
from bandscan.source import RawFormat, read
from bandscan.survey.holds import decide

pytestmark = needs_recordings


@cache
def one_station() -> Measured:
    """The class recording, from its first sample, start-up transient included."""
    raw = RawFormat("ci16", 256_000, 93_100_000)
    (capture,) = read(RECORDINGS / "us-93p1-256k.ci16", raw)
    return measure(capture, plan_for("us", "fm"))


@cache
def noise_only() -> Measured:
    """The noise recording."""
    raw = RawFormat("ci8", 300_000, 107_900_000)
    (capture,) = read(RECORDINGS / "us-107p9-noise-300k.ci8", raw)
    return measure(capture, plan_for("us", "fm"))


@cache
def eight_stations() -> Measured:
    """The short recording of a 100 kHz raster."""
    (capture,) = read(RECORDINGS / "ar-94p6-2400k.sigmf-meta")
    return measure(capture, plan_for("eu", "fm"))


def decided(measured: Measured) -> pd.DataFrame:
    """SURVEY rows by channel."""
    return decide([measured]).set_index("channel_hz")


def test_the_class_recording_is_one_stereo_station() -> None:
    """One station; pilot 6.3 +-0.2 kHz; carrier +2.2 +-0.8 kHz."""
    rows = decided(one_station())
    assert list(rows["holds"]) == ["station"]
    row = rows.loc[93_100_000]
    assert row["pilot"]
    assert row["pilot_dev_hz"] == pytest.approx(6_300, abs=200)
    assert row["carrier_error_hz"] == pytest.approx(2_200, abs=800)


def test_a_station_that_fills_its_recording_has_a_bound_for_its_noise() -> None:
    """The station's skirts cover all of 256 kHz: the noise is given as an upper bound, and says so."""
    assert "noise-upper-bound" in decided(one_station()).loc[93_100_000, "remarks"].split(";")


def test_the_start_up_transient_is_left_out() -> None:
    """Samples 521-526 hold a click: the row says that a burst was left out, and the level is that of a strong station."""
    row = decided(one_station()).loc[93_100_000]
    assert "bursts-left-out" in row["remarks"]
    assert row["snr_db"] > 20


def test_noise_alone_is_no_station() -> None:
    """Three seconds of receiver noise, values -3 to 1: no station, no pilot."""
    rows = decided(noise_only())
    assert set(rows["holds"]) == {"empty"}
    assert rows["pilot"].isna().all()
    assert not noise_only().readings["pilot"].fillna(False).any()


@pytest.mark.parametrize("channel_hz", [94_300_000, 94_700_000, 95_100_000, 95_500_000])
def test_stations_on_a_100_khz_raster_are_at_their_carriers(channel_hz: int) -> None:
    """94.3, 94.7, 95.1 and 95.5 MHz are stations with a pilot, though only 42.7 ms were recorded."""
    row = decided(eight_stations()).loc[channel_hz]
    assert row["holds"] == "station"
    assert row["pilot"]


# deviations as checked independently, of lines in 42.7 ms
@pytest.mark.parametrize(
    ("channel_hz", "deviation_hz"), [(94_300_000, 7_900), (94_700_000, 8_000), (95_100_000, 7_500), (95_500_000, 6_400)]
)
def test_their_pilots_have_the_deviations_of_the_independent_check(channel_hz: int, deviation_hz: float) -> None:
    """Within 10 %: two short looks at a line beside a programme."""
    assert decided(eight_stations()).loc[channel_hz, "pilot_dev_hz"] == pytest.approx(deviation_hz, rel=0.1)


NEIGHBOURS_HZ = [94_200_000, 94_400_000, 94_600_000, 94_800_000, 95_000_000, 95_200_000, 95_400_000]


@pytest.mark.parametrize("channel_hz", NEIGHBOURS_HZ)  # 95.6 lies past what the recording covers
def test_their_neighbours_100_khz_away_are_sidebands(channel_hz: int) -> None:
    """A station also fills the channels beside its own: those are sidebands, without a pilot."""
    row = decided(eight_stations()).loc[channel_hz]
    assert row["holds"] == "sideband"
    assert pd.isna(row["pilot"])
