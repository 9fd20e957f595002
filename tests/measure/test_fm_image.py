"""Mirror images in a recording that was shifted or cut after the mixer: they turn about another axis than its centre."""

from __future__ import annotations

import numpy as np
import pytest
from measure.made import capture

from bandscan.demo import FmStation, Receiver, forge
from bandscan.measure import measure
from bandscan.model import Capture, Measured
from bandscan.plans import plan_for
from bandscan.survey.holds import decide

CENTRE_HZ, RATE_HZ = 98_100_000, 2.4e6


def shifted(stations: list[FmStation], image_db: float | None, shift_hz: float, seed: int) -> Capture:
    """A recording whose samples were shifted after the receiver's mixer, as a recorder corrects its clock or tunes beside."""
    receiver = Receiver() if image_db is None else Receiver(image_db=image_db)
    made = forge(stations, receiver, CENTRE_HZ + shift_hz, RATE_HZ, 0.5, seed).samples
    wave = made * np.exp(2j * np.pi * shift_hz * np.arange(len(made)) / RATE_HZ)
    return capture(wave, RATE_HZ, CENTRE_HZ, encoding="ci16")


def held(found: Measured, channel_hz: int) -> str:
    return str(decide([found]).set_index("channel_hz").loc[channel_hz, "holds"])


@pytest.mark.parametrize("shift_hz", [0.3, 20.0, 2_000.0, -200_000.0])
def test_an_image_is_told_about_the_axis_that_a_shift_gives_it(shift_hz: float) -> None:
    """A shift of d leaves an image of 30 dB rejection about the centre and d: a phantom, by however little d turns it."""
    image_hz = round(2 * (CENTRE_HZ + shift_hz) - 98_500_000, -5)
    stations = [FmStation(98_500_000, -20.0, "music"), FmStation(98_900_000, -25.0, "speech")]
    for seed in (1, 2):
        found = measure(shifted(stations, -30.0, shift_hz, seed), plan_for("us", "fm"))
        assert held(found, int(image_hz)) == "phantom"


def test_a_weak_station_at_a_strong_ones_mirror_place_stays_one() -> None:
    """30 dB weaker, of its own programme, about the centre or beside it: without an image there is no other axis."""
    for seed, shift_hz in ((1, 0.0), (2, 0.3), (3, 200.0)):
        stations = [FmStation(98_500_000, -20.0, "music"), FmStation(97_700_000, -50.0, "speech")]
        found = measure(shifted(stations, None, shift_hz, seed), plan_for("us", "fm"))
        assert held(found, 97_700_000) == "station"
        assert not any("mirror images" in note for note in found.notes)


def test_images_of_stations_outside_the_recording_are_cautioned() -> None:
    """About an axis 300 kHz below the centre, the mirror of 98.9 MHz lies at 96.7, outside of what was recorded."""
    found = measure(shifted([FmStation(98_300_000, -20.0, "music")], -30.0, 0.0, 1), plan_for("us", "fm"))
    assert not any("mirror images" in note for note in found.notes)
    found = measure(shifted([FmStation(98_300_000, -20.0, "music")], -30.0, -300_000.0, 1), plan_for("us", "fm"))
    assert any("mirror images" in note and "on 98.9 MHz" in note for note in found.notes)
