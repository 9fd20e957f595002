"""An attenuator in line: what is judged through it, what is not, and what is asked."""

from __future__ import annotations

import random

import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, bench, reference_list, sweep

from bandscan.model import Baseline, RadioCheck, Reference
from bandscan.radio import Limits, compare, judge, read_sheet

MADE = "2026-03-14T12:00:00Z"
GOOD = {band: Reference(GOOD_DB, 1.0, "known-good", "dBFS", 5) for band in ("fm", "am")}


def _swept(band: str, pads_db: tuple[float, ...], *, deaf_db: float = 0.0, seed: int = 3) -> tuple[str, Baseline]:
    """A sheet through these attenuators and the bench's list; of one seed the bench is the same."""
    stations = bench(random.Random(seed), 40, band=band)
    who, reading_hz = Listener(grades=True), 0.15e6 if band == "fm" else 6e3
    dice = random.Random(seed + 1)
    sheet = sweep(dice, stations, Radio(deaf_db=deaf_db), who, band=band, reading_hz=reading_hz, pads_db=pads_db)
    return sheet.text, reference_list(stations, band)


def _judge(text: str, baseline: Baseline) -> RadioCheck:
    return judge(read_sheet(text, "s.csv"), {baseline.band: baseline}, GOOD, Limits(), MADE, "0")


def _noted(text: str, band: str, pad_db: float) -> str:
    """The same rows with another attenuator noted."""
    rows = []
    for row in text.splitlines():
        cells = row.split(",")
        if cells[0] == band:
            cells[4] = f"{pad_db:g}"
        rows.append(",".join(cells))
    return "\n".join(rows) + "\n"


@pytest.mark.parametrize("pads_db", [(0.0,), (20.0,), (0.0, 20.0)])
def test_the_least_attenuator_is_kept_with_the_band(pads_db: tuple[float, ...]) -> None:
    """Count and stations are those of the rows through the least one, and the check says which that was."""
    band = _judge(*_swept("fm", pads_db)).bands["fm"]
    assert band.pad_db == pads_db[0]


def test_am_through_an_attenuator_cannot_be_told() -> None:
    """Deaf with it or better than any set, by a figure noted wrongly: 50 ohm over the lead tell nothing of a set."""
    text, baseline = _swept("am", (10.0,), deaf_db=20.0)
    bare, _ = _swept("am", (0.0,))
    for sheet in (text, _noted(bare, "am", 20.0)):
        check = _judge(sheet, baseline)
        band = check.bands["am"]
        assert band.verdict == "cannot tell"
        assert band.why.startswith("AM was swept through an attenuator")
        assert band.do_next == "sweep AM without it"
        # nothing is told of which a level is part
        assert (band.against_reference_db, band.expected, band.threshold_db.value, band.bound) == (None, None, None, "none")
        assert not [one for one in band.findings if one.fault in ("deaf", "weak-low-end", "weak-high-end", "reference-deaf")]
        assert not [one for one in check.cautions if "50 ohm" in one]  # the verdict says it


def test_am_rows_without_the_attenuator_are_judged_alone() -> None:
    """A sweep without one and a second through 10 dB: as the first alone, and how many rows were left out is said."""
    both, baseline = _swept("am", (0.0, 10.0))
    rows = both.splitlines()
    alone = "\n".join(row for row in rows if not row.startswith("am,") or row.split(",")[4] == "0") + "\n"
    left_out = sum(row.startswith("am,") and row.split(",")[4] == "10" for row in rows)
    assert left_out > 5
    check, first = _judge(both, baseline), _judge(alone, baseline)
    assert check.bands["am"] == first.bands["am"]
    assert check.bands["am"].verdict == "in line"
    said = [one for one in check.cautions if "attenuator" in one]
    assert said == [f"AM rows with an attenuator: {left_out}; left out, since 50 ohm across the lead make any set deaf"]


def test_rows_that_are_no_station_tell_the_attenuator_too() -> None:
    """One whistle through 20 dB and no station: FM expects what comes through 20 dB, AM cannot be told."""
    head = "# swept: 2026-03-14 12:00\nband,dial,grade,pad_db\n"
    _, fm = _swept("fm", (0.0,))
    bare, behind = (_judge(f"{head}fm,98.1,W,{pad_db}\n", fm).bands["fm"] for pad_db in (0, 20))
    assert (bare.pad_db, behind.pad_db) == (0.0, 20.0)
    assert bare.expected is not None
    assert behind.expected is not None
    assert behind.expected.high < bare.expected.low
    _, am = _swept("am", (0.0,))
    band = _judge(f"{head}am,900,W,20\n", am).bands["am"]
    assert (band.verdict, band.do_next) == ("cannot tell", "sweep AM without it")


def test_a_band_without_a_list_counts_through_the_least_attenuator() -> None:
    """Rows through a second one are not counted on top."""
    text = "band,dial,grade,pad_db\nfm,98.1,2,10\nfm,101.3,3,10\nfm,98.1,2,20\n"
    band = judge(read_sheet(text, "s.csv"), {}, {}, Limits(), MADE, "0").bands["fm"]
    assert (band.counted, band.pad_db) == (2, 10.0)


def test_a_set_too_good_through_an_attenuator_is_doubted() -> None:
    """20 dB noted and not in line make a sound set 20 dB better: asked for. In line, or noted nowhere, nothing is asked."""
    bare, baseline = _swept("fm", (0.0,))
    wrong = _judge(_noted(bare, "fm", 20.0), baseline)
    against = wrong.bands["fm"].against_reference_db
    assert against is not None
    assert against.high is not None
    assert against.high <= -10.0
    asked = (
        "FM: surely 10 dB or more better than the reference: was the attenuator of 20 dB really in line?"
        " If not, empty pad_db in the sheet and check again"
    )
    assert wrong.cautions.count(asked) == 1
    keen, _ = _swept("fm", (0.0,), deaf_db=-25.0)
    for text in (_swept("fm", (20.0,))[0], bare, keen):
        assert not [one for one in _judge(text, baseline).cautions if "really in line" in one]


def test_sweeps_through_two_attenuators_are_compared_by_their_thresholds_alone() -> None:
    """What the attenuator took is neither lost nor gained; the thresholds account for it and their difference stays."""
    first, baseline = _swept("fm", (0.0,))
    second, _ = _swept("fm", (20.0,))
    before, after = _judge(first, baseline), _judge(second, baseline)
    change = compare(before, after).bands["fm"]
    assert (change.gained, change.lost, change.p_value) == ((), (), None)
    assert (change.pad_before_db, change.pad_after_db) == (0.0, 20.0)
    assert change.counted_before > change.counted_after + 10
    assert change.difference_db is not None
    assert change.difference_db.low is not None
    assert change.difference_db.high is not None
    assert change.difference_db.low < 0.0 < change.difference_db.high
    same = compare(after, after).bands["fm"]
    assert same.p_value == 1.0


def test_am_through_an_attenuator_has_no_difference() -> None:
    """Before without, after with one: no decibels, and the one thing to do."""
    before, baseline = _swept("am", (0.0,))
    after, _ = _swept("am", (10.0,))
    change = compare(_judge(before, baseline), _judge(after, baseline)).bands["am"]
    assert change.difference_db is None
    assert change.no_difference == "AM was swept through an attenuator: sweep AM without it"


def test_silence_through_an_attenuator_is_compared_behind_it() -> None:
    """Before nothing through 20 dB, after a good set without one: no more is told than that it may have been 20 dB better; the
    same silence without an attenuator is a set that surely got better."""
    after, baseline = _swept("fm", (0.0,))
    changes = {}
    for pad in (0, 20):
        silent = f"# swept: 2026-03-14 12:00\n# bands: fm\n# pad_db: {pad}\nband,dial,grade\n"
        changes[pad] = compare(_judge(silent, baseline), _judge(after, baseline)).bands["fm"]
    assert (changes[20].pad_before_db, changes[20].pad_after_db) == (20.0, 0.0)
    assert changes[20].gained == ()
    highs = [None if one.difference_db is None else one.difference_db.high for one in (changes[0], changes[20])]
    assert highs[0] is not None
    assert highs[1] is not None
    assert highs[1] == pytest.approx(highs[0] + 20.0, abs=1.0)
