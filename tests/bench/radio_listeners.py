"""Two people at one healthy radio: how far apart they are, and what is made of it. Run by `radio_table.py`."""

from __future__ import annotations

import itertools
import random

import numpy as np
from bench.radio_faults import MADE, pointer
from radio.bench_sim import GOOD_DB, bench, listener, reference_list, sweep

from bandscan.model import Reference
from bandscan.radio import Limits, compare, judge, read_sheet

# lowest level over a good set's threshold and span [dB]; "wide" is the bench of the trade's own figures
_BENCHES = {"wide": (-15.0, 70.0), "weak": (-15.0, 50.0), "strong": (5.0, 50.0)}


def listeners(seeds: int, count: int = 60) -> None:
    """How far two people agree, how their counts differ, and what `compare` makes of their sheets, a day apart.

    Agreement is of the stations that they truly followed. The truth of the difference of thresholds is that of their biases.
    """
    known = {"fm": Reference(GOOD_DB, 1.0, "known-good", "dBFS", 5)}
    for (kind, (lowest_db, span_db)), grades in itertools.product(_BENCHES.items(), (False, True)):
        agree, differ, told, width = [], [], [], []
        held = nought = rare = 0
        for seed in range(seeds):
            dice = random.Random(f"listeners{seed}{kind}{grades}")
            stations = bench(dice, count, lowest_db=lowest_db, span_db=span_db)
            radio, people = pointer(dice, "fm"), [listener(dice, grades=grades) for _ in range(2)]
            sheets = [sweep(dice, stations, radio, who, reading_hz=0.2e6) for who in people]
            heard = [
                {
                    meant
                    for meant, grade in zip(one.meant, read_sheet(one.text, "s").ticks["grade"], strict=True)
                    if grade in "23"
                }
                for one in sheets
            ]
            agree.append(1.0 - len(heard[0] ^ heard[1]) / count)
            differ.append(len(heard[1]) - len(heard[0]))
            lists, texts = {"fm": reference_list(stations)}, [one.text for one in sheets]
            texts[1] = texts[1].replace("2026-03-14", "2026-03-15")
            checks = [judge(read_sheet(text, "s"), lists, known, Limits(), MADE, "0") for text in texts]
            change = compare(checks[0], checks[1]).bands["fm"]
            told.append(1.0 - (len(change.gained) + len(change.lost)) / max(change.both, 1))
            rare += change.p_value < 0.05
            apart = change.difference_db
            if apart is not None and apart.low is not None and apart.high is not None:
                width.append((apart.high - apart.low) / 2.0)
                held += apart.low <= people[1].bias_db - people[0].bias_db <= apart.high
                nought += apart.low <= 0.0 <= apart.high
        two = max(len(width), 1)
        print(
            f"listeners {kind:6} grades={grades!s:5} stations={count}: agree on {100 * np.mean(agree):.1f} % of the stations"
            f" (worst pair {100 * min(agree):.0f} %), counts differ by {np.std(differ):.2f} (standard deviation)\n"
            f"    told: agree on {100 * np.mean(told):.1f} %, McNemar under 0.05 in {100 * rare / seeds:.1f} %; thresholds"
            f" compared on both sides in {len(width)} of {seeds}: 95 % holds the truth in {100 * held / two:.1f} %, nought in"
            f" {100 * nought / two:.1f} %, half width {np.median(width) if width else float('nan'):.1f} dB",
            flush=True,
        )
