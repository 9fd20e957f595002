"""The stand-in plugged in, a shop to capture into, and command lines as they are typed."""

from __future__ import annotations

import shlex
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from device.forged import forge_am, forge_fm
from device.standin import StandIn, build, environment

from bandscan.cli import main
from bandscan.pipeline import Shop, load_shop, make_shop
from bandscan.source import read


@pytest.fixture(scope="session")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The stand-in's library."""
    return build(tmp_path_factory.mktemp("standin"))


@pytest.fixture
def stand_in(library: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> StandIn:
    """A stand-in that plays noise, plugged into this process."""
    folder = tmp_path / "standin"
    folder.mkdir()
    for name, value in environment(library, folder).items():
        monkeypatch.setenv(name, value)
    one = StandIn(folder)
    one.order()
    return one


@pytest.fixture(scope="session")
def air(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of forged FM and AM for the stand-in."""
    folder = tmp_path_factory.mktemp("air")
    forge_fm(folder)
    forge_am(folder)
    return folder


@dataclass
class Bench:
    """A shop and a stand-in; command lines are typed in the shop's folder."""

    shop: Shop
    stand_in: StandIn
    capsys: pytest.CaptureFixture[str]
    out: str = ""
    err: str = ""
    notes: list[str] = field(default_factory=list)

    def type(self, line: str) -> int:
        """Type a command line; gives its exit status."""
        try:
            status = main(shlex.split(line))
        except SystemExit as stop:
            status = int(stop.code or 0)
        self.out, self.err = self.capsys.readouterr()
        return status

    def capture(self, options: str = "") -> int:
        """A capture of FM with dwells that are as short as they get."""
        return self.type(f"capture --band fm --gain 28 --dwell 0.06 --settle 0 {options}")

    def recordings(self) -> list[Path]:
        """Metadata of the recordings that were kept; each is read as a whole and its hash compared."""
        found = sorted(self.shop.captures.glob("*/*.sigmf-meta"))
        for path in found:
            assert read(path)[0].notes == ()
        return found

    def logged(self) -> list[tuple[str, float]]:
        """Names and lengths of the recordings that the log holds, in the order of their names. [s]"""
        import json
        import sqlite3

        with closing(sqlite3.connect(self.shop.log_path)) as database:
            rows = database.execute("SELECT name, about FROM recordings ORDER BY name").fetchall()
        return [(name, json.loads(about)["duration_s"]) for name, about in rows]


@pytest.fixture
def bench(stand_in: StandIn, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Bench:
    """A new shop to stand in, with the stand-in plugged in."""
    folder = tmp_path / "shop"
    make_shop(folder)
    monkeypatch.chdir(folder)
    monkeypatch.delenv("BANDSCAN_SHOP", raising=False)
    return Bench(load_shop(folder), stand_in, capsys)
