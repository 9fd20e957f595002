"""A radio and its listener on the scene's truth, never on anything that bandscan measured: gives count sheets as text."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

import numpy as np

from bandscan.demo.scene import Radio, RadioBand, Scene
from bandscan.demo.stations import FmStation
from bandscan.plans import BandPlan

_COLUMNS = ("band", "dial", "grade", "lamp", "pad_db", "sweep", "name", "remark")
_CLEAN_DB = 8.0  # over the threshold: no hiss left (common practice)
_TRACE_DB = -5.0  # under it: something is there, not every word
_LAMP_SPREAD_DB = 1.5
_SIDEBAND_HZ = 163_500.0  # middle of 129-198 kHz: where a digital sideband is loudest


@dataclass(frozen=True)
class _Tick:
    at_hz: float
    grade: str
    lamp: str = ""
    name: str = ""
    remark: str = ""


def sheets(scene: Scene) -> dict[str, str]:
    """The count sheet of each radio of the scene, FM and AM on one, as CSV text by the radio's key."""
    return {radio.key: sheet_text(scene, radio, np.random.default_rng([8, radio.seed])) for radio in scene.radios}


def sheet_text(scene: Scene, radio: Radio, rng: np.random.Generator) -> str:
    """One sweep of a radio in the form of a count sheet."""
    text = io.StringIO()
    for key, value in radio.header.items():
        text.write(f"# {key}: {value}\n")
    table = csv.writer(text, lineterminator="\n")
    table.writerow(_COLUMNS)
    for band, ears in radio.bands.items():
        plan = scene.plan(band)
        ticks = _ticks(scene, radio, band, rng)
        for tick in sorted(ticks, key=lambda tick: tick.at_hz):
            table.writerow([band, _reading(tick.at_hz, ears, plan, rng), tick.grade, tick.lamp, 0, 1, tick.name, tick.remark])
    return text.getvalue()


def names_csv(scene: Scene) -> str:
    """The shop's own names of the stations, as names.csv."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(("band", "channel_hz", "name", "count", "remark"))
    for band, made in scene.bands.items():
        for on_air in sorted(made.on_air, key=lambda one: one.station.channel_hz):
            table.writerow((band, on_air.station.channel_hz, on_air.station.name, "yes", ""))
    return text.getvalue()


def _ticks(scene: Scene, radio: Radio, band: str, rng: np.random.Generator) -> list[_Tick]:
    """Every stop on the dial: stations, and what else the set makes of them."""
    ears, plan = radio.bands[band], scene.plan(band)
    levels = {on_air.station: level for on_air, level in scene.levels_dbfs(band, radio.day).items()}
    by_channel = {station.channel_hz: level for station, level in levels.items()}
    strongest = max(levels, key=lambda station: levels[station])
    ticks = []
    for station, level in levels.items():
        at_hz = station.channel_hz
        heard = level + ears.tilt_db * _along(at_hz, plan)
        beside = max(by_channel.get(at_hz + side * _neighbour_hz(band), -np.inf) for side in (-1, 1))
        loss = max(0.0, beside - level - ears.neighbour_db)
        grade = _grade(heard - loss - ears.threshold_dbfs + ears.spread_db * rng.standard_normal())
        lamp = _lamp(station, heard - ears.lamp_dbfs + _LAMP_SPREAD_DB * rng.standard_normal())
        if grade:
            ticks.append(_Tick(at_hz, grade, lamp, station.name if station is strongest else ""))
        if isinstance(station, FmStation) and station.digital_db is not None and ears.ticks_sidebands:
            over_db = heard + station.digital_db - ears.threshold_dbfs
            for side in (-1, 1):
                if over_db > 0 and at_hz + side * _neighbour_hz(band) not in by_channel:
                    ticks.append(_Tick(at_hz + side * _SIDEBAND_HZ, "1", "off", "", "hiss"))
        if band == "am":
            image_hz = at_hz - 2e3 * radio.if_khz
            if image_hz >= plan.first_hz and heard - ears.image_db > ears.threshold_dbfs:
                ticks.append(_Tick(image_hz, "R", "", "", "heard higher up as well"))
    return ticks


def _grade(over_db: float) -> str:
    """What the listener writes; empty for nothing."""
    for least_db, grade in ((_CLEAN_DB, "3"), (0.0, "2"), (_TRACE_DB, "1")):
        if over_db >= least_db:
            return grade
    return ""


def _lamp(station: object, over_db: float) -> str:
    if not isinstance(station, FmStation):
        return ""
    if not station.pilot_dev_hz or over_db < -2.0:
        return "off"
    return "on" if over_db > 2.0 else "flicker"


def _reading(at_hz: float, ears: RadioBand, plan: BandPlan, rng: np.random.Generator) -> str:
    """What the pointer is read to show: FM in MHz, AM in kHz."""
    middle_hz = (plan.first_hz + plan.last_hz) / 2
    error_khz = ears.offset_khz + ears.reading_khz * rng.standard_normal()
    read_khz = at_hz / 1e3 + ears.stretch * (at_hz - middle_hz) / 1e3 + error_khz
    marks_khz = round(read_khz / ears.graduation_khz) * ears.graduation_khz
    return f"{marks_khz / 1e3:.2f}" if plan.band == "fm" else f"{marks_khz:.0f}"


def _along(at_hz: float, plan: BandPlan) -> float:
    """-1 at the lower end of the band, 1 at the upper one."""
    return 2.0 * (at_hz - plan.first_hz) / (plan.last_hz - plan.first_hz) - 1.0


def _neighbour_hz(band: str) -> int:
    return 200_000 if band == "fm" else 10_000
