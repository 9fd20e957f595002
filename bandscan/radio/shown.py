"""What a fit says of the dial, of every station and of the ticks that are none: the rows that a check shows."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from bandscan.model import DialPoint, Extra, StationHeard
from bandscan.radio.bench import dial_to_hz
from bandscan.radio.findings import Judged
from bandscan.radio.pointer import error_at
from bandscan.radio.repeated import relay_words
from bandscan.radio.threshold import Fit

# where the trade adjusts a dial
_ADJUST_HZ = {"fm": (90_000_000, 98_000_000, 106_000_000), "am": (600_000, 1_000_000, 1_400_000)}
_SURE = 0.8
_REAL = "could be a real station under the reference's own floor"


def dial_points(fitted: Fit) -> tuple[DialPoint, ...]:
    """Where the trade adjusts: the pointer's error with its 95 % interval."""
    bench = fitted.sweeps.bench
    if fitted.sweeps.dial.kind != "pointer":
        return ()
    places = [hz for hz in _ADJUST_HZ[bench.band] if bench.plan.first_hz <= hz <= bench.plan.last_hz]
    mean, sd = error_at(bench, fitted.draws.pointers, fitted.weight, np.array(places, dtype=np.float64))
    return tuple(
        DialPoint(hz, float(error), float(error - 1.96 * width), float(error + 1.96 * width))
        for hz, error, width in zip(places, mean, sd, strict=True)
    )


def stations_shown(fitted: Fit) -> tuple[StationHeard, ...]:
    """Every station of the list as this radio had it, by the sweeps through the least attenuator."""
    bench, first = fitted.sweeps.bench, fitted.sweeps.blocks[0].pad_db
    followed = np.zeros(len(bench))
    shown: list[tuple[float, str, str, str]] = [(0.0, "", "", "")] * len(bench)
    for block, match in zip(fitted.sweeps.blocks, fitted.match, strict=True):
        if block.pad_db != first:
            continue
        counts = np.array([grade in ("2", "3") for grade in block.grade], dtype=np.float64)
        followed = np.maximum(followed, np.clip(counts @ match, 0.0, 1.0))
        for tick in range(len(block)):
            station = int(match[tick].argmax())
            chance = float(match[tick, station])
            # the tick's most probable station, unless it is more probably an extra
            if chance > max(1.0 - float(match[tick].sum()), shown[station][0]):
                shown[station] = (chance, block.dial[tick], block.grade[tick], block.lamp[tick])
    return tuple(
        StationHeard(
            channel_hz=int(bench.channel_hz[index]),
            level_db=float(bench.level_db[index]) if np.isfinite(bench.level_db[index]) else None,
            heard=True if followed[index] >= _SURE else False if followed[index] <= 1.0 - _SURE else None,
            probability=float(followed[index]),
            dial=shown[index][1],
            grade=shown[index][2],
            lamp=shown[index][3],
            name=bench.shown[index],
        )
        for index in range(len(bench))
    )


def extras_shown(
    fitted: Fit, judged: Judged, aside: pd.DataFrame, header: Mapping[str, str], shared: Mapping[int, tuple[int, ...]]
) -> tuple[Extra, ...]:
    """Ticks that are more probably no station of the list, then what the listener marked as whistle or repeat.

    `shared` are the channels of the list that share a programme, each with the others. [Hz]
    """
    extras = []
    for block, match in zip(fitted.sweeps.blocks, fitted.match, strict=True):
        for tick in range(len(block)):
            if block.row[tick] >= 0 and match[tick].sum() < 0.5:
                row = int(block.row[tick])
                channel = _channel(fitted, block.reading_hz[tick])
                extras.append(Extra(block.dial[tick], channel, judged.explained.get(row, _REAL)))
    readings = dial_to_hz(aside["dial_hz"].to_numpy(dtype=np.float64), fitted.sweeps.bench, header)
    for dial, grade, reading in zip(aside["dial"].fillna(""), aside["grade"], readings, strict=True):
        words = {"W": "marked as a whistle", "R": "marked as a repeat"}[grade]
        station = _listed_at(fitted, reading) if grade == "R" else None
        if station is not None and station in shared:
            words = relay_words(fitted.sweeps.bench.band, station, shared[station])
        extras.append(Extra(dial, _channel(fitted, reading), words))
    return tuple(extras)


def _channel(fitted: Fit, reading_hz: float) -> int | None:
    """The channel of the plan where the fitted pointer puts a reading. [Hz]"""
    if not np.isfinite(reading_hz):
        return None
    channels = np.array(fitted.sweeps.bench.plan.channels_hz)
    return int(channels[np.abs(channels - _place_hz(fitted, reading_hz)).argmin()])


def _listed_at(fitted: Fit, reading_hz: float) -> int | None:
    """The station of the list that stands nearest to a reading, at most one channel off. [Hz]"""
    bench = fitted.sweeps.bench
    if not np.isfinite(reading_hz):
        return None
    apart = np.abs(bench.channel_hz - _place_hz(fitted, reading_hz))
    return int(bench.channel_hz[apart.argmin()]) if apart.min() <= bench.plan.step_hz else None


def _place_hz(fitted: Fit, reading_hz: float) -> float:
    """Where the fitted pointer puts a reading. [Hz]"""
    error, _ = error_at(fitted.sweeps.bench, fitted.draws.pointers, fitted.weight, np.array([reading_hz]))
    return reading_hz - float(error[0])
