"""The two sides that are held against each other, as arrays: the reference list's stations and a sweep's ticks."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from bandscan.model import Baseline
from bandscan.plans import BandPlan, plan_for
from bandscan.radio.order import order_of
from bandscan.units import channel_text

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# chance that a station is off the air or passed over whatever its level: of a count of 30 to 60, off-air and maintenance take 0
# to 3 (trade practice); a pause in the programme or a slip of the hand is rarer (from memory)
LAPSE = 0.02
# spread of one station's level at the radio's plug against the list: multipath, people, day (3 dB day to day: trade practice,
# computed from 3-6 dB FM multipath); used where the list does not know its own, or knows it only to be less
LEAST_SPREAD_DB = 3.0


@dataclass(frozen=True, eq=False)
class Bench:
    """Reference stations ascending by channel, arrays of one length. `level_db` is NaN where the list has none.

    `air` is the chance that the station is on the air and not passed over; `names` are what an anchor may call it.
    """

    band: str
    plan: BandPlan
    unit: str
    channel_hz: FloatArray
    level_db: FloatArray
    spread_db: FloatArray
    snr_db: FloatArray
    air: FloatArray
    stereo: FloatArray
    names: tuple[frozenset[str], ...]
    shown: tuple[str, ...]

    @property
    def has_levels(self) -> bool:
        """Whether a threshold can be told at all: three stations with a level."""
        return int(np.isfinite(self.level_db).sum()) >= 3

    def __len__(self) -> int:
        return len(self.channel_hz)


@dataclass(frozen=True, eq=False)
class Block:
    """One sweep through one attenuator, ascending along the dial. `reading_hz` is NaN where the dial was not read.

    `anchor` is the index of the station that was identified by ear, or -1. `direction` is +1 for up, -1 for down, 0 unknown.
    `row` is each tick's row in the sheet's table. `begins` is the dial, as written, at which the second piece of a sweep in two
    pieces begins, else empty.
    """

    sweep: str
    pad_db: float
    direction: int
    reading_hz: FloatArray
    grade: tuple[str, ...]
    lamp: tuple[str, ...]
    dial: tuple[str, ...]
    anchor: IntArray
    row: IntArray
    begins: str = ""

    def __len__(self) -> int:
        return len(self.reading_hz)


def bench_of(baseline: Baseline) -> Bench:
    """The stations of a reference list as arrays."""
    plan = plan_for(baseline.region, baseline.band)
    stations = baseline.stations.sort_values("channel_hz", kind="stable")
    level_db = stations["level_db"].to_numpy(dtype=np.float64)
    spread_db = np.nan_to_num(stations["spread_db"].to_numpy(dtype=np.float64), nan=0.0)
    seen, surveys = stations["seen"].to_numpy(dtype=np.float64), stations["surveys"].to_numpy(dtype=np.float64)
    channel_hz = stations["channel_hz"].to_numpy(dtype=np.float64)
    called = zip(channel_hz, stations["name"].fillna(""), stations["identity"].fillna(""), strict=True)
    names = [
        frozenset({plain(channel_text(baseline.band, hz)), plain(name), plain(identity)} - {""})
        for hz, name, identity in called
    ]
    shown = stations["name"].fillna(stations["identity"]).fillna("")
    units = stations["level_unit"].dropna().unique()
    return Bench(
        band=baseline.band,
        plan=plan,
        unit=str(units[0]) if len(units) else "",
        channel_hz=channel_hz,
        level_db=level_db,
        spread_db=np.maximum(spread_db, LEAST_SPREAD_DB),
        snr_db=stations["snr_db"].to_numpy(dtype=np.float64),
        air=np.minimum(1.0 - LAPSE, (seen + 1.0) / (surveys + 1.0)),
        stereo=stations["stereo"].to_numpy(dtype=np.float64),
        names=tuple(names),
        shown=tuple(str(name) for name in shown),
    )


def plain(name: str) -> str:
    """A name without case, blanks and signs, so that spellings compare."""
    return re.sub(r"[\W_]+", "", name.casefold())


def blocks_of(
    ticks: pd.DataFrame, bench: Bench, header: Mapping[str, str], silent: Sequence[tuple[str, str, float, int]] = ()
) -> tuple[list[Block], pd.DataFrame]:
    """The band's sweeps, least attenuator first, and the rows that were heard to be no station of their own (W and R).

    `silent` are a sheet's sweeps on which nothing was heard, as it has them.
    On AM those through the least attenuator alone: 50 ohm across the lead make any set deaf.
    """
    mine = ticks[ticks["band"] == bench.band]
    aside = mine[mine["grade"].isin(["W", "R"])]
    stops = mine[~mine["grade"].isin(["W", "R"])]
    keys = sorted(
        {*zip(stops["pad_db"].astype(float), stops["sweep"].astype(str), strict=True)}
        | {(pad_db, sweep) for band, sweep, pad_db, _ in silent if band == bench.band}
    )
    if bench.band == "am":
        keys = [key for key in keys if key[0] == keys[0][0]]
    blocks = [
        _block(stops[(stops["pad_db"] == pad_db) & (stops["sweep"] == sweep)], sweep, pad_db, bench, header)
        for pad_db, sweep in keys
    ]
    return blocks, aside


def names_unknown(ticks: pd.DataFrame, bench: Bench) -> list[str]:
    """What the band's rows are called by ear that is no station of the list, or more than one: they anchor nothing."""
    called = ticks.loc[ticks["band"] == bench.band, "name"].dropna()
    return [name for name in dict.fromkeys(called) if name and sum(plain(name) in names for names in bench.names) != 1]


def dial_to_hz(dial_hz: FloatArray, bench: Bench, header: Mapping[str, str]) -> FloatArray:
    """Readings on the band's own scale. An FM dial with AM numerals is laid evenly over the band first. [Hz]"""
    if bench.band == "fm" and header.get("numerals", "").lower() == "am":
        share = (dial_hz - 540e3) / (1600e3 - 540e3)
        return np.asarray(bench.plan.first_hz + share * (bench.plan.last_hz - bench.plan.first_hz), dtype=np.float64)
    return dial_hz


def _block(rows: pd.DataFrame, sweep: str, pad_db: float, bench: Bench, header: Mapping[str, str]) -> Block:
    reading_hz = dial_to_hz(rows["dial_hz"].to_numpy(dtype=np.float64), bench, header)
    direction = 1 if sweep.endswith("up") else -1 if sweep.endswith("down") else 0
    anchor = np.full(len(rows), -1, dtype=np.int64)
    for place, name in enumerate(rows["name"].fillna("")):
        hits = [index for index, names in enumerate(bench.names) if plain(name) in names] if name else []
        if len(hits) == 1:
            anchor[place] = hits[0]
    # without a reading the stations named by ear tell, against a wrong word too
    named_hz = np.where(anchor >= 0, bench.channel_hz[anchor], np.nan)
    by_name = not np.isfinite(reading_hz).any() and (anchor >= 0).sum() >= 3
    pieces = order_of(named_hz if by_name else reading_hz)
    if by_name:
        descending = _falls(named_hz)
    else:
        descending = direction < 0 or (direction == 0 and _falls(reading_hz))
    order, begins = np.arange(len(rows))[::-1] if descending else np.arange(len(rows)), ""
    direction = -1 if descending else abs(direction)
    if pieces.rows is not None:
        order, direction = pieces.rows, pieces.direction
        begins = str(rows["name" if by_name else "dial"].iloc[pieces.begins])
    rows, anchor = rows.iloc[order], anchor[order]
    return Block(
        sweep=sweep,
        pad_db=pad_db,
        direction=direction,
        reading_hz=reading_hz[order],
        grade=tuple(rows["grade"]),
        lamp=tuple(rows["lamp"].fillna("")),
        dial=tuple(rows["dial"].fillna("")),
        anchor=anchor,
        row=rows.index.to_numpy(dtype=np.int64),
        begins=begins,
    )


def _falls(reading_hz: FloatArray) -> bool:
    """Whether readings go down the dial: most pairs of rows descend."""
    known = reading_hz[np.isfinite(reading_hz)]
    upper = np.triu_indices(len(known), 1)
    return len(known) >= 3 and bool(np.sign(np.subtract.outer(known, known)[upper]).sum() > 0)
