"""Whether the draws mean something: readings far finer than a pointer's usually are left one draw of 256 that counted."""

from __future__ import annotations

import random

import numpy as np
import pytest
from radio.bench_sim import GOOD_DB, bench, reference_list

from bandscan.model import Reference
from bandscan.radio import Limits, judge, read_sheet
from bandscan.radio.draws import enough

GOOD = Reference(GOOD_DB, 1.0, "known-good", "dBFS", 5)


@pytest.mark.parametrize("reading_hz", [0.0, 0.02e6])
def test_fine_readings_leave_an_honest_interval(reading_hz: float) -> None:
    """A pointer that is off by 70 kHz, read far more finely than usual and written to 10 kHz: intervals of 95 % hold the truth
    at the trade's three places, and no bend or backlash is made up."""
    held, words = [], set()
    for seed in range(6):
        dice = random.Random(f"fine{seed}")
        stations = bench(dice, 40)
        rows = [
            f"fm,{(one.channel_hz + 70e3 + dice.gauss(0.0, reading_hz)) / 1e6:.2f},{3 if one.level_db > GOOD_DB + 10 else 2}"
            for one in stations
            if one.level_db + dice.gauss(0.0, 3.0) > GOOD_DB
        ]
        text = "\n".join(["# job: 1", "# dial: pointer", "band,dial,grade", *rows])
        one = judge(read_sheet(text, "s"), {"fm": reference_list(stations)}, {"fm": GOOD}, Limits(), "", "0").bands["fm"]
        held += [point.low <= 70e3 <= point.high for point in one.dial_points]
        words |= set(one.dial_model.split())
    assert np.mean(held) >= 0.85
    assert not words & {"curve", "backlash"}


def test_what_counts_is_the_effective_number() -> None:
    """Kish (1965): equal weights count fully, one heavy one counts once."""
    assert enough(np.ones(25))
    assert not enough(np.array([1.0, *[1e-3] * 255]))
