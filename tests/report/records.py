"""Records made by hand for the tests of the pages: an invented workshop's bands, radios, faults. Nothing was received."""

from __future__ import annotations

import random

import pandas as pd

from bandscan import tables
from bandscan.model import (
    BandChange,
    BandCheck,
    Baseline,
    BeforeAfter,
    DialPoint,
    Expected,
    Extra,
    Finding,
    Interval,
    RadioCheck,
    Reference,
    StationHeard,
    StationTwice,
    SweepOf,
)
from bandscan.plans import plan_for

HOSTILE = (
    "<script>document.title='run'</script>",
    "<img src=x onerror=\"document.title='run'\">",
    '=HYPERLINK("http://invalid.example")',
    "<b>bold</b><a href='javascript:document.title=1'>link</a>",
    "\u202egnorw yaw eht\u202c",
    "\x1b[31mred\x1b[0m\x1b]0;title\x07",
    "{{ 7 * 7 }} %{x} ${y}",
    "Z\u0335\u0321\u0322\u0323\u0324\u0325\u0326algo",
    "</script><script>document.title='run'</script>",
    "W" * 10_000,
)
"""Names that must neither run nor break a page, a plot's hover box or a terminal."""


def stations(band: str = "fm", how_many: int = 60, names: tuple[str, ...] = (), region: str = "us") -> pd.DataFrame:
    """STATIONS of one band: `how_many` stations of levels spread over 60 dB, and one of each other kind."""
    dice = random.Random(7)
    plan = plan_for(region, band)
    channels = list(plan.channels_hz)
    at = sorted(dice.sample(range(len(channels)), how_many + 4))
    others = dict(zip(dice.sample(at, 4), ("sideband", "phantom", "spur", "unsure"), strict=True))
    rows = []
    for index, channel in enumerate(channels):
        held = others.get(index, "station" if index in at else "empty")
        level = dice.uniform(-85, -20) if held == "station" else dice.uniform(-85, -60)
        noise = -92 + dice.uniform(-1, 1)
        pilot = band == "fm" and held == "station" and dice.random() < 0.8
        rows.append(
            {
                "band": band,
                "channel_hz": channel,
                "holds": held,
                "level_dbfs": None if held == "empty" else level,
                "level_sd_db": None if held == "empty" else 0.3,
                "noise_dbfs": noise,
                "snr_db": None if held == "empty" else level - noise,
                "level_dbuv": None,
                "pilot": pilot if band == "fm" and held == "station" else None,
                "pilot_dev_hz": 6500.0 if pilot else None,
                "rds_pi": None,
                "rds_ps": None,
                "name": names[len(rows) % len(names)] if names and held == "station" else None,
                "am_stereo": None,
                "recordings": 3,
                "remarks": "edge;truncated" if held == "unsure" else None,
            }
        )
    # a column that says nothing here stays empty
    return tables.check(pd.DataFrame(rows).reindex(columns=tables.STATIONS.names), tables.STATIONS)


def baseline(band: str = "fm", how_many: int = 60, *, levels: bool = True, names: tuple[str, ...] = ()) -> Baseline:
    """A reference list of the stations of `stations`."""
    held = stations(band, how_many, names)
    held = held[held["holds"] == "station"]
    dice = random.Random(3)
    rows = [
        {
            "band": band,
            "channel_hz": row.channel_hz,
            "level_db": row.level_dbfs if levels else None,
            "level_unit": "dBFS" if levels else None,
            "spread_db": dice.uniform(0.5, 4) if levels else None,
            "snr_db": row.snr_db if levels else None,
            "seen": (seen := dice.choice((3, 3, 3, 3, 2, 1))),
            "surveys": 3,
            "stereo": (1.0 if row.pilot else 0.0) if band == "fm" else None,
            "identity": None,
            "name": row.name,
            "steadiness": {3: "steady", 2: "fading", 1: "occasional"}[seen],
            "valid": "day" if band == "am" else "any",
            "remarks": None,
        }
        for row in held.itertuples(index=False)
    ]
    return Baseline(
        band=band,
        region="us",
        rig="bench whip",
        stations=tables.check(pd.DataFrame(rows), tables.BASELINE),
        surveys=3,
        first_utc="2031-05-03T10:00:00Z",
        last_utc="2031-05-05T15:30:00Z",
        made_utc="2031-05-05T16:00:00Z",
        grade="B",
        grade_reason="3 surveys; no second gain",
        overload_share=0.0002,
        uncovered_hz=(107_900_000,) if band == "fm" else (),
        version="0.1.0",
        cautions=("all surveys were made within three days",),
    )


def hours(band: str = "fm", how_many: int = 60, parts: tuple[int, ...] = (6, 12, 21)) -> pd.DataFrame:
    """HOURS of the stations of `baseline`: five surveys in each part of the day, each station in any number of them."""
    dice = random.Random(3)
    channels = baseline(band, how_many).stations["channel_hz"]
    rows = [
        {
            "band": band,
            "channel_hz": channel,
            "from_hour": first,
            "to_hour": first + 3,
            "seen": dice.randint(0, 5),
            "surveys": 5,
        }
        for channel in channels
        for first in parts
    ]
    return tables.check(pd.DataFrame(rows), tables.HOURS)


def band_check(
    band: str = "fm",
    *,
    threshold_db: float | None = -58.0,
    verdict: str = "falls short",
    hostile: bool = False,
    how_many: int = 60,
) -> BandCheck:
    """A radio that follows what stands above `threshold_db`; None for a list without levels and no reference."""
    names = HOSTILE if hostile else ("Harbour Nine", "Radio Quince", "The Kettle")
    listed = baseline(band, how_many, levels=threshold_db is not None, names=names).stations
    dice = random.Random(11)
    heard = []
    for row in listed.itertuples(index=False):
        level = None if threshold_db is None else row.level_db
        got: bool | None = (
            dice.random() < 0.8 if level is None or threshold_db is None else level + dice.gauss(0, 4) > threshold_db
        )
        got = None if dice.random() < 0.04 else got
        heard.append(
            StationHeard(
                channel_hz=row.channel_hz,
                level_db=level,
                heard=got,
                probability={True: 0.98, False: 0.03, None: 0.5}[got],
                dial=f"{row.channel_hz / 1e6 + 0.1:.1f}" if got else "",
                grade=dice.choice("3321M") if got else "",
                lamp=dice.choice(("on", "on", "off")) if got and band == "fm" else "",
                name="" if pd.isna(row.name) else row.name,
            )
        )
    missed = tuple(one.channel_hz for one in heard if one.heard is False and (one.level_db or -99) > -70)
    text = HOSTILE[0] if hostile else "stations below -60 dBFS are lost all along the dial, strong ones are not"
    known = threshold_db is not None
    return BandCheck(
        band=band,
        counted=sum(one.heard is True for one in heard) + 3,
        expected=Expected(44, 48.2, 53) if known else None,
        reference=Reference(-70.0, 2.0, "known-good", "dBFS", 2, "2031-05-04T09:00:00Z")
        if known
        else Reference(None, None, "none", ""),
        threshold_db=Interval(threshold_db, threshold_db - 3, threshold_db + 3) if known else Interval(None, None, None),
        unit="dBFS" if known else "",
        bound="two-sided" if known else "none",
        against_reference_db=Interval(threshold_db + 70, threshold_db + 65, threshold_db + 75) if known else None,
        dial_model="offset and slope" if band == "fm" else "",
        dial_points=(
            (DialPoint(90_000_000, 40_000.0, -20_000.0, 100_000.0), DialPoint(106_000_000, 240_000.0, 160_000.0, 320_000.0))
            if band == "fm"
            else (DialPoint(600_000, 0.0, -4_000.0, 4_000.0), DialPoint(1_400_000, 22_000.0, 12_000.0, 31_000.0))
        ),
        lamp_expected=24 if band == "fm" else None,
        lamp_lit=17 if band == "fm" else None,
        lamp_threshold_db=Interval(-50.0, -54.0, -46.0) if band == "fm" and known else None,
        stations=tuple(heard),
        extras=(
            (Extra("94.9", 94_700_000, "image of 100.7 MHz"), Extra("103.2", 103_300_000, ""), Extra("??", None, text))
            if band == "fm"
            else (Extra("91", 910_000, "twice the intermediate frequency"),)
        ),
        findings=(
            (
                Finding("deaf", text, missed, "swap lead and whip; read the supply at the set under load", 5.2),
                Finding(
                    "pointer-stretch", "the error grows along the dial", (90_000_000, 106_000_000), "set both ends twice", 2.4
                ),
            )
            if verdict != "cannot tell" and band == "fm"
            else ()
        ),
        verdict=verdict,
        why=text if hostile else "12 dB deafer than the known-good sets (7 to 17 dB), more than the 6 dB that this shop allows",
        do_next=HOSTILE[9] if hostile else "swap the antenna lead and the whip, then sweep FM again",
        spread_db=4.0 if known else None,
    )


def radio_check(*, hostile: bool = False) -> RadioCheck:
    """A deaf FM set whose AM cannot be told: the list has no levels there."""
    return RadioCheck(
        job=HOSTILE[4] if hostile else "1042",
        radio=HOSTILE[1] if hostile else "Marrow 12, two-knob set",
        family=HOSTILE[8] if hostile else "Marrow transistor",
        swept="2031-05-06 11:20",
        by=HOSTILE[5] if hostile else "K. L.",
        bands={
            "fm": band_check("fm", hostile=hostile),
            "am": band_check("am", threshold_db=None, verdict="cannot tell", hostile=hostile, how_many=45),
        },
        cautions=HOSTILE if hostile else ("supply_v is not noted on the sheet", "the antenna is not noted on the sheet"),
        baseline={},
        today=None,
        made_utc="2031-05-06T09:40:00Z",
        version="0.1.0",
        shop=HOSTILE[9] if hostile else "Quarrel Lane Radio, Ashby Cross",
    )


def band_change(
    band: str = "fm", difference_db: Interval | None = None, *, how_many: int = 60, names: tuple[str, ...] = ()
) -> BandChange:
    """Two sweeps of one band: stations gained, a few lost, two that cannot be said, one off the air, the others as before."""
    twice = []
    for index, row in enumerate(baseline(band, how_many, names=names).stations.itertuples(index=False)):
        before, after = {0: (False, True), 3: (True, False)}.get(index % 7, (index % 2 == 0, index % 2 == 0))
        if index % 7 == 3 and index > 10:
            before, after = True, True
        said: tuple[bool | None, bool | None] = (None, after) if index in (5, 12) else (before, after)
        named = "" if pd.isna(row.name) else row.name
        twice.append(StationTwice(row.channel_hz, named, row.level_db - 0.4, row.level_db, *said, index == 8))
    told = [one for one in twice if one.told]
    return BandChange(
        band=band,
        unit="dBFS",
        verdict_before="falls short",
        verdict_after="in line",
        counted_before=31,
        counted_after=38,
        before_db=Interval(12.0, 8.0, 16.0),
        after_db=Interval(0.4, -3.0, 4.0),
        difference_db=difference_db,
        no_difference="" if difference_db else "a reference is missing: sweep a known-good radio",
        level_shift_db=0.4,
        stations=tuple(twice),
        gained=tuple(one.channel_hz for one in told if one.heard_after and not one.heard_before),
        lost=tuple(one.channel_hz for one in told if one.heard_before and not one.heard_after),
        p_value=0.039,
    )


def change(*, hostile: bool = False) -> BeforeAfter:
    """A set that came back from the bench 12 dB more sensitive on FM; AM cannot be compared."""
    names = HOSTILE if hostile else ()
    fm = band_change("fm", Interval(-11.6, -17.0, -6.0), names=names)
    return BeforeAfter(
        job=HOSTILE[4] if hostile else "1042",
        radio=HOSTILE[1] if hostile else "Marrow 12, two-knob set",
        before=SweepOf(
            HOSTILE[2] if hostile else "2031-05-06 11:20", HOSTILE[5] if hostile else "K. L.", "2031-05-06T09:40:00Z"
        ),
        after=SweepOf("2031-05-09 10:05", "K. L.", "2031-05-09T09:00:00Z"),
        bands={"fm": fm, "am": band_change("am", how_many=45, names=names)},
        cautions=HOSTILE if hostile else ("FM: no survey of the day before: a station off the air counts as lost or gained",),
        shop=HOSTILE[9] if hostile else "Quarrel Lane Radio, Ashby Cross",
    )
