"""What is said of a recording as a whole: overload, combs, a wrong sample rate, lost samples, an upconverter's error."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from measure.made import Held, capture, forged

from bandscan.demo import AmStation, FmStation, Receiver, Spur, forge
from bandscan.measure import measure
from bandscan.measure.notes import find_off_raster, gain_note
from bandscan.model import Capture
from bandscan.plans import plan_for

FM, AM = plan_for("us", "fm"), plan_for("us", "am")
STATIONS = [FmStation(hz, -22.0 - number) for number, hz in enumerate((97_300_000, 97_900_000, 98_500_000, 98_900_000))]


def fm_notes(one: Capture) -> list[str]:
    """Notes of an FM recording."""
    return list(measure(one, FM).notes)


def test_an_ordinary_recording_has_no_notes() -> None:
    """Stations, noise, a spur and DC: nothing to say."""
    one = forged([*STATIONS, Spur(98_120_000.0, -40.0)], 98_100_000, receiver=Receiver(dc_dbfs=-40.0), seconds=1.0)
    assert fm_notes(one) == []
    assert measure(forged([AmStation(1_000_000, -30.0), AmStation(1_300_000, -45.0)], 1_120_000, seconds=1.0), AM).notes == ()


@pytest.mark.parametrize("drive_db", [6.0, 12.0])
def test_overload_says_how_much_to_take_off(drive_db: float) -> None:
    """Stations of which 4.5 standard deviations just fit, driven up: about that much must come off again, within 4 dB."""
    made = forge(STATIONS, Receiver(), 98_100_000, 2.4e6, 0.3, 2).samples
    fits = made / np.sqrt(np.mean(made.real**2)) / 4.5
    notes = fm_notes(capture(fits * 10 ** (drive_db / 20), 2.4e6, 98_100_000))
    (found,) = [note for note in notes if "overload" in note]
    assert "not usable" in found
    assert float(re.findall(r"about (\d+) dB", found)[0]) == pytest.approx(drive_db, abs=4)


@pytest.mark.parametrize(("scale", "said"), [(1.0, False), (8.0, False), (18.0, True), (1e5, True)])
def test_floats_that_were_not_scaled_are_told(scale: float, said: bool) -> None:
    """Swinging to 0.2, or to 1.6 as a resampler's overshoot may, they are right; to 3.6 they are a converter's numbers."""
    made = forge([FmStation(98_100_000, -20.0)], Receiver(), 98_000_000, 1.2e6, 0.3, 1).samples
    wave = made * (0.2 / np.abs(np.concatenate([made.real, made.imag])).max())
    found = measure(capture(wave * scale, 1.2e6, 98_000_000, encoding="cf32"), plan_for("us", "fm"))
    assert any(f"the samples swing to {0.2 * scale:.3g}, far past 1.0" in note for note in found.notes) == said


def test_a_comb_is_told_with_its_spacing() -> None:
    """Lines every 61.44 kHz, as of a switching supply, between two stations: their spacing within 0.1 kHz."""
    lines = [Spur(97_150_123.0 + 61_440.0 * number, -52.0) for number in range(28)]
    notes = fm_notes(forged([FmStation(98_900_000, -30.0), *lines], 98_100_000, seconds=1.0))
    (found,) = [note for note in notes if "comb" in note]
    assert float(re.findall(r"every ([0-9.]+) kHz", found)[0]) == pytest.approx(61.44, abs=0.1)


@pytest.mark.parametrize("share", [1.002, 0.997])
def test_a_wrong_sample_rate_is_told_by_the_pilots(share: float) -> None:
    """Recorded at 2.4 MS/s and said to be at another rate: all pilots stand off 19 kHz by as much."""
    one = forged(STATIONS, 98_100_000, seconds=1.0)
    (found,) = [note for note in fm_notes(replace(one, rate_hz=2.4e6 * share)) if "sample rate" in note]
    assert ("too high" if share > 1 else "too low") in found
    assert float(re.findall(r"([0-9.]+) %", found)[0]) == pytest.approx(100 * abs(1 - share), abs=0.03)


@pytest.mark.parametrize(("share", "said"), [(1.03, "about 3.0 % too high"), (0.96, "about 4.0 % too low")])
def test_a_rate_stated_so_wrong_that_no_pilot_is_near_is_told_by_the_raster(share: float, said: str) -> None:
    """Stations stand within 2 kHz of their channels (47 CFR 73.1545); a wrong rate puts them off by so much of their distance
    from the centre. With the right rate nothing is said, in a band of a 50 kHz raster neither."""
    places = (97_100_000, 97_500_000, 98_500_000, 98_700_000)
    one = forged([FmStation(hz, -20.0, "music", pilot_dev_hz=6_800.0) for hz in places], 98_000_000, seconds=0.7)
    (found,) = [note for note in fm_notes(replace(one, rate_hz=2.4e6 * share)) if "sample rate" in note]
    assert said in found
    beside = forged([FmStation(hz + 50_000, -20.0, "music") for hz in places], 98_000_000, seconds=0.7)
    assert not [note for recording in (one, beside) for note in fm_notes(recording) if "sample rate" in note]


def without(one: Capture, lost: list[tuple[int, int]]) -> Capture:
    """The recording without `lost`: first samples and numbers."""
    assert isinstance(one.samples, Held)
    kept = np.ones(len(one.samples), bool)
    for start, count in lost:
        kept[start : start + count] = False
    return replace(one, samples=Held(one.samples.wave[kept], one.samples.full_scale))


@pytest.mark.parametrize("step_db", [0.0, 1.5, -6.0])
def test_a_gain_that_steps_is_told(step_db: float) -> None:
    """A receiver's automatic gain moves in the middle of the recording: how far is said; nothing where it stays."""
    one = forged(STATIONS, 98_100_000, seconds=1.0)
    assert isinstance(one.samples, Held)
    wave = one.samples.wave.copy()
    wave[len(wave) // 2 :] *= 10 ** (step_db / 20)
    notes = [note for note in fm_notes(replace(one, samples=Held(wave, one.samples.full_scale))) if "gain: " in note]
    assert len(notes) == (step_db != 0.0)
    for note in notes:
        assert float(re.findall(r"change by ([0-9.]+) dB", note)[0]) == pytest.approx(abs(step_db), abs=0.1)


def test_one_of_two_stations_that_fades_is_no_gain() -> None:
    """Two or three stations tell a gain only where each of them changes alike; of many the middle one does."""
    step, still = np.where(np.arange(20) < 10, 1.4, 0.6), np.ones(20)
    assert gain_note([step, step]) != []
    assert gain_note([step, still]) == []
    assert gain_note([step, step, still]) == []
    assert gain_note([step, step, step, still]) != []
    assert gain_note([step]) == []


def faded(seed: int, doppler_hz: float) -> np.ndarray:
    """Power of a Rayleigh-fading carrier in eighths of a second of four seconds: many paths of their own Doppler (textbook)."""
    rng, paths = np.random.default_rng(seed), 12
    height, hz = np.array([1, 1j]) @ rng.standard_normal((2, paths)), rng.normal(0.0, doppler_hz, paths)
    return np.abs(np.exp(2j * np.pi * np.arange(32)[:, None] / 8 * hz) @ height) ** 2


@pytest.mark.parametrize("doppler_hz", [0.02, 0.1, 0.5])
@pytest.mark.parametrize("stations", [4, 8, 30])
def test_stations_that_fade_each_by_itself_are_no_gain(doppler_hz: float, stations: int) -> None:
    """At night the median of independent fades swings by decibels; a gain that steps by as much as they do stands out of 30."""
    told = stepped = 0
    for seed in range(10):
        powers = [faded(1000 * seed + own, doppler_hz) for own in range(stations)]
        told += gain_note([one / one.mean() for one in powers]) != []
        powers = [one * np.where(np.arange(32) < 16, 1.0, 10**0.6) for one in powers]
        stepped += gain_note([one / one.mean() for one in powers]) != []
    assert told <= 1
    assert stepped == 10 or stations < 30


@pytest.mark.parametrize("stations", [4, 30])
def test_a_gains_step_by_day_is_told_of_many(stations: int) -> None:
    """2 dB in the middle, of which most stations show no more than a tenth of a decibel else, and the last one fades."""
    noise_db = np.random.default_rng(1).normal(0.0, 0.03, (stations - 1, 32))
    steady = 10 ** ((noise_db + np.where(np.arange(32) < 16, 0.0, 2.0)) / 10)
    assert gain_note([one / one.mean() for one in (*steady, faded(7, 0.1))]) != []


def test_lost_samples_are_told() -> None:
    """Every 20 ms some hundred samples are missing: no pilot is one line any more."""
    lost = np.random.default_rng(3)
    one = forged(STATIONS, 98_100_000, seconds=1.0)
    notes = fm_notes(without(one, [(start, int(lost.integers(100, 900))) for start in range(20_000, 2_400_000, 48_000)]))
    assert any("lost samples" in note for note in notes)


@pytest.mark.parametrize("gaps", [(), (0.3,), (0.5,), (0.35, 0.7)])
def test_pilots_keep_their_deviation_where_samples_are_lost(gaps: tuple[float, ...]) -> None:
    """A gap of 1.7 ms turns every pilot by 108 degrees, so that its line reads up to a third low: said, and each deviation is
    within 2 % and twice what is stated."""
    lost = [(int(at * 2.4e6), 4080) for at in gaps]
    stations = [*STATIONS[:3], FmStation(98_900_000, -44.0)]
    one = forged(stations, 98_100_000, seconds=1.0, receiver=Receiver(noise_dbfs_hz=-110.0))
    found = measure(without(one, lost), FM)
    assert any("lost samples" in note for note in found.notes) == bool(gaps)
    rows = found.readings.set_index("channel_hz")
    for station in stations:
        error_hz = abs(rows.loc[station.channel_hz, "pilot_dev_hz"] - 6750.0)
        assert error_hz < min(0.02 * 6750.0, 2.0 * rows.loc[station.channel_hz, "pilot_dev_sd_hz"] + 5.0)


@pytest.mark.parametrize("gaps", [(), (0.9,), (0.5, 1.3)])
def test_am_carriers_keep_their_level_where_samples_are_lost(gaps: tuple[float, ...]) -> None:
    """A gap of 1.37 ms turns every carrier by another angle (one of 2 s then reads up to 20 dB low): told; each level within
    three times what is stated, of those 15 dB over their noise within 0.5 dB; without a gap nothing is said."""
    stations = [AmStation(600_000 + 110_000 * number, -25.0 - 4.0 * number) for number in range(10)]
    one = forged(stations, 1_120_000, seconds=2.0)
    assert isinstance(one.samples, Held)
    kept = np.ones(len(one.samples), bool)
    for at in gaps:
        kept[int(at * one.rate_hz) : int((at + 1.37e-3) * one.rate_hz)] = False
    found = measure(replace(one, samples=Held(one.samples.wave[kept], one.samples.full_scale)), AM)
    assert any("lost samples" in note for note in found.notes) == bool(gaps)
    rows = found.readings.set_index("channel_hz")
    for station in stations:
        error_db = abs(rows.loc[station.channel_hz, "level_dbfs"] - station.level_dbfs)
        assert error_db < (0.5 if gaps else 0.1) or rows.loc[station.channel_hz, "snr_db"] < 15.0
        assert error_db < 3.0 * rows.loc[station.channel_hz, "level_sd_db"] + 0.03


def dial(off_hz: float = 0.0) -> list[AmStation]:
    """Ten AM stations, each within its 20 Hz, all moved by as much."""
    rng = np.random.default_rng(4)
    errors = rng.uniform(-15, 15, 10)
    return [AmStation(560_000 + 110_000 * n, -25.0 - 2 * n, carrier_error_hz=errors[n] + off_hz) for n in range(10)]


@pytest.mark.parametrize("off_hz", [-2_340.0, 410.0, 3_700.0])
def test_an_upconverters_error_is_found_from_the_raster(off_hz: float) -> None:
    """Carriers that all stand off the raster by as much: taken off, said, and each carrier is nearly where it was put.

    A quick look in bins of 25 Hz: within 40 Hz. What is left is common to all and is the survey's to find (survey/clock.py).
    """
    found = measure(forged(dial(off_hz), 1_120_000, seconds=1.0), AM)
    (note,) = [note for note in found.notes if "raster" in note]
    assert float(re.findall(r"stand ([-+0-9.]+) Hz", note)[0]) == pytest.approx(off_hz, abs=40)
    rows = found.readings.set_index("channel_hz")
    for station in dial():
        assert rows.loc[station.channel_hz, "carrier_error_hz"] == pytest.approx(station.carrier_error_hz, abs=40)


def test_lines_of_a_programme_do_not_move_the_raster() -> None:
    """Eighteen carriers on the raster and two tones at 7 kHz beside theirs: no upconverter's error."""
    carriers = [Spur(550_000.0 + 60_000.0 * number, -40.0) for number in range(18)]
    tones = [Spur(550_000.0 + 60_000.0 * number + 7_000.0, -41.0) for number in (3, 11)]
    assert not [note for note in measure(forged([*carriers, *tones], 1_120_000, seconds=0.5), AM).notes if "raster" in note]


@pytest.mark.parametrize(("spacing_hz", "told"), [(30_000, False), (60_000, False), (90_000, False), (60_150, True)])
def test_notes_of_stations_evenly_spaced_are_no_supply(spacing_hz: int, told: bool) -> None:
    """A note 1.4 kHz beside every third, sixth or ninth channel: lines off the raster, but of no comb's own spacing."""
    offset_hz = np.arange(-18_000, 18_000) * 25.0
    density = np.ones(len(offset_hz))
    density[np.searchsorted(offset_hz, np.arange(641_400, 1_390_000, spacing_hz) - 1_005_000.0 - 12.5)] = 1e3
    assert (find_off_raster(density, offset_hz, 1_005_000.0, AM, 440e3) is not None) == told


@pytest.mark.parametrize("spacing_hz", [19_979.2, 29_965.0])
def test_a_comb_near_the_rasters_multiples_is_no_upconverters_error(spacing_hz: float) -> None:
    """Lines of a switching supply alone, 20.8 and 35 Hz further off the raster from each to the next: none is taken off."""
    lines = [Spur(810_450.0 + spacing_hz * number, -45.0) for number in range(int(390e3 / spacing_hz))]
    notes = measure(forged(lines, 1_000_000, rate_hz=400e3, seconds=1.0), AM).notes
    assert not [note for note in notes if "raster" in note]
