"""`bandscan baseline --from`: sweeps of known-good radios to reference lists without levels."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from bandscan._version import __version__
from bandscan.baseline import Sweep, from_sweeps
from bandscan.errors import BaselineError
from bandscan.model import Baseline
from bandscan.pipeline.day import swept_utc
from bandscan.pipeline.files import read_text
from bandscan.pipeline.known import sheet_of
from bandscan.pipeline.place import UNNAMED
from bandscan.plans import BANDS
from bandscan.shop import Shop, read_names
from bandscan.shop.sun import CRITICAL, hour_of
from bandscan.store import Log


def lists_from_sheets(
    log: Log, shop: Shop, paths: Sequence[Path], band: str | None, rig: str | None, made_utc: str
) -> tuple[list[Baseline], list[str]]:
    """A list for each band of the sheets, and what to say besides.

    Raises:
        SheetError: a sheet cannot be understood.
        BaselineError: there is no such band in them, they do not belong together, or surveys make a better list.
    """
    sweeps = []
    for path in paths:
        sheet = sheet_of(read_text(path, "count sheet"), str(path), shop)
        sweeps.append(Sweep(sheet, swept_utc(sheet, shop)))
    rig = rig or _rig(sweeps) or shop.rig or UNNAMED
    made, said = [], []
    for one in BANDS if band is None else (band,):
        mine = [sweep for sweep in sweeps if (sweep.sheet.ticks["band"] == one).any()]
        if not mine:
            continue
        surveys = log.survey_count(one, rig, shop.region)
        if surveys:
            few = f"{surveys} survey" if surveys == 1 else f"{surveys} surveys"
            said.append(f"{one.upper()}: the log has {few} with rig {rig}: a list with levels; none made from sheets")
            continue
        names = read_names(shop.names_path, shop.region)
        hours = _hours(mine, shop) if one == "am" else None
        made.append(from_sweeps(mine, one, shop.region, rig, names, made_utc, __version__, hours, shop.demo))
    if said and not made:
        raise BaselineError("; ".join(said), do="run `bandscan baseline` without --from, or name another rig with --rig")
    if not made:
        raise BaselineError(f"the sheets have no row of {band.upper() if band else 'FM or AM'}", do="fill in a sheet first")
    return made, said


def _rig(sweeps: Sequence[Sweep]) -> str:
    """The rig that the sheets name; empty where none does."""
    rigs = sorted({rig for one in sweeps if (rig := one.sheet.header.get("rig", ""))})
    if len(rigs) > 1:
        raise BaselineError(f"the sheets are of several rigs: {', '.join(rigs)}", accepted="sheets of one rig")
    return rigs[0] if rigs else ""


def _hours(sweeps: Sequence[Sweep], shop: Shop) -> str | None:
    """`day` or `night`, when all AM sweeps were made; None where that is not known."""
    hours = {hour_of(shop, one.swept) if one.swept is not None else None for one in sweeps}
    if CRITICAL in hours:
        raise BaselineError(
            "an AM sweep was made within two hours of sunrise or sunset", do="take sweeps from the middle of the day"
        )
    known = hours - {None}
    if len(known) > 1:
        raise BaselineError("AM sweeps by day and by night make no common list", accepted="sheets of one kind")
    return known.pop() if known and None not in hours else None
