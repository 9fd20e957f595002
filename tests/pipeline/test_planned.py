"""What an empty sheet says of the bench before the sweep."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from pipeline.test_checking import HEAD, MADE, swept

from bandscan.model import Sheet
from bandscan.pipeline import check, listing, sheet
from bandscan.pipeline.known import best_measured, references
from bandscan.pipeline.listing import latest_lists
from bandscan.pipeline.planned import planned
from bandscan.shop import Shop
from bandscan.store import Log


def test_the_day_decides(shop: Shop) -> None:
    """Soon after the surveys a sweep can be planned; half a year later the list is too old, and the line says what to do."""
    with Log(shop.log_path) as log:
        lists = latest_lists(log, shop, None)
        soon = planned(lists, shop, log, "2026-03-05T12:00:00Z")["fm"]
        late = planned(lists, shop, log, "2026-11-05T12:00:00Z")["fm"]
        demo = planned(lists, replace(shop, demo=True), log, "2026-11-05T12:00:00Z")["fm"]
    assert soon.startswith("this bench can")
    assert soon.endswith("(by the list, without a survey within two hours of 2026-03-05 12:00)")
    assert late.startswith("a sweep of 2026-11-05 12:00 could not be judged, the FM list is ")
    assert late.endswith(": survey the FM band again, then sweep")
    assert demo.startswith("this bench can")


def told_of(shop: Shop) -> str:
    """What the plan says of FM."""
    with Log(shop.log_path) as log:
        return planned(latest_lists(log, shop, None), shop, log, "2026-03-05T12:00:00Z")["fm"]


def of_100(told: str) -> tuple[int, int]:
    """How many of 100 sweeps tell a set 6 dB deaf, and one 10 dB deaf."""
    look, fail = re.findall(r"(\d+) of 100", told)[:2]
    return int(look), int(fail)


def test_it_is_planned_for_the_family_of_most_known_good_sets(shop: Shop, tmp_path: Path) -> None:
    """Its own reference tells more than another family's, and the line says for which; names are taken without case."""
    sets = [("late", 1, 17), ("early", 2, 18), ("Early", 3, 17), ("early", 4, 18)]
    for family, number, heard in sets:
        header = HEAD.replace("Ombra", f"Good {number}") + f"# job: {number}\n" + f"# family: {family}\n"
        check([swept(tmp_path, f"{number}.csv", heard, header)], shop=shop, known_good=True, made_utc=MADE)
        if number == 1:
            one = told_of(shop)
            assert "(for a radio of family late, by 1 known-good set; by the list, without" in one
    told = told_of(shop)
    assert "(for a radio of family early, by 3 known-good sets; by the list, without" in told
    with Log(shop.log_path) as log:
        lists = latest_lists(log, shop, None)
        family, reference = best_measured(lists, log)["fm"]
        own = references(Sheet({"family": "EARLY"}, pd.DataFrame()), lists, log)[0]["fm"]
    assert (family.casefold(), reference) == ("early", own)
    assert of_100(told) > of_100(one)


def test_sets_without_a_family_measure_others_only(shop: Shop, tmp_path: Path) -> None:
    """There is no family to plan for, and the line says so."""
    header = HEAD.replace("Ombra", "Good 1") + "# job: 1\n"
    check([swept(tmp_path, "1.csv", 18, header)], shop=shop, known_good=True, made_utc=MADE)
    assert "(for a radio of another family, by 1 known-good set; by the list, without" in told_of(shop)


def test_the_sheet_tells_it_on_paper_and_in_its_notes(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same sentence stands in the notes and on both pages."""
    monkeypatch.setattr(listing, "now", lambda: "2026-03-05T12:00:00Z")
    done = sheet(shop)
    (note,) = done.notes
    assert note.startswith("FM: this bench can")
    for path in done.files:
        if path.suffix == ".html":
            assert note.removeprefix("FM: t") in path.read_text(encoding="utf-8")
