"""Recordings of any length in bounded memory, and the first samples at once."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import pytest
from source.made import metadata, pair

GIGABYTE = 2**30

# Reads a recording from end to end in the batches that measuring uses, in a process of its own, since a peak never falls.
WALK = """
import json, resource, sys, time
from pathlib import Path
import numpy as np
from bandscan.source import RawFormat, read
before = time.perf_counter()
captures = read(Path(sys.argv[1]), RawFormat("cu8", 2.4e6, 98e6), 98e6)
samples = captures[0].samples
out = samples.frames(0, 8, 24000, 23520)
first_s = time.perf_counter() - before
start_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
for start in range(0, len(samples), 8 * 23520):
    samples.frames(start, 8, 24000, 23520, out)
peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps({"first_s": first_s, "start_mb": start_mb, "peak_mb": peak_mb, "count": len(samples)}))
"""

needs_resource = pytest.mark.skipif(
    importlib.util.find_spec("resource") is None or sys.platform == "darwin",
    reason="peak memory is read with the resource module, in KiB as Linux gives it",
)


def sparse(path: Path, head: bytes, size: int, tail: bytes = b"") -> Path:
    """A file of `size` bytes that takes no room on the disk."""
    with path.open("wb") as file:
        file.write(head)
        file.truncate(size - len(tail))
        file.seek(0, 2)
        file.write(tail)
    return path


def walked(path: Path) -> dict[str, float]:
    done = subprocess.run([sys.executable, "-c", WALK, str(path)], capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    told: dict[str, float] = json.loads(done.stdout)
    return told


@needs_resource
def test_a_gigabyte_is_read_in_the_memory_of_a_window(tmp_path: Path) -> None:
    """From the first batch to the end of 1 GB the peak grows by two windows at most; the first samples come within 3 s."""
    path = pair(tmp_path, "long", b"", metadata("cu8"))
    sparse(tmp_path / "long.sigmf-data", b"", GIGABYTE)
    told = walked(path)
    assert told["count"] == GIGABYTE // 2
    assert told["first_s"] < 3
    assert told["peak_mb"] < 300
    assert told["peak_mb"] - told["start_mb"] < 34
