"""What a pass notices of the recording as a whole, in lines for the user."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.special

from bandscan.dsp import comb
from bandscan.dsp.fold import Folded
from bandscan.dsp.pilot import LEGAL_ERROR_HZ, PILOT_HZ
from bandscan.dsp.spectrum import HANN_NOISE_BINS
from bandscan.measure.frames import Pass
from bandscan.model import OVERLOAD_SHARE
from bandscan.plans import BandPlan
from bandscan.units import channel_text_unit, db

RealArray = npt.NDArray[np.float64]

_CREST = 4.5  # standard deviations that must fit under full scale: 8-10 dB of headroom for a band of stations
_OVER_SCALE = 2.5  # a resampler's or filter's overshoot takes floats to 2 (common practice)
_SMEARED = 0.95  # share of a pilot's power in its own line; 1 for an unbroken recording
_LINE_OVER = 16.0
_WINDOW_HZ = {"fm": 4e3, "am": 1e3}
_QUIET_HZ = {"fm": 200e3, "am": 15e3}  # a station of 150 or 10 kHz, and its neighbour's gap
_TOLERANCE_HZ = {"fm": 150.0, "am": 40.0}
_TOGETHER, _GAIN_STEP_DB = 4, 0.7  # stations that change alike, and by how much
_ALIKE = 0.3  # of the common change, by which each of a few, or most of many, may differ from it
# stations whose change in common stands out of fades of their own, pairings of them that tell these, and how far out
_MANY, _PAIRINGS, _STANDS_OUT = 8, 40, 4.0
# the closer one first: only off the raster, on which the tones of stations beside each other are a comb too
_LEAST_SPACING_HZ = {"fm": (25e3,), "am": (9e3, 12e3)}


@dataclass(frozen=True, eq=False)
class FoundComb:
    """A comb, the lines off the raster among which it was found [Hz], and the power of its strongest."""

    comb: comb.Comb
    lines_hz: RealArray
    strongest: float

    def covers(self, at_hz: float, plan: BandPlan) -> bool:
        """Whether a carrier stands on one of its places, which leave the raster."""
        near = bool(self.comb.away_hz(np.array(at_hz)) <= _TOLERANCE_HZ[plan.band])
        return near and self.comb.leaves(plan.step_hz)


def fold_note(folds: Sequence[Folded], centre_hz: float) -> list[str]:
    """FM emissions within the AM band, with what to do."""
    if not folds:
        return []
    places = ", ".join(f"{(centre_hz + fold.offset_hz) / 1e3:.0f} kHz" for fold in folds)
    return [
        f"FM emissions stand in the AM band, near {places}: stations that the converter folds there (direct sampling); "
        "put a low-pass filter of 2 MHz before the receiver and record again"
    ]


def overload_note(seen: Pass) -> list[str]:
    """How far the gain must come down, from the share of clipped samples.

    The sum of many stations is nearly normal (central limit), so the share tells how many standard deviations fit.
    """
    share = seen.overload_share
    if share <= OVERLOAD_SHARE:
        return []
    fits = float(np.sqrt(2.0) * scipy.special.erfinv(1.0 - min(share / 2.0, 0.99)))
    down_db = max(3.0, 2.0 * float(db(_CREST / max(fits, 0.05))))
    return [
        f"overload: {100 * share:.2g} % of the samples at full scale; the list of this recording is not usable, "
        f"take off about {down_db:.0f} dB (gain or pad) and record again"
    ]


def scale_note(float_peak: float) -> list[str]:
    """Floats that swing far past 1.0 were not scaled: they are likely the numbers of a converter."""
    if float_peak <= _OVER_SCALE:
        return []
    return [
        f"scale: the samples swing to {float_peak:.3g}, far past 1.0, which is full scale for floats: what the receiver's is, "
        "and so whether it was overloaded, is not known, and levels are not dBFS; divide the samples by the receiver's full "
        "scale (128 of 8 bits, 2048 of 12, 32768 of 16) and read them again"
    ]


def find_off_raster(
    density: RealArray, offset_hz: RealArray, centre_hz: float, plan: BandPlan, usable_hz: float
) -> FoundComb | None:
    """The comb of unmodulated lines off the raster, if there is one. density: per Hz, at offset_hz from the centre."""
    inside = np.abs(offset_hz) <= usable_hz
    density, frequency_hz = density[inside], offset_hz[inside] + centre_hz
    window_hz, quiet_hz = _WINDOW_HZ[plan.band], _QUIET_HZ[plan.band]
    lines, _ = comb.lone_lines(density, frequency_hz, window_hz, _LINE_OVER, quiet_hz=quiet_hz)
    away = np.abs((lines + plan.step_hz / 2 - plan.first_hz) % plan.step_hz - plan.step_hz / 2)
    lines = lines[(away > 2 * _TOLERANCE_HZ[plan.band]) & (np.abs(lines - centre_hz) > _TOLERANCE_HZ[plan.band])]
    found = None
    for least_hz in _LEAST_SPACING_HZ[plan.band]:
        found = comb.find_comb(lines, _TOLERANCE_HZ[plan.band], least_hz)
        if found is None or found.leaves(plan.step_hz):
            break
    # AM carriers with loud low notes are a comb too, of the raster's multiples
    if found is None or (plan.band == "am" and not found.leaves(plan.step_hz)):
        return None
    bin_hz = float(frequency_hz[1] - frequency_hz[0])
    own = np.searchsorted(frequency_hz, lines[found.away_hz(lines) <= _TOLERANCE_HZ[plan.band]] - bin_hz / 2)
    return FoundComb(found, lines, float(density[own].max(initial=0.0)) * HANN_NOISE_BINS * bin_hz)


def comb_note(found: FoundComb | None, plan: BandPlan) -> list[str]:
    """Combs of unmodulated lines off the raster: their spacing."""
    if found is None:
        return []
    at = ", ".join(channel_text_unit(plan.band, round(hz, -2)) for hz in found.lines_hz[:3])
    spacing = f"{found.comb.spacing_hz / 1e3:.2f} kHz (+-{max(1.96e-3 * found.comb.sd_hz, 0.01):.2f})"
    return [
        f"comb: {found.comb.lines} unmodulated lines every {spacing} near {at} ...: a switching supply, display or clock; "
        "look for it with the bench's lamps and chargers off"
    ]


def smeared_note(smeared: int, strong: int) -> list[str]:
    """Most of the strong AM carriers jump or wander in phase: it is the recording's."""
    if smeared < 2 or smeared <= strong / 2:
        return []
    return [
        f"lost samples, a receiver that drifts, or fading: {smeared} of {strong} strong carriers are smeared, their levels so "
        "much less sure; let it warm up, and record again at a lower rate"
    ]


def gain_note(powers: Sequence[RealArray]) -> list[str]:
    """Strong stations that rise or fall together during the recording: each one's power in parts of the time over its mean.

    Of many most do, alike or by more than fades of their own bring about; of two or three all must, since one of them may fade.
    """
    longest = max((len(one) for one in powers), default=0)
    powers = [one for one in powers if len(one) == longest]
    if len(powers) < 2:
        return []
    levels_db = db(np.maximum(powers, 1e-3))
    common_db = np.median(levels_db, axis=0)
    swing_db = float(np.ptp(common_db))
    if swing_db < _GAIN_STEP_DB:
        return []
    apart_db = np.ptp(levels_db - common_db, axis=1)
    alike = (np.max if len(powers) < _TOGETHER else np.median)(apart_db) <= _ALIKE * swing_db
    if not alike and (len(powers) < _MANY or swing_db <= _by_chance_db(levels_db)):
        return []
    return [
        f"gain: strong stations all change by {swing_db:.1f} dB during the recording, as where the receiver's gain "
        "is not fixed; levels are means over it: record again with a fixed gain"
    ]


def _by_chance_db(levels_db: RealArray) -> float:
    """How far the median of stations that fade each by itself, as at night, swings at most. levels_db: (stations, parts).

    Half the difference of two stations holds nothing of what is common, and has half the variance: the median of such halves
    scatters as that of all stations does. Pairings at random give its swing's mean and standard deviation.
    """
    random, half = np.random.default_rng(0), len(levels_db) // 2
    swings = []
    for _ in range(_PAIRINGS):
        order = random.permutation(len(levels_db))
        pairs = levels_db[order[:half]] - levels_db[order[half : 2 * half]]
        swings.append(float(np.ptp(np.median(pairs, axis=0) / 2.0)))
    return float(np.mean(swings) + _STANDS_OUT * np.std(swings))


def rate_notes(strays: list[tuple[float, float]]) -> list[str]:
    """Pilots of the strong channels that agree on a wrong frequency, or are smeared: the rate is not what it is said to be."""
    notes = []
    off = np.array([offset for offset, _ in strays if abs(offset) > 2 * LEGAL_ERROR_HZ])
    if len(off) >= 2 and len(off) > len(strays) / 2 and np.ptp(off) <= 2 * LEGAL_ERROR_HZ:
        share = 100 * float(np.median(off)) / PILOT_HZ
        notes.append(
            f"sample rate: stereo pilots stand at {(PILOT_HZ + float(np.median(off))) / 1e3:.3f} kHz instead of 19 kHz, so the "
            f"recording's rate is stated {abs(share):.2f} % too {'high' if share > 0 else 'low'}; give the true rate"
        )
    if len(strays) >= 2 and max(share for _, share in strays) < _SMEARED:
        notes.append(
            "lost samples: the stereo pilots of the strong stations are smeared, their deviations less sure; record again at a "
            "lower rate"
        )
    return notes


def joined(*remarks: str) -> str:
    """Remarks of a row as one text; an empty one is none."""
    return ";".join(word for word in remarks if word)
