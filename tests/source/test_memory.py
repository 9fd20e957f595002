"""Recordings of any length in bounded memory, and the first samples at once."""

from __future__ import annotations

import json
import subprocess
import sys
import tarfile
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from source.made import metadata, pair, wav

from bandscan.errors import RecordingError
from bandscan.source import read

GIGABYTE = 2**30

# Reads recordings from end to end, every eighth of the batches that measuring uses, in a process of its own, since a peak never
# falls. A map of a whole file would stand at 128 MB or more at its end.
WALK = """
import json, sys, time
from pathlib import Path
from bandscan.source import RawFormat, read

def peak_mb():
    # not the resource module's figure: that begins with the peak of the process that started this one
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM:")) / 1024

told = {}
for path in map(Path, sys.argv[1:]):
    before = time.perf_counter()
    samples = read(path, RawFormat("cu8", 2.4e6, 98e6), 98e6)[0].samples
    out = samples.frames(0, 8, 24000, 23520)
    first_s = time.perf_counter() - before
    start_mb = peak_mb()
    for start in range(0, len(samples), 8 * 8 * 23520):
        samples.frames(start, 8, 24000, 23520, out)
    told[path.parent.name] = dict(first_s=first_s, start_mb=start_mb, peak_mb=peak_mb(), count=len(samples))
print(json.dumps(told))
"""

needs_resource = pytest.mark.skipif(
    not Path("/proc/self/status").exists(),
    reason="peak memory is read as Linux gives it",
)


def sparse(path: Path, head: bytes, size: int, tail: bytes = b"") -> Path:
    """A file of `size` bytes that takes no room on the disk."""
    with path.open("wb") as file:
        file.write(head)
        file.truncate(size - len(tail))
        file.seek(0, 2)
        file.write(tail)
    return path


def walked(paths: list[Path]) -> dict[str, dict[str, float]]:
    """What the walk tells of each recording, by the name of its folder."""
    command = [sys.executable, "-c", WALK, *map(str, paths)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    told: dict[str, dict[str, float]] = json.loads(done.stdout)
    return told


def tar_head(name: str, size: int) -> bytes:
    """The header of one member, its data to follow."""
    entry = tarfile.TarInfo(name)
    entry.size = size
    return entry.tobuf(tarfile.GNU_FORMAT)


def archived(path: Path) -> Path:
    """An archive with its metadata first and 1 GB of data, as long as a tar member must be."""
    text = json.dumps(metadata("ci16_le")).encode()
    head = tar_head("x.sigmf-meta", len(text)) + text + bytes(-len(text) % 512) + tar_head("x.sigmf-data", GIGABYTE)
    return sparse(path, head, len(head) + GIGABYTE + 1024)


def paired(path: Path, **changes: object) -> Path:
    meta = pair(path.parent, "x", b"", metadata("cu8", **changes))
    sparse(path.parent / "x.sigmf-data", b"", GIGABYTE)
    return meta


# container, its maker, and how many samples it holds
LONG: dict[str, tuple[Callable[[Path], Path], int]] = {
    "pair": (lambda folder: paired(folder / "x"), GIGABYTE // 2),
    "pair with a hash": (lambda folder: paired(folder / "x", core_sha512="0" * 128), GIGABYTE // 2),
    "bare": (lambda folder: sparse(folder / "x.iq", b"", GIGABYTE), GIGABYTE // 2),
    "archive": (lambda folder: archived(folder / "x.sigmf"), GIGABYTE // 4),
    "wav, 16 bit": (lambda folder: sparse(folder / "x.wav", wav(b"", 16, size=GIGABYTE), 44 + GIGABYTE), GIGABYTE // 4),
    "wav, 24 bit": (lambda folder: sparse(folder / "x.wav", wav(b"", 24, size=GIGABYTE), 44 + GIGABYTE), GIGABYTE // 6),
    "wav, floats": (
        lambda folder: sparse(folder / "x.wav", wav(b"", 32, real=True, size=GIGABYTE), 44 + GIGABYTE),
        GIGABYTE // 8,
    ),
    "wav cut short": (lambda folder: sparse(folder / "x.wav", wav(b"", 16, size=2**31), 44 + GIGABYTE), GIGABYTE // 4),
    "wav streamed": (lambda folder: sparse(folder / "x.wav", wav(b"", 8, size=0), 44 + GIGABYTE, b"end!"), GIGABYTE // 2),
    "RF64": (
        lambda folder: sparse(folder / "x.wav", wav(b"", 16, size=0xFFFFFFFF, ds64_size=GIGABYTE), 80 + GIGABYTE),
        GIGABYTE // 4,
    ),
}


@needs_resource
def test_a_gigabyte_is_read_in_the_memory_of_a_window(tmp_path: Path) -> None:
    """The first samples of 1 GB come within 3 s, and to its end the peak grows by two windows at most, in every container."""
    paths = []
    for name, (make, _) in LONG.items():
        (tmp_path / name).mkdir()
        paths.append(make(tmp_path / name))
    for name, told in walked(paths).items():
        assert told["count"] == LONG[name][1], name
        assert told["first_s"] < 3, name
        assert told["peak_mb"] < 300, name
        assert told["peak_mb"] - told["start_mb"] < 34, name


@needs_resource
def test_a_gigabyte_of_room_laid_out_in_advance_is_refused_in_time(tmp_path: Path) -> None:
    """Nothing but zeros and no size: one line at once."""
    path = sparse(tmp_path / "x.wav", wav(b"", 16, size=0), 44 + GIGABYTE)
    started = time.perf_counter()
    with pytest.raises(RecordingError, match="holds nothing but zero bytes and tells no size"):
        read(path, centre_hz=98e6)
    assert time.perf_counter() - started < 1
