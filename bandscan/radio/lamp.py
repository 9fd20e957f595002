"""The stereo lamp as a second threshold, on stations whose pilot the reference list has seen in most surveys."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp, ndtr

from bandscan.model import Finding, Interval
from bandscan.radio.threshold import Fit
from bandscan.radio.weighing import against_all, unlikely
from bandscan.units import channel_text

FloatArray = npt.NDArray[np.float64]

PILOT_SHARE = 0.8  # a station is stereo where its pilot was there in at least this share of the surveys
MONO_SHARE = 0.2
# the lamp wants this much more than following does: 25-35 dBf against 9-17 dBf (from memory)
LAMP_OVER_DB = 15.0
LAMP_OVER_SD_DB = 5.0
STRONG_OVER_DB = 25.0
_SPREAD_DB = 4.0
_WRONG = 0.02  # a lamp noted wrongly
_PRIOR_ODDS = 0.2
_LATE_MEAN_DB = 15.0
# chances that a decoder which hardly locks lets the lamp flicker, and that it is lit, or dark, just then (from memory)
_RESTLESS = (0.6, 0.2)
BOUNDS = (0.025, 0.975)


@dataclass(frozen=True, eq=False)
class Lamp:
    """What the lamp did: stereo stations followed with the lamp noted, those that lit it, if by fits, its threshold.

    `strong_dark` counts strong pilots followed with the lamp noted as off while no pilot at all lit it.
    """

    expected: int | None
    lit: int | None
    threshold_db: Interval | None
    strong_dark: int
    findings: tuple[Finding, ...]


def judge_lamp(fit: Fit, reference_db: tuple[float, float] | None) -> Lamp:
    """The lamp of one band, held against what this set follows: a deaf set's lamp is late with it, and no fault of its own.

    `reference_db`, a good set's threshold for following and its uncertainty, stands in where the sweeps bound no own one.
    """
    noted = _noted(fit)
    if not len(noted):
        return Lamp(None, None, None, 0, ())
    station, level_db, on, followed, sure = noted.T
    stereo = fit.sweeps.bench.stereo[station.astype(np.int64)]
    # what cannot be followed cannot light the lamp either; lit without a pilot it tells something all the same
    pilot, mono = (stereo >= PILOT_SHARE) & (followed > 0.5), stereo <= MONO_SHARE
    hz = fit.sweeps.bench.channel_hz[station.astype(np.int64)].astype(np.int64)
    lit = pilot & (on >= 0.5)
    own_db = _follows_db(fit) or reference_db
    known = pilot & np.isfinite(level_db)
    threshold_db, strong_dark = None, 0
    suspects: list[_Suspect] = []
    if own_db is not None and known.any():
        grid = own_db[0] + np.arange(-30.0, 90.5, 1.0)
        log_value = _log_value(level_db[known], on[known], sure[known], grid)
        usual = np.exp(-0.5 * ((grid - own_db[0] - LAMP_OVER_DB) / np.hypot(LAMP_OVER_SD_DB, own_db[1])) ** 2)
        late = np.convolve(usual, np.exp(-np.arange(0.0, 60.0) / _LATE_MEAN_DB) * (np.arange(60) >= 8))[: len(grid)]
        nothing = logsumexp(log_value, b=usual / usual.sum())
        likely = np.exp(log_value - log_value.max())
        if log_value[0] < log_value.max() - 1.9 and log_value[-1] < log_value.max() - 1.9:
            likely /= likely.sum()
            value, (low, high) = grid @ likely, np.interp(BOUNDS, np.cumsum(likely) - likely / 2.0, grid)
            threshold_db = Interval(float(value), float(low), float(high))
        never = np.log(np.where(on[known] >= 0.5, _WRONG, 1.0 - _WRONG)).sum()
        strong = known & (level_db >= own_db[0] + STRONG_OVER_DB)
        strong_dark = 0 if lit.any() else _count(station[strong])
        flickering, heard = known & (on == 0.5), f"{_count(station[known])} stereo stations that were heard"
        steady = float(logsumexp(log_value, b=late / late.sum()) - nothing)
        restless = float(np.log(np.where(on[known] == 0.5, *_RESTLESS)).sum() - nothing)
        if restless > max(steady, 0.0):  # then no level tells when it lights
            threshold_db = None
        texts = [channel_text("fm", value) for value in np.unique(hz[known & (on <= 0.5)])]
        suspects += [
            _Suspect(
                "lamp-never",
                float(never - nothing),
                f"the lamp lit on {_count(station[lit]) or 'none'} of {heard}",
                hz[strong & (on < 0.5)],
                "inject a 19 kHz pilot of 6.75 kHz deviation; check the decoder's oscillator, mono switch, lamp and driver",
            ),
            _Suspect(
                "lamp-late",
                restless,
                f"the lamp flickers on {_count(station[flickering])} of {heard}",
                hz[flickering],
                "inject a 19 kHz pilot of 6.75 kHz deviation: if it flickers still, set the decoder's oscillator, then look for"
                " bad joints up to the lamp's driver",
            )
            if restless > steady
            else _Suspect(
                "lamp-late",
                steady,
                f"the lamp stays dark or flickers on stations that should light it: {', '.join(texts[:6])}",
                hz[known & (on <= 0.5)],
                "set the stereo threshold by the set's manual with a generator; check the IF level",
            ),
        ]
    if mono.any():
        lit_rightly = _doubted(np.full(int(mono.sum()), _WRONG), sure[mono])
        right = np.log(np.where(on[mono] >= 0.5, lit_rightly, 1.0 - lit_rightly)).sum()
        always = np.log(np.where(on[mono] >= 0.5, 0.9, 0.1)).sum()
        suspects.append(
            _Suspect(
                "lamp-always",
                float(always - right),
                f"the lamp lit on {_count(station[mono & (on >= 0.5)])} of {_count(station[mono])} stations that send no pilot",
                hz[mono & (on >= 0.5)],
                "take the antenna off: the lamp must go out; check the decoder's oscillator and the lamp's driver",
            )
        )
    return Lamp(_count(station[pilot]), _count(station[lit]), threshold_db, strong_dark, _findings(suspects))


@dataclass(frozen=True, eq=False)
class _Suspect:
    """A lamp's fault with the natural log of how much likelier it makes what was noted."""

    fault: str
    log_odds: float
    text: str
    evidence: npt.NDArray[np.int64]
    next_test: str


def _findings(suspects: list[_Suspect]) -> tuple[Finding, ...]:
    """Those that the lamp speaks for, weighed against each other as well."""
    log_odds = [one.log_odds + float(np.log(_PRIOR_ODDS)) for one in suspects]
    findings = []
    for one, log, weight in zip(suspects, log_odds, against_all(log_odds), strict=True):
        if one.log_odds > 0.0:
            evidence = tuple(sorted({int(hz) for hz in one.evidence}))
            over = float(log / np.log(10.0))
            findings.append(
                Finding(one.fault, one.text + unlikely(over), evidence, one.next_test, round(weight, 2), round(over, 2))
            )
    return tuple(findings)


def _follows_db(fit: Fit) -> tuple[float, float] | None:
    """This set's own threshold for following and its standard deviation, where the sweeps bound it on both sides. [dB]"""
    if fit.curve is None or fit.curve.bound() != "two-sided":
        return None
    span = fit.curve.interval(one_sided=False)
    if span.value is None or span.low is None or span.high is None:
        return None
    return span.value, (span.high - span.low) / (2.0 * 1.96)


def _count(stations: FloatArray) -> int:
    """How many different stations."""
    return len(np.unique(stations))


def _noted(fit: Fit) -> FloatArray:
    """Station, level at the radio, lamp (1 on, 0.5 flicker, 0 off), whether it was followed and how surely the tick is that
    station, for ticks with a noted lamp."""
    rows = []
    lamps = [lamp for block in fit.sweeps.blocks for lamp in block.lamp]
    # a listener who marks only the lit ones leaves the dark ones between them empty; before and behind them nobody looked
    only_lit = "on" in lamps and "off" not in lamps
    value = {"on": 1.0, "flicker": 0.5, "off": 0.0}
    for block, match in zip(fit.sweeps.blocks, fit.match, strict=True):
        lit = [tick for tick, lamp in enumerate(block.lamp) if lamp == "on"] if only_lit else []
        for tick, noted in enumerate(block.lamp):
            lamp = "off" if not noted and lit and lit[0] < tick < lit[-1] else noted
            if not lamp or not match.shape[1]:
                continue
            station = int(match[tick].argmax())
            if match[tick, station] >= 0.5:
                level = fit.sweeps.bench.level_db[station] - block.pad_db
                followed = float(block.grade[tick] in ("2", "3"))
                rows.append((station, level, value[lamp], followed, float(match[tick, station])))
    return np.array(rows, dtype=np.float64).reshape(-1, 5)


def _doubted(chance: FloatArray, sure: FloatArray) -> FloatArray:
    """Chance that the lamp is on, where a tick is the station of that chance with `sure` only, else any."""
    return sure * chance + (1.0 - sure) * 0.5


def _log_value(level_db: FloatArray, on: FloatArray, sure: FloatArray, grid_db: FloatArray) -> FloatArray:
    """Log likelihood of lamp thresholds."""
    chance = np.clip(ndtr((level_db[:, None] - grid_db) / np.hypot(_SPREAD_DB, 3.0)), _WRONG, 1.0 - _WRONG)
    chance = _doubted(chance, sure[:, None])
    flicker = (on == 0.5)[:, None]
    return np.asarray(
        np.where(flicker, np.log(4.0 * chance * (1.0 - chance)), np.log(np.where(on[:, None] > 0.5, chance, 1.0 - chance))).sum(
            axis=0
        )
    )
