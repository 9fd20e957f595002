"""Both bands whole, through the stand-in for the driver: the demo's air with a clock 57 ppm fast, held against its truth.

    python tests/bench/capture_band.py [--dwell S] [--passes N] [--workers N]

Forges every centre of the plan at two gains (some minutes), then types `bandscan capture` for FM and for AM. Not part of the
test run: tests/device/test_capture.py does the same with a small town.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import pandas as pd

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from device.standin import build, environment

from bandscan.demo import forge, load_scene, on_air, quantise
from bandscan.plans import plan_for
from bandscan.source.dongle_plan import RATE_HZ, centres_hz
from bandscan.units import db

PPM = 57.0
GAIN_DB, SECOND_DB = 28.0, 19.7
SETTLE_MS = 20


def lay(folder: Path, band: str, centre_hz: int, gain_db: float, seconds: float) -> None:
    """One recording for the stand-in: the demo's first day at one centre and gain."""
    scene = load_scene()
    # products on AM's raster cannot be told from stations without a second gain, which direct sampling does not have
    bent = 0.1 if band == "fm" else 0.0
    receiver = replace(
        scene.bands[band].receiver, slope_db=0.0, ppm=PPM, gain_db=gain_db, levels_at_gain_db=GAIN_DB, compression=bent
    )
    made = forge(on_air(scene, band, 1), receiver, centre_hz, RATE_HZ, seconds, seed=(scene.seed, 1))
    name = f"{centre_hz}_{round(gain_db * 10)}" if band == "fm" else str(centre_hz)
    (folder / f"{name}.ci16").write_bytes(quantise(made.samples, "ci16").tobytes())


def forge_all(folder: Path, dwell_s: float, am_dwell_s: float, workers: int) -> None:
    """All centres of both bands."""
    with ProcessPoolExecutor(workers) as pool:
        jobs = [
            pool.submit(lay, folder, "fm", centre, gain, dwell_s + 0.1)
            for centres in centres_hz(plan_for("us", "fm"), RATE_HZ)
            for centre in centres
            for gain in (GAIN_DB, SECOND_DB)
        ]
        jobs += [
            pool.submit(lay, folder, "am", centre, GAIN_DB, am_dwell_s + 0.1)
            for centres in centres_hz(plan_for("us", "am"), RATE_HZ)
            for centre in centres
        ]
        for number, job in enumerate(jobs, 1):
            job.result()
            print(f"forged {number} of {len(jobs)}", end="\r", file=sys.stderr, flush=True)


def report(band: str, folder: Path) -> bool:
    """The survey in `folder` against the truth; whether it is as it should be."""
    scene = load_scene()
    noise_dbfs = scene.bands[band].receiver.noise_dbfs_hz + db(200_000.0 if band == "fm" else 10_000.0)
    truth = {one.station.channel_hz: level for one, level in scene.levels_dbfs(band, 1).items()}
    stations = pd.read_csv(folder / "stations.csv").set_index("channel_hz")
    held = set(stations.index[stations["holds"] == "station"])
    due = {channel for channel, level in truth.items() if level - noise_dbfs >= 3}
    errors = stations.loc[sorted(held & due), "level_dbfs"] - pd.Series(truth)
    strong = [channel for channel in sorted(held & due) if truth[channel] - noise_dbfs >= 10]
    (about,) = json.loads((folder / "survey.json").read_text())["surveys"]
    print(f"{band.upper()}: {len(truth)} stations sent, {len(due)} of them 3 dB or more over the noise")
    print(f"  found {len(held & due)}; missed {sorted(due - held)}; false {sorted(held - set(truth))}")
    print(f"  others: {stations['holds'].value_counts().to_dict()}")
    worst = errors[strong].abs()
    print(f"  level error from 10 dB up: 95 % within {worst.quantile(0.95):.2f} dB, worst {worst.max():.2f} dB")
    print(f"  clock {about['clock_ppm']:+.2f} ppm +- {1.96 * about['clock_sd_ppm']:.2f} (true {PPM:+.0f})")
    right_clock = abs(about["clock_ppm"] - PPM) <= 3 * about["clock_sd_ppm"]
    return held >= due and held <= set(truth) and right_clock


def main() -> None:
    """Forge, capture both bands, report."""
    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("--dwell", type=float, default=0.6)
    told.add_argument("--passes", type=int, default=3)
    told.add_argument("--workers", type=int, default=2)
    asked = told.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        library, air = build(folder / "library"), folder / "air"
        air.mkdir()
        began = time.monotonic()
        forge_all(air, asked.dwell, 4.0, asked.workers)
        print(f"forged in {time.monotonic() - began:.0f} s", file=sys.stderr)
        environ = {**os.environ, **environment(library, folder, air)}
        common = f"--gain {GAIN_DB} --settle {SETTLE_MS} --passes {asked.passes} --keep none"
        right = True
        for band, line in (("fm", f"--dwell {asked.dwell}"), ("am", "--direct q --dwell 4 --pause 0")):
            out = folder / band
            words = f"--shop {folder / 'shop'} capture --band {band} {common} {line} --out {out}"
            began = time.monotonic()
            done = subprocess.run(
                [sys.executable, "-m", "bandscan", *words.split()], env=environ, capture_output=True, text=True, check=False
            )
            print(f"{band.upper()}: exit status {done.returncode}, {time.monotonic() - began:.0f} s (played fast)")
            if done.returncode:
                sys.exit(done.stderr)
            right = report(band, out) and right
    sys.exit(0 if right else 1)


if __name__ == "__main__":
    main()
