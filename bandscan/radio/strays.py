"""Ticks that fit no station of the list: how many are more than a sound sweep has, and what so many may be.

Whether they are stations nobody can tell from a sheet: by night AM stations come from afar, a list grows old, and images are
ticks too. So they are counted and said, and none of them is called false.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
import numpy.typing as npt
from scipy.special import gammainc, gammaln

from bandscan.model import Expected, Extra
from bandscan.radio.shown import REAL
from bandscan.radio.threshold import Fit
from bandscan.radio.weighing import LACKS, USUAL_EXTRAS

_FAR_FEWER = 0.4
_LEAST_STOPS, _PLACED = 6, 0.25  # fewer may all be whistles and images of a set that is deaf
_RARE = 0.1  # of sound sweeps have so many ticks that are no station
# odds that a sweep of which nobody wrote the hour was made by night (from memory)
_NIGHT_ODDS = 0.2


def strays_of(extras: Sequence[Extra], known_hz: Collection[int], step_hz: int, sweeps: int) -> int:
    """Ticks of a sweep that fit no station of the list and have no explanation, where more than in a sound sweep; else 0.

    Args:
        extras: those of the check; what each is taken for is told of it there.
        known_hz: channels that today's survey holds and the list does not. [Hz]
        step_hz: a pointer is a channel off now and then. [Hz]
        sweeps: so many times the dial was swept.
    """
    count = sum(
        extra.explained_by == REAL
        and extra.channel_hz is not None
        and not any(abs(extra.channel_hz - hz) <= step_hz for hz in known_hz)
        for extra in extras
    )
    count //= max(sweeps, 1)
    return count if usual_chance(count, more=True) <= _RARE else 0


def strangers(fit: Fit, expected: Expected | None) -> tuple[str, str] | None:
    """That hardly a stop of the sweeps is a station of the list, and what to do: they are no measure of each other then.

    Where a display shows what it is tuned to there is no doubt about that, and where the stops are far fewer than a good
    set's, stations or none, they tell as much.
    """
    stops = sum(len(block) for block in fit.sweeps.blocks)
    placed = sum(float(match.sum()) for match in fit.match)
    few = expected is not None and max(len(block) for block in fit.sweeps.blocks) < _FAR_FEWER * expected.mid
    if fit.sweeps.dial.kind == "digits" or stops < _LEAST_STOPS or placed >= _PLACED * stops or few:
        return None
    return (
        f"of {stops} stops hardly one is where the list has a station it could be (about {placed:.0f})",
        "read the dial of two stations that you know by ear, write their names, and check again",
    )


def usual_chance(count: int, *, more: bool = False) -> float:
    """The chance that a sound sweep has so many ticks that are no station of the list, or with `more` so many and more."""
    if more:  # the Poisson distribution's tail is the incomplete gamma function
        return float(gammainc(count, USUAL_EXTRAS).mean()) if count else 1.0
    return _poisson(count, USUAL_EXTRAS)


def night_weight(count: int, listed: int) -> float:
    """log10 of the odds that so many strays are stations of the night which a list of so many by day lacks, hour unknown."""
    lacked = max(_NIGHT_ODDS * _poisson(count, LACKS * listed), 1e-12)
    return float(np.log(lacked / max(usual_chance(count), 1e-12)) / np.log(10.0))


def _poisson(count: int, means: npt.NDArray[np.float64]) -> float:
    """Chance of a count, each mean as likely."""
    return float(np.exp(count * np.log(means) - means - gammaln(count + 1.0)).mean())


def stray_words(band: str, count: int) -> tuple[str, str, str]:
    """How many there are, what they may be, and the one thing to do."""
    hour = "of another hour (AM by night comes from afar)" if band == "am" else "of a day when the band was open"
    return (
        f"{count} ticks of a sweep fit no station of the list, more than a sound sweep has",
        f"they may be stations {hour} or of a list gone old, or images and repeats",
        f"survey {band.upper()} again at the hour of the sweep, then check this sheet again",
    )
