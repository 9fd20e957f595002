"""Speed and memory of measuring against the floor: `python tests/bench/speed.py`, whose table goes into DEVELOPERS.md.

The floor is one conversion of the bytes to complex64 and one batched pass of scipy.fft over the samples, measured in the same
process between the runs, so that a slow minute of the machine slows both. CPU time, least of the rounds each: what else runs on
the machine only ever adds.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import scipy.fft

from bandscan import source
from bandscan.demo import AmStation, FmStation, Receiver, forge, quantise
from bandscan.dsp.rds import RdsSum
from bandscan.measure import measure
from bandscan.model import Capture
from bandscan.plans import BandPlan, plan_for

RATE_HZ = 2.4e6
ROWS, SIZE, HOP = 8, 24000, 23520
FM_CENTRE_HZ, AM_CENTRE_HZ = 97_000_000, 1_120_000
PIECE_S = 2.0


def floor_s(path: Path) -> float:
    """CPU seconds of the floor over a file of unsigned bytes."""
    data = np.memmap(path, np.uint8, "r")
    frames = np.empty((ROWS, SIZE), np.complex64)
    started = time.process_time()
    for first in range(0, len(data) // 2 - ROWS * HOP - SIZE, ROWS * HOP):
        view = np.lib.stride_tricks.as_strided(data[2 * first :], (ROWS, 2 * SIZE), (2 * HOP, 1))
        np.subtract(view, np.float32(127.5), out=frames.view(np.float32), dtype=np.float32)
        frames *= np.float32(1 / 127.5)
        scipy.fft.fft(frames, axis=-1, overwrite_x=True)
    return time.process_time() - started


def made(folder: Path, band: str, seconds: float, name: str = "") -> Path:
    """A recording of at least `seconds` with 9 stations of 10 channels (FM), or 30 of 117 (AM): a forged piece, repeated."""
    rng = np.random.default_rng(4)
    if band == "fm":
        channels = range(FM_CENTRE_HZ - 900_000, FM_CENTRE_HZ + 900_000, 200_000)
        stations = [FmStation(hz, float(rng.uniform(-45, -15)), pi=0xD000 + i, ps="BENCH") for i, hz in enumerate(channels)]
        centre_hz = FM_CENTRE_HZ
    else:
        picked = rng.choice(np.arange(540_000, 1_710_000, 10_000), 30, replace=False)
        stations = [AmStation(int(hz), float(rng.uniform(-65, -25))) for hz in picked]
        centre_hz = AM_CENTRE_HZ
    forged = forge(stations, Receiver(), centre_hz, RATE_HZ, PIECE_S, sum(name.encode()))
    piece = quantise(forged.samples, "cu8").tobytes()
    path = folder / f"{band}{name}.cu8"
    with path.open("wb") as out:
        for _ in range(max(1, round(seconds / PIECE_S))):
            out.write(piece)
    return path


def opened(path: Path, band: str) -> Capture:
    """The recording as bandscan reads it."""
    centre_hz = FM_CENTRE_HZ if band == "fm" else AM_CENTRE_HZ
    return source.read(path, source.RawFormat("cu8", RATE_HZ, centre_hz))[0]


class Eleven(BandPlan):
    """A plan of the eleven FM channels that the goal is stated for: the raster's ten that a recording covers, and one more."""

    @property
    def channels_hz(self) -> tuple[int, ...]:
        """The channels. [Hz]"""
        return tuple(sorted((*range(FM_CENTRE_HZ - 900_000, FM_CENTRE_HZ + 900_001, 200_000), FM_CENTRE_HZ)))


def plan_of(band: str) -> BandPlan:
    """All 117 channels of AM, eleven of FM."""
    plan = plan_for("us", band)
    return plan if band == "am" else Eleven(**vars(plan))


@dataclass
class Cost:
    """CPU seconds of the floor, of measuring, and of what of that is the data service's; the least of the rounds each."""

    floor_s: float = float("inf")
    whole_s: float = float("inf")
    without_identity_s: float = float("inf")


def cost_of(path: Path, band: str, rounds: int) -> Cost:
    """What measuring a recording costs. The data service's share is counted where it is called."""
    capture, plan, cost, spent = opened(path, band), plan_of(band), Cost(), [0.0]

    def counted(call: Callable[..., Any]) -> Callable[..., Any]:
        def timed(*given: Any) -> Any:
            started = time.process_time()
            try:
                return call(*given)
            finally:
                spent[0] += time.process_time() - started

        return timed

    RdsSum.add, RdsSum.result = counted(RdsSum.add), counted(RdsSum.result)  # type: ignore[method-assign]
    for _ in range(rounds + 1):
        cost.floor_s = min(cost.floor_s, floor_s(path))
        spent[0], started = 0.0, time.process_time()
        measure(capture, plan)
        whole = time.process_time() - started
        cost.whole_s, cost.without_identity_s = min(cost.whole_s, whole), min(cost.without_identity_s, whole - spent[0])
        cost.floor_s = min(cost.floor_s, floor_s(path))
    return cost


_PEAK = """
import pathlib, sys
from bandscan import source
from bandscan.measure import measure
from bandscan.plans import plan_for
raw = source.RawFormat("cu8", 2.4e6, float(sys.argv[3]))
measure(source.read(pathlib.Path(sys.argv[1]), raw)[0], plan_for("us", sys.argv[2]))
status = pathlib.Path("/proc/self/status").read_text()
print(int(status.split("VmHWM:")[1].split()[0]) / 1024)
"""


def peak_mb(path: Path, band: str) -> float:
    """Peak resident memory of a process that measures the recording, as Linux counts it. [MiB]"""
    done = subprocess.run(
        [sys.executable, "-c", _PEAK, str(path), band, str(FM_CENTRE_HZ if band == "fm" else AM_CENTRE_HZ)],
        check=True,
        capture_output=True,
        text=True,
    )
    return float(done.stdout)


def start_ratio(rounds: int) -> float:
    """Wall time of `bandscan --help` over a bare interpreter's start, best of the rounds each."""

    def best(*arguments: str) -> float:
        times = []
        for _ in range(rounds):
            started = time.perf_counter()
            subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
            times.append(time.perf_counter() - started)
        return min(times)

    return best("-m", "bandscan", "--help") / best("-c", "pass")


def workers_gain(folder: Path, rounds: int) -> float:
    """Wall time of a survey of eight recordings with one worker over that with two; of use only on a quiet machine."""
    paths = [str(made(folder, "fm", 20.0, f"-{number}")) for number in range(8)]

    def best(workers: int) -> float:
        times = []
        for _ in range(rounds):
            started = time.perf_counter()
            command = [
                sys.executable,
                "-m",
                "bandscan",
                "survey",
                *paths,
                "--workers",
                str(workers),
                "--out",
                str(folder / "out"),
            ]
            command += ["--format", "cu8", "--rate", str(RATE_HZ), "--centre", str(FM_CENTRE_HZ)]
            done = subprocess.run(command, check=False, capture_output=True, text=True)
            if done.returncode:
                sys.exit(done.stderr)
            times.append(time.perf_counter() - started)
        return min(times)

    return best(1) / best(2)


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0, help="length of a recording")
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--no-workers", dest="workers", action="store_false", help="leave out what needs a quiet machine")
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        print("| what | measured | goal |\n|---|---|---|")
        for band in ("fm", "am"):
            path = made(folder, band, told.seconds)
            cost = cost_of(path, band, told.rounds)
            length_s = opened(path, band).duration_s
            goals = {"without the data service": (cost.without_identity_s, 6.5), "with it": (cost.whole_s, 7.5)}
            if band == "am":
                goals = {"117 channels, 30 stations": (cost.whole_s, 3.0)}
            for what, (seconds, goal) in goals.items():
                real = f"{1e3 * seconds / length_s:.0f} ms/s, {length_s / seconds:.0f} x real time"
                print(f"| {band.upper()} over the floor, {what} | {seconds / cost.floor_s:.2f} ({real}) | {goal} |", flush=True)
            print(f"| {band.upper()} peak resident memory | {peak_mb(path, band):.0f} MiB | 250 |", flush=True)
        print(f"| `bandscan --help` over a bare start | {start_ratio(told.rounds):.1f} | 4 |", flush=True)
        if told.workers:
            gain = workers_gain(folder, 2)
            print(f"| `--workers 2` over one, eight recordings of 20 s ({os.cpu_count()} cores) | {gain:.2f} | 1.6 |")


if __name__ == "__main__":
    main()
