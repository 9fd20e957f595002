"""Sweeps of known-good radios -> a reference station list without levels, for a bench without a receiver.

A stop counts where a programme was followed (grades 3 and 2) or two were at once (M). A dial with digits tells the channel; a
pointer tells it to a channel or two, so that stops of several sheets that stand as near are taken as one station.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import pandas as pd

from bandscan import tables
from bandscan.baseline.distil import NOT_COUNTED, steadiness
from bandscan.errors import BaselineError
from bandscan.model import Baseline, Sheet, utc_text
from bandscan.plans import BandPlan, plan_for

BY_POINTER = "read-by-pointer"  # remark of a station whose channel only a pointer told
# how far apart two readings of one station may stand on a car's pointer dial: each is right to 30 kHz or 0.4 MHz at worst,
# half of that as a rule (from memory)
_POINTER_HZ = {"am": 40e3, "fm": 400e3}
_GRADES = ("3", "2", "M")


@dataclass(frozen=True)
class Sweep:
    """A sheet of a known-good radio and when it was swept, None where it does not tell."""

    sheet: Sheet
    swept: datetime | None = None

    @property
    def by_digits(self) -> bool:
        """Whether the dial tells the channel."""
        return self.sheet.header.get("dial", "").lower() == "digits"


@dataclass(frozen=True)
class _Stop:
    sweep: int
    hz: float
    lamp: str
    name: str


def from_sweeps(
    sweeps: Sequence[Sweep],
    band: str,
    region: str,
    rig: str,
    names: pd.DataFrame,
    made_utc: str,
    version: str,
    hours: str | None = None,
    forged: bool = False,
) -> Baseline:
    """The list of what good radios followed.

    Args:
        sweeps: with rows of the band, at least one.
        band: `fm` or `am`.
        region: the band plan's.
        rig: the rig on which they were swept.
        names: NAMES, the shop's own names.
        made_utc: the moment of making, ISO 8601.
        version: version of bandscan.
        hours: AM: `day` or `night`, when all of them were swept; None where that is not known.
        forged: whether the radios were played by the demo.

    Raises:
        BaselineError: a dial tells no channel of the band, no stop was followed, or AM was swept through an attenuator.
    """
    plan = plan_for(region, band)
    stops, silent = _stops(sweeps, band)
    if not stops:
        raise BaselineError(f"no {band.upper()} station was followed", where=_where(sweeps), accepted="grades 3, 2 or M")
    digits = all(one.by_digits for one in sweeps)
    rows = [_row(band, channel, some, len(sweeps), names) for channel, some in _stations(stops, plan, digits)]
    stations = pd.DataFrame(rows, columns=tables.BASELINE.names)
    stations = stations.assign(valid="any" if band == "fm" else hours or "day", level_unit=None)
    if not digits:
        marked = stations["remarks"].map(lambda words: ";".join(sorted({*words.split(";"), BY_POINTER} - {""})))
        stations = stations.assign(remarks=marked)
    padded = sum(int(((one.sheet.ticks["band"] == "am") & (one.sheet.ticks["pad_db"] > 0.0)).sum()) for one in sweeps)
    moments = [one.swept for one in sweeps if one.swept is not None]
    count = f"{len(sweeps)} sweep{'' if len(sweeps) == 1 else 's'}"
    return Baseline(
        band=band,
        region=region,
        rig=rig,
        stations=tables.check(stations, tables.BASELINE),
        surveys=len(sweeps),
        first_utc=utc_text(min(moments)) if moments else "",
        last_utc=utc_text(max(moments)) if moments else "",
        made_utc=made_utc,
        grade="B",
        grade_reason=f"{count} of known-good radios, without levels",
        overload_share=None,
        uncovered_hz=(),
        version=version,
        forged=forged,
        cautions=tuple(_cautions(band, count, digits, silent, hours, padded)),
        survey_ids=(),
    )


def _cautions(band: str, count: str, digits: bool, silent: int, hours: str | None, padded: int) -> list[str]:
    said = [f"made from {count} of known-good radios: missed and extra stations can be told, but no decibels"]
    if not digits:
        said.append("channels are as pointers read them, right to a channel or two: the order along the dial is what counts")
    if silent:
        said.append(f"{silent} stop{' without a reading is' if silent == 1 else 's without a reading are'} left out")
    if band == "am" and padded:
        said.append(f"AM rows with an attenuator: {padded}; left out, since 50 ohm across the lead make any set deaf")
    if band == "am" and hours is None:
        said.append("taken as a daytime list; that it was swept from 2 h after sunrise to 2 h before sunset is not checked")
    return said


def _where(sweeps: Sequence[Sweep]) -> str:
    return ", ".join(one.sheet.source for one in sweeps)


def _stops(sweeps: Sequence[Sweep], band: str) -> tuple[list[_Stop], int]:
    """Stops that were followed, through the least attenuator of each sheet, and how many of them have no reading.

    Raises:
        BaselineError: a dial tells no channel of the band, or AM was swept through an attenuator.
    """
    found, silent = [], 0
    for number, one in enumerate(sweeps):
        if band == "fm" and one.sheet.header.get("numerals", "").lower() == "am":
            raise BaselineError("an FM dial with AM numerals tells no channel", where=one.sheet.source)
        rows = one.sheet.ticks[one.sheet.ticks["band"] == band]
        if band == "am" and rows["pad_db"].min() > 0.0:
            raise BaselineError(
                "AM was swept through an attenuator, and 50 ohm across its lead make any set deaf",
                where=one.sheet.source,
                do="sweep AM without it, or make the FM list alone with --band fm",
            )
        rows = rows[(rows["pad_db"] == rows["pad_db"].min()) & rows["grade"].isin(_GRADES)]
        silent += int(rows["dial_hz"].isna().sum())
        rows = rows[rows["dial_hz"].notna()]
        cells = zip(rows["dial_hz"], rows["lamp"].fillna(""), rows["name"].fillna(""), strict=True)
        found += [_Stop(number, float(hz), str(lamp), str(name)) for hz, lamp, name in cells]
    return sorted(found, key=lambda stop: stop.hz), silent


def _stations(stops: Sequence[_Stop], plan: BandPlan, digits: bool) -> list[tuple[int, list[_Stop]]]:
    """Stops that are one station, with its channel, ascending."""
    groups: list[list[_Stop]] = []
    for stop in stops:
        near = groups and stop.hz - groups[-1][0].hz <= _POINTER_HZ[plan.band]
        if not digits and near and stop.sweep not in {other.sweep for other in groups[-1]}:
            groups[-1].append(stop)
        else:
            groups.append([stop])
    found: dict[int, list[_Stop]] = {}
    for group in groups:
        middle_hz = sum(stop.hz for stop in group) / len(group)
        channel = min(plan.channels_hz, key=lambda hz: abs(hz - middle_hz))
        found.setdefault(channel, []).extend(group)
    return sorted(found.items())


def _row(band: str, channel: int, stops: Sequence[_Stop], sweeps: int, names: pd.DataFrame) -> dict[str, object]:
    own = names[(names["band"] == band) & (names["channel_hz"] == channel)]
    seen = len({stop.sweep for stop in stops})
    lamps = [stop.lamp for stop in stops if stop.lamp]
    called = Counter(stop.name for stop in stops if stop.name)
    return {
        "band": band,
        "channel_hz": channel,
        "seen": seen,
        "surveys": sweeps,
        "stereo": lamps.count("on") / len(lamps) if band == "fm" and lamps else None,
        "name": own["name"].iloc[0] if len(own) else next(iter(called)) if len(called) == 1 else None,
        "steadiness": steadiness(seen / sweeps, None),
        "remarks": NOT_COUNTED if (own["count"] == "no").any() else "",
    }
