"""Who may import whom: read from the source, never by running it. The rules are those of DEVELOPERS.md."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from house.rooms import MAY_IMPORT, POSIX_ONLY, breaches, imports, module_of, modules

HEAVY = ("numpy", "scipy", "pandas", "plotly", "jinja2", "rich", "sigmf", "rtlsdr", "prompt_toolkit")


def test_every_import_of_bandscan_goes_one_way() -> None:
    """No room imports a later one, and each outside library stays in the room that owns it."""
    found = [breach for module in modules() for breach in breaches(module)]
    assert not found, "\n" + "\n".join(found)


def test_the_rooms_of_the_foundation_are_there_to_be_read() -> None:
    """The reader of imports sees the real modules: an empty list would pass every rule."""
    names = {module.name for module in modules()}
    assert {"errors", "units", "tables", "plans", "plans.table", "model", "__init__", "__main__"} <= names
    tables = next(module for module in modules() if module.name == "tables")
    assert "bandscan.errors.TableError" in {item.target for item in imports(tables)}


@pytest.mark.parametrize(
    ("path", "text", "said"),
    [
        (
            "bandscan/dsp/noise.py",
            "import os\nfrom bandscan.model import Capture\n",
            "bandscan/dsp/noise.py:2: dsp may not import model",
        ),
        ("bandscan/dsp/noise.py", "def f():\n    import pandas as pd\n", "bandscan/dsp/noise.py:2: dsp knows arrays only"),
        ("bandscan/demo/forge.py", "from bandscan.dsp import psd\n", "bandscan/demo/forge.py:1: demo may not import dsp"),
        ("bandscan/demo/forge.py", "from bandscan import measure\n", "bandscan/demo/forge.py:1: demo may not import measure"),
        ("bandscan/pipeline.py", "from bandscan import demo\n", "bandscan/pipeline.py:1: pipeline may not import demo"),
        (
            "bandscan/survey/gather.py",
            "from ..radio import judge\n",
            "bandscan/survey/gather.py:1: survey may not import radio",
        ),
        (
            "bandscan/survey/__init__.py",
            "from ..radio import judge\n",
            "bandscan/survey/__init__.py:1: survey may not import radio",
        ),
        ("bandscan/store.py", "from .cli import main\n", "bandscan/store.py:1: store may not import cli"),
        ("bandscan/report/page.py", "import bandscan.source.wav\n", "bandscan/report/page.py:1: report may not import source"),
        (
            "bandscan/radio/verdict.py",
            "from bandscan import plan_for\n",
            "bandscan/radio/verdict.py:1: radio may not import __init__",
        ),
        ("bandscan/source/wav.py", "if True:\n    import rtlsdr\n", "bandscan/source/wav.py:2: rtlsdr belongs in"),
        (
            "bandscan/source/raw.py",
            "try:\n    import fcntl\nexcept ImportError:\n    fcntl = None\n",
            "bandscan/source/raw.py:2: fcntl exists on POSIX only",
        ),
        ("bandscan/baseline.py", "import sqlite3\n", "bandscan/baseline.py:1: sqlite3 belongs in"),
        (
            "bandscan/tally/keys.py",
            "from bandscan.radio import judge\n",
            "bandscan/tally/keys.py:1: tally takes the sheet's words",
        ),
        ("bandscan/tally/view.py", "import prompt_toolkit\n", "bandscan/tally/view.py:1: prompt_toolkit belongs in"),
        ("bandscan/attic.py", "", "bandscan/attic.py:1: room 'attic' has no row"),
    ],
)
def test_a_forbidden_import_is_named_with_file_and_line(path: str, text: str, said: str) -> None:
    """Each rule bites on a made-up module that breaks it."""
    found = breaches(module_of(path, text))
    assert len(found) == 1
    assert found[0].startswith(said)


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("bandscan/source/dongle.py", "def f():\n    import rtlsdr\n    import termios\n"),
        ("bandscan/measure/fm.py", "from bandscan.dsp import psd\nfrom bandscan import tables, units\n"),
        ("bandscan/source/wav.py", "from .samples import read\nfrom . import raw\n"),
        ("bandscan/store.py", "import sqlite3\nfrom .errors import LogError\n"),
    ],
)
def test_an_allowed_import_is_let_through(path: str, text: str) -> None:
    """The rules do not forbid what the house allows: itself, the foundation, a late import of a system's own module."""
    assert breaches(module_of(path, text)) == []


def test_the_rules_themselves_hold_no_circle() -> None:
    """Among the rooms, permission to import is a strict order: following it never comes back."""
    order: list[str] = []

    def visit(room: str, on_the_way: tuple[str, ...]) -> None:
        assert room not in on_the_way, f"circle: {(*on_the_way, room)}"
        if room not in order:
            for later in sorted(MAY_IMPORT[room] - {room}):
                visit(later, (*on_the_way, room))
            order.append(room)

    for room in MAY_IMPORT:
        visit(room, ())
    assert order.index("errors") < order.index("dsp") < order.index("measure") < order.index("pipeline") < order.index("cli")


def run_python(code: str) -> str:
    """Standard output of a fresh interpreter that runs `code`."""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


RUN_HELP = """
import json, runpy, sys
sys.argv = ["bandscan", *{arguments!r}]
try:
    runpy.run_module("bandscan", run_name="__main__")
except SystemExit as end:
    print(json.dumps(sorted(sys.modules)) if end.code in (0, None) else f"exit {{end.code}}")
"""


@pytest.mark.parametrize("arguments", [["--help"], ["survey", "--help"], ["tally", "--help"], ["check", "--help"]])
def test_asking_for_help_imports_nothing_heavy(arguments: list[str]) -> None:
    """`bandscan --help` is quick: neither numpy, scipy, pandas nor any other heavy library is imported."""
    loaded = set(json.loads(run_python(RUN_HELP.format(arguments=arguments)).splitlines()[-1]))
    assert "bandscan.cli" in loaded
    assert not loaded & set(HEAVY)


def test_a_tally_begins_without_the_judges_statistics() -> None:
    """Its first screen does not wait for the second that scipy's statistics take to import."""
    code = "import json, sys, bandscan.pipeline.tallying; print(json.dumps(sorted(sys.modules)))"
    loaded = set(json.loads(run_python(code)))
    assert "bandscan.radio" in loaded
    assert not loaded & {"scipy.stats", "plotly", "jinja2"}


def test_help_works_where_posix_modules_are_absent() -> None:
    """With every POSIX-only module hidden, as on Windows, `bandscan --help` still answers."""
    hide = f"import sys\nsys.modules.update(dict.fromkeys({sorted(POSIX_ONLY - {'posix'})!r}))\n"
    assert "bandscan.cli" in run_python(hide + RUN_HELP.format(arguments=["--help"]))
