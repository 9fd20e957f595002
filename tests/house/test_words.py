"""How the code is written: small modules, docstrings, one logarithm, no broad except, no print, no path of one machine."""

from __future__ import annotations

import ast
import subprocess
from collections.abc import Callable, Iterator

import pytest
from house.rooms import PACKAGE, Module, module_of, modules
from places import PROJECT

LONGEST = 400


def long_module(module: Module) -> list[str]:
    """A module past 400 lines holds two nouns."""
    lines = len(module.text.splitlines())
    return [f"{module.path}:{lines}: past {LONGEST} lines"] if lines > LONGEST else []


def missing_docstring(module: Module) -> list[str]:
    """Modules, and public classes, functions and properties, start with a docstring; names with a leading `_` need none."""
    found = [] if ast.get_docstring(module.tree) else [f"{module.path}:1: module without docstring"]
    for node in public_definitions(module.tree.body):
        if not ast.get_docstring(node):
            found.append(f"{module.path}:{node.lineno}: {node.name} without docstring")
    return found


def public_definitions(body: list[ast.stmt]) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef]:
    """Public functions and classes, and the public functions of public classes."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield node
            if isinstance(node, ast.ClassDef):
                yield from public_definitions(node.body)


def second_logarithm(module: Module) -> list[str]:
    """log10 stands in units.py alone, so that 10 and 20 are never mixed up elsewhere."""
    if module.path == "bandscan/units.py":
        return []
    return [
        f"{module.path}:{line}: log10 belongs in bandscan/units.py" for line in sorted(set(lines_naming(module.tree, "log10")))
    ]


def lines_naming(tree: ast.AST, word: str) -> Iterator[int]:
    """Lines on which `word` is a name, an attribute or an imported name."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name | ast.Attribute | ast.ImportFrom):
            names = {alias.name for alias in node.names} if isinstance(node, ast.ImportFrom) else {last_name(node)}
            if word in names:
                yield node.lineno


def last_name(node: ast.expr | None) -> str:
    """`log10` of `log10` and of `np.log10`; empty for anything that is no name."""
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def broad_except(module: Module) -> list[str]:
    """Only errors that are expected are caught."""
    found = []
    for node in ast.walk(module.tree):
        if isinstance(node, ast.ExceptHandler):
            caught = node.type.elts if isinstance(node.type, ast.Tuple) else [node.type]
            if {last_name(one) for one in caught} & {"", "Exception", "BaseException"}:
                found.append(f"{module.path}:{node.lineno}: broad except")
    return found


def stray_print(module: Module) -> list[str]:
    """Only the street door prints, and what is run as a program of its own (`__main__`)."""
    if module.room == "cli" or module.name.endswith("__main__"):
        return []
    return [
        f"{module.path}:{node.lineno}: print outside cli"
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
    ]


def opened_file(module: Module) -> list[str]:
    """The report room returns text and opens no file."""
    if module.room != "report":
        return []
    opening = {"open", "write_text", "write_bytes", "mkdir", "unlink", "write_html", "write_image"}
    found = []
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Call) and last_name(node.func) in opening:
            found.append(f"{module.path}:{node.lineno}: report opens no file, yet calls {last_name(node.func)}")
    return found


def unsorted_names(module: Module) -> list[str]:
    """A package that gathers names lists them in `__all__`, sorted; so does any module that has a list."""
    body = module.tree.body
    listed = [node for node in body if isinstance(node, ast.Assign) and last_name(node.targets[0]) == "__all__"]
    if not listed:
        gathers = any(isinstance(node, ast.ImportFrom) and node.module != "__future__" for node in body)
        return [f"{module.path}:1: package without __all__"] if module.is_package and gathers else []
    names = list(ast.literal_eval(listed[0].value))
    right = sorted(names, key=isort_order)
    return [] if names == right else [f"{module.path}:{listed[0].lineno}: __all__ is not sorted: {right}"]


def isort_order(name: str) -> tuple[int, str]:
    """Constants first, then classes, then functions: the order that ruff keeps in `__all__`."""
    kind = 0 if name.isupper() and len(name) > 1 else 1 if name[:1].isupper() else 2
    return kind, name


RULES: tuple[Callable[[Module], list[str]], ...] = (
    long_module,
    missing_docstring,
    second_logarithm,
    broad_except,
    stray_print,
    opened_file,
    unsorted_names,
)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_bandscan_is_written_by_the_house_rules(rule: Callable[[Module], list[str]]) -> None:
    """Each rule holds in every module; a breach is named with file and line."""
    found = [breach for module in modules() for breach in rule(module)]
    assert not found, "\n" + "\n".join(found)


@pytest.mark.parametrize(
    ("rule", "path", "text", "said"),
    [
        (long_module, "bandscan/dsp/a.py", "x = 1\n" * 401, "bandscan/dsp/a.py:401: past 400"),
        (missing_docstring, "bandscan/dsp/a.py", "x = 1\n", "bandscan/dsp/a.py:1: module"),
        (missing_docstring, "bandscan/dsp/a.py", '"""A."""\ndef f():\n    return 1\n', "bandscan/dsp/a.py:2: f"),
        (
            missing_docstring,
            "bandscan/dsp/a.py",
            '"""A."""\nclass B:\n    """B."""\n    def f(self): ...\n',
            "bandscan/dsp/a.py:4: f",
        ),
        (second_logarithm, "bandscan/dsp/a.py", "import numpy as np\ny = np.log10(2)\n", "bandscan/dsp/a.py:2: log10"),
        (second_logarithm, "bandscan/dsp/a.py", "from math import log10 as lg\n", "bandscan/dsp/a.py:1: log10"),
        (broad_except, "bandscan/cli.py", "try:\n    f()\nexcept:\n    g()\n", "bandscan/cli.py:3: broad"),
        (broad_except, "bandscan/cli.py", "try:\n    f()\nexcept (OSError, Exception):\n    g()\n", "bandscan/cli.py:3: broad"),
        (stray_print, "bandscan/pipeline.py", "def f():\n    print('x')\n", "bandscan/pipeline.py:2: print"),
        (opened_file, "bandscan/report/a.py", "p.write_text('x')\n", "bandscan/report/a.py:1: report"),
        (opened_file, "bandscan/report/a.py", "open('x')\n", "bandscan/report/a.py:1: report"),
        (
            unsorted_names,
            "bandscan/radio/__init__.py",
            "from bandscan.radio.sheet import read_sheet\n",
            "bandscan/radio/__init__.py:1: package",
        ),
        (unsorted_names, "bandscan/radio/a.py", "x = 1\n__all__ = ['b', 'A']\n", "bandscan/radio/a.py:2: __all__"),
    ],
)
def test_a_breach_is_named_with_file_and_line(rule: Callable[[Module], list[str]], path: str, text: str, said: str) -> None:
    """Each rule bites on a made-up module that breaks it."""
    found = rule(module_of(path, text))
    assert len(found) == 1
    assert found[0].startswith(said)


def test_the_rules_let_ordinary_code_through() -> None:
    """What is meant to be allowed is: narrow excepts, private names without docstring, print in cli, log10 in units."""
    ordinary = '"""A."""\ntry:\n    f()\nexcept (OSError, np.linalg.LinAlgError):\n    _x = 1\ndef _g(): ...\n'
    for rule in RULES:
        assert rule(module_of("bandscan/dsp/a.py", ordinary)) == []
    assert stray_print(module_of("bandscan/cli.py", "print(1)\n")) == []
    assert second_logarithm(module_of("bandscan/units.py", "from math import log10\n")) == []


def test_every_public_name_of_the_package_can_be_had() -> None:
    """`bandscan.__all__` promises nothing that is not there."""
    import bandscan

    assert bandscan.__all__
    assert [name for name in bandscan.__all__ if not hasattr(bandscan, name)] == []


def tracked_files() -> list[str]:
    """Files that git keeps. Skips outside a git checkout."""
    try:
        done = subprocess.run(["git", "ls-files", "-z"], cwd=PROJECT, capture_output=True, text=True, timeout=30, check=False)
    except FileNotFoundError:
        pytest.skip("git is not installed: which files are tracked cannot be told")
    if done.returncode != 0:
        pytest.skip(f"no git checkout here: {done.stderr.strip()}")
    return [name for name in done.stdout.split("\0") if name]


def machine_paths() -> list[bytes]:
    """Folders that exist on one machine only: this checkout's, and those that the work is usually done in."""
    return [str(PROJECT).encode(), *(f"/{name}/".encode() for name in ("work", "root", "farm"))]


def test_no_tracked_file_names_a_folder_of_one_machine() -> None:
    """Nothing committed depends on where it was made."""
    found = []
    for name in tracked_files():
        path = PROJECT / name
        if path.is_file() and path.suffix not in {".sigmf-data", ".png"}:
            for number, line in enumerate(path.read_bytes().splitlines(), 1):
                found += [f"{name}:{number}: {folder.decode()}" for folder in machine_paths() if folder in line]
    assert not found, "\n" + "\n".join(found)


def test_the_top_level_holds_what_was_agreed() -> None:
    """The top level is fixed: two papers, the licence, the settings, four folders and dot files."""
    top = {name.split("/")[0] for name in tracked_files()}
    agreed = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "bandscan", "captures_demo", "reports", "tests"}
    assert {name for name in top if not name.startswith(".")} - agreed == set()
    assert PACKAGE.is_dir()
