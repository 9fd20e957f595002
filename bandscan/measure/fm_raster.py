"""FM emissions that stand off the raster together, further than a receiver's clock takes them: a wrong stated centre."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

RealArray = npt.NDArray[np.float64]

CELL_HZ = 1e3
HALF_WIDTH_HZ = 75e3  # of what tells where an emission's middle is
APART_HZ = 180e3  # the strongest within this counts: a station, not its digital sidebands, 163 kHz from it
STRONG = 10.0  # over the noise in that width
LINE_SHARE = 0.5  # more of its power in 3 kHz: a bare line, which stands anywhere
CLOCK_HZ = 15e3  # 2 kHz of the station (47 CFR 73.1545), 100 ppm of the receiver, and 2 kHz of a programme's lean
TOGETHER_HZ, SHARE, LEAST = 8e3, 0.75, 2  # so many, and this share of them, so near each other


def common_shift_hz(excess: RealArray, noise: RealArray, at_hz: RealArray, first_hz: float, step_hz: float) -> float:
    """How far strong emissions stand off the raster of `step_hz` that holds `first_hz`; 0 where a clock explains it. [Hz]

    excess, noise: power of each bin over the noise, and the noise's; at_hz: the bins' frequencies, ascending. A whole number of
    steps cannot be seen.
    """
    size = max(round(CELL_HZ / (at_hz[1] - at_hz[0])), 1)
    cells = len(at_hz) // size
    power, floor, place = (one[: cells * size].reshape(cells, size).sum(axis=1) for one in (excess, noise, at_hz / size))
    middles = np.array([_middle(power, place, peak) for peak in _peaks(power, floor)])
    away = (middles - first_hz + step_hz / 2) % step_hz - step_hz / 2
    if len(away) < LEAST:
        return 0.0
    # round the raster, so that half a step up is half a step down
    turn = np.exp(2j * np.pi * away / step_hz)
    shift = float(np.angle(turn.sum())) / (2 * np.pi) * step_hz
    near = np.abs((away - shift + step_hz / 2) % step_hz - step_hz / 2) <= TOGETHER_HZ
    return shift if abs(shift) > CLOCK_HZ and near.sum() >= LEAST and near.mean() >= SHARE else 0.0


def shift_note(shift_hz: float) -> list[str]:
    """What to look at."""
    if not shift_hz:
        return []
    return [
        f"most strong stations stand {shift_hz / 1e3:+.0f} kHz off the raster (+-{TOGETHER_HZ / 1e3:.0f} kHz), further than a "
        "receiver's clock takes them: check the centre frequency and the region; until then no station here is sure"
    ]


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
