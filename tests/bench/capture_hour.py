"""What an hour of passes takes: resident memory while it is played fast, and processor time while it is played in real time.

    python tests/bench/capture_hour.py [--passes N] [--dwell S]       memory of N passes at two gains (48 make an hour)
    python tests/bench/capture_hour.py --real [--dwell S]             processor time of one quick pass in real time

Goals: under 250 MB for the program and its dongle process together; at most half a core while it measures on the fly.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from device.forged import forge_fm
from device.standin import build, environment

MOST_MB = 250.0
MOST_CORES = 0.5


def resident_mb(process: int) -> float:
    """Resident memory of a process and its children now. [MB]"""
    total = 0.0
    try:
        status = Path(f"/proc/{process}/status").read_text()
        children = Path(f"/proc/{process}/task/{process}/children").read_text().split()
    except OSError:
        return 0.0  # it has just ended
    for line in status.splitlines():
        if line.startswith("VmRSS:"):
            total += int(line.split()[1]) * 1024 / 1e6
    return total + sum(resident_mb(int(child)) for child in children)


def main() -> None:
    """Capture, and watch."""
    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("--passes", type=int, default=48)
    told.add_argument("--dwell", type=float, default=3.0)
    told.add_argument("--real", action="store_true")
    asked = told.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        forge_fm(folder / "air")
        environ = {**os.environ, **environment(build(folder / "library"), folder, folder / "air")}
        environ["STANDIN_PACE"] = "1" if asked.real else "0"
        how = "--quick" if asked.real else f"--passes {asked.passes}"
        line = f"--shop {folder / 'shop'} capture --band fm --gain 28 --dwell {asked.dwell} {how}"
        began, most, last = time.monotonic(), 0.0, 0.0
        process = subprocess.Popen(
            [sys.executable, "-m", "bandscan", *line.split()], env=environ, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
        )
        while process.poll() is None:
            most = max(most, resident_mb(process.pid))
            if time.monotonic() - last > 30:
                last = time.monotonic()
                print(f"{last - began:.0f} s: at most {most:.0f} MB so far", flush=True)
            time.sleep(0.1)
        wall_s = time.monotonic() - began
        if process.returncode:
            sys.exit(process.stderr.read().decode() if process.stderr else "failed")
    print(f"resident memory: at most {most:.0f} MB (goal {MOST_MB:.0f})")
    if not asked.real:
        sys.exit(0 if most <= MOST_MB else 1)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    # the forging was done in this process, so that its children are the program and what it started
    cores = (used.ru_utime + used.ru_stime) / wall_s
    print(f"processor: {cores:.2f} cores over {wall_s:.0f} s, start and stand-in included (goal {MOST_CORES})")
    sys.exit(0 if cores <= MOST_CORES else 1)


if __name__ == "__main__":
    main()
