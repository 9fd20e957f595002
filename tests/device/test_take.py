"""One dwell at a time through the real binding: what the driver is told, and what is noticed of what it gives."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from device.standin import ALWAYS, StandIn

from bandscan.errors import DeviceError
from bandscan.source.dongle_take import Dongle, Setting, StepError

RATE_HZ = 2_400_000
STEP_HZ = 98_200_000


def test_what_the_driver_is_told(stand_in: StandIn) -> None:
    """Antenna voltage off first and last, automatic gains off, the gain fixed after each tuning, buffers reset before each
    stream; nothing that is set already is set again."""
    with Dongle(Setting(RATE_HZ)) as dongle:
        dongle.take(STEP_HZ, 28.0, 0.05)
        dongle.take(99_800_000, 19.7, 0.05)
    assert stand_in.calls() == [
        # the binding's own opening, `manual 0` is an automatic gain; then ours
        *("open 0", "reset", "rate 1024000", "centre 80000000", "manual 0"),
        *("bias 0", "agc 0", "rate 2400000"),
        *("centre 98200000", "manual 1", "gain 280", "reset", "read 262144", "cancel", "stopped"),
        *("centre 99800000", "manual 1", "gain 197", "reset", "read 262144", "cancel", "stopped"),
        *("bias 0", "close"),
    ]


def test_direct_sampling_comes_before_the_frequency_and_knows_no_gain(stand_in: StandIn) -> None:
    """Direct sampling is set once, before the rate and the centre; a clock's correction is set once."""
    with Dongle(Setting(RATE_HZ, direct="q", ppm=57)) as dongle:
        assert dongle.take(915_000, None, 0.05).gain_db is None
    told = stand_in.calls()
    assert told[5:10] == ["bias 0", "direct 2", "agc 0", "rate 2400000", "ppm 57"]
    assert told[10:] == ["centre 915000", "reset", "read 262144", "cancel", "stopped", "bias 0", "close"]


@pytest.mark.parametrize("code", [-4, -5, -1, 0])
def test_a_dongle_that_is_pulled_out(stand_in: StandIn, code: int) -> None:
    """Whatever code the driver ends the stream with, a device that is gone is lost, and not tried again."""
    stand_in.order(f"lose 2 99 {code}")
    with Dongle(Setting(RATE_HZ)) as dongle:
        dongle.take(STEP_HZ, 28.0, 0.15)
        with pytest.raises(DeviceError, match="the dongle is lost: unplugged, or its port lost power; plug it in"):
            dongle.take(STEP_HZ, 28.0, 0.15)
    assert stand_in.calls().count("read 262144") == 2
    assert stand_in.is_free


def test_a_stream_whose_end_is_told_as_an_error_is_whole(stand_in: StandIn) -> None:
    """A driver that gives the code of its own cancelled transfers is no fault: all samples came, and it stays open."""
    stand_in.order(f"cancelled {ALWAYS} -5")
    with Dongle(Setting(RATE_HZ)) as dongle:
        for _ in range(2):
            assert len(dongle.take(STEP_HZ, 28.0, 0.15).stored) == 2 * 359936
    assert stand_in.calls().count("open 0") == 1


def test_samples_are_those_that_were_played(stand_in: StandIn, monkeypatch: pytest.MonkeyPatch) -> None:
    """A dwell is one unbroken stream without what was thrown away: sample for sample what the stand-in has."""
    count = 600_000
    ramp = (np.arange(2 * count) % 251 - 125).astype("<i2") * 200
    (stand_in.folder / "band").mkdir()
    (stand_in.folder / "band" / f"{STEP_HZ}_280.ci16").write_bytes(ramp.tobytes())
    monkeypatch.setenv("STANDIN_BAND", str(stand_in.folder / "band"))
    with Dongle(Setting(RATE_HZ, settle_s=0.05)) as dongle:
        stored = np.frombuffer(dongle.take(STEP_HZ, 28.0, 0.15).stored, np.uint8)
    skipped = 120_064  # 0.05 s in whole packets of 256 samples
    expected = np.rint(127.5 * (ramp[2 * skipped : 2 * (skipped + 359_936)].astype(np.float32) / 32768) + 127.5)
    np.testing.assert_array_equal(stored, expected.astype(np.uint8))


def test_samples_of_the_step_before_are_recognised(stand_in: StandIn, air: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A step that begins with samples of the one before is had again with a longer wait; at the last try it is marked."""
    monkeypatch.setenv("STANDIN_BAND", str(air))
    said: list[str] = []
    with Dongle(Setting(RATE_HZ, settle_s=0.05), said.append) as dongle:
        dongle.take(98_200_000, 28.0, 0.2)
        assert dongle.take(99_800_000, 28.0, 0.2).remarks == ()
        assert said == []
        stand_in.order("stale 3 3 200000")
        assert dongle.take(98_200_000, 28.0, 0.2, "here").remarks == ()
        assert said == ["here: samples of the step before came first; tried again"]
    with Dongle(Setting(RATE_HZ, settle_s=0.0), said.append) as dongle:
        dongle.take(98_200_000, 28.0, 0.2)
        stand_in.order(f"stale {ALWAYS} 1000000")
        assert dongle.take(99_800_000, 28.0, 0.5).remarks == ("stale-start",)


def test_samples_that_nobody_heard_are_noticed(stand_in: StandIn, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stream that comes a tenth of a second late in the middle has lost that much, though every transfer is whole."""
    monkeypatch.setenv("STANDIN_PACE", "1")
    said: list[str] = []
    stand_in.order("drop 1 1 0.3")
    with Dongle(Setting(RATE_HZ, settle_s=0.0), said.append) as dongle:
        assert dongle.take(STEP_HZ, 28.0, 0.9, "here").remarks == ()
    assert said == ["here: samples were lost on their way; tried again"]


def test_a_step_that_is_not_to_be_had(stand_in: StandIn) -> None:
    """A tuner that does not lock three times fails this step alone; the next one is had."""
    stand_in.order("unlock 1 3 0")
    with Dongle(Setting(RATE_HZ)) as dongle:
        with pytest.raises(StepError, match="there: the tuner does not lock; left out"):
            dongle.take(STEP_HZ, 28.0, 0.05, "there")
        dongle.take(STEP_HZ, 28.0, 0.05)


def test_which_of_two_dongles(stand_in: StandIn, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of several the one that is named is taken; else their serial numbers are told."""
    monkeypatch.setenv("STANDIN_SERIALS", "00000001,BENCH2")
    with Dongle(Setting(RATE_HZ, "BENCH2")) as dongle:
        dongle.open()
        assert dongle.name == "RTL2832U with R820T, serial BENCH2"
        with pytest.raises(DeviceError, match=r"in use by another program .* close the other program"):
            Dongle(Setting(RATE_HZ, "BENCH2")).open()
    assert "open 1" in stand_in.calls()
    both = "accepted: serial numbers 00000001, BENCH2; name one with --serial, or as `receiver` in shop.toml"
    with pytest.raises(DeviceError, match=f"2 dongles are plugged in; {both}"):
        Dongle(Setting(RATE_HZ)).open()
    with pytest.raises(DeviceError, match=f"no dongle with serial number OTHER; {both}"):
        Dongle(Setting(RATE_HZ, "OTHER")).open()


def test_a_rate_that_the_driver_refuses(stand_in: StandIn) -> None:
    """The driver's own refusal of a rate names those that it takes."""
    with pytest.raises(
        DeviceError, match=r"refuses the sample rate \(driver's code -22\); choose another with --rate: 225001-300000"
    ):
        Dongle(Setting(500_000)).open()
