"""Blocks of lost samples: left out of every figure, told in milliseconds, and not seen where samples are only coarse."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from measure.made import capture

from bandscan.demo import AmStation, FmStation, Receiver, Spur, forge
from bandscan.measure import measure
from bandscan.measure.holes import holes
from bandscan.model import Measured
from bandscan.plans import plan_for
from bandscan.survey.holds import decide

RATE_HZ, CENTRE_HZ = 2.4e6, 98_000_000
STATIONS = [
    FmStation(97_300_000, -32.0, programme="speech"),
    FmStation(97_700_000, -26.0),
    FmStation(98_300_000, -38.0, pilot_dev_hz=0.0),
    FmStation(98_700_000, -30.0, pilot_dev_hz=6200.0),
]
PILOTS_HZ = {97_300_000: 6750.0, 97_700_000: 6750.0, 98_700_000: 6200.0}


def lossy(
    wave: npt.NDArray[np.complex64], count: int, length: int, seed: int, value: complex = 0.0
) -> npt.NDArray[np.complex64]:
    """With so many blocks of one value, anywhere."""
    wave = wave.copy()
    for first in np.random.default_rng(seed).integers(0, len(wave) - length, count):
        wave[first : first + length] = value
    return wave


def fm(wave: npt.NDArray[np.complex64]) -> Measured:
    """A recording of 8 bits, measured."""
    return measure(capture(wave, RATE_HZ, CENTRE_HZ), plan_for("us", "fm"))


@pytest.mark.parametrize(
    ("count", "length", "value"), [(0, 0, 0), (9, 16384, 0), (24, 16384, 0.31 - 0.2j), (30, 2100, 0), (2, 300_000, -1 - 1j)]
)
def test_lost_blocks_move_no_figure_and_are_told(count: int, length: int, value: complex) -> None:
    """Stations stay stations and the rest empty, carriers and pilots within four of their uncertainties, which stay
    small; the milliseconds of the note are those lost. Without a block there is no note."""
    made = forge(STATIONS, Receiver(), CENTRE_HZ, RATE_HZ, 1.0, 5).samples
    broken = lossy(made, count, length, count, value)
    found = fm(broken)
    rows = decide([found]).set_index("channel_hz")
    assert sorted(rows.index[rows["holds"] == "station"]) == [one.channel_hz for one in STATIONS]
    assert set(rows["holds"]) == {"station", "empty"}
    held = rows[rows["holds"] == "station"]
    assert (held["carrier_error_hz"].abs() < 4 * held["carrier_sd_hz"]).all()
    assert held["carrier_sd_hz"].max() < 1500
    for channel_hz, pilot_hz in PILOTS_HZ.items():
        assert rows.loc[channel_hz, "pilot_dev_hz"] == pytest.approx(pilot_hz, rel=0.01)
    told = [note for note in found.notes if "lost samples" in note]
    assert len(told) == bool(count)
    if count:
        lost_ms = 1e3 * np.count_nonzero(broken == np.complex64(value)) / RATE_HZ
        assert float(told[0].split("lost samples: ")[1].split(" ms")[0]) == pytest.approx(lost_ms, rel=0.03)


@pytest.mark.parametrize("steps", [0.2, 0.3, 0.5])
@pytest.mark.parametrize("mean", [0.0, 0.5])
def test_coarse_samples_are_no_holes(steps: float, mean: float) -> None:
    """Noise of a part of one step, around a code or between two: neighbours are often equal, no frame of 100 is lost."""
    dice = np.random.default_rng(2)
    noise = dice.standard_normal((100, 24000, 2)) * steps + mean
    frames = np.rint(noise).astype(np.float32).view(np.complex64)[..., 0]
    spoilt, still = holes(frames, 23400)
    assert (int(spoilt.sum()), still) == (0, 0)


def test_holes_are_counted_once_where_frames_overlap() -> None:
    """One from 900 samples before the end of a frame's own part into the next: both are spoilt, samples counted once."""
    dice = np.random.default_rng(3)
    wave = (dice.standard_normal(50_000) + 1j * dice.standard_normal(50_000)).astype(np.complex64)
    wave[22_500:24_500] = 0
    frames = np.stack([wave[:24_000], wave[23_400:47_400]])
    spoilt, still = holes(frames, 23_400)
    assert spoilt.tolist() == [True, True]
    assert still == 2000


@pytest.mark.parametrize("value", [0.0, 1.0, 0.5 / 127.5])
@pytest.mark.parametrize("band", ["fm", "am"])
def test_a_dead_recording_is_told_as_one(value: float, band: str) -> None:
    """Samples that never change are told as no signal, and as overload at full scale, but not as a comb."""
    centre_hz = CENTRE_HZ if band == "fm" else 1_000_000
    found = measure(capture(np.full(1_200_000, value * (1 + 1j)), RATE_HZ, centre_hz), plan_for("us", band))
    assert "holds no signal" in found.notes[0]
    assert len(found.notes) == 1 + (value == 1.0)
    rows = decide([found])
    assert "station" not in set(rows["holds"])
    assert rows["remarks"].str.contains("no-signal").all()


def test_a_dead_recording_has_no_vote_against_one_that_hears() -> None:
    """Of one centre: the station stays one."""
    wave = forge([FmStation(98_100_000, -30.0)], Receiver(), CENTRE_HZ, RATE_HZ, 1.0, 8).samples
    heard, dead = (measure(capture(one, RATE_HZ, CENTRE_HZ), plan_for("us", "fm")) for one in (wave, 0.0 * wave))
    rows = decide([heard, replace(dead, recording="dead")])
    assert set(rows.loc[rows["channel_hz"] == 98_100_000, "holds"]) == {"station"}


def test_lost_blocks_make_no_am_station_of_a_bare_carrier() -> None:
    """A second with blocks lost: what was a bare carrier is no station, and nothing is one surely; whole it is as before."""
    sources = [Spur(900_000, -40.0), AmStation(1_100_000, -45.0)]
    wave = forge(sources, Receiver(noise_dbfs_hz=-100.0), 1_004_000, 600_000, 1.0, 7).samples
    for count, words in ((0, {"spur", "station"}), (8, {"unsure"})):
        found = measure(capture(lossy(wave, count, 4096, 4), 600_000, 1_004_000), plan_for("us", "am"))
        rows = decide([found]).set_index("channel_hz")
        assert set(rows.loc[[900_000, 1_100_000], "holds"]) == words
        assert any("lost samples" in note for note in found.notes) is bool(count)
        assert "station" not in set(rows["holds"].drop([900_000, 1_100_000]))


def test_one_lost_block_costs_a_long_am_recording_no_station() -> None:
    """Of six seconds the two around the block are left out; station and bare carrier stay what they are."""
    sources = [Spur(900_000, -40.0), AmStation(1_100_000, -45.0)]
    wave = forge(sources, Receiver(noise_dbfs_hz=-100.0), 1_004_000, 600_000, 6.0, 7).samples
    found = measure(capture(lossy(wave, 1, 20_000, 4), 600_000, 1_004_000), plan_for("us", "am"))
    rows = decide([found]).set_index("channel_hz")
    assert rows.loc[[900_000, 1_100_000], "holds"].tolist() == ["spur", "station"]
    assert rows.loc[1_100_000, "level_dbfs"] == pytest.approx(-45.0, abs=0.1)
