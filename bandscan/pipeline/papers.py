"""The files of one check: figures, table, and the pages for the bench, the owner and the shop's file."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

from bandscan.model import Baseline, RadioCheck
from bandscan.pipeline.files import Text, csv_text
from bandscan.radio import to_rows
from bandscan.report import baseline_page, check_page, customer_page, record_page
from bandscan.shop import Shop


def papers(one: RadioCheck, lists: Mapping[str, Baseline], *, record: str, sheet: str) -> dict[str, Text]:
    """File names and texts of a check; `record` is its JSON as kept, `sheet` the count sheet as written."""
    return {
        "check.json": record,
        "check.csv": csv_text(to_rows(one)),
        "check.html": lambda library: check_page(one, lists, library=library),
        "owner.html": customer_page(one, lists),
        "record.html": record_page(one, lists, sheet),
        **{f"list-{band}.html": partial(_list_page, one, lists[band]) for band in one.bands if band in lists},
    }


def _list_page(one: RadioCheck, listed: Baseline, library: str) -> str:
    """The list that the radio was held against, with the radio's threshold drawn in where it is in the list's unit."""
    judged = one.bands[listed.band]
    bounded = judged.threshold_db.low is not None or judged.threshold_db.high is not None
    alike = set(listed.stations["level_unit"].dropna()) == {judged.unit}
    told = f"{one.radio or 'a radio not named'}, job {one.job}"
    threshold = judged.threshold_db if bounded and alike else None
    return baseline_page(listed, radio=told if threshold else "", threshold=threshold, library=library)


def shop_words(shop: Shop | None) -> str:
    """The shop's name and place, as its settings tell them."""
    return ", ".join(part for part in (shop.name, shop.place) if part) if shop is not None else ""
