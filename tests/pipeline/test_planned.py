"""What an empty sheet says of the bench before the sweep."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bandscan.pipeline import listing, sheet
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


def test_the_sheet_tells_it_on_paper_and_in_its_notes(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same sentence stands in the notes and on both pages."""
    monkeypatch.setattr(listing, "now", lambda: "2026-03-05T12:00:00Z")
    done = sheet(shop)
    (note,) = done.notes
    assert note.startswith("FM: this bench can")
    for path in done.files:
        if path.suffix == ".html":
            assert note.removeprefix("FM: t") in path.read_text(encoding="utf-8")
