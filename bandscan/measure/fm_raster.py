"""FM emissions that stand off the raster together, further than a receiver's clock takes them.

By as much each: a wrong stated centre. By a share of their distance from the centre: a wrong stated rate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import bdtrc

from bandscan.tables import CENTRE_IN_DOUBT, RATE_IN_DOUBT

RealArray = npt.NDArray[np.float64]

CELL_HZ = 1e3
HALF_WIDTH_HZ = 75e3  # of what tells where an emission's middle is
APART_HZ = 180e3  # the strongest within this counts: a station, not its digital sidebands, 163 kHz from it
STRONG = 10.0  # over the noise in that width
LINE_SHARE = 0.5  # more of its power in 3 kHz: a bare line, which stands anywhere
CLOCK_HZ = 15e3  # 2 kHz of the station (47 CFR 73.1545), 100 ppm of the receiver, and 2 kHz of a programme's lean
TOGETHER_HZ, SHARE, LEAST = 8e3, 0.75, 2  # so many, and this share of them, so near each other
# rates that are taken for each other are nearer than that: 2.4 and 2.048 MS/s, 2.4 and 2.56 (from memory)
MOST_STRETCH = 0.2
LEAST_GAINED, BY_CHANCE = 3, 1e-3  # stations that fit the raster only so; chance that so many fit one of so many rates


@dataclass(frozen=True)
class OffRaster:
    """How far strong emissions stand off the raster, whole steps apart: by as much each [Hz], or by a share of their distance
    from the recording's centre. One of the two at most, 0 where a clock explains it."""

    shift_hz: float = 0.0
    stretch: float = 0.0

    def doubt(self, distance_hz: float) -> str:
        """Remark of a channel so far from the recording's centre; empty where it is where it should be."""
        if self.shift_hz:
            return CENTRE_IN_DOUBT
        return RATE_IN_DOUBT if abs(self.stretch * distance_hz) > CLOCK_HZ else ""

    def note(self) -> list[str]:
        """What to look at."""
        if self.shift_hz:
            return [
                f"most strong stations stand {self.shift_hz / 1e3:+.0f} kHz off the raster (+-{TOGETHER_HZ / 1e3:.0f} kHz), "
                "further than a receiver's clock takes them: check the centre frequency and the region; until then no station "
                "here is sure"
            ]
        if not self.stretch:
            return []
        share = f"{100 * abs(self.stretch):.1f} %"
        return [
            f"sample rate: strong stations stand off the raster by {share} of their distance from the centre, so the "
            f"recording's rate is stated about {share} too {'high' if self.stretch > 0 else 'low'}; give the true rate; until "
            "then stations away from the centre are not sure"
        ]


def off_raster(
    excess: RealArray, noise: RealArray, at_hz: RealArray, centre_hz: float, first_hz: float, step_hz: float
) -> OffRaster:
    """How far strong emissions stand off the raster of `step_hz` that holds `first_hz`.

    excess, noise: power of each bin over the noise, and the noise's; at_hz: the bins' frequencies, ascending.
    """
    size = max(round(CELL_HZ / (at_hz[1] - at_hz[0])), 1)
    cells = len(at_hz) // size
    power, floor, place = (one[: cells * size].reshape(cells, size).sum(axis=1) for one in (excess, noise, at_hz / size))
    middles = np.array([_middle(power, place, peak) for peak in _peaks(power, floor)])
    if len(middles) < LEAST:
        return OffRaster()
    shift_hz = _shift_hz(_away(middles, first_hz, step_hz), step_hz)
    return OffRaster(shift_hz) if shift_hz else OffRaster(0.0, _stretch(middles - centre_hz, centre_hz - first_hz, step_hz))


def _away(at_hz: RealArray, first_hz: float, step_hz: float) -> RealArray:
    """From the nearest place of the raster. [Hz]"""
    return np.asarray((at_hz - first_hz + step_hz / 2) % step_hz - step_hz / 2)


def _shift_hz(away: RealArray, step_hz: float) -> float:
    """By how much most stand off the raster alike; else 0. [Hz]"""
    # round the raster, so that half a step up is half a step down
    turn = np.exp(2j * np.pi * away / step_hz)
    shift = float(np.angle(turn.sum())) / (2 * np.pi) * step_hz
    near = np.abs(_away(away, shift, step_hz)) <= TOGETHER_HZ
    return shift if abs(shift) > CLOCK_HZ and near.sum() >= LEAST and near.mean() >= SHARE else 0.0


def _stretch(distance_hz: RealArray, centre_hz: float, step_hz: float) -> float:
    """By what share of their distance from the centre most stand off a raster that they do not fit as they are; else 0.

    No station is off by more than 2 kHz (47 CFR 73.1545), no clock by more than 100 ppm: a rate that is stated wrong stretches
    everything, and takes pilots out of sight.
    """
    furthest_hz = float(np.abs(distance_hz).max())
    if furthest_hz * MOST_STRETCH <= CLOCK_HZ:
        return 0.0
    steps = int(furthest_hz * MOST_STRETCH / (TOGETHER_HZ / 4))
    stretches = np.linspace(-MOST_STRETCH, MOST_STRETCH, 2 * steps + 1)
    away = np.abs(_away(distance_hz / (1.0 + stretches[:, None]), -centre_hz, step_hz))
    near = (away <= TOGETHER_HZ).sum(axis=1)
    gained = (near >= SHARE * len(distance_hz)) & (near - near[steps] >= LEAST_GAINED)
    # that all stand off by less than half a step, each by its share, is no chance; by more, few fit one of so many rates
    nearest = np.abs(stretches) * furthest_hz < step_hz / 2
    tried = np.abs(stretches) * furthest_hz / TOGETHER_HZ
    chance = tried * bdtrc(near - 1, len(distance_hz), 2 * TOGETHER_HZ / step_hz)
    for fits in (gained & nearest, gained & (chance < BY_CHANCE)):
        if fits.any():
            # of those that most fit, the one they fit best
            most = np.flatnonzero(fits & (near == near[fits].max()))
            found = float(stretches[min(most, key=lambda one: float(np.sort(away[one])[: near[one]].sum()))])
            return found if abs(found) * furthest_hz > CLOCK_HZ else 0.0
    return 0.0


def _peaks(power: RealArray, floor: RealArray) -> list[int]:
    """Cells around which the strong emissions stand."""
    width = round(2 * HALF_WIDTH_HZ / CELL_HZ) + 1
    around, under = (np.convolve(one, np.ones(width), "same") for one in (power, floor))
    reach, line = round(APART_HZ / CELL_HZ), round(1.5e3 / CELL_HZ)
    found = []
    for peak in range(width // 2, len(power) - width // 2):
        if around[peak] < STRONG * under[peak] or around[peak] < around[max(peak - reach, 0) : peak + reach + 1].max():
            continue
        here = power[peak - width // 2 : peak + width // 2 + 1]
        if np.convolve(here, np.ones(2 * line + 1), "same").max() < LINE_SHARE * around[peak]:
            found.append(peak)
    return found


def _middle(power: RealArray, place_hz: RealArray, peak: int) -> float:
    """Centre of gravity of the emission there. [Hz]"""
    middle = float(place_hz[peak])
    for _ in range(4):
        here = np.abs(place_hz - middle) <= HALF_WIDTH_HZ
        weight = np.maximum(power[here], 0.0)
        middle = float(weight @ place_hz[here] / weight.sum())
    return middle
