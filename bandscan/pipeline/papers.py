"""The files of one check: figures, table, and the pages for the bench, the owner and the shop's file."""

from __future__ import annotations

from collections.abc import Mapping

from bandscan.model import Baseline, RadioCheck
from bandscan.pipeline.files import Text, csv_text
from bandscan.radio import to_rows
from bandscan.report import check_page, customer_page, record_page
from bandscan.shop import Shop


def papers(one: RadioCheck, lists: Mapping[str, Baseline], *, record: str, sheet: str) -> dict[str, Text]:
    """File names and texts of a check; `record` is its JSON as kept, `sheet` the count sheet as written."""
    return {
        "check.json": record,
        "check.csv": csv_text(to_rows(one)),
        "check.html": lambda library: check_page(one, lists, library=library),
        "owner.html": customer_page(one, lists),
        "record.html": record_page(one, lists, sheet),
    }


def shop_words(shop: Shop | None) -> str:
    """The shop's name and place, as its settings tell them."""
    return ", ".join(part for part in (shop.name, shop.place) if part) if shop is not None else ""
