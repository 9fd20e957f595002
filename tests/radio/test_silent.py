"""Silence: a band of which nothing was heard is dead where a good set would have followed something."""

from __future__ import annotations

import random

import pytest
from radio.bench_sim import GOOD_DB, bench, reference_list

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
