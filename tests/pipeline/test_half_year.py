"""A forged half-year of a shop: from surveys to references, grades and findings. Stations are invented; no samples."""

from __future__ import annotations

import random
import re
from datetime import UTC, datetime, timedelta
from typing import Any

import onair
import pytest

from bandscan.model import Baseline, RadioCheck, utc_text
from bandscan.pipeline import baseline, check, checking
from bandscan.pipeline.listing import Listed
from bandscan.plans import plan_for
from bandscan.shop import Shop, load, make_shop

FM, AM = plan_for("us", "fm").channels_hz, plan_for("us", "am").channels_hz
STATIONS = {hz: -5.0 - 2.0 * rank for rank, hz in enumerate(sorted(FM[2:98:4], key=lambda hz: hz * 7919 % 1009))}
DAY = {hz: -30.0 - 2.0 * rank for rank, hz in enumerate(AM[5:105:5])}
NIGHT = {hz: -45.0 - 0.3 * rank for rank, hz in enumerate(AM[2:112:2])}
DISTANT = dict.fromkeys(FM[3:99:4], -66.0)
GONE, NEW = (list(STATIONS)[11], list(STATIONS)[15]), FM[9]
FIRST = datetime(2026, 1, 5, 19, 0, tzinfo=UTC)  # noon of a Monday where the shop is
WEEKS, DUCTING, FAULT, WENT, CAME = 13, 5, (8, 9), (4, 6), 7  # one survey of each kind every two weeks
MADE = "2026-06-25T00:00:00Z"
PLACE = {"time_zone": "America/Denver", "latitude": 39.742, "longitude": -105.179}


def on_the_air(turn: int) -> dict[int, float]:
    """FM in this turn: stations up to 1.5 dB from their level; two go, one comes, the antenna fails and is mended."""
    dice = random.Random(turn)
    there = {hz: level for hz, level in STATIONS.items() if hz not in GONE or turn < WENT[GONE.index(hz)]}
    there |= {NEW: -30.0} if turn >= CAME else {}
    there |= DISTANT if turn == DUCTING else {}
    lost_db = 8.0 if turn in FAULT else 0.0
    return {hz: level - lost_db + dice.uniform(-1.5, 1.5) for hz, level in there.items()}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """The shop after half a year, with two families."""
    made = make_shop(tmp_path_factory.mktemp("half") / "shop", **PLACE)  # type: ignore[arg-type]
    settings = made.folder / "shop.toml"
    settings.write_text(settings.read_text() + '\n[families.early]\ndial = "digits"\n[families.late]\ndial = "digits"\n')
    surveys = []
    for turn in range(WEEKS):
        noon, evening = (utc_text(FIRST + timedelta(days=14 * turn, hours=hours)) for hours in (0, 9))
        surveys += [onair.survey("fm", noon, on_the_air(turn)), onair.survey("am", noon, DAY)]
        surveys.append(onair.survey("am", evening, NIGHT))
    onair.keep(made, *surveys)
    return load(made.folder)


@pytest.fixture(scope="module")
def listed(shop: Shop) -> Listed:
    """The lists at the end of the half-year."""
    return baseline(shop, made_utc=MADE)


def the(listed: Listed, band: str, valid: str) -> Baseline:
    """One of the lists."""
    (one,) = [one for one in listed.baselines if (one.band, one.valid) == (band, valid)]
    return one


def test_the_references_are_those_of_the_stations_that_are_there_now(listed: Listed) -> None:
    """The FM list holds the 22 stations that stayed and the new one, at their levels; AM is listed by day and by night."""
    fm = the(listed, "fm", "any").stations.set_index("channel_hz")
    now = {hz: level for hz, level in {**STATIONS, NEW: -30.0}.items() if hz not in GONE}
    assert fm.index.tolist() == sorted(now)
    assert fm["level_db"].to_dict() == pytest.approx(now, abs=1.5)
    assert set(fm["steadiness"]) == {"steady"}
    assert (fm["seen"] == fm["surveys"]).all()
    for valid, there in (("day", DAY), ("night", NIGHT)):
        one = the(listed, "am", valid)
        assert one.stations["channel_hz"].tolist() == sorted(there)
        assert one.surveys == WEEKS


def test_the_grades_and_what_happened_are_told_with_dates(listed: Listed) -> None:
    """A ducting day, a mended antenna fault, two stations that went and one that came: no more and no less; all grade A."""
    fm = the(listed, "fm", "any")
    assert fm.surveys == WEEKS - 3
    assert {one.grade for one in listed.baselines} == {"A"}
    told = sorted(re.sub(" [789] dB", " 8 dB", caution.split(":")[0]) for caution in fm.cautions)
    assert told == [
        "FM Monday 2026-03-16 19",
        "FM station came",
        "FM station went",
        "FM station went",
        "all FM levels 8 dB down from Monday 2026-04-27 19",
    ]
    words = " ".join(fm.cautions)
    assert "to Monday 2026-05-11 19:00 UTC: look at the antenna; 2 surveys left out" in words
    assert "ducting or sporadic E: this survey is left out" in words
    assert f"{NEW / 1e6:.1f} MHz, since Monday 2026-04-13" in words
    assert all(f"{hz / 1e6:.1f} MHz, last held" in words for hz in GONE)


def swept(shop: Shop, number: int, family: str, deaf_db: float, dice: random.Random, lamps: bool = True) -> RadioCheck:
    """The check of a digital set of the last day: a good one of its family follows down to -45 (early) or -39 dBFS (late)."""
    limit_db = (-45.0 if family == "early" else -39.0) + deaf_db
    heard = [hz for hz, level in on_the_air(WEEKS - 1).items() if level + dice.gauss(0.0, 2.0) > limit_db]
    lamp = "on" if lamps else "off"
    rows = "".join(f"fm,{hz / 1e6:.1f},3,{lamp},,1,,\n" for hz in sorted(heard))
    head = f"# job: {number}\n# radio: set {number}\n# family: {family}\n# swept: 2026-06-22 12:20\n# dial: digits\n"
    path = shop.folder / "s.csv"
    path.write_text(f"{head}band,dial,grade,lamp,pad_db,sweep,name,remark\n{rows}")
    return check([path], shop=shop, known_good=number < 10, made_utc=MADE).checks[0]


def test_thirty_radios_of_two_families_get_the_right_findings(
    shop: Shop, listed: Listed, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Five known-good sets of each family, then twenty: good ones never fall short, 16 dB deaf ones are never in line, dark
    lamps are found; each family has its own threshold, 6 dB apart."""
    assert listed.baselines
    monkeypatch.setattr(checking, "papers", _no_papers)  # pages have their own tests, and take most of the time
    dice = random.Random(5)
    for number in range(10):
        swept(shop, number, ("early", "late")[number % 2], 0.0, dice)
    verdicts: dict[str, list[str]] = {"good": [], "deaf": [], "dark": []}
    thresholds: dict[str, float] = {}
    for number in range(10, 30):
        kind = ("good", "good", "deaf", "deaf", "dark")[number % 5]
        family = ("early", "late")[number // 5 % 2]
        one = swept(shop, number, family, 16.0 if kind == "deaf" else 0.0, dice, lamps=kind != "dark").bands["fm"]
        verdicts[kind].append(one.verdict)
        assert (one.reference.basis, one.reference.sets) == ("known-good", 5)
        thresholds[family] = one.reference.threshold_db or 0.0
        assert ("lamp-never" in [finding.fault for finding in one.findings]) == (kind == "dark")
    assert "falls short" not in verdicts["good"]
    assert verdicts["good"].count("in line") > len(verdicts["good"]) / 2
    assert "in line" not in verdicts["deaf"]
    assert verdicts["dark"] == ["falls short"] * 4
    assert thresholds["late"] - thresholds["early"] == pytest.approx(6.0, abs=3.0)


def _no_papers(*_given: Any, **_named: Any) -> dict[str, Any]:
    return {}
