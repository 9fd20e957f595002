"""How surely the same programme on two channels is found, and how seldom wrongly. Not part of the test run:

    python tests/bench/relays.py [--each N] [--bands N]

Found: a forged parent 40 dB over the noise and its relay, moved to another channel, later and weaker,
through the whole FM pass. Wrong: bands of ten stations with ten programmes.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from measure.made import capture, read
from measure.test_relays import CENTRE_HZ, PARENT, RATE_HZ, RELAY, relayed

from bandscan.demo import FmStation, Receiver, forge
from bandscan.plans import same_programme_hz


def found(seconds: float, snr_db: float, kind: str, each: int) -> float:
    """Share of the recordings in which the relay and nobody else is named on the parent's row."""
    right = 0
    for seed in range(each):
        delay_s = float(np.random.default_rng(seed).uniform(0.0, 0.3 * seconds))
        made = relayed(snr_db, seconds=seconds, delay_s=delay_s, kind=kind, seed=seed)
        remarks = read(capture(made, RATE_HZ, CENTRE_HZ))["remarks"]
        right += same_programme_hz(remarks[PARENT], "fm") == (RELAY,)
    return right / each


def wrong(bands: int, first: int) -> tuple[int, int]:
    """Pairs of stations compared, and how many of them were named."""
    dice = np.random.default_rng(first)
    channels = range(97_100_000, 99_000_000, 200_000)
    named = 0
    for seed in range(first, first + bands):
        stations = [
            FmStation(hz, float(dice.uniform(-45, -25)), str(dice.choice(["speech", "music", "tone"]))) for hz in channels
        ]
        made = forge(stations, Receiver(), CENTRE_HZ, RATE_HZ, 1.0, seed)
        remarks = read(capture(made.samples, RATE_HZ, CENTRE_HZ))["remarks"]
        named += sum(len(same_programme_hz(text, "fm")) for text in remarks) // 2
    return bands * 45, named


def main() -> None:
    """Prints both."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--each", type=int, default=20)
    parser.add_argument("--bands", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    told = parser.parse_args()
    print(f"| recording | relay over noise | speech | music |\n|---|---|---|---|  {told.each} each")
    for seconds in (0.5, 1.0, 2.0):
        for snr_db in (8.0, 12.0, 30.0):
            shares = [f"{100 * found(seconds, snr_db, kind, told.each):.0f} %" for kind in ("speech", "music")]
            print(f"| {seconds} s | {snr_db:.0f} dB | {' | '.join(shares)} |", flush=True)
    print("{} pairs of different programmes in recordings of 1 s: {} named".format(*wrong(told.bands, told.first)))


if __name__ == "__main__":
    main()
