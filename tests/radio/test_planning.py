"""What a bench can tell, in the words that stand beside an empty sheet."""

from __future__ import annotations

import random
from dataclasses import replace

from radio.bench_sim import GOOD_DB, bench, reference_list

from bandscan.model import Reference
from bandscan.radio import Limits, plan_bench, plan_words

GOOD = Reference(GOOD_DB, 1.0, "known-good", "dBFS", 5)


def _words(reference: Reference, count: int = 40, band: str = "fm", lowest_db: float = -15.0) -> str:
    plan = plan_bench(reference_list(bench(random.Random(1), count, lowest_db=lowest_db, band=band), band), reference, Limits())
    assert plan is not None
    return plan_words(plan, Limits())


def test_a_good_bench_tells_the_deafer_set() -> None:
    """Stations about the threshold: the 10 dB deaf set is told, the 6 dB deaf one in some sweeps only, each with its chance."""
    words = _words(GOOD)
    assert words.startswith("this bench cannot surely tell a set 6 dB deaf from a good one (about ")
    assert " of 100 sweeps do), but one 10 dB deaf (" in words
    assert ", ticks alone, each figure within about 15" in words
    assert "; telling is not condemning: it mostly reads `look closer`" in words
    assert "no attenuator makes it better" in words


def test_a_strong_bench_is_told_which_attenuator() -> None:
    """Common practice: where every station is strong an attenuator makes the bench able."""
    assert "; through a 30 dB attenuator it can" in _words(GOOD, lowest_db=25.0)


def test_am_is_never_sent_through_an_attenuator() -> None:
    """Common practice: 50 ohm across the AM lead make any set deaf."""
    assert "an AM set takes no attenuator" in _words(GOOD, count=15, band="am", lowest_db=25.0)


def test_an_assumed_threshold_is_said() -> None:
    """Without a known-good set the chances rest on a guess; the sentence says what to do."""
    words = _words(replace(GOOD, sd_db=6.0, basis="assumed", sets=0))
    assert ", nor one 10 dB deaf (" in words
    assert "is assumed here: sweep a known-good radio first" in words
