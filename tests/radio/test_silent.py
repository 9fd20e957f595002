"""Silence: a band of which nothing was heard is dead where a good set would have followed something."""

from __future__ import annotations

import random

import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, bench, reference_list, sweep

from bandscan.model import BandCheck, Reference, Sheet
from bandscan.radio import Limits, judge, read_sheet, totals_sheet

GOOD = Reference(GOOD_DB, 1.5, "known-good", "dBFS", 5)


def _silent(band: str) -> Sheet:
    return read_sheet(f"# swept: 2026-03-14 12:00\n# bands: {band}\nband,dial,grade\n", "s")


def _check(sheet: Sheet, seed: int, count: int, lowest_db: float, *, known: bool = True, band: str = "fm") -> BandCheck:
    listed = reference_list(bench(random.Random(f"silent{seed}{count}"), count, lowest_db=lowest_db, band=band), band)
    return judge(sheet, {band: listed}, {band: GOOD} if known else {}, Limits(), "2026-03-14T12:00:00Z", "0").bands[band]


@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize("count", [8, 15])
def test_a_total_of_nothing_is_a_silent_sweep(count: int, known: bool) -> None:
    """`--count fm=0` and an empty sheet say the same: falls short, by the assumed reference too."""
    for seed in range(3):
        empty, total = (_check(sheet, seed, count, -15.0, known=known) for sheet in (_silent("fm"), totals_sheet({"fm": 0})))
        assert empty == total
        assert empty.verdict == "falls short"


@pytest.mark.parametrize("band", ["fm", "am"])
def test_a_dead_band_is_told_with_its_evidence_and_a_test_for_a_dead_band(band: str) -> None:
    """Nothing heard of what a good set follows: strong stations are the evidence, and no place of the dial is asked for."""
    check = _check(_silent(band), 1, 15, -15.0, band=band)
    dead = check.findings[0]
    assert check.expected is not None
    assert (dead.fault, check.why, check.do_next) == ("dead-beyond", dead.text, dead.next_test)
    few = f"{check.expected.low} to {check.expected.high}"
    assert dead.text == f"nothing is heard on the whole band, where a good set follows {few} stations"
    levels = {station.channel_hz: station.level_db or 0.0 for station in check.stations}
    assert dead.evidence
    assert all(levels[hz] > GOOD_DB for hz in dead.evidence)
    assert "that place" not in dead.next_test


def test_silence_where_a_good_set_hears_nothing_either_cannot_tell() -> None:
    """All stations 15 dB and more under a good set's threshold: silence is what is to be expected."""
    for seed in range(3):
        listed = bench(random.Random(seed), 12, lowest_db=-45.0, span_db=30.0)
        check = judge(_silent("fm"), {"fm": reference_list(listed)}, {"fm": GOOD}, Limits(), "2026-03-14T12:00:00Z", "0")
        assert check.bands["fm"].verdict == "cannot tell"
        assert "dead-beyond" not in [finding.fault for finding in check.bands["fm"].findings]


def test_whistles_alone_are_not_called_silence() -> None:
    """A set that whistles is not said to give nothing at all."""
    sheet = read_sheet("# bands: am\nband,dial,grade\nam,910,W\n", "s")
    check = _check(sheet, 1, 15, -15.0, band="am")
    assert check.verdict == "falls short"
    assert not any("nothing is heard on the whole band, where" in finding.text for finding in check.findings)


_ROWS = "band,dial,grade,lamp,pad_db,sweep,name,remark\n"
_THROUGH = {
    "header": "# bands: fm\n# pad_db: {pad}\n" + _ROWS,
    "header with unit": "# bands: fm\n# pad_db: {pad} dB\n" + _ROWS,
    "row": _ROWS + "fm,,,,{pad},1,,\n",
    "row with a remark": _ROWS + "fm,,,,{pad},,,nothing heard\n",
}


@pytest.mark.parametrize("form", _THROUGH)
def test_a_silent_sweep_through_an_attenuator_is_judged_behind_it(form: str) -> None:
    """All stations under 15 dB over a good set's threshold: silence through 40 dB is what is to be expected, through 3 dB it is
    not (arithmetic: 15 dB less 40 is far below)."""
    listed = reference_list(bench(random.Random(4), 15, lowest_db=5.0, span_db=10.0))
    for pad, verdict in ((3, "falls short"), (40, "cannot tell")):
        sheet = read_sheet("# swept: 2026-03-14 12:00\n" + _THROUGH[form].format(pad=pad), "s")
        assert sheet.silent == (("fm", "1", float(pad), 0),)
        assert any(f"through {pad} dB: taken as swept and silent" in one for one in sheet.cautions)
        check = judge(sheet, {"fm": listed}, {"fm": GOOD}, Limits(), "2026-03-14T12:00:00Z", "0").bands["fm"]
        assert (check.verdict, check.pad_db, check.counted) == (verdict, float(pad), 0)
        if verdict == "falls short":
            assert check.why.startswith("nothing is heard on the whole band through 3 dB, where a good set follows ")


def test_a_pad_of_the_header_holds_for_rows_that_state_none() -> None:
    """A row's own attenuator, 0 too, comes first."""
    sheet = read_sheet("# pad_db: 20\nband,dial,grade,pad_db\nfm,89.5,3,\nfm,91.1,3,0\nfm,93.3,3,10\n", "s")
    assert sheet.ticks["pad_db"].tolist() == [20.0, 0.0, 10.0]
    assert not any("not known" in one for one in sheet.cautions)


@pytest.mark.parametrize(
    "rows",
    [
        "fm,,,,20,1,,\n" * 2,
        "fm,95.1,3,,20,1,,\nfm,,,,20,1,,\n",
        "fm,,,,,1,,\n",
        "fm,,,,0,1,,\n",
    ],
    ids=["several", "beside a stop", "no pad", "pad 0"],
)
def test_rows_that_were_prepared_are_no_silent_sweep(rows: str) -> None:
    """Blank rows of a sweep that has others, or that state no attenuator, were prepared and not filled in."""
    sheet = read_sheet(_ROWS + rows, "s")
    assert sheet.silent == ()
    assert any("not filled in" in one for one in sheet.cautions)


def test_silence_through_an_attenuator_counts_beside_a_sweep_without() -> None:
    """A set that follows all of 12 stations without the attenuator and nothing through 20 dB is no better than 20 dB over the
    strongest: the silent sweep bounds the threshold from below, and the count is that without."""
    stations = bench(random.Random(4), 12, lowest_db=5.0, span_db=10.0)
    rows = "".join(f"fm,{one.channel_hz / 1e6:.1f},2,,,1,,\n" for one in stations)
    both = [read_sheet(f"# dial: digits\n{_ROWS}{rows}{more}", "s") for more in ("", "fm,,,,20,2,,\n")]
    listed = reference_list(stations)
    open_below, bounded = (
        judge(one, {"fm": listed}, {"fm": GOOD}, Limits(), "2026-03-14T12:00:00Z", "0").bands["fm"] for one in both
    )
    assert open_below.threshold_db.low is None
    assert bounded.threshold_db.low is not None
    assert (open_below.counted, bounded.counted) == (12, 12)


@pytest.mark.parametrize(("deaf_db", "pad_db"), [(0.0, 10), (15.0, 20)])
def test_a_silent_sweep_that_a_healthy_one_speaks_against_is_not_called_unfinished(deaf_db: float, pad_db: int) -> None:
    """Behind 10 dB a healthy set follows half of its stations: silence there does not condemn it, and is not the end of the
    matter. Of a set 15 dB deaf, which follows few through 20 dB, it is weighed."""
    for seed in range(2):
        dice = random.Random(f"m{seed}")
        stations = bench(dice, 40)
        rows = sweep(dice, stations, Radio(deaf_db=deaf_db), Listener(jitter_db=3.0), reading_hz=0.1e6).text
        sheet = read_sheet(f"{rows}fm,,,,{pad_db},2,,\n", "s")
        check = judge(sheet, {"fm": reference_list(stations)}, {"fm": GOOD}, Limits(), "2026-03-14T12:00:00Z", "0")
        fm, said, silent = check.bands["fm"], " ".join(check.cautions), f"sweep 2 through {pad_db} dB is silent where about "
        assert "taken as swept and silent" in said
        assert "left in the middle" not in said
        assert (silent in said, fm.verdict) == ((False, "falls short") if deaf_db else (True, "in line"))
        if not deaf_db:
            assert f"; but {silent}" in fm.why
            assert fm.do_next == "sweep through it once more; if it is silent again, look at the attenuator and its leads"


@pytest.mark.parametrize("pad_db", [10, 20, 30])
def test_silence_behind_an_attenuator_alone_is_deaf_before_it_is_dead(pad_db: int) -> None:
    """An attenuator is put before a set that was heard without it (from memory): what tells is a sweep without. Behind 30 dB
    the decibels reach the limit of 6 no more, and it is not condemned (the contract's rule)."""
    stations = bench(random.Random("deafer"), 40)
    sheet = read_sheet(f"# swept: 2026-03-14 12:00\n{_ROWS}fm,,,,{pad_db},1,,\n", "s")
    check = judge(sheet, {"fm": reference_list(stations)}, {"fm": GOOD}, Limits(), "2026-03-14T12:00:00Z", "0").bands["fm"]
    low_db = check.against_reference_db and check.against_reference_db.low
    assert low_db is not None
    assert check.verdict == ("falls short" if low_db > 6.0 else "look closer")
    assert (low_db > 6.0) == (pad_db < 30)
    if low_db > 6.0:
        assert check.why.startswith(f"nothing is heard on the whole band through {pad_db} dB, where a good set follows ")
    assert check.do_next.startswith("take the attenuator out and sweep again")
    assert [one.fault for one in check.findings[:2]] == ["deaf", "dead-beyond"]


def test_am_silent_through_an_attenuator_cannot_tell() -> None:
    """50 ohm across the lead make any AM set deaf (trade practice)."""
    check = _check(read_sheet(_ROWS + "am,,,,20,1,,\n", "s"), 1, 15, -15.0, band="am")
    assert check.verdict == "cannot tell"
    assert check.why.startswith("AM was swept through an attenuator")
    beside = _check(read_sheet(_ROWS + "am,960,3,,,1,,\nam,,,,20,1,,\n", "s"), 1, 15, -15.0, band="am")
    assert (beside.pad_db, beside.counted) == (0.0, 1)
