"""The noise floor between and under stations, from the spectrum alone.

Stations fill most of a busy band, so neither a mean nor a median of the spectrum is its noise. The floor is what is lowest
nearby: the spectrum is averaged in windows, each stretch of the band gives its lowest window (corrected for the bias of a
minimum), and a line is fitted near each channel that lies at the foot of those points: points above it are stations' skirts and
count little, points below it count much (an expectile fit). The line follows the receiver's slope.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandscan.units import db, from_db

RealArray = npt.NDArray[np.float64]

# expected minimum of n standard normal values, n = 1 ... 12 (order statistics, from memory; 2: -1/sqrt(pi))
_EXPECTED_MINIMUM = (0.0, -0.564, -0.846, -1.029, -1.163, -1.267, -1.352, -1.424, -1.485, -1.539, -1.586, -1.629)


@dataclass(frozen=True)
class FloorScale:
    """How a band's floor is looked for. [Hz]

    `window_hz` is averaged over, each `stretch_hz` gives one point, points within `reach_hz` of a channel are fitted.
    """

    window_hz: float
    stretch_hz: float
    reach_hz: float


FM_FLOOR = FloorScale(window_hz=10e3, stretch_hz=100e3, reach_hz=500e3)
AM_FLOOR = FloorScale(window_hz=500.0, stretch_hz=5e3, reach_hz=60e3)

_ABOVE_WEIGHT = 0.02  # weight of a point above the fitted line against one below it
_AGREES_DB = 0.5  # a point this near to the line confirms it


@dataclass(frozen=True)
class Floor:
    """Noise density at some places [1/Hz], its standard uncertainty, and how many points confirm it."""

    density: RealArray
    sd_db: RealArray
    witnesses: npt.NDArray[np.int64]


def noise_floor(
    density: RealArray, frequency_hz: RealArray, averages: float, at_hz: RealArray, usable_hz: float, scale: FloorScale
) -> Floor:
    """Noise density at the ascending frequencies `at_hz`.

    density, frequency_hz: an averaged spectrum and its bins, ascending; shape (bins,). [1/Hz], [Hz]
    averages: independent averages in each bin (frames, less what the window makes neighbours share).
    usable_hz: only bins within this of the centre are looked at, since the edges droop. [Hz]
    """
    bin_hz = float(frequency_hz[1] - frequency_hz[0])
    keep = np.abs(frequency_hz) <= usable_hz
    spectrum, frequency = density[keep], frequency_hz[keep]
    per_window = max(1, min(round(scale.window_hz / bin_hz), len(spectrum)))
    count = len(spectrum) // per_window
    windows = spectrum[: count * per_window].reshape(count, per_window).mean(axis=1)
    centres = frequency[: count * per_window].reshape(count, per_window).mean(axis=1)
    per_stretch = max(1, min(len(_EXPECTED_MINIMUM), round(scale.stretch_hz / (per_window * bin_hz))))
    relative_sd = 1.0 / np.sqrt(max(averages * per_window, 1.0))

    points_hz, points = [], []
    for start in range(0, count, per_stretch):
        stretch = windows[start : start + per_stretch]
        lowest = int(np.argmin(stretch))
        points_hz.append(centres[start + lowest])
        points.append(stretch[lowest] / max(1.0 + _EXPECTED_MINIMUM[len(stretch) - 1] * relative_sd, 0.1))
    scatter_db = max(4.343 * relative_sd, 0.01)
    place, level = np.array(points_hz), db(np.maximum(np.array(points), 1e-30))
    window_db = db(np.maximum(windows, 1e-30))
    # the line changes slowly: where channels lie closer than half the reach it is fitted at fewer places and read between them
    places = at_hz
    if len(at_hz) > 2 and (at_hz[-1] - at_hz[0]) / (len(at_hz) - 1) < scale.reach_hz / 4:
        places = np.linspace(at_hz[0], at_hz[-1], 1 + max(1, round((at_hz[-1] - at_hz[0]) / (scale.reach_hz / 2))))
    fits = [_floor_at(at, place, level, centres, window_db, scale.reach_hz, scatter_db) for at in places]
    value, sd, witnesses = (np.interp(at_hz, places, column) for column in zip(*fits, strict=True))
    return Floor(from_db(value), sd, np.floor(witnesses).astype(np.int64))


def _floor_at(
    at_hz: float,
    place_hz: RealArray,
    level_db: RealArray,
    window_hz: RealArray,
    window_db: RealArray,
    reach_hz: float,
    scatter_db: float,
) -> tuple[float, float, int]:
    """Floor at one place [dB], its standard uncertainty [dB] and how many windows confirm it.

    First the line at the foot of the lowest windows; then all windows that agree with that line within their own scatter are
    averaged about it, which makes use of every empty stretch and takes out the bias of having chosen minima.
    """
    line = _foot_line(place_hz - at_hz, level_db, reach_hz, scatter_db)
    near = np.abs(window_hz - at_hz) <= reach_hz
    x, y = (window_hz[near] - at_hz) / reach_hz, window_db[near]
    sd = 1.0
    witnesses = 0
    for _ in range(4):
        residual = y - line[0] - line[1] * x
        agree = np.abs(residual) <= 3.0 * scatter_db + _AGREES_DB / 2
        witnesses = int(agree.sum())
        if witnesses < 3:
            break
        # skirts lie above the floor only: what lies further above than anything lies below is no noise
        deepest = max(float(-residual[agree].min()), 2.0 * scatter_db)
        agree &= residual <= deepest
        closeness = (1.0 - np.minimum(np.abs(x[agree]) / 1.2, 1.0) ** 3) ** 3 + 1e-3
        basis = np.stack([np.ones(int(agree.sum())), x[agree]], axis=1)
        weighted = basis * closeness[:, None]
        normal = weighted.T @ basis + np.diag([0.0, 0.02 * closeness.sum()])
        change = np.linalg.solve(normal, weighted.T @ residual[agree])
        line = (line[0] + float(change[0]), line[1] + float(change[1]))
        inverse = np.linalg.inv(normal)
        left = residual[agree] - basis @ change
        spread = max(float(np.sqrt(np.mean(left**2))), scatter_db)
        sd = spread * float(np.sqrt((inverse @ (weighted.T @ weighted) @ inverse)[0, 0]))
    return line[0], sd, witnesses


def _foot_line(offset_hz: RealArray, level_db: RealArray, reach_hz: float, scatter_db: float) -> tuple[float, float]:
    """Height at offset 0 [dB] and rise over `reach_hz` [dB] of the line at the foot of the points."""
    near = np.abs(offset_hz) <= max(reach_hz, float(np.sort(np.abs(offset_hz))[min(2, len(offset_hz) - 1)]))
    x, y = offset_hz[near] / reach_hz, level_db[near]
    closeness = (1.0 - np.minimum(np.abs(x) / 1.2, 1.0) ** 3) ** 3 + 1e-3
    # few points carry no slope; a pull towards level keeps the line from swinging on skirts
    ridge = np.array([0.0, 0.05 * closeness.sum()])
    line = np.array([y.min(), 0.0])
    basis = np.stack([np.ones_like(x), x], axis=1)
    for _ in range(30):
        residual = y - basis @ line
        weight = closeness * np.where(residual <= 2 * scatter_db, 1.0, _ABOVE_WEIGHT / (1.0 + (residual / 3.0) ** 2))
        normal = (basis * weight[:, None]).T @ basis + np.diag(ridge * weight.max())
        update = np.linalg.solve(normal, (basis * weight[:, None]).T @ y)
        if np.abs(update - line).max() < 1e-4:
            line = update
            break
        line = update
    return float(line[0]), float(line[1])
