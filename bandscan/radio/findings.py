"""Suspected faults, best first: each with its evidence, its weight against "nothing wrong" and one next bench test."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandscan.model import Finding
from bandscan.radio.chain import posterior
from bandscan.radio.doubles import marked_chain
from bandscan.radio.hearing import followed_chance
from bandscan.radio.pointer import COLUMNS, adjusted_at, error_at
from bandscan.radio.suspects import Healthy, Suspect, all_suspects, nothing_wrong
from bandscan.radio.threshold import Fit
from bandscan.radio.weighing import Scale, Weighed, against_all, size_of, unlikely, weigh
from bandscan.units import channel_text, channel_text_unit

FloatArray = npt.NDArray[np.float64]

# a pointer that is off is listed where that is likelier than "nothing wrong"
LIKELIER = 0.0
# explanations of which stations are missing or double: rivals, of which so many are shown
EXPLANATIONS = frozenset(
    {
        "deaf",
        "weak-high-end",
        "weak-low-end",
        "dead-beyond",
        "neighbours-lost",
        "one-side-lost",
        "strongest-missing",
        "other-antenna",
        "image",
        "overload-repeats",
        "sideband-ticked",
        "reference-deaf",
    }
)
_MOST_RIVALS = 2
OTHER_END = {"weak-high-end": "weak-low-end", "weak-low-end": "weak-high-end"}
MOST_EVIDENCE = 8

# what an ordinary dial and a faulty one are off: standard deviations of the offset [Hz] and of the slope
_OFFSET_SD_HZ = {"fm": (0.35e6, 1.2e6), "am": (10e3, 40e3)}
_SLOPE_SD = (0.02, 0.06)

_NEXT_FM = {
    "deaf": "try a known-good antenna lead and whip, sweep again, then read the supply at the set under load",
    "weak-high-end": "generator at {high}, then {low}: peak the front-end trimmers",
    "weak-low-end": "generator at {low}, then {high}: set the front-end cores",
    "dead-beyond": "read the tuning voltage, or the oscillator with a second receiver, on both sides of that place",
    "neighbours-lost": "sweep the IF: look for a wrong, wide or off-centre ceramic filter",
    "one-side-lost": "match the filters' colours and set the discriminator's zero",
    "strongest-missing": "put a 10 dB attenuator in line: what comes back was overload",
    "other-antenna": "ask which antenna the sweep was made with; tap and flex the lead, then sweep again",
    "overload-repeats": "put a 10 dB attenuator in line: repeats fall three times as fast as stations",
    "sideband-ticked": "tune across the strong station slowly: hiss beside it that carries no words is its digital part",
    "pointer-shift": "set the pointer on its cord by a station you know, then look again",
    "pointer-stretch": "set the oscillator at both ends, trimmer high and core low, twice",
}
_NEXT_AM = {
    "deaf": "re-peak the antenna trimmer near 1400 kHz with this antenna; no peak means trimmer, coil or lead",
    "weak-high-end": "generator at 1400 kHz through the dummy antenna: peak the trimmers; try the original lead",
    "weak-low-end": "generator at 600 kHz through the dummy antenna: set the cores, look at the oscillator's amplitude",
    "neighbours-lost": "sweep the IF on a weak signal: staggered transformers or a missing filter",
    "one-side-lost": "sweep the IF: its centre is off",
    "strongest-missing": "pull the antenna plug out by half: what comes back was overload",
    "image": "generator at the dial frequency plus twice the IF: raise it until it is as loud; re-peak the RF trimmer",
    "sideband-ticked": "tune across the strong station slowly: splatter beside it follows its programme",
}


@dataclass(frozen=True, eq=False)
class Judged:
    """The findings of one band, best first.

    `explained` says of a tick's row what may have made it; `dead` (J,) are the stations on the dead side of the dial, if any.
    """

    findings: tuple[Finding, ...]
    explained: dict[int, str]
    dead: npt.NDArray[np.bool_] | None = None


def find_faults(fit: Fit, healthy: Healthy, if_hz: float | None) -> Judged:
    """All suspects weighed against "nothing wrong" and against each other.

    Findings are those that the sweeps speak for; of the rest as many as make up the number that is shown.
    """
    scale = Scale(fit)
    weighed = weigh(scale, nothing_wrong(fit.sweeps, healthy), all_suspects(fit.sweeps, healthy, if_hz))
    findings: list[Finding] = []
    explained: dict[int, str] = {}
    dead = None
    for one, weight in zip(weighed, against_all([one.log_odds for one in weighed]), strict=True):
        speaks = one.log_bayes > 0.0
        if speaks or len(findings) < _MOST_RIVALS:
            # what the sweeps speak against explains no tick
            findings.append(_finding(fit, scale, one, weight, explained if speaks else {}))
        if speaks and one.fault == "dead-beyond":
            dead = one.suspect.takes[:, one.best] > 0.5
    return Judged(tuple(findings), explained, dead)


def listed(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """The findings that a check shows: of explanations of the same sweep two at most, never a tilt to each end."""
    shown: list[Finding] = []
    for finding in findings:
        rivals = [one.fault for one in shown if one.fault in EXPLANATIONS]
        room = len(rivals) < _MOST_RIVALS and OTHER_END.get(finding.fault) not in rivals
        if room or finding.fault not in EXPLANATIONS:
            shown.append(finding)
    return tuple(shown)


def _finding(fit: Fit, scale: Scale, one: Weighed, weight: float, explained: dict[int, str]) -> Finding:
    suspect, best = one.suspect, one.best
    bench = suspect.sweeps.bench
    value, band = float(suspect.value[best]), bench.band
    size = _decibels(*size_of(one))
    missed = 1.0 - fit.followed()
    if suspect.made.any():
        evidence = _made_ticks(scale, suspect, best, explained)
    else:
        # what the set would follow but for this fault
        usual = followed_chance(bench, suspect.radio.threshold_db[best : best + 1])[:, 0]
        speaks = usual * missed * np.minimum(suspect.takes[:, best], 1.0)
        order = np.argsort(-speaks, kind="stable")[:MOST_EVIDENCE]
        evidence = [int(bench.channel_hz[index]) for index in order if speaks[index] > 0.3]
    words = {
        "deaf": f"{size} less sensitive than the reference all over the band",
        "weak-high-end": f"weak towards the high end, by {size} there",
        "weak-low-end": f"weak towards the low end, by {size} there",
        "dead-beyond": _dead_words(band, value),
        "neighbours-lost": "stations are lost beside a stronger neighbour",
        "one-side-lost": "stations are lost on one side of a stronger neighbour",
        "strongest-missing": "the strongest station is missing"
        if value < 1.5
        else f"the {value:.0f} strongest stations are missing",
        "image": f"stations are heard again {2.0 * value / 1e3:.0f} kHz below their place (images, IF {value / 1e3:g} kHz)",
        "other-antenna": "what is heard does not go by the list's levels: another antenna, or something intermittent",
        "overload-repeats": "stations are heard again where two strong ones mix (overload)",
        "sideband-ticked": "ticks stand beside strong stations, where their sidebands are",
    }
    low, _, high = (channel_text_unit(band, hz) for hz in adjusted_at(bench.plan))
    test = (_NEXT_FM if band == "fm" else {**_NEXT_FM, **_NEXT_AM})[suspect.fault].format(low=low, high=high)
    against_nothing = one.log_odds / np.log(10.0)
    return Finding(
        suspect.fault,
        words[suspect.fault] + unlikely(against_nothing),
        tuple(sorted(set(evidence))),
        test,
        round(weight, 2),
        round(float(against_nothing), 2),
    )


def _decibels(mid: float, low: float, high: float) -> str:
    """`about 16 dB (95 %: 11 to 22)`, or `12 dB or more (95 %)` where nothing bounds it from above."""
    least = max(low, 0.0)
    if np.isinf(high):
        return f"{least:.0f} dB or more (95 %)"
    return f"about {max(mid, 1.0):.0f} dB (95 %: {least:.0f} to {high:.0f})"


def _dead_words(band: str, edge_hz: float) -> str:
    place = channel_text_unit(band, round(abs(edge_hz), -5 if band == "fm" else -4))
    return f"nothing is heard {'above' if edge_hz > 0 else 'below'} {place}"


def _made_ticks(scale: Scale, suspect: Suspect, best: int, explained: dict[int, str]) -> list[int]:
    """Stations whose doubles were ticked; notes the ticks' rows."""
    hz: list[int] = []
    bench = suspect.sweeps.bench
    settings = (scale.draws.pointers, scale.draws.listener, suspect.radio.pick(best))
    laid = [(block, np.arange(len(bench)), suspect.sweeps.chain(block, *settings)) for block in suspect.sweeps.blocks]
    laid += [
        (block, np.flatnonzero(suspect.made), marked_chain(suspect.sweeps, suspect.made, block, *settings))
        for block in suspect.sweeps.repeats
    ]
    for block, places, chain in laid:
        chance = posterior(chain)[0][:, :, :, 0] @ scale.share
        for tick, place in enumerate(chance.argmax(axis=1)) if len(block) else ():
            station = places[place]
            if suspect.made[station] and chance[tick, place] >= 0.5:
                hz.append(int(bench.channel_hz[station]))
                words = {"image": "an image", "overload-repeats": "a repeat from overload", "sideband-ticked": "the sideband"}
                source = _source_text(suspect, int(station), float(suspect.value[best]))
                explained.setdefault(int(block.row[tick]), f"may be {words[suspect.fault]}{source}")
    return hz


def _source_text(suspect: Suspect, station: int, value: float) -> str:
    if suspect.fault != "image":
        return " of a strong station"
    return f" of {channel_text('am', suspect.sweeps.bench.channel_hz[station] + 2.0 * value)} kHz"


def pointer_findings(fit: Fit) -> tuple[Finding, ...]:
    """A pointer that is off more than old dials usually are."""
    sweeps = fit.sweeps
    if sweeps.dial.kind != "pointer" or not sweeps.dial.slips:
        return ()
    plan = sweeps.bench.plan
    middle, half = (plan.first_hz + plan.last_hz) / 2.0, (plan.last_hz - plan.first_hz) / 2.0
    mean, sd = error_at(sweeps.bench, fit.draws.pointers, fit.weight, np.array([middle]))
    slopes = fit.draws.pointers.coefficients[:, 1] / half
    slope = float(slopes @ fit.weight)
    slope_var = float((slopes - slope) ** 2 @ fit.weight)
    off_hz = float(mean[0])
    along_hz, _ = error_at(sweeps.bench, fit.draws.pointers, fit.weight, np.array(adjusted_at(plan), dtype=np.float64))
    # a bent scale is off by as much in one place only: no matter for the cord
    even = bool((along_hz * np.sign(off_hz) > 0.5 * abs(off_hz)).all())
    where = "all over" if even else f"at {channel_text_unit(plan.band, adjusted_at(plan)[1])}, and differently elsewhere"
    findings = []
    for fault, value, variance, usual, faulty, text in (
        (
            "pointer-shift",
            off_hz,
            float(sd[0]) ** 2,
            *_OFFSET_SD_HZ[plan.band],
            f"the pointer reads {_off(plan.band, off_hz)} {where}",
        ),
        (
            "pointer-stretch",
            slope,
            slope_var,
            *_SLOPE_SD,
            f"the pointer's error grows along the dial, by {abs(100 * slope):.1f} %",
        ),
    ):
        wide, narrow = variance + faulty**2, variance + usual**2
        weight = float((0.5 * value**2 * (1.0 / narrow - 1.0 / wide) + 0.5 * np.log(narrow / wide)) / np.log(10.0))
        if weight >= LIKELIER:
            test = _NEXT_FM[fault if even else "pointer-stretch"]
            findings.append(Finding(fault, text, (), test, round(float(weight), 2)))
    return tuple(findings)


def model_words(fit: Fit) -> str:
    """Which parts of the pointer's error the sweeps support."""
    if fit.sweeps.dial.kind == "none":
        return "order only"
    if fit.sweeps.dial.kind == "digits":
        return "digits"
    mean = fit.weight @ fit.draws.pointers.coefficients
    sd = np.sqrt(fit.weight @ (fit.draws.pointers.coefficients - mean) ** 2)
    shown = [name for name, value, width in zip(COLUMNS, mean, sd, strict=True) if abs(value) > 2.0 * width]
    if shown:
        return " and ".join(_backlash(fit, mean[-1], sd[-1]) if name == "backlash" else name for name in shown)
    # each may be nothing by itself where together they are not
    error_hz, width_hz = error_at(
        fit.sweeps.bench, fit.draws.pointers, fit.weight, np.array(adjusted_at(fit.sweeps.bench.plan))
    )
    return "offset or slope" if (np.abs(error_hz) > 1.96 * width_hz).any() else "no error seen"


def _backlash(fit: Fit, mean_hz: float, sd_hz: float) -> str:
    """How far a stop reads apart between a sweep up and one down, with its interval."""
    unit, size, digits = ("MHz", 1e6, 1) if fit.sweeps.bench.band == "fm" else ("kHz", 1e3, 0)
    low, high = sorted(abs(mean_hz + side * 1.96 * sd_hz) / size for side in (-1, 1))
    return f"backlash of {abs(mean_hz) / size:.{digits}f} {unit} (95 %: {low:.{digits}f} to {high:.{digits}f})"


def _off(band: str, error_hz: float) -> str:
    size = f"{abs(error_hz) / 1e6:.1f} MHz" if band == "fm" else f"{abs(error_hz) / 1e3:.0f} kHz"
    return f"{size} {'high' if error_hz > 0 else 'low'}"
