"""No driver, an old one, a wrong one in the current folder: each in a process of its own, as it would be met."""

from __future__ import annotations

import ctypes.util
import os
import subprocess
import sys
from pathlib import Path

import pytest
from device.standin import build, environment

from bandscan.source.dongle_faults import INSTALL

REQUIRED = 36


def say(line: str, environ: dict[str, str], here: Path) -> subprocess.CompletedProcess[str]:
    """A command line in a fresh process."""
    command = [sys.executable, "-m", "bandscan", *line.split()]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False, env=environ, cwd=here)


def bare(folder: Path, **more: str) -> dict[str, str]:
    """This process's environment without what could bring a driver; a stub hides an installed pyrtlsdrlib."""
    if ctypes.util.find_library("rtlsdr") is not None:
        pytest.skip("a driver library is installed in the system: its absence cannot be shown here")
    plain = {name: value for name, value in os.environ.items() if not name.startswith(("STANDIN_", "LD_LIBRARY_PATH"))}
    return {**plain, **environment(None, folder), **more}


@pytest.fixture
def here(tmp_path: Path) -> Path:
    """An empty folder to stand in."""
    folder = tmp_path / "here"
    folder.mkdir()
    return folder


def test_the_stand_in_has_what_the_binding_binds_and_no_more(library: Path) -> None:
    """The driver's public interface as the binding needs it: 36 functions (by the binding's source)."""
    nm = subprocess.run(["nm", "-D", "--defined-only", str(library)], capture_output=True, text=True, check=True)
    names = {line.split()[-1] for line in nm.stdout.splitlines() if " T rtlsdr_" in line}
    assert len(names) == REQUIRED


def test_without_a_driver_library(tmp_path: Path, here: Path) -> None:
    """The line says what is missing and how to get it; exit status 3; recordings can still be surveyed."""
    done = say("capture --band fm", bare(tmp_path), here)
    assert done.returncode == 3
    assert (
        "bandscan: dongle: no driver library, or the libusb that it needs is missing (Error loading librtlsdr." in done.stderr
    )
    assert INSTALL in done.stderr
    assert "recordings can be surveyed without it" in done.stderr
    assert "Traceback" not in done.stderr


def test_without_the_binding(tmp_path: Path, here: Path) -> None:
    """A missing pyrtlsdr is named by its name."""
    environ = bare(tmp_path)
    Path(environ["PYTHONPATH"].split(os.pathsep)[0], "rtlsdr.py").write_text(
        'raise ModuleNotFoundError("No module named \'rtlsdr\'", name="rtlsdr")\n'
    )
    done = say("setup shop", environ, here)
    assert done.returncode == 0
    assert f"dongle: pyrtlsdr, the driver's Python binding, is not installed; {INSTALL}" in done.stderr


def test_a_driver_older_than_the_binding(tmp_path: Path, here: Path) -> None:
    """A distribution's library that lacks a symbol: said so, and not a traceback."""
    old = build(tmp_path / "old", "-DSTANDIN_OLD")
    done = say("capture --band fm", {**bare(tmp_path), "STANDIN_LIBRARY": str(old)}, here)
    assert done.returncode == 3
    assert "bandscan: dongle: the driver library is older than its Python binding (" in done.stderr
    assert "rtlsdr_set_dithering" in done.stderr
    assert "a distribution's own librtlsdr is often too old" in done.stderr


@pytest.mark.parametrize("place", ["rtlsdr/librtlsdr.so", "../librtlsdr.so"])
def test_a_driver_in_the_current_folder_is_never_loaded(tmp_path: Path, here: Path, place: str) -> None:
    """The binding itself would load it; bandscan does not, and says that it lies there."""
    (here / "rtlsdr").mkdir()
    planted = build((here / place).resolve().parent)
    assert planted.samefile(here / place)
    loaded = tmp_path / "loaded"
    environ = bare(tmp_path, STANDIN_LOADED=str(loaded))
    binding = [sys.executable, "-c", "import rtlsdr"]
    subprocess.run(binding, env=environ, cwd=here, check=True, capture_output=True, timeout=60)
    assert loaded.exists()
    loaded.unlink()

    done = say("capture --band fm", environ, here)
    assert done.returncode == 3
    assert f"{place} in this folder is not loaded: anybody could have put it there" in done.stderr
    assert not loaded.exists()


def test_a_module_in_the_current_folder_is_no_driver(tmp_path: Path, here: Path, library: Path) -> None:
    """Files named like the driver's packages in the current folder stay unread by the process that drives the dongle."""
    for name in ("pyrtlsdrlib.py", "rtlsdr.py"):
        (here / name).write_text(f"open({str(tmp_path / 'read')!r}, 'w').close()\n")
    environ = {**bare(tmp_path), "STANDIN_LIBRARY": str(library)}
    script = "import sys; from bandscan.cli import main; sys.exit(main(sys.argv[1:]))"
    line = [sys.executable, "-P", "-c", script, "setup", "shop"]
    done = subprocess.run(line, capture_output=True, text=True, env=environ, cwd=here, timeout=120, check=True)
    assert "dongle: RTL2832U with R820T" in done.stderr
    assert not (tmp_path / "read").exists()


def test_a_driver_that_is_found_by_the_systems_path(tmp_path: Path, here: Path, library: Path) -> None:
    """A library that the user put on LD_LIBRARY_PATH is taken: there he chose it."""
    environ = bare(tmp_path, LD_LIBRARY_PATH=str(library.parent))
    assert "dongle: RTL2832U with R820T" in say("setup shop", environ, here).stderr


def test_a_setting_that_would_do_without_a_driver(tmp_path: Path, here: Path, library: Path) -> None:
    """The binding's network mode, if somebody has set it, does not get in the way."""
    environ = {**bare(tmp_path, RTLSDR_CLIENT_MODE="1"), "STANDIN_LIBRARY": str(library)}
    assert "dongle: RTL2832U with R820T" in say("setup shop", environ, here).stderr
