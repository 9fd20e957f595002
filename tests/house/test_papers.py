"""DEVELOPERS.md and README.md say what is so: columns, import rules, rooms, words, commands and files."""

from __future__ import annotations

import re
import shlex

import pytest
from house.columns import markdown
from house.rooms import MAY_IMPORT, modules
from places import PROJECT

from bandscan import tables

README = (PROJECT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (PROJECT / "DEVELOPERS.md").read_text(encoding="utf-8")

MAKE = "python3 -m venv .venv && .venv/bin/pip install -e '.[test]' && .venv/bin/bandscan demo"
TEST = ".venv/bin/python -m pytest"


@pytest.mark.parametrize("table", tables.ALL, ids=lambda table: table.name)
def test_the_columns_in_developers_are_those_of_the_code(table: tables.Table) -> None:
    """Each table of bandscan/tables.py stands in DEVELOPERS.md as `python tests/house/columns.py` prints it."""
    assert markdown(table) in DEVELOPERS, "print it anew: python tests/house/columns.py"


def test_the_import_rules_in_developers_are_those_of_the_test() -> None:
    """The table of who may import whom has a row for every room, with the rooms that the test allows."""
    written = {}
    for rooms, allowed in re.findall(r"^\| (`[^|]+`) \| ([^|]+) \|", section("Who may import whom"), flags=re.MULTILINE):
        names = frozenset(re.findall(r"`(\w+)`", allowed))
        for room in re.findall(r"`(\w+)`", rooms):
            written[room] = names | (MAY_IMPORT["measure"] - {"dsp"} if "the foundation" in allowed else frozenset())
    assert written == MAY_IMPORT


def test_the_map_in_developers_has_every_room_and_no_other() -> None:
    """Each room of the package stands in the map, and nothing that is not there."""
    drawn = set(re.findall(r"^  (\w+)(?:\.py|/)", section("The map"), flags=re.MULTILINE))
    assert drawn == {module.room for module in modules()}


@pytest.mark.parametrize("words", [tables.HOLDS, tables.STEADINESS, tables.VALID, tables.GRADES, tables.LAMPS])
def test_every_word_of_the_tables_is_explained(words: tuple[str, ...]) -> None:
    """The word list of DEVELOPERS.md explains each word that a table's cell may hold."""
    explained = section("Words")
    assert [word for word in words if f"`{word}`" not in explained] == []


@pytest.mark.parametrize(("paper", "text"), [("README.md", README), ("DEVELOPERS.md", DEVELOPERS)])
def test_files_that_a_paper_names_are_there(paper: str, text: str) -> None:
    """Every path of this project in a paper, in backticks or as a link, exists."""
    named = re.findall(r"`((?:bandscan|tests|captures_demo|\.ci)/[\w./-]*)`", text) + re.findall(r"\]\(([^)#:]+)\)", text)
    assert named
    assert [name for name in named if not (PROJECT / name).exists()] == [], paper


def test_the_two_commands_stand_in_the_readme_to_copy() -> None:
    """One line makes the demo, one line runs the tests; each stands alone on its line, the Windows forms beside."""
    lines = README.splitlines()
    assert lines.count(MAKE) == 1
    assert lines.count(TEST) == 1
    assert any(r".venv\Scripts\bandscan" in line for line in lines)
    assert any(r".venv\Scripts\python -m pytest" in line for line in lines)


def test_the_gate_runs_what_the_workshop_names() -> None:
    """`.ci/run` and DEVELOPERS.md name the same four commands."""
    gate = (PROJECT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    for line, command in [
        ("step ruff check .", "ruff check ."),
        ("step ruff format --check .", "ruff format --check ."),
        ("step mypy", "mypy"),
        ('"$bin/python" -m pytest', "python -m pytest"),
    ]:
        assert any(one.startswith(line) for one in gate), line
        assert f"`.venv/bin/{command}`" in DEVELOPERS, command


def section(title: str) -> str:
    """The part of DEVELOPERS.md under a heading of the second level."""
    found = re.search(rf"^## {re.escape(title)}\n(.*?)(?=^## |\Z)", DEVELOPERS, flags=re.MULTILINE | re.DOTALL)
    assert found is not None, f"DEVELOPERS.md has no section {title!r}"
    return found[1]


def shown_commands() -> list[str]:
    """Every `bandscan ...` command line of the README, in code blocks and in backticks, without the path before it."""
    blocks = re.findall(r"^```\w*\n(.*?)^```", README, flags=re.MULTILINE | re.DOTALL)
    lines = [line.split("#")[0].split("&&")[-1].strip() for block in blocks for line in block.splitlines()]
    lines += re.findall(r"`([^`\n]*)`", re.sub(r"^```.*?^```", "", README, flags=re.MULTILINE | re.DOTALL))
    found = [re.sub(r"^\S*[/\\]bandscan(?:\.exe)?\b", "bandscan", line) for line in lines]
    return [line for line in found if re.match(r"bandscan( |$)", line)]


def test_every_command_of_the_readme_is_one_that_the_program_takes(capsys: pytest.CaptureFixture[str]) -> None:
    """Each `bandscan ...` shown in the README is accepted by the parser; of every command at least one is shown."""
    from bandscan.cli.arguments import parser

    commands = set()
    for line in shown_commands():
        words = shlex.split(line)[1:]
        if words and "--help" not in words:
            try:
                commands.add(parser().parse_args(words).command)
            except SystemExit:
                pytest.fail(f"README shows {line!r}: {capsys.readouterr().err}")
    assert commands == set(offered_commands(parser().format_help()))


def offered_commands(help_text: str) -> list[str]:
    """The commands that `bandscan --help` lists."""
    return re.findall(r"^ {4}([a-z]+) {2,}", help_text, flags=re.MULTILINE)


def test_the_count_sheet_of_the_readme_is_understood() -> None:
    """The example can be typed as it stands: every line of its header and every row is read, and every column is explained."""
    from bandscan.radio import read_sheet

    blocks = re.findall(r"^```\n(# job:.*?)^```", README, flags=re.MULTILINE | re.DOTALL)
    assert len(blocks) == 1
    sheet = read_sheet(blocks[0], "README.md")
    assert len(sheet.header) == sum(line.startswith("#") for line in blocks[0].splitlines())
    assert len(sheet.ticks) == sum(line.startswith(("fm", "am")) for line in blocks[0].splitlines())
    explained = set(re.findall(r"^\| (\w+) \|", README, flags=re.MULTILINE))
    assert set(tables.SHEET.names) - {"dial_hz"} <= explained
    for words in (tables.GRADES, tables.LAMPS):
        assert [word for word in words if f"`{word}`" not in README] == []
