"""Twenty kills without warning, each followed by --resume, in real time through the stand-in for the dongle's driver:

    python tests/bench/capture_kills.py [--kills N] [--seed N] [--keep iq|none]

Prints, for each kill, where it struck and what was on the disk and in the log afterwards. tests/device/test_stop.py does four.
"""

from __future__ import annotations

import argparse
import os
import random
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from device.standin import StandIn, build, environment

from bandscan.pipeline import make_shop
from bandscan.source import read

DWELLS = 80


def names(shop: Path) -> list[str]:
    """Recordings in the log."""
    log = shop / "log.sqlite"
    if not log.exists():
        return []
    with closing(sqlite3.connect(log)) as database:
        try:
            return [name for (name,) in database.execute("SELECT name FROM recordings")]
        except sqlite3.OperationalError:
            return []


def main() -> None:
    """Kill, look, go on."""
    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("--kills", type=int, default=20)
    told.add_argument("--seed", type=int, default=1)
    told.add_argument("--keep", choices=("iq", "none"), default="iq")
    asked = told.parse_args()
    chance = random.Random(asked.seed)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shop = folder / "shop"
        make_shop(shop)
        environ = {**os.environ, **environment(build(folder / "library"), folder), "STANDIN_PACE": "1"}
        stand_in = StandIn(folder)
        stand_in.order()
        line = f"capture --band fm --gain 28 --dwell 0.3 --settle 20 --keep {asked.keep}"
        before = 0
        for kill in range(1, asked.kills + 2):
            command = [sys.executable, "-m", "bandscan", "--shop", str(shop), *line.split()]
            process = subprocess.Popen(command, env=environ, stderr=subprocess.PIPE, text=True)
            line = "capture --resume"
            if kill <= asked.kills:
                # from the first import to some steps in
                time.sleep(chance.uniform(0.2, 7.0))
                process.kill()
            _, said = process.communicate()
            if said and "there is no capture that was stopped" in said:
                line = f"capture --band fm --gain 28 --dwell 0.3 --settle 20 --keep {asked.keep}"
            while not stand_in.is_free:
                time.sleep(0.05)
            whole = sorted(shop.glob("captures/*/*.sigmf-meta"))
            for path in whole:
                if read(path)[0].notes:
                    sys.exit(f"{path} is not whole: {read(path)[0].notes}")
            logged = names(shop)
            print(f"kill {kill}: {len(whole)} recordings whole, {len(logged)} in the log", flush=True)
            if len(set(logged)) < len(logged):
                sys.exit("a step is in the log twice")
            if asked.keep == "iq" and len(logged) not in (len(whole), len(whole) - 1):
                sys.exit("a finished step is lost")
            if len(logged) < before:
                sys.exit("the log lost a step")
            before = len(logged)
        if process.returncode or len(names(shop)) % DWELLS or list(shop.glob("captures/*.journal")):
            sys.exit(f"not whole at the end: {len(names(shop))} of each {DWELLS}, status {process.returncode}\n{said}")
        print("every step is there once")


if __name__ == "__main__":
    main()
