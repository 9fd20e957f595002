"""A shop on a disk that is full or may only be read, as the commands say it. Needs root and mount; skipped elsewhere."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from recordings import FM_HIGH, FM_LOW, recording

from bandscan.cli import main
from bandscan.shop import make_shop

Disk = Callable[[str], Path]


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    """Puts a small file system of its own on a folder, with the options given, or changes those it has."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mounts: list[Path] = []

    def mount(options: str) -> Path:
        if shutil.which("mount") is None or not hasattr(os, "geteuid") or os.geteuid() != 0:
            pytest.skip("a small file system cannot be mounted here")
        line = (
            ["mount", "-o", f"remount,{options}", str(folder)]
            if mounts
            else ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)]
        )
        if subprocess.run(line, capture_output=True, check=False).returncode != 0:
            pytest.skip("a small file system cannot be mounted here")
        mounts.append(folder)
        return folder

    yield mount
    if mounts:
        subprocess.run(["umount", str(folder)], check=True)


def test_a_shop_that_may_only_be_read_gives_results_and_says_what_it_could_not_keep(
    disk: Disk, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is logged is read; what is new is measured and shown; each thing that could not be kept is one line, status 3."""
    shop = disk("size=20m") / "shop"
    known, new = recording(tmp_path, FM_LOW), recording(tmp_path, FM_HIGH)
    assert main(["--shop", str(shop), "survey", str(known)]) == 0
    disk("ro")
    capsys.readouterr()
    assert main(["--shop", str(shop), "survey", str(known)]) == 0
    assert main(["--shop", str(shop), "log"]) == 0
    assert "Survey fm-" in capsys.readouterr().out
    assert main(["--shop", str(shop), "survey", str(new)]) == 3
    said = capsys.readouterr()
    assert "102.1" in said.out
    assert said.err.count("log.sqlite: cannot be written: it or its folder is read-only") == 1
    assert main(["--shop", str(shop), "baseline"]) == 3
    said = capsys.readouterr()
    assert "FM reference station list" in said.out
    assert "baseline.csv: cannot be written" in said.err
    assert said.err.splitlines()[-1] == "next: mend what is named above and run the command again"


def test_a_full_disk_costs_no_results(disk: Disk, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The survey is shown, the full disk is one line, and with more room the same command logs it."""
    shop = make_shop(disk("size=150k") / "shop").folder
    recording(tmp_path / "in", FM_LOW)
    line = ["--shop", str(shop), "survey", str(tmp_path / "in")]
    assert main(line) == 3
    said = capsys.readouterr()
    assert "97.7" in said.out
    assert said.err.count("log.sqlite: the disk is full; what was logged before is kept; free some space") == 1
    disk("size=8m")
    assert main(line) == 0
    assert "next: logged in" in capsys.readouterr().err
