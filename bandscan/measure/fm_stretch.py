"""FM stations that stand the further off the raster the further they are from the centre: a sample rate stated wrong."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import scipy.special

RealArray = npt.NDArray[np.float64]

FAR_HZ, OFF_RASTER_HZ, MOST_FIT = 300e3, 5e3, 0.75  # 2 kHz, and what a wrong rate leaves of a carrier's mean
MOST_STRETCH, STRETCH_STEP = 0.15, 0.0005  # farther out no carrier moves by more than 2.5 kHz from one to the next at 5 MHz
ONE_STATION_HZ = 60e3  # seen from two channels, when it stands between them
LEAST_DOUBT = 0.003  # made recordings were 0.3 % off at the most
CHANCE = 1e-3  # that carriers anywhere fit as well at one of the stretches tried


def stretched_note(strong: Sequence[tuple[float, float]], step_hz: float) -> list[str]:
    """Strong FM stations that stand off the raster in proportion to their distance from the recording's centre.

    strong: the channel's distance and the carrier's offset from its channel, for each. [Hz] No station is off by more than
    2 kHz (47 CFR 73.1545), no receiver's clock by more than 100 ppm: a rate that is stated wrong stretches everything, pilots
    out of sight.
    """
    distance, offset = np.array(strong, dtype=np.float64).reshape(-1, 2).T
    far = np.abs(distance) >= FAR_HZ
    if far.sum() < 3:
        return []
    stretch = float(np.median(offset[far] / distance[far]))
    fits = np.abs(offset - stretch * distance) <= OFF_RASTER_HZ
    if abs(stretch) * np.abs(distance).max() < 2.0 * OFF_RASTER_HZ or fits.mean() < MOST_FIT:
        return _comb_note(distance, offset, step_hz)
    return [
        f"sample rate: {fits.sum()} strong stations stand the further off the raster the further they are from the centre, by"
        f" {100 * abs(stretch):.1f} % of it, so the recording's rate is stated about {100 * abs(stretch):.1f} % too"
        f" {'high' if stretch > 0 else 'low'}; give the true rate"
    ]


def _comb_note(distance: RealArray, offset: RealArray, step_hz: float) -> list[str]:
    """The same where the farthest stand nearer to other channels than their own: the stretch that puts most on the raster."""
    carriers = np.sort(distance + offset)
    carriers = carriers[np.append(True, np.diff(carriers) > ONE_STATION_HZ)]
    stretches = np.arange(-MOST_STRETCH, MOST_STRETCH + STRETCH_STEP / 2, STRETCH_STEP)
    away = carriers / (1.0 + stretches[:, None]) - distance[0]
    fits = (np.abs((away + step_hz / 2) % step_hz - step_hz / 2) <= OFF_RASTER_HZ).sum(axis=1)
    most, total = int(fits.max()), len(carriers)
    chance = float(scipy.special.bdtrc(most - 1, total, 2.0 * OFF_RASTER_HZ / step_hz)) * len(stretches)
    best = stretches[fits == most]
    unstretched = int(fits[np.abs(stretches).argmin()])
    if chance > CHANCE or 2 * unstretched > most or np.ptp(best) > 0.1 * MOST_STRETCH:
        return []
    stretch, doubt = float(best.mean()), max(float(np.ptp(best)) / 2.0, LEAST_DOUBT)
    return [
        f"sample rate: {most} of {total} strong stations stand on the raster, of which {unstretched} do now, if the recording's"
        f" rate is stated about {100 * abs(stretch):.1f} % (+-{100 * doubt:.1f}) too {'high' if stretch > 0 else 'low'};"
        " give the true rate"
    ]
