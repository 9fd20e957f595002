"""Faults put into made radios, and which explanations the judgement gives first and second. Run by `radio_table.py`."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from radio.bench_sim import GOOD_DB, Radio, Station, bench, listener, reference_list, sweep

from bandscan.model import BandCheck, Reference
from bandscan.radio import Limits, judge, read_sheet

MADE = "2026-03-14T12:00:00Z"
CONFIDENT = 1.3

Maker = Callable[[random.Random, list[Station], str], Radio]


@dataclass(frozen=True)
class Case:
    """A fault to be found: its word, how it is made and on which band."""

    fault: str
    make: Maker
    band: str = "fm"


def check(text: str, stations: list[Station], reference: Reference | None, band: str = "fm") -> BandCheck:
    """One sheet judged."""
    references = {} if reference is None else {band: reference}
    sheet = read_sheet(text, "made.csv")
    return judge(sheet, {band: reference_list(stations, band)}, references, Limits(), MADE, "0").bands[band]


def pointer(dice: random.Random, band: str, **more: object) -> Radio:
    """A set whose pointer is off as old dials are: to 1 MHz or 20 kHz, slope to 3 %."""
    offset = 1e6 if band == "fm" else 20e3
    return Radio(offset_hz=dice.uniform(-offset, offset), slope=dice.uniform(-0.03, 0.03), **more)  # type: ignore[arg-type]


def order_of(found: BandCheck) -> list[tuple[str, float]]:
    """Findings but for the pointer's, which every one of these radios may have."""
    return [(one.fault, one.weight) for one in found.findings if not one.fault.startswith("pointer")]


def faults(seeds: int, counts: tuple[int, ...] = (25, 40), graded: tuple[bool, ...] = (False, True)) -> None:
    """Which explanation comes first and second, all candidates in play, beside how often it comes there by chance.

    Chance: the share of all other cases' radios that are told this fault first or second.
    """
    for count in counts:
        for grades in graded:
            told = {name: _told(case, name, seeds, count, grades) for name, case in cases().items()}
            for name, case in cases().items():
                _print(f"faults stations={count} grades={grades!s:5} {name:16}", case.fault, told[name], told)


def _told(case: Case, name: str, seeds: int, count: int, grades: bool) -> list[BandCheck]:
    checks = []
    for seed in range(seeds):
        dice = random.Random(f"faults{seed}{count}{name}")
        stations = bench(dice, count, band=case.band, mono=0.2)
        reading = 0.25e6 if case.band == "fm" else 10e3
        radio, who = case.make(dice, stations, case.band), listener(dice, grades=grades)
        sheet = sweep(dice, stations, radio, who, band=case.band, reading_hz=reading)
        reference = Reference(GOOD_DB + dice.gauss(0, 1.5), 1.5, "known-good", "dBFS", 5)
        made = sum(meant is None for meant in sheet.meant)
        if case.fault != "image" or made >= 2:
            checks.append(check(sheet.text, stations, reference, case.band))
    return checks


def _print(head: str, fault: str, mine: list[BandCheck], told: Mapping[str, list[BandCheck]]) -> None:
    count = max(len(mine), 1)
    orders = [order_of(one) for one in mine]
    first = sum(bool(order) and order[0][0] == fault for order in orders)
    second = sum(fault in [word for word, _ in order[:2]] for order in orders)
    wrong = sum(bool(order) and order[0][0] != fault and order[0][1] >= CONFIDENT for order in orders)
    others = [one for word, checks in told.items() if cases()[word].fault != fault for one in checks]
    chance = sum(fault in [word for word, _ in order_of(one)[:2]] for one in others) / max(len(others), 1)
    names = Counter(order[0][0] if order else "nothing" for order in orders)
    verdicts = Counter(one.verdict for one in mine)
    print(
        f"{head} first {100 * first / count:3.0f} %, first or second {100 * second / count:3.0f} % "
        f"(chance {100 * chance:.0f} %), confidently wrong {100 * wrong / count:.1f} % of {len(mine)}  "
        f"{dict(names.most_common(4))}  {dict(verdicts)}",
        flush=True,
    )


def _edge(stations: list[Station], share: float) -> float:
    return stations[0].channel_hz + share * (stations[-1].channel_hz - stations[0].channel_hz)


def _tilt(size_db: float, end: str) -> Maker:
    def make(dice: random.Random, stations: list[Station], band: str) -> Radio:
        low, high = _edge(stations, 0.0), _edge(stations, 1.0)
        weak, sound = (high, low) if end == "high" else (low, high)
        return pointer(dice, band, loss_db=lambda one: size_db * (one.channel_hz - sound) / (weak - sound))

    return make


def _dead(share: float) -> Maker:
    def make(dice: random.Random, stations: list[Station], band: str) -> Radio:
        limit = _edge(stations, abs(share))
        return pointer(dice, band, hears=lambda one: (one.channel_hz < limit) == (share > 0))

    return make


def _neighbours(dice: random.Random, stations: list[Station], band: str) -> Radio:
    lost = {
        a.channel_hz
        for a in stations
        for b in stations
        if 0 < abs(a.channel_hz - b.channel_hz) <= 200_000 and b.level_db > a.level_db + 6.0
    }
    return pointer(dice, band, hears=lambda one: one.channel_hz not in lost)


def _nine_khz(dice: random.Random, stations: list[Station], band: str) -> Radio:
    """A set of the 9 kHz regions: 2 dB lost for each kHz beside the carrier."""
    return Radio(raster_hz=9_000, loss_db=lambda one: 2.0 * abs((one.channel_hz + 4500) % 9000 - 4500) / 1e3)


def cases() -> dict[str, Case]:
    """Every fault of the table by a short name."""

    def plain(**more: object) -> Maker:
        return lambda dice, stations, band: pointer(dice, band, **more)

    comb = tuple(62_500.0 * n for n in range(9, 27))
    return {
        "nothing": Case("nothing", plain()),
        "deaf 6": Case("deaf", plain(deaf_db=6.0)),
        "deaf 10": Case("deaf", plain(deaf_db=10.0)),
        "high end 10": Case("weak-high-end", _tilt(10.0, "high")),
        "low end 10": Case("weak-low-end", _tilt(10.0, "low")),
        "high end 15": Case("weak-high-end", _tilt(15.0, "high")),
        "low end 15": Case("weak-low-end", _tilt(15.0, "low")),
        "dead above": Case("dead-beyond", _dead(0.8)),
        "dead below": Case("dead-beyond", _dead(-0.2)),
        "neighbours": Case("neighbours-lost", _neighbours),
        "images": Case("image", plain(image_hz=525e3, image_rejection_db=20.0), "am"),
        "fixed whistles": Case("fixed-whistle", plain(whistles_hz=(910e3, 1365e3)), "am"),
        "comb": Case("comb", plain(whistles_hz=comb), "am"),
        "raster": Case("raster", _nine_khz, "am"),
        "lamp never": Case("lamp-never", plain(lamp_over_db=None)),
        "lamp always": Case("lamp-always", plain(lamp_always=True)),
        "lamp late": Case("lamp-late", plain(lamp_over_db=30.0)),
    }
