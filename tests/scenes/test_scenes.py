"""Scenes of known truth, made by a maker that shares no code with bandscan: the figures that issue 2 asks for."""

from __future__ import annotations

import pandas as pd
import pytest
from places import needs_scenes
from scenes.truth import AM, FM, PHANTOM, Made, decided, measured, stations, sure

from bandscan.survey.holds import decide

pytestmark = needs_scenes

SILENT_CARRIER = ("am-night", 1_500_000)  # may be a station with a remark, a spur or unsure
SHARED_WITH_A_SIDEBAND = ("fm-digital", 98_500_000)


@pytest.mark.parametrize("made", sure(*FM, *AM), ids=str)
def test_every_station_from_8_db_up_is_found(made: Made) -> None:
    """A station whose level stands 8 dB or more over the noise of its channel is a station."""
    assert decided(made.scene).loc[made.channel_hz, "holds"] == "station"


@pytest.mark.parametrize("scene", FM + AM)
def test_nothing_else_is_a_station(scene: str) -> None:
    """Noise, DC, spurs, digital sidebands and splatter are no stations; weak stations may or may not be."""
    rows = decided(scene)
    true = {made.channel_hz for made in stations(scene)}
    false = [hz for hz in rows.index[rows["holds"] == "station"] if hz not in true and (scene, hz) != SILENT_CARRIER]
    assert false == []


def test_the_silent_carrier_is_not_passed_over() -> None:
    """am-night's unmodulated carrier is a station with a remark, a spur or unsure: never empty."""
    row = decided("am-night").loc[1_500_000]
    assert row["holds"] in ("spur", "unsure") or (row["holds"] == "station" and not pd.isna(row["remarks"]))


def test_sidebands_are_named_after_their_station() -> None:
    """Both digital sidebands of 97.3 and the free one of 98.3 are sidebands and say of whom."""
    rows = decided("fm-digital")
    for channel_hz, of in ((97_100_000, "97.3"), (97_500_000, "97.3"), (98_100_000, "98.3")):
        assert rows.loc[channel_hz, "holds"] == "sideband"
        assert f"of-{of}" in rows.loc[channel_hz, "remarks"]


def test_the_unmodulated_line_is_a_spur() -> None:
    """fm-empty's line at 104.35 MHz, between two channels, is a spur wherever it is listed, and is listed."""
    rows = decided("fm-empty")
    assert set(rows["holds"]) <= {"empty", "spur"}
    assert (rows.loc[[104_300_000], "holds"] == "spur").any()


LEVEL_KNOWN = [
    made for made in sure(*FM, *AM) if made.scene != "fm-tilted" and (made.scene, made.channel_hz) != SHARED_WITH_A_SIDEBAND
]


@pytest.mark.parametrize("made", LEVEL_KNOWN, ids=str)
def test_levels_are_right(made: Made) -> None:
    """Level within 0.5 dB, where no sideband shares the channel and the receiver is not tilted; AM: the carrier's."""
    assert decided(made.scene).loc[made.channel_hz, "level_dbfs"] == pytest.approx(made.level_dbfs, abs=0.5)


@pytest.mark.parametrize("made", sure(*FM), ids=str)
def test_the_pilot_is_told(made: Made) -> None:
    """The pilot is there or not, and its deviation is within 5 %."""
    row = decided(made.scene).loc[made.channel_hz]
    deviation_hz = 1e3 * float(str(made.entry["pilot_khz"]))
    assert row["pilot"] == (deviation_hz > 0)
    if deviation_hz and (made.scene, made.channel_hz) != SHARED_WITH_A_SIDEBAND:
        assert row["pilot_dev_hz"] == pytest.approx(deviation_hz, rel=0.05)


@pytest.mark.parametrize("scene", FM)
def test_no_pilot_stands_in_a_row_without_a_station(scene: str) -> None:
    """Pilot and its deviation are given only in rows that hold a station."""
    rows = decided(scene)
    others = rows[rows["holds"] != "station"]
    assert others["pilot"].isna().all()
    assert others["pilot_dev_hz"].isna().all()


@pytest.mark.parametrize("made", sure(*AM), ids=str)
def test_am_carriers_are_right(made: Made) -> None:
    """The carrier within 1 Hz of where it was put; of two on a channel, the stronger."""
    error_hz = decided(made.scene).loc[made.channel_hz, "carrier_error_hz"]
    assert error_hz == pytest.approx(float(str(made.entry["carrier_err_hz"])), abs=1.0)


def test_two_gains_part_products_from_stations() -> None:
    """The phantom pair judged as one survey: products at 97.1 and 98.3, stations at 97.5, 97.9 and weak 98.7 (issue 4)."""
    rows = decide([*measured(PHANTOM[0]), *measured(PHANTOM[1])])
    words = {hz: set(part["holds"]) for hz, part in rows.groupby("channel_hz")}
    for channel_hz in (97_100_000, 98_300_000):
        assert words[channel_hz] == {"phantom"}
    for channel_hz in (97_500_000, 97_900_000, 98_700_000):
        assert words[channel_hz] == {"station"}


@pytest.mark.parametrize("scene", PHANTOM)
def test_a_product_is_no_station_at_one_gain_either(scene: str) -> None:
    """From either recording alone 98.3 is not called a station (issue 4)."""
    assert decided(scene).loc[98_300_000, "holds"] != "station"


@pytest.mark.parametrize("channel_hz", [97_500_000, 97_900_000, 98_700_000])
def test_the_shift_of_a_station_is_the_gain_step(channel_hz: int) -> None:
    """A station stands up to 8 dB lower at the lower gain, less what the front end compresses at the higher: 6 to 8 dB."""
    high, low = (decided(scene)["level_dbfs"] for scene in PHANTOM)
    assert 6.0 < high[channel_hz] - low[channel_hz] < 8.2
