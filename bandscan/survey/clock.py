"""The receiver's frequency error from many carriers at once.

Each station keeps its carrier within a legal tolerance, so their mean shows the receiver's own error. A fast clock shows every
carrier too low, by the same part of its frequency.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from bandscan.plans import BandPlan

RealArray = npt.NDArray[np.float64]

KEPT_SIGMAS = 4.0
CLEARLY_LESS = 4.0  # of chi-square
SIGNIFICANT = 3.0  # standard uncertainties from which an error is taken off: less could be the stations' own


@dataclass(frozen=True)
class ClockError:
    """The receiver's error and what it rests on.

    `ppm` of the frequency, fast positive (0 where the error is the same at all frequencies, as an upconverter's is), `fixed_hz`
    the error that all carriers share (0 for a clock's), the standard uncertainty of whichever it is, and the carriers used.
    """

    ppm: float
    fixed_hz: float
    sd: float
    carriers: int

    @property
    def significant(self) -> bool:
        """Whether the error stands out of what the stations themselves may have."""
        return abs(self.ppm or self.fixed_hz) > SIGNIFICANT * self.sd

    def said(self) -> str:
        """One line for the user."""
        doubt = f"+-{1.96 * self.sd:.1f}, {self.carriers} carriers"
        if self.fixed_hz:
            return f"all carriers stand {self.fixed_hz:+.1f} Hz off ({doubt}): the upconverter's error, taken off the carriers"
        return f"receiver's clock {self.ppm:+.1f} ppm ({doubt}): taken off the carriers"

    def shift_hz(self, channel_hz: float) -> float:
        """What the error does to a carrier at `channel_hz`; 0 where it is not significant. [Hz]"""
        return self.fixed_hz - self.ppm * 1e-6 * channel_hz if self.significant else 0.0


def clock_error(rows: pd.DataFrame, plan: BandPlan) -> ClockError | None:
    """The error from rows with channel_hz, carrier_error_hz and carrier_sd_hz of stations; None with fewer than two.

    Each carrier weighs by its legal tolerance (47 CFR 73.1545: FM 2 kHz, AM 20 Hz, taken as evenly spread) and its own
    uncertainty; the median's neighbourhood is kept, so that one carrier off its channel does not count. On AM an error in hertz
    is tried beside one in parts of the frequency, and that which leaves less is taken.
    """
    known = rows[rows["carrier_error_hz"].notna()]
    # a station in several recordings is one carrier still: its own error does not average out
    known = known.groupby("channel_hz", as_index=False)[["carrier_error_hz", "carrier_sd_hz"]].mean()
    if len(known) < 2:
        return None
    frequency = known["channel_hz"].to_numpy(dtype=np.float64)
    error = known["carrier_error_hz"].to_numpy(dtype=np.float64)
    own = known["carrier_sd_hz"].fillna(0.0).to_numpy(dtype=np.float64)
    sd = np.hypot(plan.carrier_tolerance_hz / np.sqrt(3.0), own)
    ppm, ppm_sd, ppm_left, carriers = _common(-1e-6 * frequency, error, sd)
    if plan.band == "am":
        fixed, fixed_sd, fixed_left, fixed_carriers = _common(np.ones_like(frequency), error, sd)
        # the clock is the usual cause: a fixed error must leave clearly less
        if (fixed_carriers, -fixed_left) > (carriers, -ppm_left + CLEARLY_LESS):
            return ClockError(0.0, fixed, fixed_sd, fixed_carriers)
    return ClockError(ppm, 0.0, ppm_sd, carriers) if carriers >= 2 else None


def _common(per_unit: RealArray, error_hz: RealArray, sd_hz: RealArray) -> tuple[float, float, float, int]:
    """Size of a common error of the shape `per_unit`, its uncertainty, the chi-square that it leaves and the carriers kept."""
    ratio = error_hz / per_unit
    near = np.abs(error_hz - np.median(ratio) * per_unit) <= KEPT_SIGMAS * sd_hz
    weight = (per_unit[near] / sd_hz[near]) ** 2
    if not near.any():
        return 0.0, float("inf"), float("inf"), 0
    size = float(np.average(ratio[near], weights=weight))
    left = float(np.sum(((error_hz[near] - size * per_unit[near]) / sd_hz[near]) ** 2))
    return size, float(1.0 / np.sqrt(weight.sum())), left, int(near.sum())


def without_clock_error(rows: pd.DataFrame, plan: BandPlan) -> tuple[pd.DataFrame, ClockError | None]:
    """SURVEY rows with the receiver's own error taken off the carriers where it is significant, and that error."""
    clock = clock_error(rows[rows["holds"] == "station"], plan)
    if clock is None or not clock.significant:
        return rows, clock
    shift = rows["channel_hz"].map(clock.shift_hz)
    return rows.assign(carrier_error_hz=rows["carrier_error_hz"] - shift), clock
