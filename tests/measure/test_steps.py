"""Recordings of hardly a step: what rounding does to levels, and what the user is told."""

from __future__ import annotations

import numpy as np
import pytest
from measure.made import capture

from bandscan.demo import AmStation, FmStation, Receiver, forge
from bandscan.measure import measure
from bandscan.measure.steps import among_carriers_db, coarse_note, doubt_db, swing
from bandscan.plans import plan_for
from bandscan.survey.holds import decide


@pytest.mark.parametrize("steps", [0.3, 0.4, 0.5])
def test_the_doubt_is_what_rounding_does_to_a_weak_signals_gain(steps: float) -> None:
    """Noise of so many steps around any mean, rounded: the gain of a weak signal in it, by regression (B. Widrow 1956)."""
    dice = np.random.default_rng(1)
    noise = steps * dice.standard_normal(400_000)
    weak = 0.2 * np.sin(np.arange(400_000))
    gains = [
        (np.rint(noise + weak + mean) - noise - mean) @ weak / (weak @ weak) for mean in np.linspace(0, 1, 24, endpoint=False)
    ]
    spread_db = float(np.std(8.686 * (np.array(gains) - 1.0)))
    assert doubt_db(steps) == pytest.approx(spread_db, rel=0.35, abs=0.15)


@pytest.mark.parametrize("amplitudes", [(2.3,), (5.1,), (9.0,), (2.2, 3.4)])
def test_the_doubt_among_carriers_is_what_rounding_does_to_levels(amplitudes: tuple[float, ...]) -> None:
    """Carriers of steady envelope within half a step of these, rounded, around any mean: their own gain, and that of a weak one
    beside them, by regression. The spread is as stated within a factor of two (the Bessel functions' envelope is meant for
    all amplitudes alike)."""
    dice = np.random.default_rng(4)
    phases = 2 * np.pi * dice.random((len(amplitudes) + 1, 100_000))
    parts = np.cos(phases)
    own, weak = [], []
    for shift in np.linspace(-0.5, 0.5, 11):
        sizes = np.array([*(one + shift for one in amplitudes), 0.1])
        for mean in (0.0, 0.25, 0.5, 0.75):
            rounded = np.rint(sizes @ parts + mean) - mean
            gains = rounded @ parts.T / np.einsum("ij,ij->i", parts, parts) / sizes
            own.append(8.686 * (gains[0] - 1.0))
            weak.append(8.686 * (gains[-1] - 1.0))
    stated, of_carriers = among_carriers_db(np.array(amplitudes), 0.0)
    assert 0.5 < float(np.std(weak)) / stated < 2.0
    assert 0.5 < float(np.std(own)) / float(of_carriers[0]) < 2.0
    quieter, _ = among_carriers_db(np.array(amplitudes), 0.4)
    assert quieter == pytest.approx(stated * np.exp(-2 * np.pi**2 * 0.16))


def test_levels_under_one_strong_station_of_few_steps_are_less_sure() -> None:
    """A strong station swings over three steps, the noise over a fifth of one: said, and each figure is within what is stated;
    with 20 dB more gain nothing is said."""
    stations = [FmStation(98_100_000, -20.0), FmStation(97_500_000, -42.0), FmStation(98_700_000, -47.0)]
    one = forge(stations, Receiver(noise_dbfs_hz=-106.0), 98_000_000, 2.4e6, 0.5, 3)
    for gain_db, told in ((-13.0, True), (7.0, False)):
        found = measure(capture(one.samples * 10 ** (gain_db / 20), 2.4e6, 98_000_000), plan_for("us", "fm"))
        assert any("a part of one step" in note for note in found.notes) is told
        rows = found.readings.set_index("channel_hz")
        for station in stations:
            row = rows.loc[station.channel_hz]
            assert abs(row["level_dbfs"] - station.level_dbfs - gain_db) < 2.5 * row["level_sd_db"] + 0.02
            assert bool(row["noise_sd_db"] > 0.1) is told


@pytest.mark.parametrize(
    ("peak_steps", "noise_dbfs_hz", "told"), [(2.0, -125.0, True), (2.0, -118.0, True), (20.0, -105.0, False)]
)
def test_what_rounding_makes_of_am_carriers_is_no_station(peak_steps: float, noise_dbfs_hz: float, told: bool) -> None:
    """A dial that swings over two steps over next to no noise, as a direct-sampling converter without gain may: lines
    of the rounding's sawtooth, at most a step over pi (Fourier series, textbook), are `unsure`, each level within what is
    stated. With gain, and the noise that comes with it, nothing is said."""
    dice = np.random.default_rng(12)
    channels = [int(hz) for hz in dice.permutation(np.arange(560_000, 1_650_001, 40_000))[:12]]
    stations = [
        AmStation(hz, -20.0 - 2.0 * rank, "speech", depth=0.8, carrier_error_hz=float(dice.uniform(-10, 10)))
        for rank, hz in enumerate(channels)
    ]
    one = forge(stations, Receiver(noise_dbfs_hz=-160.0), 1_115_000, 2.4e6, 2.0, 3)
    gain = peak_steps / 127.5 / np.abs(one.samples).max()
    noise = dice.standard_normal((len(one.samples), 2)) @ np.array([1.0, 1j]) * np.sqrt(10 ** (noise_dbfs_hz / 10) * 1.2e6)
    found = measure(capture(one.samples * gain + noise, 2.4e6, 1_115_000), plan_for("us", "am"))
    assert any("more gain" in note for note in found.notes) is told
    held = decide([found]).set_index("channel_hz")
    assert set(held.index[held["holds"] == "station"]) <= set(channels)
    assert (held["remarks"].fillna("").str.contains("within-rounding") & (held["holds"] == "unsure")).any() == told
    rows = found.readings.set_index("channel_hz")
    for station in stations[:4]:
        row = rows.loc[station.channel_hz]
        assert abs(row["level_dbfs"] - station.level_dbfs - 20 * np.log10(gain)) < 2.5 * row["level_sd_db"] + 0.02


@pytest.mark.parametrize(("gain_db", "told"), [(-14.0, True), (-10.0, True), (0.0, False), (20.0, False)])
def test_a_recording_of_too_little_gain_says_so_and_is_less_sure(gain_db: float, told: bool) -> None:
    """The demo's noise, -38 dBFS, is 1.1 steps of eight bits: 10 dB less gain leaves a third of one."""
    one = forge([FmStation(98_100_000, -44.0)], Receiver(), 98_000_000, 2.4e6, 0.5, 3)
    wave = one.samples * 10 ** (gain_db / 20)
    found = measure(capture(wave, 2.4e6, 98_000_000), plan_for("us", "fm"))
    assert any("more gain" in note for note in found.notes) is told
    assert not any("strong stations" in note for note in found.notes)  # there is none of 10 dB
    row = found.readings.set_index("channel_hz").loc[98_100_000]
    if told:
        assert row["noise_sd_db"] > 0.1
        assert row["level_sd_db"] > 0.1
    else:
        assert row["level_sd_db"] < 0.1
    exact = measure(capture(wave, 2.4e6, 98_000_000, encoding="cf32"), plan_for("us", "fm"))
    assert not any("more gain" in note for note in exact.notes)


@pytest.mark.parametrize("steps", [0.25, 0.4, 0.7, 1.5])
def test_steps_are_read_from_the_values_and_not_from_the_format(steps: float) -> None:
    """Eight bits with or without a code for zero, or kept in a wider format or as floats: the deviation before rounding."""
    dice = np.random.default_rng(2)
    noise = steps * dice.standard_normal(50_000)
    for codes in (np.rint(noise), np.rint(noise + 0.2) - 0.5, np.rint(noise - 0.4)):
        for step in (1 / 127.5, 2.0**-7, 256 / 32768):
            assert swing((codes * step).astype(np.float32)) == pytest.approx(steps, rel=0.08)


def test_many_values_are_no_steps_and_two_tell_nothing() -> None:
    """Samples that take two values only may be anything below a step; floats have no steps."""
    dice = np.random.default_rng(2)
    assert swing(dice.standard_normal(50_000).astype(np.float32)) == float("inf")
    assert swing(np.sign(dice.standard_normal(1000)).astype(np.float32)) == 0.0
    assert swing(np.zeros(100, np.float32)) == 0.0
    assert coarse_note(float("inf")) == []
    assert doubt_db(float("inf")) == 0.0
    assert doubt_db(0.0) == 6.0


def test_a_silent_beginning_does_not_speak_for_a_recording() -> None:
    """A dongle's first samples may be all alike: what comes after them is linear, and nothing is said."""
    one = forge([FmStation(98_100_000, -44.0)], Receiver(), 98_000_000, 2.4e6, 0.6, 3)
    wave = one.samples.copy()
    wave[:240_000] = 0
    found = measure(capture(wave, 2.4e6, 98_000_000), plan_for("us", "fm"))
    assert not any("more gain" in note for note in found.notes)
