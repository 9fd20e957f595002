"""Which recordings of two gains are held against each other: survey/gains.py."""

from __future__ import annotations

from dataclasses import replace

from made import measured

from bandscan.survey.gains import gain_steps


def test_of_many_passes_the_nearest_in_time_are_paired() -> None:
    """An hour of passes at two gains makes as many pairs as passes, each of neighbours in time, not all with all."""
    passes = [
        measured(f"p{number}-{gain}", f"2026-03-01T10:{number:02d}:{second:02d}Z", gain=gain)
        for number in range(60)
        for gain, second in ((28.0, 0), (20.0, 10))
    ]
    steps = gain_steps(passes)
    assert {(step.high.recording, step.low.recording) for step in steps} == {(f"p{n}-28.0", f"p{n}-20.0") for n in range(60)}
    assert {step.step_db for step in steps} == {8.0}


def test_recordings_that_tell_no_time_are_paired_with_all() -> None:
    """Without a time nothing can be said of what is near; without a common channel there is nothing to hold against."""
    undated = [replace(measured(f"u{gain}", "", gain=gain), started_utc="") for gain in (28.0, 20.0, 19.0)]
    assert len(gain_steps(undated)) == 2
    high, low = measured("high", gain=28.0), measured("low", gain=20.0, centre=103_000_000)
    elsewhere = low.readings.assign(channel_hz=low.readings["channel_hz"] + 5_000_000)
    assert gain_steps([high, replace(low, readings=elsewhere)]) == []
