"""What the bench can tell today, for the one who is about to sweep."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from bandscan.model import Baseline, Reference, Sheet
from bandscan.pipeline.day import day_of, local_text, sweep_hour
from bandscan.pipeline.known import best_measured
from bandscan.radio import Limits, plan_bench, plan_words
from bandscan.radio.belongs import why_apart
from bandscan.shop import Shop
from bandscan.store import Log

_FIRST = "survey the band with a receiver and sweep a known-good radio on this bench (check --known-good)"


def planned(lists: Mapping[str, Baseline], shop: Shop | None, log: Log | None, now_utc: str) -> dict[str, str]:
    """For each band of the lists, whether a sweep that begins now can tell a deaf set, in words.

    The set is one of the family of which the shop has the most known-good sets.
    The demo's shop stands still: its day is that of its newest survey.
    """
    if shop is not None and shop.demo:
        now_utc = max((one.last_utc for one in lists.values()), default=now_utc)
    local = local_text(now_utc, shop)
    sheet = Sheet({"swept": local}, pd.DataFrame())
    limits = Limits()
    if shop is not None:
        hour, sun = sweep_hour(sheet, shop)
        limits = Limits(look_db=shop.look_db, fail_db=shop.fail_db, am_hour=hour, am_sun=sun)
    day = day_of(sheet, lists, log, shop)
    best = best_measured(lists, log) if log is not None else {}
    measures = day.measures({band: reference for band, (_, reference) in best.items()})
    told = {}
    for band, one in day.lists.items():
        apart = why_apart(one, sheet.header, now_utc, limits)
        plan = plan_bench(one, measures.get(band), limits)
        if apart is not None:
            told[band] = f"a sweep of {local} could not be judged, {apart[0]}: {apart[1]}"
        elif plan is None:
            told[band] = f"how deaf a set is cannot be told yet: {_FIRST}"
        else:
            seen = "by the survey of" if band in day.told else "by the list, without a survey within two hours of"
            whose = _whose(*best[band]) if band in best else ""
            told[band] = f"{plan_words(plan, limits)} ({whose}{seen} {local})"
    return told


def _whose(family: str, reference: Reference) -> str:
    """For which radios it is meant, and by how many known-good sets."""
    sets = "1 known-good set" if reference.sets == 1 else f"{reference.sets} known-good sets"
    kind = f"a radio of family {family}" if family and reference.basis == "known-good" else "a radio of another family"
    return f"for {kind}, by {sets}; "
