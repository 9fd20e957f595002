"""What the shop knows of a radio's kind: its family's facts, and the known-good sets that measure it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from bandscan.baseline import from_files, loses_db, moved
from bandscan.model import BandCheck, Baseline, RadioCheck, Reference, Sheet, parse_utc
from bandscan.radio import GoodSweep, apart_from, from_json, read_sheet, reference_from, stray_sets
from bandscan.radio.belongs import parted
from bandscan.radio.header import swept_time
from bandscan.radio.verdict import CANNOT_TELL, FALLS_SHORT, WEIGHTY, over_nothing
from bandscan.shop import Family, Shop
from bandscan.store import Log

_TO_BOUND = {
    "fm": "sweep it again through a 10 or 20 dB attenuator",
    "am": "AM goes through no attenuator: survey with more gain, so that the list has weaker stations",
}
# sweeps of known-good sets by set and time of sweep, each with its family
_Sweeps = dict[tuple[str, str], tuple[str, GoodSweep]]
RESWEEP_DAYS = 90.0  # a family older than this is asked to be swept again (the shop's rule)


def sheet_of(text: str, source: str, shop: Shop | None) -> Sheet:
    """The sheet that a text holds, with what the shop knows of the radio's family; what the sheet says itself comes first.

    Raises:
        SheetError: the sheet cannot be understood.
    """
    families = families_told(shop)
    sheet = read_sheet(text, source, families)
    name = sheet.header.get("family", "")
    facts = families.get(name) or next((one for key, one in families.items() if _alike(key, name)), None)
    if facts is not None:
        return replace(sheet, header={**facts, **{key: value for key, value in sheet.header.items() if value}})
    if not name or not families:
        return sheet
    caution = f"family {name} is not in the shop's shop.toml (there: {', '.join(families)})"
    return replace(sheet, cautions=(*sheet.cautions, caution))


def families_told(shop: Shop | None) -> dict[str, dict[str, str]]:
    """Header lines that hold for the radios of each of the shop's families."""
    return {name: _family_header(family) for name, family in shop.families.items()} if shop is not None else {}


def _family_header(family: Family) -> dict[str, str]:
    facts = {"dial": family.dial, "numerals": family.numerals, "if_khz": family.if_khz, "raster_khz": family.raster_khz}
    return {key: value if isinstance(value, str) else f"{value:g}" for key, value in facts.items() if value}


def _alike(family: str, other: str) -> bool:
    """Whether two names are of one family: `Tube` and `tube` are."""
    return family.casefold() == other.casefold()


def references(sheet: Sheet, baselines: Mapping[str, Baseline], log: Log) -> tuple[dict[str, Reference], list[str]]:
    """Thresholds of good sets by band: those of the sheet's family, else those of others. And what is to be said of them.

    A set's sweeps count together; of two sheets with one time of sweep the later is a correction of the earlier.
    """
    found, said = {}, []
    for band, one in baselines.items():
        # a radio is no measure of itself
        sweeps, cautions = _good_sweeps(band, one, log, (sheet.job, sheet.header.get("radio", "")))
        measures, basis = _measures(list(sweeps.values()), sheet.header.get("family", ""))
        reference = reference_from(measures, basis)
        if reference is not None:
            found[band] = reference
        said += _astray(band, measures)
        said += cautions + _apart_that_day(band, sweeps, swept_time(sheet.header))
    return found, list(dict.fromkeys(said))


def best_measured(baselines: Mapping[str, Baseline], log: Log) -> dict[str, tuple[str, Reference]]:
    """For each band the family of which the shop has the most known-good sets, and their threshold.

    The family is empty where the sets name none: they measure others only.
    """
    found = {}
    for band, one in baselines.items():
        sweeps = list(_good_sweeps(band, one, log)[0].values())
        families = {family.casefold(): family for family, _ in sweeps}
        measured = [(family, made) for family in families.values() if (made := _reference(sweeps, family)) is not None]
        if measured:
            found[band] = max(measured, key=lambda two: (two[1].basis == "known-good", two[1].sets, two[1].sweeps))
    return found


def _reference(sweeps: Sequence[tuple[str, GoodSweep]], own: str) -> Reference | None:
    return reference_from(*_measures(sweeps, own))


def _measures(sweeps: Sequence[tuple[str, GoodSweep]], own: str) -> tuple[list[GoodSweep], str]:
    """The sweeps that measure a family: of its own good sets, else of others'; and the reference's basis."""
    same = [sweep for family, sweep in sweeps if own and _alike(family, own)]
    others = [sweep for family, sweep in sweeps if not own or not _alike(family, own)]
    return (others, "other family") if reference_from(same) is None else (same, "known-good")


def _astray(band: str, measures: Sequence[GoodSweep]) -> list[str]:
    """A caution for every known-good set that most others outvote."""
    return [
        f"{band.upper()} reference: the known-good set {name} stands {apart} than the others and counts for little: is it"
        f" sound? to take it back: {' and '.join(_forget(job) for job in jobs)}"
        for name, jobs, apart in stray_sets(measures)
    ]


def _forget(job: str) -> str:
    return f'`bandscan log --forget job "{job}"`' if " " in job else f"`bandscan log --forget job {job}`"


def _good_sweeps(band: str, one: Baseline, log: Log, but: tuple[str, str] | None = None) -> tuple[_Sweeps, list[str]]:
    """Sweeps of the known-good sets of a band and its list's rig, and what is to be said of them.

    `but` is the job and radio that is left out.
    """
    sweeps: _Sweeps = {}
    said = []
    for known in log.known_good(band, one.rig):
        if (known.job, known.radio) == but:
            continue
        judged = from_json(json.loads(known.json))
        if judged.bands[band].verdict == CANNOT_TELL and parted(judged.bands[band]) is not None:
            continue  # earlier bandscans kept it all the same
        name = known.radio or known.job
        files = known.lists.get(band)
        since = moved(from_files(files["baseline.csv"], files.get("baseline.json")), one) if files else None
        lost_db = _of_its_day(judged, band)
        if since is not None:
            least_db, most_db = since.thresholds_db
            lost_db = lost_db[0] - most_db, lost_db[1] - least_db
            said += [caution] if (caution := since.caution(band)) else []
        sweeps[name, judged.swept or known.made_utc] = (
            known.family,
            GoodSweep(name, known.job, known.made_utc, judged.bands[band], *lost_db),
        )
    return sweeps, said


def _apart_that_day(band: str, sweeps: _Sweeps, when: datetime | None) -> list[str]:
    """A caution where known-good sets stood apart on the day of a sweep from all others: what that day was to any radio."""
    if when is None:
        return []
    swept = {key: swept_time({"swept": key[1]}) for key in sweeps}
    of_day = [key for key, moment in swept.items() if moment is not None and moment.date() == when.date()]
    others = [one for key, one in sweeps.items() if key not in of_day]
    said = []
    for family in dict.fromkeys(sweeps[key][0] for key in of_day):
        same = [key for key in of_day if sweeps[key][0] == family]
        apart = apart_from([sweeps[key][1] for key in same], _reference(others, family))
        if not apart:
            continue
        names = list(dict.fromkeys(key[0] for key in same))
        said.append(
            f"{band.upper()}: the known-good {'set' if len(names) == 1 else 'sets'} {', '.join(names)}, swept on the same day,"
            f" stood {apart} than known-good sets on other days, and so may this radio: look at the antenna"
            " and its lead"
        )
    return said


def _of_its_day(check: RadioCheck, band: str) -> tuple[float, float]:
    """The least and the most that the day of a check took from a good set. [dB]"""
    facts = (check.today or {}).get(band, {})
    return loses_db(facts.get("level_db"), facts.get("noise_db"))


def family_cautions(check: RadioCheck) -> list[str]:
    """What is to be said of the known-good sets that a check rests on: how few they are, how old."""
    said = []
    for band, judged in check.bands.items():
        reference = judged.reference
        if not reference.sets:
            continue
        whose = {"known-good": "", "other family": " of another family"}.get(reference.basis, "")
        if reference.sweeps == 1:
            said.append(
                f"{band.upper()} reference: one sweep of one known-good set{whose}, counted with a spread of 3 dB:"
                " sweep it once more on another day"
            )
        # at the time of the sweep, where the sheet tells it: local, which is near enough for an age
        days = _days_between(reference.made_utc, check.swept if parse_utc(check.swept) else check.made_utc)
        if days is not None and days > RESWEEP_DAYS:
            said.append(
                f"{band.upper()} reference: the newest sweep of a known-good set{whose} is {days:.0f} days old:"
                " sweep a known-good set again (check --known-good)"
            )
    return said


def _days_between(first_utc: str, second_utc: str) -> float | None:
    first, second = parse_utc(first_utc), parse_utc(second_utc)
    return None if first is None or second is None else (second - first).total_seconds() / 86400.0


def spoken_for(
    one: RadioCheck, log: Log, rigs: Mapping[str, str], apart: Mapping[str, tuple[str, str]] | None = None
) -> list[str]:
    """What a known-good set can serve for, what its family now rests on, and what speaks against the set itself.

    `apart` says by band why sheet and list do not belong together, and what to do.
    """
    said = []
    for band, judged in one.bands.items():
        if (why := (apart or {}).get(band)) is not None:
            said.append(f"{band.upper()}: not kept as a known-good set: {why[0]}; {why[1]}")
            continue
        if judged.bound != "two-sided":
            if band == "am" and judged.pad_db:
                said.append("AM: cannot serve as a measure, it was swept through an attenuator; sweep AM without it")
                continue
            if judged.bound == "none":
                said.append(f"{band.upper()}: cannot serve as a measure: {judged.why}; {judged.do_next}")
                continue
            # one that heard next to nothing is helped by no attenuator
            do = "it heard too little: look whether antenna and set are sound" if judged.bound == "lower" else _TO_BOUND[band]
            said.append(f"{band.upper()}: cannot serve as a measure, its threshold is bounded on one side only; {do}")
            continue
        name = one.radio or one.job
        own = {
            from_json(json.loads(known.json)).swept or known.made_utc
            for known in log.known_good(band, rigs.get(band, ""))
            if (known.radio or known.job) == name and _alike(known.family, one.family)
        }
        kept = f"{band.upper()}: kept as a known-good set"
        kept += f" of family {one.family}" if one.family else "; name its family in the sheet so that it measures its own kind"
        said.append(f"{kept}; {_sweeps_words(len(own))}")
        if fault := _against(judged):
            said.append(f"{band.upper()}: is it sound? {fault}; to take it back: {_forget(one.job)}")
    return said


def _against(judged: BandCheck) -> str:
    """What speaks against a set that is called known-good; empty where nothing heavy does."""
    if judged.verdict == FALLS_SHORT:
        of = " of an assumed threshold" if judged.reference.basis == "assumed" else ""
        return f"it falls short itself{of}: {judged.why}"
    # a pointer that is off costs no station
    heavy = (one for one in judged.findings if over_nothing(one) >= WEIGHTY and not one.fault.startswith("pointer"))
    return next((one.text for one in heavy), "")


def _sweeps_words(sweeps: int) -> str:
    if sweeps < 2:
        return "one sweep counts with a spread of 3 dB: sweep it once more on another day, which makes the measure surer"
    return f"{sweeps} sweeps of it count together"
