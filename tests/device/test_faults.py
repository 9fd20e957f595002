"""Each way in which a dongle or its driver fails, through the command line: the sentence, the exit status, and what is kept.

The meaning of the driver's codes is libusb's (`libusb_error`); the causes are common practice.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from device.conftest import Bench
from device.standin import ALWAYS

from bandscan.errors import LogError
from bandscan.pipeline import Order, Step, capture, load_shop, make_shop
from bandscan.pipeline.capturing_watch import Watch
from bandscan.source import read
from bandscan.store import Log


@pytest.mark.parametrize(
    ("order", "said"),
    [
        ("count {} 0", "dongle: no RTL2832U dongle found; plug it in; Linux's `lsusb` then shows 0bda:2832 or 0bda:2838"),
        ("strings {} -3", "dongle: no permission to open it (driver's code -3); on Linux let your user open it"),
        ("open {} -3", "dongle: no permission to open it (driver's code -3); on Linux let your user open it"),
        ("open {} -6", "dongle: it is in use by another program or by the system's television driver (driver's code -6)"),
        ("open {} -12", "dongle: the system's driver for it is not WinUSB (driver's code -12); on Windows install"),
        ("open {} -5", "dongle: it is there, but with a wrong driver or none (driver's code -5)"),
        ("open {} -4", "dongle: it was unplugged while it was opened (driver's code -4)"),
        (
            "open {} -1",
            "dongle: it is there and cannot be opened (driver's code -1); unplug it and plug it in again at another port",
        ),
        ("bias {} -1", "dongle: it does not switch the voltage on its antenna lead off (driver's code -1)"),
    ],
)
def test_a_dongle_that_cannot_be_opened(bench: Bench, order: str, said: str) -> None:
    """One line that says what, why and what to do; exit status 3; no journal of something that never began."""
    bench.stand_in.order(order.format(ALWAYS))
    assert bench.capture() == 3
    assert said in bench.err
    assert bench.err.count("bandscan: ") == 1
    assert not list(bench.shop.captures.iterdir())


STEPS = 13  # of one pass over region us at 2.4 MS/s
ONE_PASS = "--quick --keep iq --dwell 0.12"


def test_a_dongle_that_is_pulled_out_and_plugged_in_again(bench: Bench) -> None:
    """What was measured before is whole and in the log, and --resume does the rest and no step twice."""
    bench.stand_in.order("lose 5 99 0")
    assert bench.capture(ONE_PASS) == 3
    assert "bandscan: FM pass 1 step 5 of 13 (95.0 MHz): the dongle is lost: unplugged, or its port lost power" in bench.err
    assert "note: 4 of 13 steps are measured and kept; to go on run: bandscan capture --resume" in bench.err
    assert len(bench.recordings()) == len(bench.logged()) == 4
    assert len(list(bench.shop.captures.glob("*.journal"))) == 1

    bench.stand_in.order()
    assert bench.type("capture --resume") == 0
    assert "note: 4 of 13 steps are done already" in bench.err
    assert len(bench.recordings()) == len(bench.logged()) == STEPS
    assert not list(bench.shop.captures.glob("*.journal"))
    assert bench.stand_in.calls().count("read 262144") == STEPS + 1
    assert bench.stand_in.is_free


def test_what_goes_by_is_tried_again(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A failure of one moment costs that moment: it is said, the step is had again, and the survey is whole."""
    monkeypatch.setattr("bandscan.pipeline.capturing.ANSWER_S", 4.0)
    bench.stand_in.order("break 2 2 -9", "crash 4 4 0", "unlock 6 6 0", "short 8 8 512", "gain 10 10 100", "stall 12 12 0")
    assert bench.capture(ONE_PASS) == 0
    assert re.findall(r"note: FM pass 1 step (\d+) of 13 \([\d.]+ MHz\): (.*); tried again", bench.err) == [
        ("2", "its endpoint is halted (driver's code -9)"),
        ("3", "the driver's process ended by itself (signal 11; Found Rafael Micro R820T tuner)"),
        ("4", "the tuner does not lock"),
        ("5", "samples were lost on their way"),
        ("6", "the tuner's gain is 10.0 dB where 28.0 dB was set"),
        ("7", "it does not answer (asked to give samples: no answer in 4 s)"),
    ]
    assert len(bench.recordings()) == len(bench.logged()) == STEPS
    assert {seconds for _, seconds in bench.logged()} == {288000 / 2.4e6}


@pytest.mark.parametrize(
    ("line", "order", "pace", "said"),
    [
        (
            "--band fm --gain 28 --dwell 0.2",
            "stale 8 8 200000",
            "0",
            "FM pass 1 step 8 of 13 (99.8 MHz): samples of the step before",
        ),
        ("--band am --direct q --dwell 0.9", "drop 1 1 0.3", "1", "AM pass 1 step 1 of 1 (915 kHz): samples were lost"),
    ],
)
def test_what_only_the_samples_tell(
    bench: Bench, air: Path, monkeypatch: pytest.MonkeyPatch, line: str, order: str, pace: str, said: str
) -> None:
    """Samples of the step before, and samples that nobody heard though every transfer was whole: the step is had again, and
    nothing that is kept or logged bears a mark of it."""
    monkeypatch.setenv("STANDIN_BAND", str(air))
    monkeypatch.setenv("STANDIN_PACE", pace)
    bench.stand_in.order(order)
    assert bench.type(f"capture {line} --quick --settle 20 --keep iq --out pages") == 0
    assert f"note: {said}" in bench.err
    assert bench.err.count("tried again") == 1
    assert len(bench.recordings()) == len(bench.logged()) == (STEPS if "fm" in line else 1)
    rows = (bench.shop.folder / "pages" / "survey.csv").read_text()
    assert "stale-start" not in rows
    assert "lost-samples" not in rows


@pytest.mark.parametrize(
    ("code", "said"),
    [
        (-1, "it does not give samples (driver's code -1); unplug it and plug it in again"),
        (-5, "the stream of samples was cut off (driver's code -5); unplug it and plug it in again, without a hub"),
        (-7, "it does not answer (driver's code -7); unplug it and plug it in again, without a hub"),
        (-8, "a read of a length that the driver does not take (driver's code -8); report this: it is a defect of bandscan"),
        (-9, "its endpoint is halted (driver's code -9); unplug it and plug it in again; some need the computer switched off"),
        (0, "the stream of samples was cut off (driver's code -5); unplug it and plug it in again, without a hub"),
    ],
)
def test_a_stream_that_breaks_every_time(bench: Bench, code: int, said: str) -> None:
    """After three tries the driver's code is told in its sentence, with exit status 3; what came before is kept."""
    bench.stand_in.order(f"break 3 99 {code}")
    assert bench.capture(ONE_PASS) == 3
    assert f"bandscan: FM pass 1 step 3 of 13 (91.8 MHz): {said}" in bench.err
    assert bench.err.count("tried again") == 2
    assert len(bench.recordings()) == len(bench.logged()) == 2
    assert bench.stand_in.calls()[-2:] == ["bias 0", "close"]
    assert bench.stand_in.is_free


def test_a_driver_that_crashes_every_time(bench: Bench) -> None:
    """After three tries it is given up, in a sentence and not a core dump; what came before is kept."""
    bench.stand_in.order("crash 2 99 0")
    assert bench.capture("--quick") == 3
    assert "bandscan: FM pass 1 step 2 of 13 (90.2 MHz): the driver's process ended by itself (signal 11" in bench.err
    assert "Traceback" not in bench.err
    assert len(bench.logged()) == 1


def test_steps_that_cannot_be_had_and_steps_with_a_flaw(bench: Bench) -> None:
    """Where the tuner never locks a step is left out, with a line and exit status 3; one whose samples were lost each time is
    taken and marked; the others are surveyed, and the survey says what it lacks."""
    bench.stand_in.order("unlock 3 5 0", "short 8 10 512")
    assert bench.capture("--quick --keep iq --out pages") == 3
    assert "bandscan: FM pass 1 step 3 of 13 (91.8 MHz): the tuner does not lock; left out; let the dongle cool" in bench.err
    assert len(bench.recordings()) == len(bench.logged()) == STEPS - 1
    # 91.1 and 92.5 lie within the neighbours' edges
    assert "not covered: 91.3-92.3 MHz" in " ".join(bench.out.split())
    assert not list(bench.shop.captures.glob("*.journal"))
    rows = (bench.shop.folder / "pages" / "survey.csv").read_text().splitlines()
    assert {row.split(",")[0][-11:] for row in rows if "lost-samples" in row} == {"006-096600k"}
    kept = next(path for path in bench.recordings() if "-006-" in path.name)
    assert '"bandscan:remarks": "lost-samples"' in kept.read_text()


def test_a_gain_that_is_never_as_asked(bench: Bench) -> None:
    """Levels at a gain nobody knows would not compare: the capture ends there."""
    bench.stand_in.order("gain 3 99 100")
    assert bench.capture("--quick") == 3
    assert "step 3 of 13 (91.8 MHz): the tuner's gain is 10.0 dB where 28.0 dB was set; unplug the dongle" in bench.err
    assert len(bench.logged()) == 2


def test_overload(bench: Bench) -> None:
    """Samples at full scale are named in the survey, and nothing in it is called a station."""
    bench.stand_in.order(f"clip {ALWAYS} 40")
    assert bench.capture("--quick") == 0
    assert "of the samples at full scale, levels and weak stations are doubtful; lower the gain" in " ".join(bench.out.split())


def test_a_full_disk(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """No half recording is left; what was whole before is in the log, and --resume goes on when there is room again."""
    import errno
    import os

    real, written = os.fsync, []

    def full(number: int) -> None:
        written.append(number)
        if len(written) == 5:  # the first is the journal's
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(number)

    monkeypatch.setattr(os, "fsync", full)
    assert bench.capture(ONE_PASS) == 3
    assert "cannot be written: No space left on device; check the folder and the disk" in bench.err
    assert len(bench.recordings()) == len(bench.logged()) == 3
    left = [path.name for path in bench.shop.captures.glob("*/*") if not path.name.endswith((".sigmf-meta", ".sigmf-data"))]
    assert left == []
    assert bench.type("capture --resume") == 0
    assert len(bench.recordings()) == len(bench.logged()) == STEPS


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 62 MB: what a capture keeps free, and some more. Needs root and mount."""
    folder = tmp_path / "disk"
    folder.mkdir()
    line = ["mount", "-t", "tmpfs", "-o", "size=62m", "tmpfs", str(folder)]
    if shutil.which("mount") is None or subprocess.run(line, capture_output=True, check=False).returncode != 0:
        pytest.skip("a small file system cannot be mounted here")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


@pytest.mark.parametrize("keep", ["iq", "none"])
def test_a_disk_that_somebody_else_fills(bench: Bench, small_disk: Path, keep: str) -> None:
    """In the middle of a capture no byte is left on a real file system: said so, nothing half, nothing lost; with room again
    --resume does the rest."""
    make_shop(small_disk / "shop")
    shop, filler = load_shop(small_disk / "shop"), small_disk / "filler"
    names: list[str] = []

    def fill(step: Step) -> None:
        names.append(str(step.dwell.number))
        if step.dwell.number == 4:
            with filler.open("wb", buffering=0) as file:
                for size in (100_000, 1000, 1):  # to the last byte
                    try:
                        while True:
                            file.write(bytes(size))
                    except OSError:
                        continue

    done = capture(Order("fm", gain="28", quick=True, keep=keep, dwell_s=0.12, settle_s=0.0), shop=shop, progress=fill)
    assert done.errors
    assert all(re.search(r"disk is full|No space left on device", str(error)) for error in done.errors)
    filler.unlink()
    whole = sorted(shop.captures.glob("*/*.sigmf-meta"))
    for path in whole:
        assert read(path)[0].notes == ()
    assert {path.suffix for path in shop.captures.glob("*/*")} <= {".sigmf-meta", ".sigmf-data"}
    assert 4 <= len(names) < STEPS
    # the step in hand and no other
    again: list[int] = []
    whole_survey = capture(Order(""), shop=shop, resume=True, progress=lambda step: again.append(step.dwell.number))
    assert not whole_survey.errors
    assert again[0] in (len(names), len(names) + 1)
    assert again[-1] == STEPS
    assert len(list(shop.captures.glob("*/*.sigmf-meta"))) == (STEPS if keep == "iq" else 0)


def test_a_clock_that_is_set_under_way(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A clock that jumps within a capture is told with the step it happened at."""
    offsets = iter([0.0] * 5 + [3600.0] * 30)
    steady = iter(range(100))
    monkeypatch.setattr(
        "bandscan.pipeline.capturing_run.Watch", lambda: Watch(lambda: float(next(offsets)), lambda: 0.0 * next(steady))
    )
    assert bench.capture("--quick") == 0
    assert bench.err.count("the clock jumped by +3600 s (it was set, or the computer slept)") == 1
    assert "note: FM pass 1 step 5 of 13 (95.0 MHz): the clock jumped" in bench.err


def test_a_log_that_cannot_be_written_any_more(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The capture ends with the log's line; what was logged stays, and --resume goes on when the log can be written."""
    real, kept = Log.keep_measured, []

    def keep(self: Log, *told: object, **more: object) -> None:
        kept.append(told)
        if len(kept) == 4:
            raise LogError("the disk is full; what was logged before is kept", where="log.sqlite")
        real(self, *told, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Log, "keep_measured", keep)
    assert bench.capture("--quick") == 3
    assert bench.err.count("bandscan: log.sqlite: the disk is full; what was logged before is kept") == 1
    assert len(bench.logged()) == 3
    assert bench.type("capture --resume") == 0
    assert len(bench.logged()) == STEPS


def test_no_room_is_said_before_the_start(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A capture that keeps IQ and will not fit is not begun."""
    import shutil
    from collections import namedtuple

    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage(10**9, 10**9 - 10**6, 10**6))
    assert bench.capture(ONE_PASS) == 3
    assert "0.00 GB are free and 0.06 GB are needed; free some space, set keep_gb in shop.toml" in bench.err
    assert bench.logged() == []


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ("--gain auto", "an automatic gain makes levels of two moments incomparable; accepted: --gain 28.0, or --gain choose"),
        ("--gain loud", "--gain loud; accepted: a number of dB from 0 to 60, or choose"),
        ("--rate 400k", "a rate of 400000 S/s; accepted: 225001 to 300000 or 900001 to 3200000 S/s"),
        ("--rate 250k", "a rate of 250000 S/s holds no two channels; accepted: 1.2M or more"),
        ("--passes 0", "--passes 0; accepted: 1 to 1000"),
        ("--dwell 0", "--dwell 0; accepted: 0.05 to 13 seconds"),
        ("--settle -1", "--settle -1; accepted: 0 to 5000 milliseconds"),
        ("--ppm 1000", "--ppm 1000; accepted: whole numbers from -200 to 200"),
        ("--direct q", "--direct and --upconverter are for AM"),
        ("--until 18:00", "--until goes with --every; accepted: --every 30m --until 18:00"),
        ("--every soon", "--every soon; accepted: 30m, 1h, 1h30m, 90s"),
        ("--every 30m --until noon", "--until noon; accepted: 18:00, or 2026-03-14T18:00"),
        ("--every 30m --resume", "--resume takes up one capture"),
    ],
)
def test_wrong_options(bench: Bench, options: str, said: str) -> None:
    """A wrong command line is told before the dongle is touched; exit status 2."""
    assert bench.type(f"capture --band fm {options}") == 2
    assert bench.err.startswith(f"bandscan capture: {said}")
    assert bench.stand_in.calls() == []


def test_the_demos_shop_takes_no_captures(bench: Bench) -> None:
    """Received signals do not come beside made ones."""
    settings = bench.shop.folder / "shop.toml"
    settings.write_text(settings.read_text().replace("region =", "demo = true\nregion =", 1))
    assert bench.capture("--quick") == 2
    assert "this is the demo's shop, which takes forged recordings only; make one: `bandscan setup DIR`" in bench.err


def test_nothing_to_take_up(bench: Bench) -> None:
    """--resume without a capture that was stopped says so."""
    assert bench.type("capture --resume") == 3
    assert "there is no capture that was stopped; begin one: bandscan capture --band fm" in bench.err
    assert bench.type("capture") == 2
    assert "capture needs a band" in bench.err
