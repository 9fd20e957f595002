"""Unmodulated lines that stand alone, and combs of them: the harmonics of switching supplies, clocks and displays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

RealArray = npt.NDArray[np.float64]

LEAST_LINES = 4
LEAST_SHARE = 0.6  # of the places of a comb within the lines' span that must hold one
STATION_HZ = 20.0  # of a carrier's own (47 CFR 73.1545)
BIN_HZ = 25.0  # of the spectrum in which AM's lines are read
CLOCK = 100e-6  # of a receiver, at the most (common practice), over the distance between two lines
SLOPE_SIGMAS = 3.0


@dataclass(frozen=True)
class Comb:
    """Lines at equal distance: spacing and its standard uncertainty [Hz], their number, and the place of one [Hz]."""

    spacing_hz: float
    sd_hz: float
    lines: int
    start_hz: float

    def away_hz(self, at_hz: RealArray) -> RealArray:
        """Distance from the nearest of the comb's places, there or not. [Hz]"""
        return np.abs((at_hz - self.start_hz + self.spacing_hz / 2.0) % self.spacing_hz - self.spacing_hz / 2.0)

    def leaves(self, step_hz: float) -> bool:
        """Whether its places move against a raster of `step_hz` by more than a receiver's clock moves stations."""
        beside_hz = abs(self.spacing_hz - step_hz * round(self.spacing_hz / step_hz))
        return beside_hz > CLOCK * self.spacing_hz + SLOPE_SIGMAS * self.sd_hz


def lone_lines(
    density: RealArray, frequency_hz: RealArray, window_hz: float, over: float, *, quiet_hz: float = 0.0
) -> tuple[RealArray, RealArray]:
    """Frequencies [Hz] and power over the surroundings of lines that stand `over` times above the median of their window.

    With `quiet_hz`, a window whose median is itself well above the quieter quarter of those within so many hertz is left out:
    it is a station's, whose programme has lines of its own. It must reach beyond a station's width on both sides.
    """
    bin_hz = float(frequency_hz[1] - frequency_hz[0])
    per_window = max(8, round(window_hz / bin_hz))
    count = len(density) // per_window
    windows = density[: count * per_window].reshape(count, per_window)
    peak = windows.argmax(axis=1)
    height = windows.max(axis=1)
    median = np.median(windows, axis=1)
    found = height >= over * np.maximum(median, 1e-300)
    if quiet_hz:
        reach = round(quiet_hz / (per_window * bin_hz))
        padded = np.lib.stride_tricks.sliding_window_view(np.pad(median, reach, mode="edge"), 2 * reach + 1)
        found &= median <= 2.0 * np.maximum(np.percentile(padded, 25, axis=1), 1e-300)
    place = np.arange(count)[found] * per_window + peak[found]
    # a line over the edge of two windows is one line
    keep = np.ones(len(place), bool)
    keep[1:] = np.diff(place) > 3
    return frequency_hz[place[keep]], height[found][keep] / np.maximum(median[found][keep], 1e-300)


def find_comb(lines_hz: RealArray, tolerance_hz: float, least_spacing_hz: float) -> Comb | None:
    """The comb that explains most lines, None where no four lines are evenly spaced.

    Each distance between two lines is tried as the spacing; it is refined by a straight line through the lines it explains.
    """
    best: Comb | None = None
    lines = np.sort(lines_hz)
    for first in range(len(lines)):
        for second in range(first + 1, min(first + 4, len(lines))):
            spacing = lines[second] - lines[first]
            if spacing < least_spacing_hz:
                continue
            number = np.round((lines - lines[first]) / spacing)
            fits = np.abs(lines - lines[first] - number * spacing) <= tolerance_hz * (1.0 + np.abs(number))
            for _ in range(2):
                if len(np.unique(number[fits])) < LEAST_LINES:
                    break
                slope, start = np.polyfit(number[fits], lines[fits], 1)
                number = np.round((lines - start) / slope)
                fits = np.abs(lines - start - number * slope) <= tolerance_hz
            places = np.unique(number[fits])
            if len(places) < LEAST_LINES or len(places) < LEAST_SHARE * (places[-1] - places[0] + 1):
                continue
            if best is None or len(places) > best.lines:
                slope, start = np.polyfit(number[fits], lines[fits], 1)
                spread = float(np.std(number[fits])) * np.sqrt(len(places))
                best = Comb(float(slope), tolerance_hz / np.sqrt(12.0) / max(spread, 1.0), len(places), float(start))
    return best


def raster_offset(lines_hz: RealArray, over: RealArray, step_hz: float, near_hz: float) -> tuple[float, float, int]:
    """Common offset of carriers from multiples of `step_hz` [Hz]; the share of the lines that agree on it, and their number.

    lines_hz, over: as of `lone_lines`. Of each step of the band the strongest line counts, which is a carrier where there is
    one, since its programme's lines are weaker; those within `near_hz` of each other are held to be one raster's. Wherever the
    carriers stand, one of four ways to part the band has them far from the borders, over which programme would count as another
    step's. Stations agree but for their own `STATION_HZ` and the receiver's clock; a comb whose spacing is nearly the raster's
    stands further off with each line, and agrees on nothing.
    """
    best, strongest, away = (0.0, 0.0, 0), np.empty(0), np.empty(0)
    for border_hz in step_hz * np.arange(4) / 4.0:
        first: dict[int, float] = {}
        for index in np.argsort(over)[::-1]:
            first.setdefault(int((lines_hz[index] + border_hz) // step_hz), float(lines_hz[index]))
        lines = np.array(list(first.values()))
        # a row for each line: the others' offsets from it, and the middle of those near it
        from_line = (lines - lines[:, None] + step_hz / 2) % step_hz - step_hz / 2
        near = np.abs(from_line) <= near_hz
        count = near.sum(axis=1)
        ranked, row = np.sort(np.where(near, from_line, np.inf), axis=1), np.arange(len(lines))
        middle = (ranked[row, (count - 1) // 2] + ranked[row, count // 2]) / 2.0
        offset = (lines + middle + step_hz / 2) % step_hz - step_hz / 2
        for place in np.lexsort((offset, count))[-1:]:  # none where there are no lines
            found = (float(near[place].mean()), float(offset[place]), int(count[place]))
            if found > best:
                best, strongest, away = found, lines, from_line[place] - middle[place]
    share, offset, count = best
    if count < LEAST_LINES:
        return offset, share, count
    near = np.abs(away) <= near_hz
    slope, sd = _slope(strongest[near], away[near])
    if abs(slope) > CLOCK + SLOPE_SIGMAS * sd:
        return offset, 0.0, 0
    away -= np.clip(slope, -CLOCK, CLOCK) * (strongest - np.median(strongest[near]))
    agree = np.abs(away - np.median(away[near])) <= STATION_HZ + BIN_HZ
    return offset, float(agree.mean()), int(agree.sum())


def _slope(lines_hz: RealArray, away_hz: RealArray) -> tuple[float, float]:
    """How fast the lines' offset grows with their frequency, and its standard uncertainty if they are stations'.

    The median of the slopes between any two, weighted with their distance (Theil and Sen): a few strangers do not turn it.
    """
    above, below = np.triu_indices(len(lines_hz), 1)
    apart = lines_hz[above] - lines_hz[below]
    # a station is anywhere within its limit, its line anywhere within its bin
    sd_hz = np.sqrt(STATION_HZ**2 / 3.0 + BIN_HZ**2 / 12.0)
    spread_hz = float(np.std(lines_hz)) * np.sqrt(len(lines_hz))
    slopes = (away_hz[above] - away_hz[below]) / apart
    order = np.argsort(slopes)
    weight = np.cumsum(np.abs(apart[order]))
    return float(slopes[order][np.searchsorted(weight, weight[-1] / 2.0)]), float(sd_hz / spread_hz)
