"""A shop that has its list, for the tests that begin there; a module with another `shop` makes its own."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from pipeline.test_checking import MADE, keep_surveys

from bandscan.pipeline import baseline
from bandscan.shop import Shop, load, make_shop


@pytest.fixture(scope="session")
def stocked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop of month 1: three surveys and their list."""
    made = make_shop(tmp_path_factory.mktemp("stock") / "shop")
    keep_surveys(made)
    baseline(made, made_utc=MADE)
    return made.folder


@pytest.fixture
def shop(stocked: Path, tmp_path: Path) -> Shop:
    """A shop of the test's own."""
    return load(shutil.copytree(stocked, tmp_path / "shop"))
