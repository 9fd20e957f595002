"""A band on which not one stop was ticked: dead, where a good set would have followed something."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.special import logsumexp

from bandscan.model import Expected, Finding, Reference
from bandscan.radio.bench import Bench
from bandscan.radio.expected import chance_of_counts
from bandscan.radio.findings import MOST_EVIDENCE
from bandscan.radio.hearing import Radios, followed_chance
from bandscan.radio.suspects import GONE, Healthy, nothing_wrong
from bandscan.radio.threshold import Fit
from bandscan.radio.verdict import WITHOUT_PAD, over_nothing
from bandscan.radio.weighing import Scale, against_all

# odds of a dead band before the sweep is looked at, against a set with nothing wrong: the commonest complaint (from memory)
_PRIOR_ODDS = 0.5
# the same where an attenuator was in line: one is put before a set that was heard without it (from memory)
_PRIOR_ODDS_PADDED = 0.02
_NEXT = {
    # trade practice: the oscillator stands 10.7 MHz over the dial; one that is there leaves supply, mute and what follows
    "fm": "plug the lead in again, mute off, then look for the set's oscillator 10.7 MHz above the dial with a second receiver",
    # published go/no-go of dealers' manuals
    "am": "touch the antenna jack with metal: loud noise means lead or antenna, silence means that the AM input is dead",
}


def silence_chance(bench: Bench, reference: Reference, pad_db: float, doubt_db: float) -> float | None:
    """The chance that a set at the reference threshold follows nothing at all here; None where there is no such threshold.

    `pad_db` is the least attenuator that was in line [dB].
    `doubt_db` is what day and listener add to the reference's own uncertainty.
    """
    counts = chance_of_counts(bench, reference, pad_db, doubt_db)
    return None if counts is None else float(counts[0])


def with_silence(findings: tuple[Finding, ...], fit: Fit, healthy: Healthy, good: Expected) -> tuple[Finding, ...]:
    """The findings of a silent sweep with the dead band among them, each weighed against the other; best first."""
    bench, scale, nothing = fit.sweeps.bench, Scale(fit), nothing_wrong(fit.sweeps, healthy)
    gone = Radios(nothing.radio.threshold_db, keeps=np.full((len(bench), len(nothing.radio.threshold_db)), GONE))
    log_each = [logsumexp(scale.log_each(one)) for one in (replace(nothing, radio=gone), nothing)]
    pad_db = fit.sweeps.blocks[0].pad_db
    log_odds = float(log_each[0] - log_each[1] + np.log(_PRIOR_ODDS_PADDED if pad_db else _PRIOR_ODDS))
    if log_odds <= 0.0:
        return findings
    weights = against_all([log_odds, *(np.log(10.0) * over_nothing(one) for one in findings)])
    usual_db = float(np.median(healthy.threshold_db))
    usual = followed_chance(bench, np.array([usual_db]), pad_db)[:, 0]
    strongest = np.argsort(-usual, kind="stable")[:MOST_EVIDENCE]
    few = f"{good.low} to {good.high}" if good.low < good.high else f"{good.low}"
    through = f" through {pad_db:g} dB" if pad_db else ""
    dead = Finding(
        "dead-beyond",
        f"nothing is heard on the whole band{through}, where a good set follows {few} stations",
        tuple(sorted(int(bench.channel_hz[index]) for index in strongest if usual[index] > 0.5)),
        WITHOUT_PAD if pad_db else _NEXT[bench.band],
        round(weights[0], 2),
        round(log_odds / float(np.log(10.0)), 2),
    )
    weighed = [replace(one, weight=round(weight, 2)) for one, weight in zip(findings, weights[1:], strict=True)]
    return tuple(sorted([dead, *weighed], key=lambda one: -one.weight))
