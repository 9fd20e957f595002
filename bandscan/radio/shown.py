"""What a fit says of the dial, of every station and of the ticks that are none: the rows that a check shows."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt
import pandas as pd

from bandscan.model import UNLISTED, DialPoint, Extra, StationHeard
from bandscan.radio.bench import dial_to_hz
from bandscan.radio.findings import Judged
from bandscan.radio.pointer import adjusted_at, error_at
from bandscan.radio.repeated import relay_words
from bandscan.radio.threshold import Fit
from bandscan.units import channel_text_unit

_SURE = 0.8
REAL = UNLISTED
_LISTED = f"{REAL}, or the station of the list that stands there"
MARKED_REPEAT, MARKED_WHISTLE = "marked as a repeat", "marked as a whistle"
_BEYOND = "beyond the end of the band: a slip of the pen, or no broadcast station"


def dial_points(fitted: Fit) -> tuple[DialPoint, ...]:
    """Where the trade adjusts: the pointer's error with its 95 % interval."""
    bench = fitted.sweeps.bench
    if fitted.sweeps.dial.kind != "pointer":
        return ()
    places = adjusted_at(bench.plan)
    mean, sd = error_at(bench, fitted.draws.pointers, fitted.weight, np.array(places, dtype=np.float64))
    return tuple(
        DialPoint(hz, float(error), float(error - 1.96 * width), float(error + 1.96 * width))
        for hz, error, width in zip(places, mean, sd, strict=True)
    )


def laid(match: npt.NDArray[np.float64]) -> npt.NDArray[np.int64]:
    """Each tick's station in the one reading of a sweep that most ticks are expected to agree with, -1 for none, shape (I,).

    `match` (I, J) is the chance that tick i is station j. No station is given twice and the order of the sweep stays: the
    alignment of maximum expected accuracy (Holmes and Durbin, J. Comput. Biol. 5, 1998). A tick that is more probably none
    of the list has no station; any other has one, but where its likely ones are taken.
    """
    ticks, stations = match.shape
    none = 1.0 - match.sum(axis=1)
    none[none <= 0.5] = 0.0
    best = np.zeros((ticks + 1, stations + 1))
    for tick in range(ticks):
        one = np.maximum(best[tick, :-1] + match[tick], best[tick, 1:] + none[tick])
        best[tick + 1] = np.maximum.accumulate(np.concatenate([[best[tick, 0] + none[tick]], one]))
    station = np.full(ticks, -1, dtype=np.int64)
    left = stations
    for tick in range(ticks, 0, -1):
        # the first station up to which the best is reached is the one that was taken, unless the tick has none
        left = int(np.searchsorted(best[tick, : left + 1], best[tick, left]))
        if left and best[tick - 1, left - 1] + match[tick - 1, left - 1] > best[tick - 1, left] + none[tick - 1]:
            left -= 1
            station[tick - 1] = left
    return station


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
        for tick, station in enumerate(laid(match)):
            chance = float(match[tick, station])
            if station >= 0 and chance > shown[station][0]:
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
    """Ticks that have no station of the list, then what the listener marked as whistle or repeat.

    `shared` are the channels of the list that share a programme, each with the others. [Hz]
    """
    extras = []
    for block, match in zip(fitted.sweeps.blocks, fitted.match, strict=True):
        for tick, station in enumerate(laid(match)):
            if block.row[tick] >= 0 and station < 0:
                row = int(block.row[tick])
                channel = _channel(fitted, block.reading_hz[tick])
                known = _LISTED if channel in fitted.sweeps.bench.channel_hz else REAL
                if channel is None and np.isfinite(block.reading_hz[tick]):
                    known = _BEYOND
                extras.append(Extra(block.dial[tick], channel, judged.explained.get(row, known)))
    readings = dial_to_hz(aside["dial_hz"].to_numpy(dtype=np.float64), fitted.sweeps.bench, header)
    for row, dial, grade, reading in zip(aside.index, aside["dial"].fillna(""), aside["grade"], readings, strict=True):
        words = {"W": MARKED_WHISTLE, "R": MARKED_REPEAT}[grade]
        if (made_by := judged.explained.get(int(row))) is not None:
            words = f"{words}; {made_by}"
        listed = _listed_at(fitted, reading) if grade == "R" else None
        if listed is not None and listed in shared:
            words = relay_words(fitted.sweeps.bench.band, listed, shared[listed])
        extras.append(Extra(dial, _channel(fitted, reading), words))
    return tuple(extras)


def names_overruled(fitted: Fit) -> list[str]:
    """Lines for the user: stations named by ear whose row the order and the readings of the sweep lay on another one."""
    bench, lines = fitted.sweeps.bench, []
    for block, match in zip(fitted.sweeps.blocks, fitted.match, strict=True):
        for tick, station in enumerate(laid(match)):
            named = int(block.anchor[tick])
            if named < 0 or match[tick, named] >= 1.0 - _SURE:
                continue
            shown = f"{bench.shown[named]} ({channel_text_unit(bench.band, int(bench.channel_hz[named]))})".strip()
            read = f", read as {block.dial[tick]}," if block.dial[tick] else ""
            likelier = "no station of the list"
            if station >= 0:
                likelier = channel_text_unit(bench.band, int(bench.channel_hz[station]))
            says = f"the stop named {shown}{read} is likelier {likelier} by the rest of its sweep: check it"
            lines.append(f"{bench.band.upper()}: {says}")
    return lines


def _channel(fitted: Fit, reading_hz: float) -> int | None:
    """The channel of the plan where the fitted pointer puts a reading; None where that is clear of the band. [Hz]"""
    if not np.isfinite(reading_hz):
        return None
    bench, dial = fitted.sweeps.bench, fitted.sweeps.dial
    channels, place_hz = np.array(bench.plan.channels_hz), _place_hz(fitted, reading_hz)
    nearest = int(np.abs(channels - place_hz).argmin())
    clear_hz = bench.plan.step_hz + 3.0 * float(dial.noise_hz(bench, channels[nearest]))
    return int(channels[nearest]) if abs(channels[nearest] - place_hz) <= clear_hz else None


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
