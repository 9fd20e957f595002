"""The commands as they are typed: exit status, what goes to which stream, what is said next: bandscan/cli."""

from __future__ import annotations

import io
import json
import os
import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from recordings import AM, DEMO, FM_HIGH, FM_LOW, recording

from bandscan import pipeline
from bandscan.cli import main

LOOK = pipeline.dongle_lines


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to stand in, with no shop named in the environment."""
    folder = tmp_path / "bench"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.delenv("BANDSCAN_SHOP", raising=False)
    # a look at the dongle takes a second; the newcomer's walk takes it
    monkeypatch.setattr(pipeline, "dongle_lines", lambda serial: (f"looked for {serial!r}",))
    return folder


class Typed:
    """What one command line gave."""

    def __init__(self, line: str, capsys: pytest.CaptureFixture[str]) -> None:
        try:
            self.status = main(re.findall(r'"[^"]*"|\S+', line)) if '"' not in line else main(_split(line))
        except SystemExit as stop:
            self.status = int(stop.code or 0)
        captured = capsys.readouterr()
        self.out, self.err = captured.out, captured.err

    @property
    def next(self) -> str:
        """The last line, which says what to do next."""
        return self.err.splitlines()[-1]


def _split(line: str) -> list[str]:
    return [part.strip('"') for part in re.findall(r'"[^"]*"|\S+', line)]


SHEET = """\
# job: 2041
# radio: Corvane
# swept: 2026-04-14 14:00
# antenna: wire
# dial: digits
band,dial,grade,lamp,pad_db,sweep,name,remark
fm,97.7,3,on,,1,,
fm,101.1,3,on,,1,,
fm,102.1,3,on,,1,,
"""


def test_the_newcomers_walk(bench: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Setup, forged recordings refused, plain ones surveyed, list, sheet, check, log: no path where the shop knows it,
    and after each command the line that says what to do next."""
    monkeypatch.setattr(pipeline, "dongle_lines", LOOK)
    setup = Typed("setup shop --place Harrow --time-zone America/Denver --rig loft", capsys)
    assert setup.status == 0
    assert setup.err.startswith("dongle: ")
    assert setup.next == "next: put recordings into shop/captures, then run: bandscan --shop shop survey"

    refused = Typed(f"--shop shop survey {DEMO}", capsys)
    assert refused.status == 3
    assert refused.err.count("is forged: its signals were made, not received, and this shop logs received ones only") == 3
    assert refused.next == "next: nothing was surveyed; mend what is named above and run the command again"

    for source in (FM_LOW, FM_HIGH, AM):
        recording(bench / "shop" / "captures", source)
    survey = Typed("--shop shop survey", capsys)
    assert survey.status == 0
    assert "102.1" in survey.out
    assert survey.next == "next: logged in shop/log.sqlite; for the reference station list run: bandscan --shop shop baseline"

    listed = Typed("--shop shop baseline", capsys)
    assert listed.status == 0
    assert "open shop/reports/baseline/fm/baseline.html" in listed.err
    assert listed.next == "next: for an empty count sheet run: bandscan --shop shop sheet"

    sheet = Typed("--shop shop sheet", capsys)
    assert sheet.status == 0
    names = ("sheet.csv", "open-sheet.csv", "sheet.html", "open-sheet.html")
    assert sheet.out.split() == [f"shop/reports/{name}" for name in names]
    assert sheet.next == "next: sweep the dial and fill it in, then run: bandscan --shop shop check shop/reports/sheet.csv"

    (bench / "shop" / "reports" / "sheet.csv").write_text(SHEET)
    check = Typed("--shop shop check", capsys)
    assert check.status == 0
    assert "note: no sheet was named, taking shop/reports/sheet.csv" in check.err
    # 20 of 101 channels are covered: that is a list of grade C, and the verdict is honest about it
    assert "FM  CANNOT TELL" in check.out
    assert "grade C" in check.out
    assert "open shop/reports/2041/check.html" in check.err
    assert check.next == "next: this check stays as issued; to print it again run: bandscan --shop shop log --job 2041"

    contents = Typed("--shop shop log", capsys)
    assert contents.status == 0
    assert re.search(r"2041 +Corvane +.*FM cannot tell", contents.out)
    again = Typed("--shop shop log --job 2041", capsys)
    assert json.loads(again.out)["job"] == "2041"
    assert again.out.rstrip("\n") == (bench / "shop" / "reports" / "2041" / "check.json").read_text().rstrip("\n")


def test_inside_the_shop_no_folder_needs_naming(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The nearest folder upward with a shop.toml is the shop, and the next lines name none."""
    Typed("setup .", capsys)
    recording(bench / "captures")
    assert Typed("survey", capsys).next == "next: logged in log.sqlite; for the reference station list run: bandscan baseline"
    assert Typed("baseline", capsys).next == "next: for an empty count sheet run: bandscan sheet"
    assert Typed("log", capsys).status == 0


def test_a_named_folder_that_is_no_shop_is_made_one(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--shop with a new folder makes it a shop with defaults, says so, and logs there; it may stand after the command too."""
    recording(bench / "in")
    typed = Typed('survey in --shop "new shop"', capsys)
    assert typed.status == 0
    assert "new shop was no shop: made one with defaults, see" in typed.err
    assert (bench / "new shop" / "log.sqlite").is_file()
    assert typed.next.endswith('run: bandscan --shop "new shop" baseline')


@pytest.mark.parametrize(("asked", "status"), [("check nosuch.csv", 3), ("check --count fm=many", 2)])
def test_no_shop_is_made_for_what_cannot_be_judged(
    bench: Path, capsys: pytest.CaptureFixture[str], asked: str, status: int
) -> None:
    """A sheet that is not there, a count that is none: named, and no folder is left behind."""
    typed = Typed(f"--shop new {asked}", capsys)
    assert typed.status == status
    assert asked.split()[-1].split("=")[-1] in typed.err
    assert not (bench / "new").exists()


def test_without_a_shop_results_are_given_and_nothing_is_logged(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Results on standard output, files where asked, one line how to make a shop."""
    recording(bench / "in")
    typed = Typed("survey in --out out", capsys)
    assert typed.status == 0
    assert "97.7" in typed.out
    assert "open out/occupancy.html" in typed.err
    assert typed.next == "next: nothing is logged without a shop; `bandscan setup DIR` makes one"
    assert sorted(path.name for path in bench.iterdir()) == ["in", "out"]


def test_captures_demo_is_surveyed_as_the_readme_says(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`bandscan survey captures_demo --out OUT` works outside of a shop, and says that the signals were made."""
    typed = Typed(f"survey {DEMO} --out out", capsys)
    assert typed.status == 0
    assert typed.out.count("MADE SIGNALS") == 2
    assert (bench / "out" / "occupancy.html").is_file()


def raw(folder: Path, name: str = "bare.cu8") -> Path:
    """Bare I/Q: the samples of a demo recording without their metadata."""
    path = folder / name
    path.write_bytes((DEMO / f"{FM_LOW}.sigmf-data").read_bytes())
    return path


def test_bare_samples_are_read_with_what_is_told(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--format, --rate, --centre and --started stand in for metadata; an undated survey says so."""
    raw(bench)
    told = "survey bare.cu8 --format cu8 --rate 2.4M --centre 97.8M"
    dated = Typed(f"{told} --started 2026-03-14T10:30:00Z", capsys)
    assert (dated.status, "97.7" in dated.out, "2026-03-14 10:30 UTC" in dated.out) == (0, True, True)
    undated = Typed(told, capsys)
    assert "no start time in bare" in undated.out


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("", "the following arguments are required: COMMAND"),
        ("sing", "invalid choice: 'sing'"),
        ("survey --region uk", "invalid choice: 'uk'"),
        ("survey", "bandscan survey: survey needs recordings; accepted: files or folders; name some, or make a shop"),
        ("survey x --workers 0", "bandscan survey: --workers 0; accepted: 1 or more"),
        ("survey x --gain 300", "bandscan survey: --gain 300; accepted: -20 to 120, in dB"),
        ("survey x --format cu8", "bandscan survey: bare I/Q needs --rate and --centre as well; accepted: --format cu8"),
        ("survey x --rate 2.4M --centre 98M", "bandscan survey: bare I/Q needs --format as well"),
        ("survey x --format cu7 --rate 2.4M --centre 98M", "bandscan survey: no sample format 'cu7'; accepted: cu8,"),
        ("survey x.wav --centre 98.1", "bandscan survey: --centre 98.1 is 98.1 Hz, below both bands; accepted: 98.1M for FM"),
        ("survey x --format cu8 --rate fast --centre 98M", "bandscan survey: --rate 'fast' is not a number of hertz;"),
        ("survey x --started 2026-03-14T10:30:00Z", "bandscan survey: --started is for bare I/Q; accepted: --format,"),
        ("baseline", "bandscan baseline: a baseline is made of a shop's surveys, and there is no shop here; make one with"),
        ("check", "bandscan check: check needs a count sheet or totals; accepted: SHEET.csv, or --count fm=31;"),
        ("check --count fm", "bandscan check: --count fm; accepted: --count fm=31 and --count am=7, each once"),
        ("check --count tv=3", "bandscan check: --count tv=3; accepted:"),
        ("check --count fm=3 --count fm=4", "bandscan check: --count fm=4; accepted:"),
        ("check --count fm=-3", "bandscan check: --count fm=-3; accepted:"),
        ("check --count fm=3", "bandscan check: there is no shop here, so no list to judge against; name one with --baseline"),
        ("sheet", "bandscan sheet: there is no shop here; name a list with --baseline and a folder with --out"),
        ("log", "bandscan log: there is no shop here, so no log; name one with --shop DIR"),
        ("setup shop --gain loud", "bandscan setup: gain 'loud' is no number of dB; accepted: 28.0, or empty"),
    ],
)
def test_a_wrong_command_line_is_told_with_status_2(
    line: str, said: str, bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each wrong command line: status 2, one line that says what is accepted, and nothing is made."""
    typed = Typed(line, capsys)
    assert typed.status == 2
    assert typed.out == ""
    assert said in typed.err.splitlines()[-1]
    assert list(bench.iterdir()) == []


def test_a_wrong_shop_stops_every_command_with_its_line(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A wrong shop.toml gives status 3 and one line with the place, whichever command is run."""
    (bench / "shop.toml").write_text('name = "x"\nregion = "uk"\n')
    for line in ("survey", "baseline", "sheet", "check --count fm=3", "log"):
        typed = Typed(line, capsys)
        assert typed.status == 3
        assert re.fullmatch(r'bandscan: .*shop\.toml: line 2: region = "uk" \(accepted: .+\n', typed.err)


def shop_with_list(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A shop in the folder with one survey and its list."""
    Typed("setup .", capsys)
    recording(bench / "captures", FM_LOW)
    recording(bench / "captures", FM_HIGH)
    Typed("survey", capsys)
    Typed("baseline", capsys)


def test_the_exit_status_says_what_came_of_it(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """3 if an input failed though others were done, else 1 if a radio fell short, else 0."""
    shop_with_list(bench, capsys)
    (bench / "good.csv").write_text(SHEET)
    assert Typed("check good.csv", capsys).status == 0
    (bench / "bad.csv").write_text(SHEET + "fm,98.1,9,,,,,\n")
    mixed = Typed("check bad.csv good.csv", capsys)
    assert mixed.status == 3
    assert "Job 2041" in mixed.out
    assert mixed.err.count("bandscan: ") == 1
    # a list that says of itself that it is sound, and a radio that heard nothing at all
    about = next((bench / "reports").rglob("baseline.json"))
    about.write_text(re.sub(r'"grade": "C"', '"grade": "A"', about.read_text()))
    (bench / "dead.csv").write_text(SHEET.split("fm,97.7")[0].replace("# job", "# bands: fm\n# job"))
    dead = Typed(f"check dead.csv --baseline {about.with_suffix('.csv')}", capsys)
    assert "FALLS SHORT" in dead.out
    assert dead.status == 1


def test_tables_go_to_standard_output_and_the_rest_beside_it(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Standard output holds results alone: no progress, no notes, no next line, no escape codes."""
    recording(bench / "in")
    typed = Typed("survey in", capsys)
    assert "next:" not in typed.out
    assert "\x1b" not in typed.out + typed.err
    assert "Survey fm-" in typed.out
    assert "Survey fm-" not in typed.err


def test_setup_asks_where_somebody_answers(
    bench: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """At a terminal what was not told is asked, with the default shown; what was told is not."""

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setenv("TZ", "Europe/Berlin")
    answers = ["", "Harrow", "", "eu", "loft", "wire", "", "1:2", "", "28", "direct"]
    monkeypatch.setattr("sys.stdin", Terminal("\n".join(answers) + "\n"))
    typed = Typed("setup shop", capsys)
    assert typed.status == 0
    assert "name of the shop [shop]: " in typed.err
    assert "looked for ''" in typed.err
    text = (bench / "shop" / "shop.toml").read_text()
    for line in (
        'name = "shop"', 'place = "Harrow"', 'time_zone = "Europe/Berlin"', 'region = "eu"', "[rigs.loft]", 'antenna = "wire"',
        'splitter = "1:2"', "gain_db = 28.0", 'am_feed = "direct"',
    ):  # fmt: skip
        assert line in text.splitlines()
    monkeypatch.setattr("sys.stdin", Terminal(""))
    told = Typed("setup other --name N --place P --time-zone UTC --region us --rig R --antenna A --lead L --splitter S"
                 " --receiver 1 --gain 20 --am-feed none", capsys)  # fmt: skip
    assert (told.status, "[" in told.err) == (0, False)


def test_setup_over_a_shop_is_refused(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that is a shop already is not touched."""
    Typed("setup shop --place first", capsys)
    typed = Typed("setup shop --place second", capsys)
    assert typed.status == 3
    assert "is a shop already; change its settings in" in typed.err
    assert 'place = "first"' in (bench / "shop" / "shop.toml").read_text()


def test_a_log_of_a_newer_bandscan_is_left_alone(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A newer log: status 3, one line, and the survey is still given."""
    shop_with_list(bench, capsys)
    with closing(sqlite3.connect(bench / "log.sqlite")) as database:
        database.execute("PRAGMA user_version = 99")
    typed = Typed("survey", capsys)
    assert typed.status == 3
    assert "log.sqlite: made by a newer bandscan (log version 99)" in typed.err
    assert "97.7" in typed.out
    assert typed.next == "next: nothing was logged; mend what is named above and run the command again"


def test_output_that_nobody_reads_is_no_fault(bench: Path) -> None:
    """Where the reader of the output has left, a command ends without a traceback."""
    recording(bench / "in")
    ours, theirs = os.pipe()
    os.close(ours)
    line = [sys.executable, "-m", "bandscan", "survey", "in"]
    done = subprocess.run(line, stdout=theirs, stderr=subprocess.PIPE, text=True, timeout=120, check=False)
    os.close(theirs)
    assert done.returncode == 0
    assert done.stderr == ""
