"""Verdicts on benches, radios and people of a second kind, less tidy than `radio_table.py`'s. Not part of the test run:

python tests/bench/radio_other.py [--seeds N] [--first N]

Levels bunch, or fall off exponentially; the list errs by half a decibel and knows its spread roughly; a pointer's error is
curved; some stations are off the air on the day, some ticks are of no station; people's grades are 5 dB and 6 dB apart.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import pandas as pd
from bench.radio_faults import CONFIDENT, MADE, order_of

from bandscan import tables
from bandscan.model import BandCheck, Baseline, Reference
from bandscan.radio import GoodSweep, Limits, judge, read_sheet, reference_from

GOOD_DB = -60.0
BANDS = {"fm": (88_100_000, 107_900_000, 200_000), "am": (540_000, 1_700_000, 10_000)}
# channel [Hz], level over a good set's threshold and what reaches the plug beside it [dB], pilot
Station = tuple[int, float, float, bool]


def bench(dice: random.Random, band: str, count: int) -> list[Station]:
    """Stations whose levels fall off exponentially, stand in two bunches or are spread evenly."""
    first, last, step = BANDS[band]
    kind, spread_db = dice.choice(["tail", "bunches", "even"]), dice.choice([2.5, 3.5, 4.5])
    stations = []
    for hz in sorted(dice.sample(range(first, last + 1, step), count)):
        if kind == "tail":
            level_db = min(-15.0 + dice.expovariate(1.0 / 16.0), 50.0)
        elif kind == "bunches":
            level_db = dice.gauss(0.0, 6.0) if dice.random() < 0.5 else dice.gauss(28.0, 8.0)
        else:
            level_db = dice.uniform(-12.0, 40.0)
        stations.append((hz, level_db, dice.gauss(0.0, spread_db), dice.random() < 0.85))
    return stations


def listed(dice: random.Random, band: str, stations: list[Station]) -> Baseline:
    """The list of five surveys that the shop has of them."""
    frame = pd.DataFrame(
        {
            "band": band,
            "channel_hz": [hz for hz, _, _, _ in stations],
            "level_db": [GOOD_DB + level_db + dice.gauss(0.0, 0.5) for _, level_db, _, _ in stations],
            "level_unit": "dBFS",
            "spread_db": [abs(dice.gauss(2.0, 1.0)) for _ in stations],
            "snr_db": [level_db + 25.0 for _, level_db, _, _ in stations],
            "seen": 5,
            "surveys": 5,
            "stereo": [float(pilot) for _, _, _, pilot in stations],
            "identity": "",
            "name": "",
            "steadiness": "steady",
            "valid": "any",
            "remarks": "",
        }
    )
    last = "2026-03-13T10:00:00Z"
    return Baseline(
        band, "us", "bench", tables.check(frame, tables.BASELINE), 5, last, last, last, "A", "five surveys", 0.0, (), "0"
    )


def sweep(
    dice: random.Random, band: str, stations: list[Station], deaf_db: float, bias_db: float, grades: bool, others: int
) -> str:
    """The sheet of one person at one radio; `others` ticks are no station of the list."""
    first, last, _ = BANDS[band]
    middle, half, fm = (first + last) / 2.0, (last - first) / 2.0, band == "fm"
    offset_hz, slope, curve_hz = (
        dice.gauss(0.0, 0.5e6 if fm else 12e3),
        dice.gauss(0.0, 0.02),
        dice.gauss(0.0, 0.15e6 if fm else 5e3),
    )
    reading_hz = dice.uniform(0.15e6, 0.35e6) if fm else dice.uniform(6e3, 20e3)
    jitter_db, lamp_db = dice.uniform(2.0, 6.0), dice.uniform(8.0, 20.0)
    off_air = set(dice.sample(range(len(stations)), dice.choice([0, 0, 1, 2])))
    stops: list[tuple[float, str, str]] = []
    for place, (hz, level_db, beside_db, pilot) in enumerate(stations):
        at_plug_db = level_db + beside_db - deaf_db
        over_db = at_plug_db - bias_db + dice.gauss(0.0, jitter_db)
        grade = ("3" if over_db > 6.0 else "2") if over_db > 0.0 else "1" if over_db > -5.0 else ""
        grade = grade if grades else "2" if over_db > 0.0 else ""
        if grade and place not in off_air and dice.random() > 0.015:
            stops.append((hz, grade, "on" if pilot and at_plug_db + dice.gauss(0.0, 3.0) > lamp_db else "off"))
    stops += [(dice.uniform(first, last), dice.choice(["2", "2", "1"]) if grades else "2", "off") for _ in range(others)]
    text = f"# swept: 2026-03-14 12:00\n# dial: pointer\n# bands: {band}\nband,dial,grade,lamp\n"
    for hz, grade, lamp in sorted(stops):
        x = (hz - middle) / half
        shown_hz = hz + offset_hz + slope * (hz - middle) + curve_hz * (1.5 * x * x - 0.5) + dice.gauss(0.0, reading_hz)
        text += f"{band},{shown_hz / 1e6:.1f},{grade},{lamp}\n" if fm else f"{band},{5 * round(shown_hz / 5e3)},{grade},\n"
    return text


def check(text: str, band: str, baseline: Baseline, reference: Reference | None) -> BandCheck:
    """One sheet judged."""
    references = {} if reference is None else {band: reference}
    return judge(read_sheet(text, "made.csv"), {band: baseline}, references, Limits(), MADE, "0").bands[band]


def judged(seed: int, band: str, count: int, grades: bool, deaf_db: float) -> tuple[BandCheck, float]:
    """A set so much deaf against four good ones; and the threshold in truth, the person's own bias in it. [dBFS]"""
    dice = random.Random(f"other{seed}{count}{band}")
    stations = bench(dice, band, count)
    baseline = listed(dice, band, stations)

    def one(deaf_db: float, bias_db: float, reference: Reference | None) -> BandCheck:
        text = sweep(dice, band, stations, deaf_db, bias_db, grades, dice.choice([0, 1, 2, 4]))
        return check(text, band, baseline, reference)

    good = [one(dice.gauss(0.0, 1.2), dice.gauss(0.0, 1.3), None) for _ in range(4)]
    reference = reference_from([GoodSweep(f"set {number}", str(number), MADE, each) for number, each in enumerate(good)])
    bias_db = dice.gauss(0.0, 1.3)
    return one(deaf_db, bias_db, reference), GOOD_DB + deaf_db + bias_db


def main() -> None:
    """Prints verdicts, first findings that are wrong and confident, and how often the stated bounds hold."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=30)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args()
    cases = [(b, n, g, d) for b in BANDS for n in (12, 30, 50) for g in (False, True) for d in (0.0, 10.0, 20.0)]
    for band, count, grades, deaf_db in cases:
        verdicts: Counter[str] = Counter()
        wrong: Counter[str] = Counter()
        held = over = under = 0
        for seed in range(asked.first, asked.first + asked.seeds):
            got, truth_db = judged(seed, band, count, grades, deaf_db)
            verdicts[got.verdict] += 1
            findings = order_of(got)
            if findings and findings[0][1] >= CONFIDENT and not (deaf_db and findings[0][0] == "deaf"):
                wrong[findings[0][0]] += 1
            low, high = got.threshold_db.low, got.threshold_db.high
            held += (low is None or low <= truth_db) and (high is None or truth_db <= high)
            against = got.against_reference_db
            over += against is not None and against.low is not None and against.low > deaf_db
            under += against is not None and against.high is not None and against.high < deaf_db
        print(
            f"other {band} stations={count} grades={grades!s:5} {deaf_db:2.0f} dB deaf: {dict(verdicts)}, "
            f"confidently wrong {dict(wrong)}, threshold held {100 * held / asked.seeds:.0f} %, "
            f"against the reference: low bound over the truth {over}, high bound under it {under}, of {asked.seeds}",
            flush=True,
        )


if __name__ == "__main__":
    main()
