"""What counts are worth: silence, a count above the habit, and two people at one radio."""

from __future__ import annotations

import random
import statistics
from dataclasses import replace

import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, Station, bench, reference_list, sweep

from bandscan.errors import SheetError
from bandscan.model import BandCheck, Interval, RadioCheck, Reference
from bandscan.radio import Limits, compare, judge, read_sheet, totals_sheet

GOOD = Reference(GOOD_DB, 1.5, "known-good", "dBFS", 5)
MADE = "2026-03-14T12:00:00Z"


@pytest.mark.parametrize("band", ["fm", "am"])
@pytest.mark.parametrize("count", [8, 25, 60])
@pytest.mark.parametrize("lowest_db", [-15.0, 5.0, 25.0])
def test_a_stone_dead_set_falls_short_on_every_bench(band: str, count: int, lowest_db: float) -> None:
    """Swept and not one tick: falls short on weak and strong benches of eight stations or more, on FM and AM."""
    silent = f"# swept: 2026-03-14 12:00\n# bands: {band}\nband,dial,grade\n"
    for seed in range(3):
        listed = reference_list(bench(random.Random(f"dead{seed}{count}"), count, lowest_db=lowest_db, band=band), band)
        got = judge(read_sheet(silent, "s"), {band: listed}, {band: GOOD}, Limits(), MADE, "0").bands[band]
        assert (got.counted, got.verdict) == (0, "falls short")


def test_two_people_at_one_radio_agree_as_people_do() -> None:
    """Trade practice: of 60 stations two people agree on 88 to 96 %, and their counts differ by 2.5 (standard deviation)."""
    agree, differ = [], []
    for seed in range(120):
        dice = random.Random(f"two people{seed}")
        stations = bench(dice, 60)
        first, second = (set(sweep(dice, stations, Radio(), Listener(), reading_hz=0.1e6).meant) for _ in range(2))
        agree.append(1.0 - len(first ^ second) / len(stations))
        differ.append(len(first) - len(second))
    assert 0.88 <= statistics.mean(agree) <= 0.96
    # 120 draws know a standard deviation to 6.5 %
    assert statistics.pstdev(differ) == pytest.approx(2.5, abs=0.5)


def test_what_two_people_count_is_no_difference_of_the_radio() -> None:
    """Two people, one sound radio, 60 stations: most intervals of the difference of thresholds hold nought."""
    held = 0
    for seed in range(5):
        dice = random.Random(f"two checks{seed}")
        stations = bench(dice, 60)
        listed = reference_list(stations)
        checks: list[RadioCheck] = []
        for _ in range(2):
            sheet = read_sheet(sweep(dice, stations, Radio(), Listener(), reading_hz=0.1e6).text, "s")
            checks.append(judge(sheet, {"fm": listed}, {"fm": GOOD}, Limits(), MADE, "0"))
        apart = compare(checks[0], checks[1]).bands["fm"].difference_db
        assert apart is not None
        assert apart.low is not None
        assert apart.high is not None
        held += apart.low <= 0.0 <= apart.high
    assert held >= 4


def test_a_count_above_the_habit_and_three_on_am() -> None:
    """Common practice: about 28 expected on FM and 34 counted, three on AM, bare totals: not condemned, no fault claimed."""
    lists = {
        "fm": reference_list(bench(random.Random(27), 36, lowest_db=-10.0)),
        "am": reference_list(bench(random.Random(0), 12, lowest_db=-35.0, band="am"), "am"),
    }
    check = judge(totals_sheet({"fm": 34, "am": 3}), lists, {"fm": GOOD, "am": GOOD}, Limits(), MADE, "0")
    fm, am = check.bands["fm"], check.bands["am"]
    assert fm.expected is not None
    assert 26.0 < fm.expected.mid < 30.0
    assert fm.counted > fm.expected.high
    assert {fm.verdict, am.verdict} <= {"in line", "look closer", "cannot tell"}
    assert (fm.findings, am.findings) == ((), ())
    assert am.verdict == "cannot tell"
    for band in (fm, am):
        assert "by a bare total in which repeats and phantoms count as stations" in band.why
        assert band.do_next == "sweep with a count sheet, one row a stop: a total proves little either way"
    assert fm.why.endswith("; of other faults a total tells nothing")
    (said,) = (caution for caution in check.cautions if caution.startswith("FM: 34 counted"))
    assert f"a good set follows {fm.expected.low} to {fm.expected.high} stations of this list and one 10 dB deaf " in said
    assert f"which stations they were a total cannot show; more than {fm.expected.high} are no proof of a better set" in said
    (said,) = (caution for caution in check.cautions if caution.startswith("AM: 3 counted"))
    assert ": this count fits both; " in said
    # a total of 34 names no station as missed or heard
    assert {station.heard for band in (fm, am) for station in band.stations} == {None}


def test_more_than_the_list_has_stations_is_no_verdict() -> None:
    """25 stations: four more may be repeats; five more are two passes under one name, or in one total, and cannot be told."""
    listed = {"fm": reference_list(bench(random.Random(5), 25))}
    head = "# swept: 2026-03-14 12:00\nband,grade,sweep\n"
    for count, told in ((29, False), (30, True)):
        order = judge(read_sheet(head + "fm,3,\n" * count, "s"), listed, {"fm": GOOD}, Limits(), MADE, "0").bands["fm"]
        total = judge(totals_sheet({"fm": count}), listed, {"fm": GOOD}, Limits(), MADE, "0").bands["fm"]
        assert (f"{count} stops of sweep 1 are counted without a reading" in order.why) == told
        assert (f"{count} are counted and the FM list has 25 stations" in total.why) == told
    assert (order.verdict, total.verdict) == ("cannot tell", "cannot tell")
    assert order.do_next.startswith("give each pass along the dial a name of its own in `sweep`")
    assert total.do_next == "sweep with a count sheet, one row a stop: a total proves little either way"
    for one in (order, total):  # no sensitivity is told of it either, nor a measure made
        assert (one.bound, one.threshold_db, one.against_reference_db) == (
            "none",
            Interval(None, None, None),
            Interval(None, None, None),
        )
    named = judge(read_sheet(head + "fm,3,1\nfm,3,2\n" * 15, "s"), listed, {"fm": GOOD}, Limits(), MADE, "0").bands["fm"]
    assert "are counted" not in named.why
    traces = judge(read_sheet(head + "fm,3,\nfm,1,\n" * 20, "s"), listed, {"fm": GOOD}, Limits(), MADE, "0").bands["fm"]
    assert "are counted" not in traces.why


def test_a_total_beyond_the_band_s_channels_is_refused() -> None:
    """No dial of the us holds more than its 101 channels."""
    listed = {"fm": reference_list(bench(random.Random(5), 25))}
    with pytest.raises(SheetError) as caught:
        judge(totals_sheet({"fm": 102}), listed, {"fm": GOOD}, Limits(), MADE, "0")
    assert str(caught.value) == "totals: 102 stations of FM are counted, and the band has 101 channels; count each station once"
    assert judge(totals_sheet({"fm": 101}), listed, {"fm": GOOD}, Limits(), MADE, "0").bands["fm"].verdict == "cannot tell"


@pytest.mark.parametrize(
    ("count", "lowest_db", "words"),
    [
        (50, -5.0, "so many one so deaf does not follow, unless "),
        (25, -5.0, "fewer than a good set gives"),
        (58, 25.0, "this count fits both"),
    ],
)
def test_a_total_is_said_to_tell_only_what_it_does(count: int, lowest_db: float, words: str) -> None:
    """60 stations around the threshold tell a set 20 dB deaf by their number; 25 dB over it no number does."""
    listed = reference_list(bench(random.Random(3), 60, lowest_db=lowest_db, span_db=40.0))
    check = judge(totals_sheet({"fm": count}), {"fm": listed}, {"fm": GOOD}, Limits(fail_db=20.0), MADE, "0")
    (said,) = (caution for caution in check.cautions if caution.startswith(f"FM: {count} counted"))
    assert words in said


@pytest.mark.parametrize(
    ("count", "fits", "words"),
    [
        (22, "not clearly good and not clearly deaf", "hardly as many as a good set gives"),
        (28, "a good set and one 10 dB deaf both fit", "this count fits both, one so deaf with 5 or more repeats or phantoms"),
        (34, "by a bare total in which repeats", "more than either follows: repeats, phantoms or stations beside the list may"),
        (46, "46 are counted and the FM list has 40 stations", "more than either follows: repeats, phantoms or stations"),
    ],
)
def test_a_total_fits_what_its_verdict_says(count: int, fits: str, words: str) -> None:
    """40 stations, of which 22 to 31 are expected: why and caution stand on one page, and say one thing (regression audit)."""
    listed = {"fm": reference_list(bench(random.Random(40), 40, lowest_db=-15.0))}
    check = judge(totals_sheet({"fm": count}), listed, {"fm": GOOD}, Limits(), MADE, "0")
    (said,) = (caution for caution in check.cautions if caution.startswith(f"FM: {count} counted"))
    assert fits in check.bands["fm"].why
    assert words in said
    assert "unless" not in said


def _total(band: str, count: int, stations: list[Station], header: dict[str, str] | None = None) -> BandCheck:
    sheet = replace(totals_sheet({band: count}), header=header or {})
    return judge(sheet, {band: reference_list(stations, band)}, {band: GOOD}, Limits(), MADE, "0").bands[band]


@pytest.mark.parametrize(("deaf_db", "repeats"), [(0.0, 0.0), (0.0, 6.0), (20.0, 0.0), (20.0, 6.0)])
def test_a_total_holds_the_truth_with_repeats_in_it_and_without(deaf_db: float, repeats: float) -> None:
    """34 stations, as many repeats counted as a Poisson of six gives (common practice: nobody can name them), or none."""
    held = 0
    for seed in range(12):
        dice = random.Random(f"repeats{seed}")
        stations = bench(dice, 34, lowest_db=-17.0)
        followed = len(sweep(dice, stations, Radio(deaf_db=deaf_db), Listener(), reading_hz=0.1e6).meant)
        surplus = sum(dice.random() < repeats / 60.0 for _ in range(60))
        against = _total("fm", followed + surplus, stations).against_reference_db
        assert against is not None
        low, high = (-99.0 if against.low is None else against.low, 99.0 if against.high is None else against.high)
        held += low <= deaf_db <= high
    # of twelve, 95 % each, fewer than ten hold by chance in one run of fifty
    assert held >= 10


@pytest.mark.parametrize("count", [31, 34, 60])
def test_no_total_shows_a_better_set(count: int) -> None:
    """Common practice: however many are counted, what a good set does not follow may be repeats and phantoms."""
    stations = bench(random.Random(3), 60, lowest_db=-35.0)
    check = _total("fm", count, stations)
    assert check.expected is not None
    assert check.counted > check.expected.high
    assert check.against_reference_db is not None
    assert check.against_reference_db.high is None or check.against_reference_db.high >= 0.0
    assert check.threshold_db.high is None or check.threshold_db.high >= GOOD_DB


@pytest.mark.parametrize("listed", [4, 6, 8, 10, 12])
def test_three_on_am_condemn_no_set(listed: int) -> None:
    """Common practice: three on AM, a bare total. Of an hour that nobody knows nothing is told; by day it is looked into."""
    stations = bench(random.Random(listed), listed, lowest_db=0.0, band="am")
    undated, noon = _total("am", 3, stations), _total("am", 3, stations, {"swept": "2026-03-14 12:00"})
    assert undated.verdict == "cannot tell"
    assert "if counted at the list's hour; the hour is not known, and AM changes with the sun" in undated.why
    assert noon.verdict in ("cannot tell", "look closer")
    for one in (undated, noon):
        assert one.do_next == "sweep with a count sheet, one row a stop: a total proves little either way"
    if listed >= 8:  # stone-dead is stone-dead
        assert _total("am", 0, stations).verdict == "falls short"
        assert _total("am", 0, stations, {"swept": "2026-03-14 12:00"}).verdict == "falls short"
