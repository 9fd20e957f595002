"""Benches, radios and listeners made by dice: the truth that the judgement of a radio is measured against.

It shares nothing with bandscan.radio: levels, hearing, pointer and faults are drawn station by station, and what comes out is
the CSV text that a person would have typed.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field

import pandas as pd

from bandscan import tables
from bandscan.model import Baseline

GOOD_DB = -70.0  # threshold of a good set on every bench here, in the unit of the levels [dBFS]
_PLAN = {"fm": (88_100_000, 107_900_000, 200_000), "am": (540_000, 1_700_000, 10_000)}


@dataclass(frozen=True)
class Station:
    """One transmitter: what the list says of it, and how far the radio's plug is from that. [Hz, dB]"""

    channel_hz: int
    level_db: float
    spread_db: float
    pilot: bool = True


@dataclass(frozen=True)
class Radio:
    """A set and its faults. `loss_db` gives each station's own loss, `hears` what it can hear at all."""

    deaf_db: float = 0.0
    offset_hz: float = 0.0
    slope: float = 0.0
    loss_db: Callable[[Station], float] = lambda station: 0.0
    hears: Callable[[Station], bool] = lambda station: True
    image_hz: float = 0.0  # twice the intermediate frequency, 0 for none
    image_rejection_db: float = 30.0
    lamp_over_db: float | None = 15.0  # over the threshold for following; None: never lights
    lamp_always: bool = False
    whistles_hz: tuple[float, ...] = ()
    raster_hz: int = 0  # a digital set stops on multiples of this only; 0 for a pointer


@dataclass(frozen=True)
class Listener:
    """Who sweeps: jitter from station to station, bias of the day and the person, grades or only ticks. [dB]"""

    jitter_db: float = 4.0
    bias_db: float = 0.0
    trace_db: float = 5.0
    clean_db: float = 5.0
    grades: bool = False
    slip: float = 0.01


@dataclass
class Sheet:
    """What was typed, and for every row the station that was meant (None: none of the list)."""

    text: str
    meant: list[int | None] = field(default_factory=list)


def bench(
    dice: random.Random, stations: int, lowest_db: float = -15.0, span_db: float = 50.0, band: str = "fm", mono: float = 0.0
) -> list[Station]:
    """Stations on the raster, levels even over a span that begins `lowest_db` over a good set's threshold."""
    first, last, step = _PLAN[band]
    channels = sorted(dice.sample(range(first, last + 1, step), stations))
    return [
        Station(hz, GOOD_DB + lowest_db + span_db * dice.random(), dice.gauss(0.0, 3.0), dice.random() >= mono)
        for hz in channels
    ]


def reference_list(stations: list[Station], band: str = "fm") -> Baseline:
    """The bench as the shop's list knows it: levels, not what reaches the radio's plug."""
    frame = pd.DataFrame(
        {
            "band": band,
            "channel_hz": [one.channel_hz for one in stations],
            "level_db": [one.level_db for one in stations],
            "level_unit": "dBFS",
            "spread_db": float("nan"),
            "snr_db": [one.level_db - (GOOD_DB - 10.0) for one in stations],
            "seen": 5,
            "surveys": 5,
            "stereo": [1.0 if one.pilot else 0.0 for one in stations],
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


def listener(dice: random.Random, *, grades: bool = False) -> Listener:
    """Somebody: jitter 2-6 dB, 1 dB of bias and 0.7 dB of day, steps of 3.5-7 dB."""
    return Listener(
        jitter_db=dice.uniform(2.0, 6.0),
        bias_db=dice.gauss(0.0, 1.0) + dice.gauss(0.0, 0.7),
        trace_db=dice.uniform(3.5, 7.0),
        clean_db=dice.uniform(3.5, 7.0),
        grades=grades,
    )


def noise_hz(band: str, size_hz: float, channel_hz: int) -> float:
    """Standard deviation of a reading: even on FM; on AM the size is meant at 1000 kHz and grows along the dial."""
    return size_hz if band == "fm" else size_hz * (0.6 + 0.4 * channel_hz / 1_000_000)


def sweep(
    dice: random.Random,
    stations: list[Station],
    radio: Radio,
    who: Listener,
    *,
    band: str = "fm",
    reading_hz: float | None = None,
    pads_db: tuple[float, ...] = (0.0,),
    directions: tuple[str, ...] = ("1",),
    anchors: int = 0,
    header: str = "",
) -> Sheet:
    """The sheet that this listener types for this radio: one block per attenuator and direction."""
    dial = "digits" if radio.raster_hz else "pointer"
    head = f"# swept: 2026-03-14 12:00\n# dial: {dial}\n# bands: {band}\n{header}"
    sheet = Sheet(head + "band,dial,grade,lamp,pad_db,sweep,name\n")
    for pad_db in pads_db:
        for direction in directions:
            rows = _block(dice, stations, radio, who, band, reading_hz, pad_db, anchors)
            if direction.endswith("down"):
                rows.reverse()
            for dial, grade, lamp, name, meant in rows:
                sheet.text += f"{band},{dial},{grade},{lamp},{pad_db:g},{direction},{name}\n"
                sheet.meant.append(meant)
    return sheet


def _block(
    dice: random.Random,
    stations: list[Station],
    radio: Radio,
    who: Listener,
    band: str,
    reading_hz: float | None,
    pad_db: float,
    anchors: int,
) -> list[tuple[str, str, str, str, int | None]]:
    heard: list[tuple[float, int, str, str, int | None]] = []
    for index, one in enumerate(stations):
        at_radio_db = one.level_db + one.spread_db - pad_db - radio.deaf_db - radio.loss_db(one)
        over_db = at_radio_db - who.bias_db + dice.gauss(0.0, who.jitter_db) - GOOD_DB
        grade = _grade(over_db, who)
        if grade and radio.hears(one) and dice.random() >= who.slip:
            heard.append((one.channel_hz, one.channel_hz, grade, _lamp(dice, one, at_radio_db, radio), index))
        if radio.image_hz:
            place = one.channel_hz - radio.image_hz
            inside = _PLAN[band][0] <= place <= _PLAN[band][1]
            covered = any(abs(other.channel_hz - place) < 1.5 * _PLAN[band][2] for other in stations)
            image = _grade(at_radio_db - radio.image_rejection_db - who.bias_db + dice.gauss(0.0, who.jitter_db) - GOOD_DB, who)
            if inside and image and not covered:
                heard.append((place, int(place), image, "", None))
    heard += [(hz, int(hz), "W", "", None) for hz in radio.whistles_hz]
    heard.sort(key=lambda stop: stop[0])
    named = set(dice.sample(range(len(heard)), min(anchors, len(heard))))
    rows = []
    for stop, (at_hz, near_hz, grade, lamp, meant) in enumerate(heard):
        dial = "" if reading_hz is None else _reading(dice, at_hz, radio, band, noise_hz(band, reading_hz, near_hz))
        name = "" if stop not in named or meant is None else _called(band, stations[meant].channel_hz)
        rows.append((dial, grade, lamp if band == "fm" else "", name, meant))
    return rows


def _grade(over_db: float, who: Listener) -> str:
    if not who.grades:
        return "2" if over_db > 0 else ""
    return "3" if over_db > who.clean_db else "2" if over_db > 0 else "1" if over_db > -who.trace_db else ""


def _lamp(dice: random.Random, one: Station, at_radio_db: float, radio: Radio) -> str:
    if radio.lamp_always:
        return "on"
    if radio.lamp_over_db is None or not one.pilot:
        return "off"
    return "on" if at_radio_db + dice.gauss(0.0, 3.0) - GOOD_DB > radio.lamp_over_db else "off"


def _reading(dice: random.Random, at_hz: float, radio: Radio, band: str, sd_hz: float) -> str:
    if radio.raster_hz:
        stop_hz = radio.raster_hz * round(at_hz / radio.raster_hz)
        return f"{stop_hz / 1e6:.1f}" if band == "fm" else f"{stop_hz // 1000}"
    first, last, _ = _PLAN[band]
    shown_hz = at_hz + radio.offset_hz + radio.slope * (at_hz - (first + last) / 2) + dice.gauss(0.0, sd_hz)
    # people write tenths of a megahertz, and fives of kilohertz
    return f"{shown_hz / 1e6:.1f}" if band == "fm" else f"{5 * round(shown_hz / 5e3)}"


def _called(band: str, channel_hz: int) -> str:
    return f"{channel_hz / 1e6:.1f}" if band == "fm" else f"{channel_hz // 1000}"
