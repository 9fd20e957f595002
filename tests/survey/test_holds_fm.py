"""What an FM channel holds, on figures written by hand: each word, its evidence, and the limits between them."""

from __future__ import annotations

from typing import Any

import pytest
from survey.made import FM_STATION, NOTHING, recording, said

from bandscan.survey.holds import decide

HERE, BELOW, ABOVE = 98_100_000, 97_900_000, 98_300_000


def one(**figures: Any) -> dict[str, Any]:
    """A station's figures with some of them changed."""
    return FM_STATION | figures


def rice(snr_db: float) -> float:
    """Scatter of the envelope of a carrier in noise: (2 r + 1) / (r + 1)^2 (Rice distribution, textbook)."""
    r = 10 ** (snr_db / 10)
    return float((2 * r + 1) / (r + 1) ** 2)


@pytest.mark.parametrize("pilot", [True, False])
@pytest.mark.parametrize("snr_db", [0.0, 3.0, 8.0, 40.0])
def test_a_steady_emission_on_its_channel_is_a_station(snr_db: float, pilot: bool) -> None:
    """Stereo or mono, strong or as weak as its noise, where the envelope is that of a carrier in that noise."""
    assert said({HERE: one(snr_db=snr_db, envelope_scatter=rice(snr_db), pilot=pilot)}, HERE) == ("station", "")


def test_nothing_over_the_noise_is_empty() -> None:
    """No level, or one under half of the noise, is no emission."""
    assert said({HERE: NOTHING}, HERE) == ("empty", "")
    assert said({HERE: one(snr_db=-3.5, pilot=False)}, HERE) == ("empty", "")


def test_a_pilot_under_the_noise_is_not_passed_over() -> None:
    """A stereo station too weak for its shape shows its pilot: `unsure`, unless a strong neighbour's gusts can carry that."""
    weak = one(snr_db=-3.5, pilot=True, envelope_scatter=0.9)
    assert said({HERE: weak}, HERE) == ("unsure", "pilot-in-the-noise")
    assert said({HERE: weak, ABOVE: one(snr_db=30.0, level_dbfs=-20.0)}, HERE)[0] != "unsure"
    assert said({HERE: weak | {"carrier_error_hz": 14e3}}, HERE) == ("empty", "")


@pytest.mark.parametrize(
    "figures",
    [
        {"width_hz": 4e3, "line_share": 0.97},  # a bare line
        {"width_hz": 8e3, "line_share": 0.5},  # narrower than any modulation
        {"width_hz": 60e3, "line_share": 0.9},  # a line on a little noise
    ],
)
def test_an_unmodulated_line_is_a_spur_and_says_where(figures: dict[str, Any]) -> None:
    """A line or next to one, wherever it stands in the channel, is a spur with its place."""
    word, remarks = said({HERE: one(pilot=False, centroid_hz=-42e3, **figures)}, HERE)
    assert (word, remarks) == ("spur", "unmodulated;at-42kHz")


@pytest.mark.parametrize(("pilot_hz", "line_share"), [(6_000.0, 0.951), (6_750.0, 0.938), (7_500.0, 0.924)])
def test_a_silent_stereo_station_is_no_spur(pilot_hz: float, line_share: float) -> None:
    """Carrier and pilot alone, a pause in the programme: J0(pilot / 19 kHz)^2 (scipy.special.j0) stands in the carrier."""
    word, _ = said({HERE: one(width_hz=38e3, line_share=line_share, pilot_dev_hz=pilot_hz)}, HERE)
    assert word == "station"


def test_an_emission_off_the_raster_is_a_spur() -> None:
    """Modulated, but centred 60 kHz off any channel and without a pilot of its own."""
    assert said({HERE: one(centroid_hz=60e3, pilot=False, carrier_error_hz=60e3)}, HERE) == ("spur", "off-raster;at+60kHz")


def test_a_pilot_off_the_raster_makes_no_station() -> None:
    """A stereo emission 60 kHz beside a channel is not that channel's: its carrier is further away than 12 kHz."""
    figures = {"centroid_hz": 60e3, "carrier_error_hz": 60e3, "pilot": True}
    assert said({HERE: one(**figures)}, HERE) == ("spur", "off-raster;at+60kHz")


def test_a_noise_like_emission_alone_is_unsure() -> None:
    """Flat and unsteady with no neighbour to be a part of: cannot be told."""
    assert said({HERE: one(pilot=False, envelope_scatter=0.95)}, HERE) == ("unsure", "noise-like")


def test_an_envelope_between_steady_and_noise_is_unsure() -> None:
    """At 20 dB a scatter of 0.55 is neither a carrier's nor noise's."""
    assert said({HERE: one(pilot=False, envelope_scatter=0.55)}, HERE) == ("unsure", "unsteady-envelope")


def test_a_pilot_makes_an_unsteady_emission_a_station() -> None:
    """Multipath or a neighbour may shake the envelope; a pilot of its own decides."""
    assert said({HERE: one(envelope_scatter=0.7)}, HERE)[0] == "station"


@pytest.mark.parametrize(("neighbour_hz", "lean_hz"), [(ABOVE, 60e3), (BELOW, -60e3)])
def test_what_leans_towards_a_strong_neighbour_is_its_sideband(neighbour_hz: int, lean_hz: float) -> None:
    """The skirt of a station 30 dB stronger on the side that it leans to; the evidence names it."""
    rows = {HERE: one(snr_db=10.0, pilot=False, centroid_hz=lean_hz, envelope_scatter=0.9), neighbour_hz: one(snr_db=40.0)}
    assert said(rows, HERE) == ("sideband", f"of-{neighbour_hz / 1e6:.1f}")
    assert said(rows, neighbour_hz) == ("station", "")


def test_what_leans_away_from_the_only_neighbour_is_not_its() -> None:
    """Leaning down with the strong station above: no sideband of that one."""
    rows = {HERE: one(snr_db=10.0, pilot=False, centroid_hz=-60e3, envelope_scatter=0.9), ABOVE: one(snr_db=40.0)}
    assert said(rows, HERE)[0] == "spur"


def test_a_noise_like_block_beside_a_strong_station_is_its_sideband() -> None:
    """Flat in its channel, without a lean: digital, splatter, or a skirt."""
    rows = {HERE: one(snr_db=12.0, pilot=False, envelope_scatter=0.97), ABOVE: one(snr_db=35.0)}
    assert said(rows, HERE) == ("sideband", "of-98.3")


def test_a_weak_station_beside_a_strong_one_stays_a_station() -> None:
    """30 dB under its neighbour, but steady and in its place; with a pilot, even where the envelope is shaken."""
    strong = one(snr_db=45.0)
    assert said({HERE: one(snr_db=15.0, pilot=False, envelope_scatter=rice(15.0)), ABOVE: strong}, HERE)[0] == "station"
    assert said({HERE: one(snr_db=15.0, envelope_scatter=0.9), ABOVE: strong}, HERE)[0] == "station"


@pytest.mark.parametrize(("snr_db", "scatter"), [(-0.7, 1.66), (-1.7, 1.17), (5.0, 2.09), (1.65, 0.958)])
def test_the_gusts_of_a_strong_neighbour_are_no_station(snr_db: float, scatter: float) -> None:
    """A neighbour 38 dB up swings into the channel now and then: its envelope scatters as noise's or more, so it is no carrier.

    A carrier in noise of any ratio scatters by less than 1 (Rice distribution). Figures: forged bands, tests/bench/accuracy.py.
    """
    gusts = one(snr_db=snr_db, envelope_scatter=scatter, width_hz=194e3, centroid_hz=9e3, carrier_error_hz=-9e3)
    assert said({HERE: gusts, ABOVE: one(snr_db=38.0)}, HERE)[0] != "station"


def test_a_neighbours_pilot_does_not_count() -> None:
    """A pilot whose carrier lies 70 kHz away is heard through the channel's edge: no station here."""
    rows = {
        HERE: one(snr_db=10.0, centroid_hz=70e3, carrier_error_hz=70e3, envelope_scatter=0.6),
        ABOVE: one(snr_db=40.0),
    }
    assert said(rows, HERE)[0] == "sideband"


def test_on_a_100_khz_raster_the_neighbours_are_sidebands() -> None:
    """A station also fills the channels 100 kHz away: the middles are compared, and it stands at its carrier."""
    aside = {"snr_db": 24.0, "core_dbfs": -53.0 + 12.0, "envelope_scatter": 0.3, "pilot": True}
    rows = {
        98_000_000: one(**aside, centroid_hz=70e3, carrier_error_hz=60e3),
        98_100_000: one(snr_db=30.0),
        98_200_000: one(**aside, centroid_hz=-70e3, carrier_error_hz=-60e3),
    }
    assert [said(rows, hz, region="eu")[0] for hz in rows] == ["sideband", "station", "sideband"]


# a digital sideband 17 dB under its carrier, and what stands on its channel
@pytest.mark.parametrize(
    ("over_sideband_db", "figures", "word"),
    [
        (0.2, {"pilot": False, "envelope_scatter": 0.95}, "sideband"),  # the sideband alone
        (4.77, {"pilot": True, "envelope_scatter": 0.6}, "station"),  # a stereo station 3 dB over it: total 4.77 dB
        (4.77, {"pilot": False, "envelope_scatter": 0.5}, "station"),  # a mono one, its envelope as steady as that lets it be
        (4.77, {"pilot": False, "envelope_scatter": 0.95}, "sideband"),  # more of the sideband
        (3.0, {"pilot": False, "envelope_scatter": 0.88}, "unsure"),  # something under it
        (1.46, {"pilot": True, "envelope_scatter": 0.75}, "unsure"),  # one 4 dB under it: no more sure than in so much noise
    ],
)
def test_a_station_on_a_digital_sidebands_channel(over_sideband_db: float, figures: dict[str, Any], word: str) -> None:
    """Told from the sideband by what stands over it and how steady that is; never lost silently."""
    sideband_db = -53.0 + 20.0
    rows = {
        HERE: one(snr_db=20.0 + over_sideband_db, digital_dbfs=sideband_db, **figures),
        ABOVE: one(snr_db=37.0),
    }
    got, remarks = said(rows, HERE)
    assert got == word
    assert "digital-of-98.3" in remarks


def test_a_digital_sideband_is_taken_off_the_level() -> None:
    """3 dB over the sideband: the whole channel is 4.76 dB over it (textbook), the station's own level 1.76 dB less."""
    rows = {HERE: one(snr_db=24.76, digital_dbfs=-33.0, envelope_scatter=rice(3.0)), ABOVE: one(snr_db=37.0)}
    row = decide([recording(rows)]).set_index("channel_hz").loc[HERE]
    assert row["level_dbfs"] == pytest.approx(-30.0, abs=0.02)
    assert row["snr_db"] == pytest.approx(23.0, abs=0.02)


def test_a_steady_station_has_no_digital_sideband_under_it() -> None:
    """What is said to lie 2 dB under a station would shake its envelope: one as steady as 17 dB over the noise alone has none.

    Level then: the whole. Figures of forged bands (tests/bench/accuracy.py: up to 4 dB lost).
    """
    rows = {HERE: one(snr_db=17.0, envelope_scatter=rice(17.0), digital_dbfs=-53.0 + 15.0), ABOVE: one(snr_db=28.0)}
    row = decide([recording(rows)]).set_index("channel_hz").loc[HERE]
    assert row["holds"] == "station"
    assert row["level_dbfs"] == pytest.approx(-36.0, abs=0.1)


@pytest.mark.parametrize(
    ("figures", "word", "evidence"),
    [
        ({"image_share": 0.95}, "phantom", "image"),
        ({"image_share": 0.3}, "unsure", "partly-image"),
        ({"image_share": 0.05}, "station", ""),
        ({"product_share": 0.8, "product_of": "97.5+97.5-96.9"}, "phantom", "product-of-97.5+97.5-96.9"),
        ({"product_share": 0.3, "product_of": "97.5+97.5-96.9"}, "unsure", "partly-product-of-97.5+97.5-96.9"),
        ({"product_share": 0.02, "product_of": "97.5+97.5-96.9"}, "station", ""),
    ],
)
def test_what_the_receiver_makes_is_a_phantom_and_says_of_whom(figures: dict[str, Any], word: str, evidence: str) -> None:
    """An image or a product that explains most of an emission makes it a phantom, a good part of it makes it unsure."""
    assert said({HERE: one(**figures)}, HERE) == (word, evidence)


def test_a_steady_emission_with_nothing_to_hear_is_unsure() -> None:
    """A swept clock of a supply is as steady as a station; frequency modulation improves the carrier's ratio by far more than
    0 dB (textbook), so a programme would show. A pilot, or a ratio at which clicks may hide it, speaks for a station."""
    silent = {"pilot": False, "audio_snr_db": None}
    assert said({HERE: one(**silent)}, HERE)[0] == "unsure"
    assert said({HERE: one(pilot=False, audio_snr_db=8.0)}, HERE)[0] == "unsure"
    assert said({HERE: one(pilot=False, audio_snr_db=35.0)}, HERE)[0] == "station"
    assert said({HERE: one(pilot=True, audio_snr_db=None)}, HERE)[0] == "station"
    assert said({HERE: one(**silent, snr_db=5.0, envelope_scatter=rice(5.0))}, HERE)[0] == "station"


def test_lines_from_end_to_end_of_a_channel_are_no_station() -> None:
    """The comb of a supply leaves an envelope as steady as a weak station's; wide or rich in lines alone a station may be."""
    weak = {"snr_db": -1.0, "envelope_scatter": rice(-1.0), "pilot": False}
    assert said({HERE: one(**weak, width_hz=175e3, line_share=0.4)}, HERE)[0] == "unsure"
    assert said({HERE: one(**weak, width_hz=140e3, line_share=0.4)}, HERE)[0] == "station"
    assert said({HERE: one(**weak, width_hz=175e3, line_share=0.1)}, HERE)[0] == "station"
    assert said({HERE: one(**weak, width_hz=175e3, line_share=0.01)}, HERE)[0] == "unsure"


def test_a_carrier_off_the_raster_is_no_station() -> None:
    """A station's carrier is within 2 kHz (47 CFR 73.1545) and the receiver's 100 ppm of its channel's, if that is known."""
    mono = {"pilot": False, "carrier_sd_hz": 100.0}
    assert said({HERE: one(**mono, carrier_error_hz=20e3)}, HERE) == ("unsure", "off-raster;at+20kHz")
    assert said({HERE: one(**mono, carrier_error_hz=-20e3)}, HERE)[0] == "unsure"
    assert said({HERE: one(**mono, carrier_error_hz=11e3)}, HERE)[0] == "station"
    assert said({HERE: one(**mono | {"carrier_sd_hz": 5e3}, carrier_error_hz=20e3)}, HERE)[0] == "station"


def test_two_carriers_in_a_channel_are_no_station() -> None:
    """Two equal ones leave an envelope of 0.5 (their power's variance over its mean squared, textbook), and stand anywhere; a
    station's is steady, unless echoes, a spark or a neighbour shake it, and its carrier stands in the channel's middle."""
    shaken = {"envelope_scatter": 0.4, "audio_snr_db": 40.0}
    assert said({HERE: one(**shaken, pilot=False, carrier_error_hz=8e3)}, HERE) == ("unsure", "unsteady-envelope")
    assert said({HERE: one(**shaken, pilot=False, carrier_error_hz=1e3)}, HERE)[0] == "station"
    assert said({HERE: one(**shaken, pilot=True, carrier_error_hz=8e3)}, HERE)[0] == "station"


def test_stereo_stations_tell_where_carriers_stand() -> None:
    """A receiver 80 ppm off: its stations stand 8 kHz high together, and a mono one there is one, one at 0 kHz is not."""
    known = {HERE + number * 1_000_000: one(pilot=True, carrier_error_hz=8e3 + 500.0 * number) for number in (1, 2, 3)}
    mono = {"pilot": False, "carrier_sd_hz": 200.0}
    assert said(known | {HERE: one(**mono, carrier_error_hz=9e3)}, HERE)[0] == "station"
    assert said(known | {HERE: one(**mono, carrier_error_hz=0.0)}, HERE) == ("unsure", "off-raster;at+0kHz")
    assert said({HERE: one(**mono, carrier_error_hz=0.0)}, HERE)[0] == "station"


def test_a_pilot_in_gusts_is_a_neighbours_if_there_is_one() -> None:
    """Sparks shake a station's envelope as noise does; without a far stronger channel near, the pilot is its own."""
    sparks = one(snr_db=8.0, envelope_scatter=0.98, pilot=True, level_dbfs=-50.0)
    assert said({HERE: sparks}, HERE)[0] == "station"
    assert said({HERE: sparks, HERE + 400_000: one(level_dbfs=-20.0)}, HERE)[0] != "station"


def test_a_piece_of_a_station_beyond_the_recording_is_no_spur() -> None:
    """At the end of a recording an emission that leans out is a part of a station that is not covered; else it is a spur."""
    for end, side in ((HERE, -1.0), (HERE + 600_000, 1.0)):
        rows = {HERE + number * 200_000: NOTHING for number in range(4)}
        piece = one(pilot=False, centroid_hz=side * 60e3, carrier_error_hz=side * 60e3)
        assert said(rows | {end: piece}, end) == ("sideband", "of-a-channel-beyond-the-recording")
        inward = one(pilot=False, centroid_hz=-side * 60e3, carrier_error_hz=-side * 60e3)
        assert said(rows | {end: inward}, end)[0] == "spur"
