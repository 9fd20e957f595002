"""A wrong stated centre: said, and nothing that it makes of a station is sure; a receiver's clock is not taken for one."""

from __future__ import annotations

from dataclasses import replace

import pytest
from measure.made import forged

from bandscan import tables
from bandscan.demo import FmStation, Receiver, Spur
from bandscan.measure import measure
from bandscan.model import Capture
from bandscan.plans import plan_for
from bandscan.survey.holds import decide

CENTRE_HZ = 98_000_000
STATIONS = [
    FmStation(97_300_000, -30.0, carrier_error_hz=900.0),
    FmStation(97_700_000, -24.0, programme="music", carrier_error_hz=-1400.0),
    FmStation(98_300_000, -36.0, pilot_dev_hz=0.0),
    FmStation(98_900_000, -33.0, programme="music", digital_db=-20.0),
]


def stated(one: Capture, off_hz: float) -> tuple[list[str], dict[int, str]]:
    """Notes on a centre, and what the channels hold, where the recording states its own so far off."""
    found = measure(replace(one, centre_hz=one.centre_hz + off_hz), plan_for("us", "fm"))
    rows = decide([found])
    words = dict(zip(rows["channel_hz"].astype(int), rows["holds"].astype(str), strict=True))
    return [note for note in found.notes if "off the raster" in note and "stand" in note], words


@pytest.mark.parametrize("off_hz", [-100e3, -60e3, -35e3, 22e3, 45e3, 80e3])
def test_a_wrong_centre_is_said_and_leaves_nothing_sure(off_hz: float) -> None:
    """The shift of four stations within 4 kHz (of half a step on either side); no station, spur or sideband."""
    notes, words = stated(forged(STATIONS, CENTRE_HZ, seconds=1.0, seed=21), off_hz)
    assert len(notes) == 1
    told_khz = float(notes[0].split("stand ")[1].split(" kHz")[0])
    assert (told_khz - off_hz / 1e3 + 100) % 200 - 100 == pytest.approx(0.0, abs=4.0)
    assert set(words.values()) <= {"empty", "unsure", "phantom"}


@pytest.mark.parametrize("off_hz", [-10e3, 0.0, 10e3])
def test_a_clock_of_100_ppm_is_no_wrong_centre(off_hz: float) -> None:
    """At 98 MHz: 9.8 kHz."""
    notes, words = stated(forged(STATIONS, CENTRE_HZ, seconds=1.0, seed=21), off_hz)
    assert notes == []
    assert sorted(hz for hz, word in words.items() if word == "station") == [one.channel_hz for one in STATIONS]


def test_spurs_off_the_raster_beside_stations_are_spurs() -> None:
    """Three bare lines 60 kHz off, as strong as the stations: they are no stations and shift nothing; noise alone neither."""
    spurs = [Spur(hz + 60_000, -30.0) for hz in (97_500_000, 98_100_000, 98_500_000)]
    notes, words = stated(forged([*STATIONS, *spurs], CENTRE_HZ, seconds=1.0, seed=22), 0.0)
    assert notes == []
    assert words[97_300_000] == words[98_900_000] == "station"
    assert stated(forged([], CENTRE_HZ, seconds=0.5, receiver=Receiver()), 0.0)[0] == []


@pytest.mark.parametrize("rate", [0.98, 1.02, 1.0667, 1.17])
def test_a_wrong_rate_is_said_and_what_it_takes_off_the_raster_is_not_sure(rate: float) -> None:
    """2.4 MS/s told for 2.56 and the like (arithmetic): by how much within 0.3 %; far channels tell nothing, near ones hold."""
    many = [FmStation(hz, -30.0) for hz in (97_100_000, 97_300_000, 97_900_000, 98_100_000, 98_500_000, 98_700_000, 98_900_000)]
    one = forged(many, CENTRE_HZ, seconds=0.5, seed=23)
    found = measure(replace(one, rate_hz=one.rate_hz * rate), plan_for("us", "fm"))
    (note,) = (note for note in found.notes if "sample rate" in note)
    assert float(note.split("about ")[1].split(" %")[0]) == pytest.approx(100 * abs(rate - 1), abs=0.3)
    assert ("too high" in note) == (rate > 1)
    rows = decide([found])
    far = (rows["channel_hz"] - CENTRE_HZ).abs() > 800_000
    assert tables.blind(rows)[far & (rows["holds"] != "station")].all()
    assert set(rows["holds"][far]) <= {"empty", "unsure", "phantom"}
    assert (rows.set_index("channel_hz").loc[98_100_000, "holds"] == "station") == (rate < 1.15)  # there 17 kHz off
    assert not any("sample rate" in note for note in measure(one, plan_for("us", "fm")).notes)
