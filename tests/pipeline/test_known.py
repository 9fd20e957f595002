"""Which sets become a measure, and what is said of those that are none or are in doubt: pipeline/known.py."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from pipeline.test_checking import HEAD, MADE, swept

from bandscan.model import RadioCheck
from bandscan.pipeline import check
from bandscan.pipeline.checking import Checked
from bandscan.radio import from_json
from bandscan.shop import Shop, load
from bandscan.store import Log

GOOD = HEAD.replace("Ombra", "Good one") + "# family: early\n# job: 1\n"


def kept(shop: Shop, sheet: Path) -> Checked:
    """The sheet of a known-good set, checked."""
    return check([sheet], shop=shop, known_good=True, made_utc=MADE)


def judged(shop: Shop, folder: Path, header: str = "") -> RadioCheck:
    """Another radio of the family."""
    return check([swept(folder, "x.csv", 18, f"{HEAD}# family: early\n# job: 9\n{header}")], shop=shop, made_utc=MADE).checks[0]


@pytest.mark.parametrize("rig", ["loft", "bench"])
def test_a_set_of_another_rig_is_no_measure(shop: Shop, tmp_path: Path, rig: str) -> None:
    """Its sheet cannot be held against the list, so nothing rests on it, and the note says so; the list's own rig is kept."""
    notes = kept(shop, swept(tmp_path, "good.csv", 18, f"{GOOD}# rig: {rig}\n")).notes
    basis = judged(shop, tmp_path).bands["fm"].reference.basis
    with Log(shop.log_path) as log:
        sets = len(log.known_good("fm", "bench"))
        checks = len(log.checks("1"))
    if rig == "loft":
        assert notes == [
            "FM: not kept as a known-good set: the sheet is of rig loft, the FM list of rig bench;"
            " make a list with the sheet's rig"
        ]
        assert (basis, sets, checks) == ("assumed", 0, 1)
    else:
        assert notes[0].startswith("FM: kept as a known-good set of family early")
        assert (basis, sets, checks) == ("known-good", 1, 1)


def test_a_set_that_an_earlier_bandscan_kept_against_the_rule_measures_nothing(shop: Shop, tmp_path: Path) -> None:
    """A log may hold a known-good set of another rig: its threshold is not used."""
    kept(shop, swept(tmp_path, "good.csv", 18, f"{GOOD}# rig: loft\n"))
    with Log(shop.log_path) as log:
        (one,) = log.checks("1")
        assert from_json(json.loads(one.json)).bands["fm"].bound == "two-sided"
        log.keep_check(one, {"fm": "bench"})
        assert len(log.known_good("fm", "bench")) == 1
    assert judged(shop, tmp_path).bands["fm"].reference.basis == "assumed"


def test_a_set_that_is_not_sound_is_asked_about(shop: Shop, tmp_path: Path) -> None:
    """Deaf beside the first of its family and called known-good: kept, with what was found and how to take it back."""
    kept(shop, swept(tmp_path, "good.csv", 18, GOOD))
    deaf = swept(tmp_path, "deaf.csv", 7, GOOD.replace("Good one", "Deaf one").replace("job: 1", "job: 10 42"))
    done = kept(shop, deaf)
    assert done.checks[0].bands["fm"].verdict == "falls short"
    first, second = done.notes
    assert first.startswith("FM: kept as a known-good set of family early")
    assert second.startswith("FM: is it sound? it falls short itself: ")
    assert second.endswith('; to take it back: `bandscan log --forget job "10 42"`')


def test_a_heavy_finding_of_a_known_good_set_is_told(shop: Shop, tmp_path: Path) -> None:
    """A lamp that never lit on strong stereo stations is no fault of hearing, but told with the set that is to be a measure."""
    dark = swept(tmp_path, "dark.csv", 18, GOOD)
    dark.write_text(dark.read_text().replace(",on,", ",off,"))
    first, second = kept(shop, dark).notes
    assert first.startswith("FM: kept as")
    assert "lamp" in second


def test_a_familys_name_is_taken_without_case(shop: Shop, tmp_path: Path) -> None:
    """`Early` and `early` are one family, of shop.toml as of the known-good sets."""
    path = shop.folder / "shop.toml"
    path.write_text(path.read_text() + "\n[families.EARLY]\nif_khz = 262.5\n")
    shop = load(shop.folder)
    kept(shop, swept(tmp_path, "good.csv", 18, GOOD.replace("family: early", "family: Early")))
    notes = kept(shop, swept(tmp_path, "2.csv", 17, GOOD.replace("2026-03-04", "2026-03-05"))).notes
    assert notes[0] == "FM: kept as a known-good set of family early; 2 sweeps of it count together"
    one = judged(shop, tmp_path)
    assert (one.bands["fm"].reference.basis, one.bands["fm"].reference.sweeps) == ("known-good", 2)
    assert not [caution for caution in one.cautions if "is not in the shop's shop.toml" in caution]


def on_day(shop: Shop, folder: Path, day: int, name: str, heard: int) -> None:
    """A known-good set swept in March, as made then."""
    header = GOOD.replace("Good one", name).replace("2026-03-04", f"2026-03-{day:02d}").replace("job: 1", f"job: {name}{day}")
    check([swept(folder, f"{name}{day}.csv", heard, header)], shop=shop, known_good=True, made_utc=MADE)


@pytest.mark.parametrize(
    ("day", "heard", "said"), [(4, 11, "deafer"), (4, 23, "more sensitive"), (4, 16, ""), (4, 18, ""), (3, 11, ""), (3, 23, "")]
)
def test_a_known_good_set_apart_on_the_day_of_a_radio_is_told_with_it(
    shop: Shop, tmp_path: Path, day: int, heard: int, said: str
) -> None:
    """A good set that follows 7 stations (14 dB) fewer than good sets do, on the day of the radio: the bench was another, and
    the radio's check says so. Not so where it stands as usual, nor for a set of another day."""
    for place, name in enumerate(("Alder", "Birch", "Cedar", "Alder")):
        on_day(shop, tmp_path, 1 + place % 2 if place < 3 else 2, name, 17 + place % 3)
    on_day(shop, tmp_path, day, "Dogwood", heard)
    told = [one for one in judged(shop, tmp_path).cautions if "swept on the same day" in one]
    if not said:
        assert told == []
        return
    (caution,) = told
    assert re.fullmatch(
        r"FM: the known-good set Dogwood, swept on the same day, stood \d+ dB \(95 %: \d+ to \d+\) "
        + said
        + r" than known-good sets on other days, and so may this radio: look at the antenna and its lead",
        caution,
    )
    size, low, high = map(float, re.findall(r"\d+", caution)[:1] + re.findall(r"\d+", caution)[2:4])
    assert low <= 2.0 * abs(18 - heard) <= high
    assert abs(size - 2.0 * abs(18 - heard)) < 4.0


def test_a_known_good_set_that_most_others_outvote_is_told(shop: Shop, tmp_path: Path) -> None:
    """Follows 9 stations (18 dB) fewer than four others: named, with how to take it back; four alike are not spoken of."""
    for place, name in enumerate(("Alder", "Birch", "Cedar", "Elm")):
        on_day(shop, tmp_path, 1 + place % 2, name, 17 + place % 3)
    assert not [one for one in judged(shop, tmp_path).cautions if "is it sound" in one]
    on_day(shop, tmp_path, 2, "Dogwood", 9)
    (told,) = [one for one in judged(shop, tmp_path).cautions if "is it sound" in one]
    assert re.fullmatch(
        r"FM reference: the known-good set Dogwood stands \d+ dB \(95 %: \d+ to \d+\) deafer than the others and counts for"
        r" little: is it sound\? to take it back: `bandscan log --forget job Dogwood2`",
        told,
    )
