"""One programme on several channels fools a count: it is a finding, and turns no verdict."""

from __future__ import annotations

import random
from dataclasses import replace

from radio.bench_sim import GOOD_DB, Station, bench, reference_list

from bandscan import tables
from bandscan.model import Finding, RadioCheck, Reference
from bandscan.plans import relay_word
from bandscan.radio import Limits, judge, read_sheet
from bandscan.radio.verdict import WEIGHTY
from bandscan.units import channel_text

GOOD = Reference(GOOD_DB, 1.0, "known-good", "dBFS", 5)


def _check(stations: list[Station], shared: tuple[int, ...], grades: dict[int, str]) -> RadioCheck:
    """All stations ticked with a 3 unless `grades` says otherwise; those of the places `shared` carry one programme."""
    listed = reference_list(stations)
    remarks = [""] * len(stations)
    for one in shared:
        others = (stations[two].channel_hz for two in shared if two != one)
        remarks[one] = ";".join(relay_word("fm", hz, "by-code") for hz in others)
    listed = replace(listed, stations=tables.check(listed.stations.assign(remarks=remarks), tables.BASELINE))
    rows = [f"fm,{one.channel_hz / 1e6:.1f},{grades.get(place, '3')}" for place, one in enumerate(stations)]
    text = "# dial: digits\nband,dial,grade\n" + "\n".join(rows) + "\n"
    return judge(read_sheet(text, "s"), {"fm": listed}, {"fm": GOOD}, Limits(), "2026-03-14T12:00:00Z", "0")


def _said(check: RadioCheck) -> Finding | None:
    return next((one for one in check.bands["fm"].findings if one.fault == "repeated-programme"), None)


def test_heard_stations_of_one_programme_are_a_finding_that_turns_no_verdict() -> None:
    """Three channels with one programme: 20 stations heard are probably 18 programmes; the verdict and all else stay."""
    stations = bench(random.Random(5), 20, lowest_db=20.0)
    plain, shared = _check(stations, (), {}), _check(stations, (3, 8, 12), {})
    texts = [f"{channel_text('fm', stations[place].channel_hz)} MHz" for place in (3, 8, 12)]
    found = _said(shared)
    assert found is not None
    assert found.text == (
        f"{' and '.join(texts)} carry probably one programme: the 20 stations of the list that were heard are probably 18"
        " programmes; who counts by programme comes out lower, and that is no fault of the radio"
    )
    assert found.evidence == tuple(stations[place].channel_hz for place in (3, 8, 12))
    assert found.next_test
    assert 0.0 < found.weight < WEIGHTY
    assert _said(plain) is None
    others = tuple(one for one in shared.bands["fm"].findings if one != found)
    assert replace(shared.bands["fm"], findings=others) == plain.bands["fm"]


def test_a_programme_heard_on_one_channel_only_is_no_repeat() -> None:
    """Of two channels with one programme one was heard: a count is not fooled, and nothing is said."""
    stations = bench(random.Random(5), 20, lowest_db=20.0)
    assert _said(_check(stations, (3, 8), {8: ""})) is None


def test_ticks_marked_as_repeats_are_said_to_be_left_out_of_the_count() -> None:
    """Two stops marked R: 18 of 20 are counted, and the attenuator tells repeats of the set from those on the air."""
    stations = bench(random.Random(5), 20, lowest_db=20.0)
    check = _check(stations, (), {4: "R", 9: "R"})
    found = _said(check)
    assert check.bands["fm"].counted == 18
    assert found is not None
    assert found.text == "2 ticks are marked as repeats and are not counted"
    assert found.evidence == (stations[4].channel_hz, stations[9].channel_hz)
    assert found.next_test.startswith("put a 10 dB attenuator in line")


def test_a_repeat_marked_on_a_listed_station_may_be_that_station() -> None:
    """A tick marked R where the list has a relay: it may be a station of its own; an R elsewhere stays a repeat."""
    stations = bench(random.Random(5), 20, lowest_db=20.0)
    first, second = (channel_text("fm", stations[place].channel_hz) for place in (3, 8))
    extras = {one.dial: one.explained_by for one in _check(stations, (3, 8), {8: "R", 15: "R"}).bands["fm"].extras}
    assert extras[second] == (
        f"marked as a repeat (repeated-programme): the list has a station on {second} MHz"
        f" that probably carries the programme of {first} MHz; if it was that, grade it as a station"
    )
    assert extras[channel_text("fm", stations[15].channel_hz)] == "marked as a repeat"
