"""Suspects weighed: marginal likelihoods over everything that is not known, and what they make of each explanation."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp

from bandscan.radio.align import Sweeps
from bandscan.radio.doubles import log_marked
from bandscan.radio.draws import Draws
from bandscan.radio.hearing import Listeners, Radios, listeners
from bandscan.radio.suspects import Suspect
from bandscan.radio.threshold import Fit, even_draw

FloatArray = npt.NDArray[np.float64]

# odds of a fault before the sweep is looked at, against a set with nothing wrong: one as likely as another, but for the rarest
# (from memory)
_PRIOR_ODDS = {"strongest-missing": 0.05}
_OTHER_PRIOR_ODDS = 0.2
_POINTERS = 4
# a Gauss-Hermite rule over the prior of the listener's jitter; ticks that are no station of the list, few or several as likely:
# a fault has to stand against several (from memory)
_JITTERS, USUAL_EXTRAS = 3, np.array([0.33, 3.0])
# the list itself may be deaf: an AM list often, an FM list seldom (odds from memory); it then lacks as many stations as this
# share of those it has, each as likely, and they are so many more ticks that are no station of it
LIST_DEAF_ODDS = {"am": 0.2, "fm": 0.05}
_SEVERAL = 1.8
LACKS = np.array([0.125, 0.4, 1.2, 3.0])
_THRESHOLDS = 4


@dataclass(frozen=True, eq=False)
class Weighed:
    """One fault: its best variant and setting, and natural logs: how much likelier than "nothing wrong" it makes the sweeps
    (`log_bayes`), and its odds against "nothing wrong", prior included (`log_odds`).

    `share` (K,): how likely each setting of that variant is, of all of them.
    """

    fault: str
    suspect: Suspect
    best: int
    share: FloatArray
    log_bayes: float
    log_odds: float


class Scale:
    """Integrates a suspect's likelihood over pointers, as the fit has them, and listeners, as their prior has them.

    Not over the listeners that fit the sweeps best: a larger jitter would have to explain what the fault explains. What the
    steps between grades are the sweeps say themselves, and alike for all suspects.
    """

    def __init__(self, fit: Fit) -> None:
        ways = [(fit.sweeps, fit.curve, fit.weight, 0.0)]
        if fit.lenient is not None:
            ways.append((fit.lenient.sweeps, fit.lenient.curve, fit.lenient.weight, fit.lenient.log_evidence))
        drawn, share = even_draw(np.mean([weight for _, _, weight, _ in ways], axis=0), _POINTERS * len(ways))
        listener, chance = _listeners(fit)
        pointer, who = (index.ravel() for index in np.indices((len(drawn), len(chance))))
        self.list_deaf = who >= _JITTERS * len(USUAL_EXTRAS)
        few = fit.draws.pick(drawn[pointer])
        self.draws: Draws = replace(few, listener=listener.pick(who))
        self.log_share = np.log(share[pointer] * chance[who])
        self.share = share[pointer] * chance[who]
        # the pointers are drawn as the sweeps have them: what each owes to the sweeps is taken off, or it would count twice
        owed = []
        for sweeps, curve, _, log_evidence in ways:
            likely_db = curve.quantiles(_THRESHOLDS) if curve is not None else np.zeros(1)
            own = logsumexp(self.log_all(sweeps, Radios(likely_db)), axis=1) + np.log(chance[who])
            each = logsumexp(own.reshape(len(drawn), -1), axis=1)
            owed.append(each - log_evidence - (np.log(curve.density(likely_db).mean()) if curve is not None else 0.0))
        self.log_share -= logsumexp(owed, axis=0)[pointer]

    def log_all(self, sweeps: Sweeps, radio: Radios) -> FloatArray:
        """Log likelihood of sweeps for every draw (M,) and setting (K,)."""
        return sweeps.log_likelihood(self.draws.pointers, self.draws.listener, radio)

    def log_each(self, suspect: Suspect) -> FloatArray:
        """Log of prior times likelihood of every setting of a suspect, (K,)."""
        each = self.log_all(suspect.sweeps, suspect.radio) + self.log_share[:, None]
        if suspect.made.any() and suspect.sweeps.repeats:
            each += log_marked(suspect.sweeps, suspect.made, self.draws.pointers, self.draws.listener, suspect.radio)
        return np.asarray(logsumexp(each, axis=0) + suspect.log_prior, dtype=np.float64)


def _listeners(fit: Fit) -> tuple[Listeners, FloatArray]:
    """Listeners of the quadrature (L,) and their chances: jitter by its prior, extras few or several, steps as swept.

    The last ones are usual listeners whose list lacks stations.
    """
    jitter, jitter_weight = np.polynomial.hermite_e.hermegauss(_JITTERS)
    weight = np.repeat(jitter_weight / jitter_weight.sum() / len(USUAL_EXTRAS), len(USUAL_EXTRAS))
    # a sweep with hardly a tick beside the list has no use for them
    lacks = LACKS * len(fit.sweeps.bench) if fit.extra >= _SEVERAL else np.zeros(0)
    a = np.append(np.repeat(jitter, len(USUAL_EXTRAS)), np.zeros(len(lacks)))
    weight = np.append(weight, np.full(len(lacks), LIST_DEAF_ODDS[fit.sweeps.bench.band] / len(LACKS)))
    own = fit.draws.listener
    steps = [np.full(len(a), np.exp(fit.weight @ np.log(step))) for step in (own.trace_db, own.clean_db)]
    none = np.zeros(len(a))
    usual = listeners(fit.sweeps.bench.band, np.stack([a, none, none, none], axis=1))
    extra = np.append(np.tile(USUAL_EXTRAS, _JITTERS), lacks)
    return replace(usual, trace_db=steps[0], clean_db=steps[1], extra=extra), weight / weight.sum()


def weigh(scale: Scale, nothing: Suspect, suspects: Iterable[Suspect]) -> list[Weighed]:
    """Every fault against "nothing wrong", likeliest first. Suspects of one word are variants of one fault, each as likely."""
    log_nothing = float(logsumexp(scale.log_each(nothing)))
    variants: dict[str, list[tuple[float, Suspect, FloatArray]]] = {}
    for suspect in suspects:
        log_each = scale.log_each(suspect)
        variants.setdefault(suspect.fault, []).append((float(logsumexp(log_each)), suspect, log_each))
    weighed = []
    for fault, those in variants.items():
        together = float(logsumexp([value for value, _, _ in those]) - np.log(len(those)))
        log_all, suspect, log_each = max(those, key=lambda one: one[0])
        log_prior = float(np.log(_PRIOR_ODDS.get(fault, _OTHER_PRIOR_ODDS)))
        best, share, odds = int(np.argmax(log_each)), np.exp(log_each - log_all), together - log_nothing
        weighed.append(Weighed(fault, suspect, best, share, odds, odds + log_prior))
    return sorted(weighed, key=lambda one: -one.log_odds)


def size_of(one: Weighed) -> tuple[float, float, float]:
    """What a fault says of its own size: the middle and both ends of 95 % of its settings, on the side of the best one.

    Where the largest setting is too likely to be an end, nothing bounds the size from above, and that end is infinite; where
    the least one is, the size may be as small as nothing.
    """
    value = one.suspect.value
    side = np.sign(value) == np.sign(value[one.best])
    sizes, place = np.unique(value[side], return_inverse=True)
    share = np.bincount(place, one.share[side]) / one.share[side].sum()
    # each setting stands for the stretch half way to its neighbours
    upto = np.cumsum(share) - 0.5 * share
    low, mid, high = (float(np.interp(part, upto, sizes)) for part in (0.025, 0.5, 0.975))
    low = 0.0 if upto[0] > 0.025 else low
    if one.fault == "deaf":
        # it is told where the set stands: against the reference that is as unsure again as this is
        prior, at_db = np.exp(one.suspect.log_prior), one.suspect.radio.threshold_db
        mean_db = float(np.average(at_db, weights=prior))
        doubt_db = 1.96 * float(np.sqrt(np.average((at_db - mean_db) ** 2, weights=prior)))
        low, high = mid - float(np.hypot(mid - low, doubt_db)), mid + float(np.hypot(high - mid, doubt_db))
    return mid, low, np.inf if upto[-1] < 0.975 else high


def against_all(log_odds: Sequence[float]) -> list[float]:
    """log10 of the odds of each explanation against all others together, "nothing wrong" among them.

    `log_odds` are natural logs of each one's odds against "nothing wrong"; the explanations exclude each other.
    """
    every = np.array([0.0, *log_odds])
    return [float((one - logsumexp(np.delete(every, place + 1))) / np.log(10.0)) for place, one in enumerate(log_odds)]


def unlikely(against_nothing: float) -> str:
    """What a finding's text ends in where "nothing wrong" is likelier."""
    return ", which is less likely than nothing wrong" if against_nothing < 0.0 else ""
