"""A real station that stands where two strong ones' third-order product would: the bench of many is tests/bench/rates.py."""

from __future__ import annotations

import pytest
from measure.made import forged

from bandscan.demo import FmStation, Receiver
from bandscan.measure import measure
from bandscan.plans import plan_for
from bandscan.survey.holds import decide

LOW, HIGH = 97_500_000, 97_900_000
NOISE_200_KHZ = -53.0


@pytest.mark.parametrize("at_hz", [2 * LOW - HIGH, 2 * HIGH - LOW])
@pytest.mark.parametrize("snr_db", [10.0, 20.0])
@pytest.mark.parametrize("product_db", [None, -10.0])
def test_a_real_station_on_a_products_place_stays_a_station(at_hz: int, snr_db: float, product_db: float | None) -> None:
    """10 dB over the noise and more, of ordinary deviation (issue 4), also with the receiver's product 10 dB below it there.

    y = x - a x |x|^2 makes a A1^2 A2 of two carriers, textbook: a is chosen by that.
    """
    strong_db, level_db = -18.0, NOISE_200_KHZ + snr_db
    compression = 10 ** ((level_db + product_db - 3 * strong_db) / 20) if product_db is not None else 0.0
    stations = [
        FmStation(LOW, strong_db, programme="music"),
        FmStation(HIGH, strong_db, programme="speech", pilot_dev_hz=6_300.0),
        FmStation(at_hz, level_db, programme="music", pilot_dev_hz=7_000.0),
    ]
    one = forged(stations, 97_700_000, seconds=1.0, seed=17, receiver=Receiver(compression=compression))
    decided = decide([measure(one, plan_for("us", "fm"))]).set_index("channel_hz")
    assert decided.loc[at_hz, "holds"] == "station"


@pytest.mark.parametrize("at_hz", [2 * LOW - HIGH, 2 * HIGH - LOW])
def test_the_product_alone_is_none(at_hz: int) -> None:
    """The same two strong ones through a receiver that makes 15 dB over the noise there: a phantom, and of whom."""
    stations = [FmStation(LOW, -18.0, programme="music"), FmStation(HIGH, -18.0, programme="speech", pilot_dev_hz=6_300.0)]
    compression = 10 ** ((NOISE_200_KHZ + 15.0 + 3 * 18.0) / 20)
    one = forged(stations, 97_700_000, seconds=1.0, seed=18, receiver=Receiver(compression=compression))
    decided = decide([measure(one, plan_for("us", "fm"))]).set_index("channel_hz")
    assert decided.loc[at_hz, "holds"] == "phantom"
    assert "product-of" in decided.loc[at_hz, "remarks"]
