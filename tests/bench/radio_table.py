"""How well radios are judged: tables over many made benches. Not part of the test run:

python tests/bench/radio_table.py [--seeds N] [coverage|alignment|verdicts|faults|listeners ...]
"""

from __future__ import annotations

import argparse
import itertools
import random
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import numpy as np
from bench.radio_faults import MADE, check, faults, pointer
from bench.radio_listeners import listeners
from radio.bench_sim import GOOD_DB, Listener, Station, bench, listener, sweep
from scipy.special import ndtr

from bandscan.model import Reference
from bandscan.radio import GoodSweep, Limits, read_sheet, reference_from
from bandscan.radio.bench import LAPSE


def known_good(
    dice: random.Random,
    stations: list[Station],
    grades: bool,
    pads_db: tuple[float, ...],
    sets: int = 5,
) -> Reference:
    """The reference that so many known-good FM sets give on this bench, each on its own day, swept as the set under test is."""
    checks = []
    for _ in range(sets):
        radio = pointer(dice, "fm", deaf_db=dice.gauss(0.0, 1.0))
        sheet = sweep(dice, stations, radio, listener(dice, grades=grades), reading_hz=0.25e6, pads_db=pads_db)
        checks.append(check(sheet.text, stations, None))
    sweeps = [GoodSweep(f"set {number}", str(number), MADE, one) for number, one in enumerate(checks)]
    return reference_from(sweeps) or Reference(None, None, "none", "dBFS")


def bound_db(stations: list[Station], threshold_db: float, who: Listener, lapse: float = 0.0) -> float:
    """Half width of 95 % that no estimate can beat (Cramer-Rao), with jitter and grade steps unknown within their priors.

    The chance of each answer is differentiated by threshold, log jitter and log steps; 3 dB is each station's own spread.
    `lapse` is the chance that a station is passed over however loud, known.
    """
    size = 4 if who.grades else 2

    def answers(level_db: float, unknown: np.ndarray) -> np.ndarray:
        jitter = who.jitter_db * np.exp(unknown[1])
        over = (level_db - threshold_db - unknown[0]) / np.hypot(jitter, 3.0)
        if not who.grades:
            return kept @ np.array([ndtr(over), ndtr(-over)])
        lower = who.trace_db * np.exp(unknown[2]) / np.hypot(jitter, 3.0)
        upper = who.clean_db * np.exp(unknown[3]) / np.hypot(jitter, 3.0)
        return kept @ np.diff([0.0, ndtr(-over - lower), ndtr(-over), ndtr(upper - over), 1.0])

    # the last of two answers, the first of four, is that nothing was heard
    count, nothing = (4, 0) if who.grades else (2, 1)
    kept = (1.0 - lapse) * np.eye(count)
    kept[nothing] += lapse
    information = np.diag([0.0] + [1.0 / 0.35**2] * (size - 1))
    for one in stations:
        middle = np.maximum(answers(one.level_db, np.zeros(4)), 1e-12)
        steps = 1e-4 * np.eye(4)
        slopes = [(answers(one.level_db, steps[p]) - answers(one.level_db, -steps[p])) / 2e-4 for p in range(size)]
        information += [[(a * b / middle).sum() for b in slopes] for a in slopes]
    return float(1.96 * np.sqrt(np.linalg.inv(information)[0, 0]))


def coverage(
    seeds: int,
    counts: tuple[int, ...] = (10, 15, 25, 40, 60, 70),
    dials: tuple[tuple[int, float | None], ...] = ((99, 0.25e6), (3, 0.25e6), (0, 0.25e6), (0, None)),
) -> None:
    """Share of 95 % intervals that hold the threshold, and their half width.

    With 99 anchors every stop is named, so that what is left over the bound is not the alignment's doubt. The second bound is
    that of stations of which 2 in 100 are off the air or passed over, which the judgement has to reckon with.
    """
    for grades in (False, True):
        for count in counts:
            for anchors, reading in dials:
                held, halves, ratios, lapsing, errors = 0, [], [], [], []
                for seed in range(seeds):
                    dice = random.Random(f"coverage{seed}{count}")
                    stations = bench(dice, count)
                    who = listener(dice, grades=grades)
                    radio = pointer(dice, "fm", deaf_db=dice.uniform(-3.0, 15.0))
                    sheet = sweep(dice, stations, radio, who, reading_hz=reading, anchors=anchors)
                    truth = GOOD_DB + radio.deaf_db + who.bias_db
                    got = check(sheet.text, stations, None).threshold_db
                    held += (got.low is None or got.low <= truth) and (got.high is None or truth <= got.high)
                    if got.low is not None and got.high is not None and got.value is not None:
                        halves.append((got.high - got.low) / 2.0)
                        ratios.append(halves[-1] / bound_db(stations, truth, who))
                        lapsing.append(halves[-1] / bound_db(stations, truth, who, LAPSE))
                        errors.append(got.value - truth)
                rms = np.sqrt(np.mean(np.square(errors)))
                print(
                    f"coverage grades={grades!s:5} stations={count:2} anchors={anchors} reading={reading!s:8} "
                    f"held {100 * held / seeds:5.1f} %  two-sided {len(halves):3}  half width {np.median(halves):.2f} dB, "
                    f"{np.median(ratios):.2f} of the bound, {np.median(lapsing):.2f} of that with lapses, "
                    f"bias {np.mean(errors):+.2f} dB, rms {rms:.2f} dB",
                    flush=True,
                )


def alignment(seeds: int) -> None:
    """Share of true ticks whose station is the true one, anchors apart; up to a tenth may be `null` (heard or not: unsure)."""
    conditions = [
        ("fm", 40, 0.25e6, 0),
        ("fm", 25, 0.25e6, 0),
        ("fm", 40, 0.15e6, 0),
        ("fm", 40, 0.25e6, 3),
        ("am", 25, 10e3, 0),
        ("am", 25, 25e3, 0),
    ]
    for band, count, reading, anchors in conditions:
        told: list[tuple[bool, bool]] = []
        for seed in range(seeds):
            dice = random.Random(f"alignment{seed}{band}{count}")
            stations = bench(dice, count, band=band)
            sheet = sweep(dice, stations, pointer(dice, band), listener(dice), band=band, reading_hz=reading, anchors=anchors)
            got = check(sheet.text, stations, None, band)
            rows = read_sheet(sheet.text, "made.csv").ticks
            shown = {station.channel_hz: station for station in got.stations}
            for row, meant in enumerate(sheet.meant):
                if meant is not None and not str(rows["name"].fillna("")[row]):
                    station = shown[stations[meant].channel_hz]
                    told.append((station.heard is None, station.dial == rows["dial"][row]))
        unsure, right = np.array(told).T
        forgiven = min(unsure.sum(), 0.1 * len(told))
        wrong = (~unsure & ~right).sum() + unsure.sum() - forgiven
        print(
            f"alignment {band} stations={count} reading={reading / 1e3:g} kHz anchors={anchors}: "
            f"{100 * (1 - wrong / len(told)):.1f} % of {len(told)} ticks; null {100 * unsure.mean():.1f} %; "
            f"at the true station whether sure or not {100 * right.mean():.1f} %",
            flush=True,
        )


def falls_short_at_best(stations: list[Station], who: Listener, deaf_db: float) -> float:
    """Chance that the lower 95 % bound passes 6 dB where set and five good ones are each known as well as `bound_db` allows.

    One person and day differ by 1.2 dB and one good set from another by 1 dB, as they are made here.
    """
    own, good = (bound_db(stations, GOOD_DB + at_db, who) / 1.96 for at_db in (deaf_db, 0.0))
    sd_db = np.sqrt(own**2 + 1.2**2 + (good**2 + 1.2**2 + 1.0) / 5.0)
    return float(ndtr((deaf_db - Limits().look_db) / sd_db - 1.644854))


def verdicts(
    seeds: int,
    counts: tuple[int, ...] = (8, 15, 25, 40, 60),
    pads: tuple[float, ...] = (0.0, 20.0),
    benches: tuple[str, ...] = ("weak", "strong"),
) -> None:
    """All four verdicts by bench and deafness: in line / look closer / falls short / cannot tell, in per cent."""
    deaf_db = (0.0, 6.0, 10.0, 15.0, 20.0, 60.0)
    words = ("in line", "look closer", "falls short", "cannot tell")
    for kind, grades, pad, count in itertools.product(benches, (False, True), pads, counts):
        tally = {(deaf, word): 0 for deaf in deaf_db for word in words}
        best = []
        for seed in range(seeds):
            dice = random.Random(f"verdicts{seed}{count}{kind}")
            stations = bench(dice, count, lowest_db=-15.0 if kind == "weak" else 5.0)
            pads_db = (0.0, pad) if pad else (0.0,)
            reference = known_good(dice, stations, grades, pads_db)
            for deaf in deaf_db:
                radio, who = pointer(dice, "fm", deaf_db=deaf), listener(dice, grades=grades)
                sheet = sweep(dice, stations, radio, who, reading_hz=0.25e6, pads_db=pads_db)
                tally[deaf, check(sheet.text, stations, reference).verdict] += 1
                if deaf == 10.0 and not pad:
                    best.append(falls_short_at_best(stations, who, deaf))
        line = f"verdicts {kind:6} grades={grades!s:5} pad={pad:2g} stations={count:2}:"
        for deaf in deaf_db:
            line += f"  {deaf:g} dB " + "/".join(f"{100 * tally[deaf, word] / seeds:.0f}" for word in words)
        print(line + (f"  (10 dB: at best {100 * np.mean(best):.0f} fall short)" if best else ""), flush=True)


TABLES = {"coverage": coverage, "alignment": alignment, "verdicts": verdicts, "faults": faults, "listeners": listeners}


def main() -> None:
    """Runs the tables that were asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("tables", nargs="*", choices=[*TABLES, []], default=list(TABLES))
    parser.add_argument("--seeds", type=int, default=200)
    asked = parser.parse_args()
    for name in asked.tables:
        begun = time.process_time()
        TABLES[name](asked.seeds)
        print(f"{name}: {time.process_time() - begun:.0f} s of CPU", flush=True)


if __name__ == "__main__":
    main()
