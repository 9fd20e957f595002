"""Starting is quick and quiet: bandscan/__init__.py, bandscan/__main__.py, cli/__init__.py."""

from __future__ import annotations

import subprocess
import sys

import pytest

import bandscan


def modules_after(code: str) -> set[str]:
    """Modules that a fresh interpreter has loaded after running `code`."""
    told = f"import sys\ntry:\n    {code}\nexcept SystemExit:\n    pass\nprint(' '.join(sys.modules), file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, timeout=60, check=True)
    return set(done.stderr.split())


HEAVY = {
    "numpy",
    "scipy",
    "pandas",
    "plotly",
    "jinja2",
    "rich",
    "sigmf",
    "rtlsdr",
    "sqlite3",
    "bandscan.model",
    "bandscan.pipeline",
}


@pytest.mark.parametrize(
    "code",
    ["import bandscan", "from bandscan.cli import main; main(['--help'])", "from bandscan.cli import main; main(['check'])"],
)
def test_nothing_heavy_is_loaded_before_it_is_needed(code: str) -> None:
    """`import bandscan` and `bandscan --help` load neither numpy nor pandas nor the rooms that need them; `check` does."""
    loaded = modules_after(code) & HEAVY
    assert loaded == set() or ("check" in code and "pandas" in loaded)


def test_public_names_are_there_when_asked_for() -> None:
    """Each name of `__all__` can be had, a strange one is refused, and dir lists them."""
    assert [name for name in bandscan.__all__ if getattr(bandscan, name) is None] == []
    assert set(bandscan.__all__) <= set(dir(bandscan))
    with pytest.raises(AttributeError, match="module 'bandscan' has no attribute 'nonsense'"):
        bandscan.nonsense  # noqa: B018
