"""What the shop knows of a radio's kind: its family's facts, and the known-good sets that measure it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace

from bandscan.model import BandCheck, Baseline, RadioCheck, Reference, Sheet
from bandscan.radio import from_json, reference_from
from bandscan.shop import Family, Shop
from bandscan.store import Log


def with_family(sheet: Sheet, shop: Shop) -> Sheet:
    """The sheet with what the shop knows of the radio's family; what the sheet says itself comes first."""
    name = sheet.header.get("family", "")
    family = shop.families.get(name)
    if family is None:
        if not name or not shop.families:
            return sheet
        caution = f"family {name} is not in the shop's shop.toml (there: {', '.join(shop.families)})"
        return replace(sheet, cautions=(*sheet.cautions, caution))
    return replace(sheet, header={**_family_header(family), **{key: value for key, value in sheet.header.items() if value}})


def _family_header(family: Family) -> dict[str, str]:
    facts = {"dial": family.dial, "numerals": family.numerals, "if_khz": family.if_khz, "raster_khz": family.raster_khz}
    return {key: value if isinstance(value, str) else f"{value:g}" for key, value in facts.items() if value}


def references(sheet: Sheet, baselines: Mapping[str, Baseline], log: Log) -> dict[str, Reference]:
    """Thresholds of good sets by band: those of the sheet's family, else those of others. One check counts for each radio."""
    found = {}
    for band, one in baselines.items():
        sets: dict[bool, dict[str, tuple[str, BandCheck]]] = {True: {}, False: {}}
        for known in log.known_good(band, one.rig):
            # a radio is no measure of itself
            if known.job == sheet.job and known.radio == sheet.header.get("radio", ""):
                continue
            judged = from_json(json.loads(known.json)).bands[band]
            same = bool(known.family) and known.family == sheet.header.get("family", "")
            sets[same][known.radio or known.job] = (known.made_utc, judged)
        for same, basis in ((True, "known-good"), (False, "other family")):
            newest = max((made_utc for made_utc, _ in sets[same].values()), default="")
            reference = reference_from([judged for _, judged in sets[same].values()], newest, basis)
            if reference is not None:
                found[band] = reference
                break
    return found


def spoken_for(one: RadioCheck) -> list[str]:
    """What a known-good set can serve for."""
    said = []
    for band, judged in one.bands.items():
        if judged.bound == "two-sided":
            said.append(
                f"{band.upper()}: kept as a known-good set"
                + (
                    f" of family {one.family}"
                    if one.family
                    else "; name its family in the sheet so that it measures its own kind"
                )
                + "; a second sweep of it makes the measure surer"
            )
        else:
            said.append(
                f"{band.upper()}: cannot serve as a measure, its threshold is bounded on one side only;"
                " sweep it again through a 10 or 20 dB attenuator"
            )
    return said
