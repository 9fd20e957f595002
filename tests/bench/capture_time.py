"""How long captures take as they are typed, in real time through the stand-in for the dongle's driver (six minutes):

    python tests/bench/capture_time.py

Goals: a full FM reference in at most five minutes, a quick one in less than one; what was announced beside what it took.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from device.forged import forge_fm
from device.standin import build, environment

GOALS_S = {"": 300.0, "--quick": 60.0}


def main() -> None:
    """Capture both ways."""
    right = True
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        forge_fm(folder / "air")
        environ = {**os.environ, **environment(build(folder / "library"), folder, folder / "air"), "STANDIN_PACE": "1"}
        for how, goal_s in GOALS_S.items():
            line = f"--shop {folder / 'shop'} capture --band fm --gain 28 {how}"
            began = time.monotonic()
            done = subprocess.run(
                [sys.executable, "-m", "bandscan", *line.split()], env=environ, capture_output=True, text=True, check=False
            )
            took_s = time.monotonic() - began
            if done.returncode:
                sys.exit(done.stderr)
            said = next(one for one in done.stderr.splitlines() if ": about " in one)
            again = done.stderr.count("tried again")
            print(f"{how or 'full':7} {took_s:.0f} s (goal {goal_s:.0f}), {again} steps tried again; {said}", flush=True)
            right = right and took_s <= goal_s
    sys.exit(0 if right else 1)


if __name__ == "__main__":
    main()
