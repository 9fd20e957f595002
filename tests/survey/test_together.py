"""What recordings of one survey tell of each other: gain, noise, mirror, pauses, and makers that no recording covers."""

from __future__ import annotations

from typing import Any

import pytest
from survey.made import AM_STATION, FM_STATION, NOTHING, recording

from bandscan.model import Measured
from bandscan.survey.holds import decide
from bandscan.survey.makers import makers_of

HERE = 98_100_000
STRONG = {96_500_000: 40.0, 97_500_000: 45.0, 98_900_000: 42.0}  # none of their products falls on HERE
MAKERS = {97_500_000: 45.0, 97_800_000 + 100_000: 46.0}  # 2 x 97.9 - 97.5 = 98.3 MHz
PRODUCT = 98_300_000


def _at(gain_db: float | None, snr_db: dict[int, float | None], *, shift_db: float = 0.0, band: str = "fm") -> Measured:
    """A recording of stations so much over the noise, all lower by a shift; None is an empty channel."""
    station = FM_STATION if band == "fm" else AM_STATION
    rows = {hz: NOTHING if one is None else station | {"snr_db": one - shift_db} for hz, one in snr_db.items()}
    return recording(rows, band=band, name=f"{gain_db} {shift_db}", gain_db=gain_db)


def _word(group: list[Measured], channel_hz: int) -> str:
    words = set(decide(group).set_index("channel_hz").loc[[channel_hz], "holds"])
    assert len(words) == 1
    return str(words.pop())


@pytest.mark.parametrize(("told_db", "true_db"), [(4.0, 4.0), (5.0, 5.0), (4.0, 6.0), (6.0, 8.0)])
@pytest.mark.parametrize("fades_db", [-3.0, 3.0])
def test_a_station_that_fades_is_no_product(told_db: float, true_db: float, fades_db: float) -> None:
    """No overload, a station 3 dB off the common step, and a front end whose driver tells its step 2 dB wrong (common
    practice): the others' shift is the step."""
    high = _at(28.0, STRONG | {HERE: 30.0})
    low = _at(28.0 - told_db, STRONG | {HERE: 30.0 - fades_db}, shift_db=true_db)
    assert _word([high, low], HERE) == "station"


def test_a_fall_between_a_stations_and_a_products_is_unsure_where_a_product_may_stand() -> None:
    """Step 8 dB, a fall of 11.5: on the place of 2a - b it may be either, elsewhere it is a station that fades."""
    for channel_hz, word in ((PRODUCT, "unsure"), (98_700_000, "station")):
        high = _at(28.0, MAKERS | {channel_hz: 25.0})
        low = _at(20.0, MAKERS | {channel_hz: 25.0 - 3.5}, shift_db=8.0)
        assert _word([high, low], channel_hz) == word


def test_what_went_off_the_air_is_no_product() -> None:
    """42 dB gone by a step of 6: no product of an order up to five falls so fast. One recording has it, one has not: unsure."""
    high, low = _at(28.0, STRONG | {HERE: 42.0}), _at(22.0, STRONG | {HERE: None}, shift_db=6.0)
    assert _word([high, low], HERE) == "unsure"


def test_an_am_carrier_is_followed_under_the_noise() -> None:
    """A carrier is measured 10 dB under the noise of its channel: a third-order product falls from +4 to -14 by a step of 6."""
    strong = {700_000: 40.0, 900_000: 45.0, 1_200_000: 42.0}
    high = _at(28.0, strong | {1_100_000: 4.0}, band="am")
    low = _at(22.0, strong | {1_100_000: 4.0 - 12.0}, shift_db=6.0, band="am")
    assert _word([high, low], 1_100_000) == "phantom"


def test_noise_denies_no_station() -> None:
    """A weak station that less gain leaves in the noise stays one; one that less gain would still show does not, nor one where
    a product may stand, nor any where the front end is seen to make products."""
    for snr_db, word in ((9.0, "station"), (24.0, "phantom")):
        high, low = _at(28.0, STRONG | {HERE: snr_db}), _at(20.0, STRONG | {HERE: None}, shift_db=8.0)
        assert _word([high, low], HERE) == word
    high, low = _at(28.0, MAKERS | {PRODUCT: 9.0}), _at(20.0, MAKERS | {PRODUCT: None}, shift_db=8.0)
    assert _word([high, low], PRODUCT) == "unsure"
    made = {98_700_000: FM_STATION | {"product_share": 0.9, "product_of": "97.5+97.5-96.3", "snr_db": 20.0}}
    rows = {hz: FM_STATION | {"snr_db": snr} for hz, snr in (STRONG | {HERE: 9.0}).items()} | made
    high, low = (
        recording(rows, name="high", gain_db=28.0),
        _at(20.0, STRONG | {HERE: None, 98_700_000: 0.0}, shift_db=8.0),
    )
    assert _word([high, low], HERE) == "unsure"


def test_another_centre_shows_the_station_under_an_image() -> None:
    """The mirror lies elsewhere there; at the same centre it does not, and the image stays one."""
    image: dict[str, Any] = FM_STATION | {"image_share": 0.9}
    for centre_hz, word in ((97_900_000.0, "station"), (98_500_000.0, "phantom")):
        group = [
            recording({HERE: image}, name="one", centre_hz=98_500_000.0),
            recording({HERE: FM_STATION}, name="other", centre_hz=centre_hz),
        ]
        assert _word(group, HERE) == word


def test_a_carrier_that_is_modulated_once_is_a_station() -> None:
    """A pause in one of two recordings, with or without hum; bare in both it is none."""
    bare = AM_STATION | {"sideband_db": None, "am_depth": None}
    hums = AM_STATION | {"remarks": "hum-only"}
    drifts = bare | {"remarks": "unsteady-carrier"}
    for pause, other, word in (
        (bare, AM_STATION, "station"),
        (bare, bare, "spur"),
        (hums, AM_STATION, "station"),
        (hums, hums, "unsure"),
        (drifts, AM_STATION, "station"),
        (drifts, drifts, "unsure"),
    ):
        group = [recording({1_000_000: one}, band="am", name=name) for one, name in ((pause, "one"), (other, "other"))]
        assert _word(group, 1_000_000) == word


@pytest.mark.parametrize(
    ("figures", "word"),
    [
        ({"pilot_dev_hz": 6750.0}, "station"),
        ({"pilot_dev_hz": 13_500.0, "pilot_dev_sd_hz": 50.0}, "unsure"),
        ({"peak_dev_hz": 150e3, "peak_dev_sd_hz": 2e3}, "unsure"),
        ({"remarks": "same-programme-as-97.9:by-audio"}, "unsure"),
        ({"remarks": "same-programme-as-99.9:by-audio"}, "station"),
    ],
)
def test_a_product_of_stations_in_another_recording_is_unsure(figures: dict[str, Any], word: str) -> None:
    """2 x 97.9 - 97.5 = 98.3: pilot of 8 to 10 % and peak of 75 kHz are ordinary (47 CFR 73.322, 73.1570; twice that is a
    product's). What one recording covers together with its makers is told by its phase."""
    makers = {hz: FM_STATION | {"snr_db": snr} for hz, snr in MAKERS.items()}
    suspect = {PRODUCT: FM_STATION | {"snr_db": 20.0} | figures}
    apart = [recording(makers, name="makers"), recording(suspect, name="suspect")]
    assert _word(apart, PRODUCT) == word
    if word == "unsure":
        assert "perhaps-product-of-97.9+97.9-97.5" in decide(apart).set_index("channel_hz").loc[PRODUCT, "remarks"]
    assert _word([recording(makers | suspect, name="all")], PRODUCT) == "station"


def test_makers_are_far_stronger_and_of_the_bands_orders() -> None:
    """2a - b and a + b - c of stations 15 dB stronger; a + b and a - b fall out of the FM band, not out of AM."""
    levels = {700_000: -20.0, 900_000: -22.0, 1_000_000: -24.0}
    formulas = {one.formula for one in makers_of(1_100_000, -50.0, levels, "am")}
    assert formulas == {"900+900-700", "1000+1000-900"}
    assert [one.order for one in makers_of(1_600_000, -50.0, levels, "am")] == [2]
    assert {one.formula for one in makers_of(800_000, -50.0, levels, "am")} == {"900+900-1000", "700+1000-900"}
    assert not list(makers_of(1_100_000, -30.0, levels, "am"))
