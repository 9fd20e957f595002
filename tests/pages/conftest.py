"""One browser for all tests of this folder; skipped with a reason where there is none."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from pages.browser import Browser, found


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A headless browser."""
    program = found()
    if program is None:
        pytest.skip("no browser that can be driven over pipes (Chromium or Chrome on Linux or macOS): pages are not looked at")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile, Browser(program, Path(profile)) as one:
        yield one
