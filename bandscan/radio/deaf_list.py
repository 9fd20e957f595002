"""The reference list as the deaf one: many ticks that are no station of it, and nearly all of its weak stations followed.

On AM a 50-ohm receiver at a whip gets 22 to 44 dB less than the radio does (trade practice, computed), so that the radio may
honestly hear what the list cannot hold. Such a list lacks from an eighth to thrice as many stations as it has, and the radio's
threshold lies under its weakest stations. Held against it are a sound list with the listener's usual number of ticks that are
no station, and whatever else explains ticks: images, overload, sidebands, whistles at even spacing that were not marked so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp

from bandscan.model import Extra, Finding
from bandscan.radio.hearing import Radios
from bandscan.radio.pointer import error_at
from bandscan.radio.threshold import Fit
from bandscan.radio.verdict import over_nothing
from bandscan.radio.weighing import Scale
from bandscan.radio.whistles import whistle_findings

FloatArray = npt.NDArray[np.float64]

RIVALS = frozenset({"image", "overload-repeats", "sideband-ticked"})
_UNDER_DB = np.array([2.0, 6.0, 10.0, 14.0, 18.0])  # the radio's threshold under the list's weakest tenth, each as likely
_WEAKEST = 10.0  # per cent
_LEAST, _MOST_EVIDENCE = 3, 8

_NEXT = {
    "am": "feed the receiver through a high-impedance buffer at the whip, survey AM again, then check this sheet again",
    "fm": "look at the survey's antenna and lead, survey FM again at the hour of the sweep, then check this sheet again",
}


def deaf_list(
    fit: Fit, findings: Sequence[Finding], extras: Sequence[Extra], known_hz: Sequence[int], if_hz: float | None
) -> tuple[Finding, ...]:
    """The findings with the list's own deafness among them where the sweep speaks for it; best first.

    Args:
        fit: the sweeps laid over the list.
        findings: those of the radio.
        extras: ticks that no station of the list and no fault explains.
        known_hz: channels that today's survey holds and the list does not: no floor of the receiver hides those. [Hz]
        if_hz: the set's intermediate frequency where known.
    """
    step_hz = fit.sweeps.bench.plan.step_hz
    read = {extra.channel_hz for extra in extras if extra.channel_hz is not None}
    # a pointer is a channel off now and then
    places = sorted(hz for hz in read if not any(abs(hz - known) <= step_hz for known in known_hz))
    if fit.curve is None or fit.sweeps.dial.kind == "none" or len(places) < max(_LEAST, len(extras) // 2):
        return tuple(findings)
    band, scale = fit.sweeps.bench.band, Scale(fit)
    if not scale.list_deaf.any():
        return tuple(findings)
    levels = fit.sweeps.bench.level_db
    under_db = float(np.percentile(levels[np.isfinite(levels)], _WEAKEST)) - _UNDER_DB
    log_deaf = _log(fit, scale, scale.list_deaf, under_db)
    own = float((log_deaf - _log(fit, scale, ~scale.list_deaf, fit.curve.quantiles(len(_UNDER_DB)))) / np.log(10.0))
    if own <= 0.0:
        return tuple(findings)
    rivals = [over_nothing(one) for one in findings if one.fault in RIVALS]
    # whistles at even spacing that nobody marked as such, where this dial shows them
    at_hz = np.array(places, dtype=np.float64)
    error_hz, _ = error_at(fit.sweeps.bench, fit.draws.pointers, fit.weight, at_hz)
    rivals += [over_nothing(one) for one in whistle_findings(fit, [at_hz + error_hz], if_hz)]
    weight = own - together(0.0, *rivals)
    unlisted = [hz for hz in places if hz not in fit.sweeps.bench.channel_hz]
    found = Finding(
        "reference-deaf",
        _words(band, len(places)),
        tuple(unlisted[:_MOST_EVIDENCE]),
        _NEXT[band],
        round(weight, 2),
        round(own, 2),
    )
    return tuple(sorted([found, *(_with_rival(one, own) for one in findings)], key=lambda one: -one.weight))


def _with_rival(finding: Finding, rival: float) -> Finding:
    """The finding where one more explanation of these log10 odds against "nothing wrong" is in play, if it explains ticks."""
    if finding.fault not in RIVALS:
        return finding
    alone = over_nothing(finding)
    return replace(finding, weight=round(alone - together(alone - finding.weight, rival), 2))


def together(*log_odds: float) -> float:
    """log10 of the sum of odds of these log10."""
    return float(logsumexp(np.log(10.0) * np.array(log_odds)) / np.log(10.0))


def _log(fit: Fit, scale: Scale, draws: npt.NDArray[np.bool_], threshold_db: FloatArray) -> float:
    """Log of prior times likelihood of the sweeps for some of the draws, each threshold as likely."""
    each = scale.log_all(fit.sweeps, Radios(threshold_db)) + scale.log_share[:, None]
    return float(logsumexp(each[draws]) - np.log(len(threshold_db)))


def _words(band: str, ticks: int) -> str:
    heard = f"{ticks} ticks stand where the list has no station, and nearly all of its weak stations were followed"
    other = "" if band == "am" else ", or the band was open that day"
    return f"{heard}: they may be real stations under the list's own floor, so the list's receiver is the deaf one{other}"
