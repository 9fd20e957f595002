"""Which channels a capture covers, what is refused, and what leaves the room."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from measure.made import Held, capture, forged, read

from bandscan import tables
from bandscan.demo import AmStation, FmStation
from bandscan.errors import RecordingError
from bandscan.measure import covered, measure
from bandscan.model import Capture
from bandscan.plans import BandPlan, plan_for

FM, AM = plan_for("us", "fm"), plan_for("us", "am")


def nothing(rate_hz: float, centre_hz: float, seconds: float = 0.1, name: str = "made") -> Capture:
    """A capture of faint noise."""
    white = np.random.default_rng(1).standard_normal((2, round(rate_hz * seconds))) * 1e-3
    return Capture(name, Path(f"{name}.cu8"), Held(white[0] + 1j * white[1], 0.995), rate_hz, centre_hz)


# 0.45 of the rate less the guard: 2.4 MS/s reach 980 kHz, 256 kS/s 15.2 kHz, AM at 2.4 MS/s 1075 kHz
@pytest.mark.parametrize(
    ("plan", "rate_hz", "centre_hz", "first_hz", "last_hz", "count"),
    [
        (FM, 2.4e6, 98_000_000, 97_100_000, 98_900_000, 10),
        (FM, 2.4e6, 98_100_000, 97_300_000, 98_900_000, 9),
        (FM, 256e3, 93_100_000, 93_100_000, 93_100_000, 1),
        (FM, 256e3, 93_115_200, 93_100_000, 93_100_000, 1),
        (FM, 3.2e6, 89_000_000, 87_900_000, 90_300_000, 13),
        (FM, 10e6, 98_000_000, 93_700_000, 102_300_000, 44),
        (FM, 2.4e6, 88_000_000, 87_900_000, 88_900_000, 6),
        (AM, 2.4e6, 1_120_000, 540_000, 1_700_000, 117),
        (AM, 256e3, 1_000_000, 890_000, 1_110_000, 23),
    ],
)
def test_channels_within_reach_are_covered(
    plan: BandPlan, rate_hz: float, centre_hz: float, first_hz: int, last_hz: int, count: int
) -> None:
    """A channel is covered when all of its width lies within 0.45 of the rate from the centre, and only then."""
    channels = covered(nothing(rate_hz, centre_hz), plan)
    assert (channels[0], channels[-1], len(channels)) == (first_hz, last_hz, count)


def test_a_channel_a_hertz_out_of_reach_is_not_covered() -> None:
    """Exactly at the limit counts; a hertz beyond does not, on either side."""
    for sign in (-1, 1):
        assert 98_100_000 in covered(nothing(2.4e6, 98_100_000 + sign * 980_000), FM)
        assert 98_100_000 not in covered(nothing(2.4e6, 98_100_000 + sign * 980_001), FM)


@pytest.mark.parametrize("rate_hz", [225_001.0, 222_222.0])
def test_the_slowest_rates_hold_one_channel_or_none(rate_hz: float) -> None:
    """At 225,001 S/s a channel in the very middle is covered; under 222,222.3 S/s its width does not fit."""
    assert len(covered(nothing(rate_hz, 98_100_000), FM)) == (1 if rate_hz > 225_000 else 0)


def test_a_recording_without_a_channel_is_refused_with_the_reason() -> None:
    """What it is, what the band has, and what to check, in one line."""
    with pytest.raises(RecordingError) as refused:
        measure(nothing(2.4e6, 144_000_000), FM)
    assert str(refused.value) == (
        "made.cu8: covers no FM channel of region us: 2400000 S/s around 144.0 MHz; accepted: channels 87.9 MHz to 107.9 MHz, "
        "each with its guard within 0.45 of the rate from the centre; check the centre frequency, the rate, --region and --band"
    )


def test_a_segments_refusal_names_file_and_segment() -> None:
    """A segment of a recording that is named otherwise than its file is found again by both names."""
    odd = replace(nothing(2.4e6, 144_000_000), name="evening#2", path=Path("made.sigmf-meta"))
    with pytest.raises(RecordingError, match=r"^made.sigmf-meta \(evening#2\): covers no FM channel"):
        measure(odd, FM)


@pytest.mark.parametrize(
    ("plan", "centre_hz", "seconds", "said"),
    [
        (FM, 98_000_000, 0.0, "lasts 0.0 ms; accepted: at least 20 ms for FM; record for a second or more"),
        (FM, 98_000_000, 0.0193, "lasts 19.3 ms; accepted: at least 20 ms for FM; record for a second or more"),
        (AM, 1_120_000, 0.075, "lasts 75.0 ms; accepted: at least 80 ms for AM; record for a second or more"),
    ],
)
def test_a_recording_too_short_is_refused_with_what_is_enough(
    plan: BandPlan, centre_hz: int, seconds: float, said: str
) -> None:
    """Its length, the least that can be measured, and what to do."""
    with pytest.raises(RecordingError) as refused:
        measure(nothing(2.4e6, centre_hz, seconds), plan)
    assert str(refused.value) == f"made.cu8: {said}"


@pytest.mark.parametrize(("plan", "centre_hz", "seconds"), [(FM, 98_000_000, 0.0201), (AM, 1_120_000, 0.081)])
def test_what_is_called_enough_is_enough(plan: BandPlan, centre_hz: int, seconds: float) -> None:
    """A recording of the stated least length is measured."""
    assert len(measure(nothing(2.4e6, centre_hz, seconds), plan).readings) > 0


def test_what_the_capture_says_of_itself_travels_on() -> None:
    """Name, time, rig, gain, survey, remarks and notes of the capture leave with its readings."""
    one = replace(
        nothing(2.4e6, 98_000_000),
        started_utc="2026-03-01T10:00:00Z",
        survey_id="morning",
        rig="bench",
        gain_db=28.0,
        forged=True,
        remarks=("truncated",),
        notes=("made.cu8: the last half of a sample is left out",),
    )
    found = measure(one, FM)
    assert (found.recording, found.band, found.region, found.rig, found.survey_id) == ("made", "fm", "us", "bench", "morning")
    assert (found.gain_db, found.forged, found.started_utc) == (28.0, True, "2026-03-01T10:00:00Z")
    assert (found.rate_hz, found.centre_hz, found.duration_s) == (2.4e6, 98_000_000, pytest.approx(0.1))
    assert found.notes == one.notes
    assert all("truncated" in words.split(";") for words in found.readings["remarks"])
    assert set(found.readings["started_utc"]) == {"2026-03-01T10:00:00Z"}


@pytest.mark.parametrize(("band", "centre_hz"), [("fm", 98_000_000), ("am", 1_120_000)])
def test_readings_are_the_declared_table(band: str, centre_hz: int) -> None:
    """Exactly the declared columns and dtypes, one row for each covered channel, ascending."""
    stations = [FmStation(98_100_000, -20.0), FmStation(97_500_000, -35.0)]
    carriers = [AmStation(1_000_000, -30.0), AmStation(1_200_000, -50.0)]
    one = forged(stations if band == "fm" else carriers, centre_hz, seconds=0.3)
    plan = plan_for("us", band)
    readings = measure(one, plan).readings
    assert readings.equals(tables.check(readings, tables.READINGS))
    assert tuple(readings["channel_hz"]) == covered(one, plan)
    assert set(readings["band"]) == {band}


def test_overloaded_samples_are_counted() -> None:
    """Of 240,000 samples 2,000 stand at full scale on I, Q or both, spread over the recording: 0.83 %, each counted once."""
    rng = np.random.default_rng(2)
    wave = (rng.standard_normal(240_000) + 1j * rng.standard_normal(240_000)) * 0.05
    where = np.arange(0, 240_000, 120)
    wave[where[0::3]] = 1.0
    wave[where[1::3]] = -1.0j
    wave[where[2::3]] = 1.0 - 1.0j
    found = measure(capture(wave, 2.4e6, 98_000_000), FM)
    assert found.overload_share == pytest.approx(1 / 120, rel=0.02)  # whole frames only: the tail is not looked at
    assert found.readings["overload_share"].unique() == pytest.approx([found.overload_share])


def test_floats_have_no_ceiling() -> None:
    """Samples of a float recording beyond 1.0 are no overload: the format has no full scale."""
    wave = np.full(240_000, 3.0 + 0j)
    assert measure(capture(wave, 2.4e6, 98_000_000, encoding="cf32"), FM).overload_share == 0.0


def test_unusable_samples_are_remarked() -> None:
    """A reader that met samples that are no number says so, and every row of the recording repeats it."""
    one = nothing(2.4e6, 98_000_000)
    assert isinstance(one.samples, Held)
    one.samples.bad_samples = 3
    readings = measure(one, FM).readings
    assert all("bad-samples" in words.split(";") for words in readings["remarks"])


def test_the_whole_recording_is_read_once_to_its_end() -> None:
    """All but less than one frame of the recording is looked at."""
    one = nothing(2.4e6, 98_000_000, 0.2345)
    measure(one, FM)
    assert isinstance(one.samples, Held)
    assert 0 <= len(one.samples) - one.samples.read_to < 24_000


def test_figures_do_not_depend_on_what_else_was_measured() -> None:
    """Measuring the same capture twice gives the same table to the last digit."""
    one = forged([FmStation(98_100_000, -20.0)], 98_000_000, seconds=0.2)
    first, second = read(one), read(one)
    assert first.equals(second)
