"""What an AM channel holds, on figures written by hand."""

from __future__ import annotations

from typing import Any

import pytest
from survey.made import AM_STATION, NOTHING, said

HERE = 1_000_000


def judged(region: str = "us", channel_hz: int = HERE, **figures: Any) -> tuple[str, str]:
    """Word and remarks for a station with some figures changed."""
    return said({channel_hz: AM_STATION | figures}, channel_hz, band="am", region=region)


@pytest.mark.parametrize("snr_db", [-9.0, 0.0, 20.0, 50.0])
def test_a_modulated_carrier_on_the_raster_is_a_station(snr_db: float) -> None:
    """Down to where two seconds show its sidebands."""
    assert judged(snr_db=snr_db) == ("station", "")


def test_a_stereo_pilot_is_modulation() -> None:
    """A stereo station between two words: sidebands hidden, the 25 Hz pilot there."""
    assert judged(snr_db=3.0, sideband_db=None, am_stereo=True) == ("station", "")


def test_no_carrier_is_empty() -> None:
    """None found, or one further under the noise than anybody lists."""
    assert said({HERE: NOTHING}, HERE, band="am") == ("empty", "")
    assert judged(snr_db=-11.0) == ("empty", "")


@pytest.mark.parametrize("error_hz", [-95.0, 170.0])
def test_a_carrier_off_the_raster_is_a_spur_and_says_where(error_hz: float) -> None:
    """20 Hz (47 CFR 73.1545) and 60 ppm of the receiver's clock, 60 Hz at 1 MHz, are allowed; more is no station."""
    assert judged(carrier_error_hz=error_hz) == ("spur", f"off-raster;at{error_hz:+.0f}Hz")


@pytest.mark.parametrize("error_hz", [-79.0, -20.0, 79.0])
def test_a_carrier_within_tolerance_and_clock_is_a_station(error_hz: float) -> None:
    """The same limits from inside."""
    assert judged(carrier_error_hz=error_hz)[0] == "station"


def test_a_bare_carrier_is_a_spur_where_sidebands_would_show() -> None:
    """From 15 dB up any programme is seen; its absence is said."""
    assert judged(sideband_db=None) == ("spur", "carrier-only")
    assert judged(snr_db=16.0, sideband_db=None) == ("spur", "carrier-only")


def test_a_weak_bare_carrier_is_unsure() -> None:
    """Below 6 dB sidebands hide in the noise, and below 15 dB those of talk of little depth do: cannot be told."""
    assert judged(snr_db=2.0, sideband_db=None) == ("unsure", "too-weak-for-sidebands")
    assert judged(snr_db=12.0, sideband_db=None) == ("unsure", "too-weak-for-sidebands")


def test_the_nine_kilohertz_raster_has_the_same_rule() -> None:
    """Region eu, 999 kHz."""
    assert judged("eu", 999_000)[0] == "station"
    assert judged("eu", 999_000, carrier_error_hz=1_000.0)[0] == "spur"


def test_a_mirror_image_is_a_phantom() -> None:
    """What measuring found to be one stays one, however well it is modulated."""
    assert judged(image_share=1.0) == ("phantom", "image")
    assert judged(image_share=0.3) == ("unsure", "partly-image")
    assert judged(image_share=0.05) == ("station", "")


def test_the_receivers_own_line_is_a_station_only_where_nothing_else_explains_its_modulation() -> None:
    """A modulated line on the centre is a station in a free place; beside a neighbour, whose sideband and its image are alike
    about the centre, or bare, it cannot be told."""
    assert judged(remarks="receiver-centre")[0] == "station"
    assert judged(remarks="receiver-centre", sideband_db=None)[0] == "unsure"
    assert judged(remarks="receiver-centre;uneven-sidebands")[0] == "unsure"
    rows = {HERE: AM_STATION | {"remarks": "receiver-centre"}, HERE + 10_000: AM_STATION}
    assert said(rows, HERE, band="am")[0] == "unsure"


def test_sidebands_that_hold_more_than_their_carrier_are_no_stations() -> None:
    """A line in a strong neighbour's splatter looks like that; at 100 % modulation sidebands hold the carrier's power at most
    (square wave, textbook)."""
    assert judged(snr_db=6.6, sideband_db=3.4) == ("unsure", "sidebands-over-carrier")
    assert judged(snr_db=6.6, sideband_db=0.0)[0] == "station"


def test_a_carrier_against_its_sidebands_is_not_called_bare() -> None:
    """Power beside it that is not noise, but not in its phase either: selective fading, or a neighbour's splatter."""
    assert judged(snr_db=20.0, sideband_db=None, remarks="sidebands-out-of-phase")[0] == "unsure"


def test_hum_alone_is_no_programme() -> None:
    """The mains' lines and nothing else: a supply's line, or a station that pauses; a stereo pilot tells."""
    assert judged(remarks="hum-only")[0] == "unsure"
    assert judged(remarks="hum-only", am_stereo=True)[0] == "station"


def test_an_unsteady_carrier_is_no_station_and_not_called_bare() -> None:
    """Whether a drifting or flickering carrier pauses, or never carries a programme, one recording does not tell."""
    assert judged(remarks="unsteady-carrier", sideband_db=None)[0] == "unsure"


def test_a_carrier_on_a_combs_place_cannot_be_told() -> None:
    """It may be the comb's line, whatever it carries; bare it is one, and a stereo pilot is no comb's."""
    assert judged(remarks="comb")[0] == "unsure"
    assert judged(remarks="comb", sideband_db=None) == ("spur", "carrier-only;comb")
    assert judged(remarks="comb", am_stereo=True)[0] == "station"
