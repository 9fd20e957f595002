"""Builds the stand-in for the dongle's driver, plugs it in, gives it orders and reads what it was asked."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

SOURCE = Path(__file__).with_name("standin.c")
COMPILER = shutil.which("cc") or shutil.which("gcc")
ALWAYS = "0 999999"

# comes first on the path, so that it wins over an installed one
_STUB = '''"""Loads the stand-in where the real package would load its own library."""
import ctypes
import os


def load_librtlsdr():
    name = os.environ["STANDIN_LIBRARY"]
    return ctypes.CDLL(name) if name else None
'''


def build(folder: Path, *options: str) -> Path:
    """The library, compiled. Skips where there is no C compiler, or another system than the one it is written for."""
    if sys.platform != "linux":
        pytest.skip("the stand-in for the dongle's driver is written for Linux")
    if COMPILER is None:
        pytest.skip("no C compiler here: the stand-in for the dongle's driver cannot be built")
    library = folder / "librtlsdr.so"
    folder.mkdir(parents=True, exist_ok=True)
    flags = ["-O2", "-Wall", "-Wextra", "-shared", "-fPIC"]
    line = [COMPILER, *flags, *options, "-o", str(library), str(SOURCE), "-lm"]
    subprocess.run(line, check=True)
    return library


def stub(folder: Path) -> Path:
    """A folder for PYTHONPATH whose pyrtlsdrlib loads what STANDIN_LIBRARY names."""
    package = folder / "path" / "pyrtlsdrlib"
    package.mkdir(parents=True, exist_ok=True)
    (package / "__init__.py").write_text(_STUB)
    return package.parent


@dataclass(frozen=True)
class StandIn:
    """A stand-in that is plugged in: its files lie in `folder`."""

    folder: Path

    def order(self, *lines: str) -> None:
        """Misbehave from now on as these lines say, `WHAT FIRST LAST VALUE` each; with none, behave."""
        draft = self.folder / "orders.new"
        draft.write_text("".join(f"{line}\n" for line in lines))
        draft.replace(self.folder / "orders")

    def calls(self) -> list[str]:
        """What the driver was asked, in order."""
        path = self.folder / "calls"
        return path.read_text().splitlines() if path.exists() else []

    def forget(self) -> None:
        """Begin to count and to note anew."""
        for name in ("calls", "state"):
            (self.folder / name).unlink(missing_ok=True)

    @property
    def is_free(self) -> bool:
        """Whether nobody has it open."""
        import fcntl

        with (self.folder / "state.lock").open("w") as file:
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                return False
            return True


def environment(library: Path | None, folder: Path, band: Path | None = None) -> Mapping[str, str]:
    """The environment that plugs the library in."""
    search = os.pathsep.join(part for part in (str(stub(folder)), os.environ.get("PYTHONPATH", "")) if part)
    told = {
        "PYTHONPATH": search,
        "STANDIN_LIBRARY": str(library) if library is not None else "",
        "STANDIN_STATE": str(folder / "state"),
        "STANDIN_ORDERS": str(folder / "orders"),
        "STANDIN_CALLS": str(folder / "calls"),
    }
    return told | ({"STANDIN_BAND": str(band)} if band is not None else {})
