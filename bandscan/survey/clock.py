"""The receiver's frequency error from many carriers at once.

Each station keeps its carrier within a legal tolerance, so their mean shows the receiver's own error. A fast clock shows every
carrier too low, by the same part of its frequency.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from bandscan.plans import BandPlan

SIGNIFICANT = 3.0  # standard uncertainties from which an error is taken off: less could be the stations' own


@dataclass(frozen=True)
class ClockError:
    """The receiver's error, fast positive, its standard uncertainty [ppm] and the carriers that it rests on."""

    ppm: float
    sd_ppm: float
    carriers: int

    @property
    def significant(self) -> bool:
        """Whether the error stands out of what the stations themselves may have."""
        return abs(self.ppm) > SIGNIFICANT * self.sd_ppm

    def said(self) -> str:
        """One line for the user."""
        doubt = f"+-{1.96 * self.sd_ppm:.1f}, {self.carriers} carriers"
        return f"receiver's clock {self.ppm:+.1f} ppm ({doubt}): taken off the carriers"

    def shift_hz(self, channel_hz: float) -> float:
        """What the error does to a carrier at `channel_hz`; 0 where it is not significant. [Hz]"""
        return -self.ppm * 1e-6 * channel_hz if self.significant else 0.0


def clock_error(rows: pd.DataFrame, plan: BandPlan) -> ClockError | None:
    """The error from rows with channel_hz, carrier_error_hz and carrier_sd_hz of stations; None with fewer than two.

    Each carrier weighs by its legal tolerance (47 CFR 73.1545: FM 2 kHz, AM 20 Hz, taken as evenly spread) and its own
    uncertainty; the median's neighbourhood is kept, so that one carrier off its channel does not count.
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
    ratio = -error / frequency * 1e6
    near = np.abs(ratio - np.median(ratio)) <= 4.0 * sd / frequency * 1e6
    weight = (frequency[near] / sd[near]) ** 2
    if len(weight) < 2:
        return None
    ppm = float(np.average(ratio[near], weights=weight))
    return ClockError(ppm, float(1e6 / np.sqrt(weight.sum())), len(weight))


def without_clock_error(rows: pd.DataFrame, plan: BandPlan) -> tuple[pd.DataFrame, ClockError | None]:
    """SURVEY rows with the receiver's own error taken off the carriers where it is significant, and that error."""
    clock = clock_error(rows[rows["holds"] == "station"], plan)
    if clock is None or not clock.significant:
        return rows, clock
    shift = rows["channel_hz"].map(clock.shift_hz)
    return rows.assign(carrier_error_hz=rows["carrier_error_hz"] - shift), clock
