"""`bandscan tally` as it is typed, in a pseudo-terminal: cli/tally.py, pipeline/tallying.py and the room bandscan/tally."""

from __future__ import annotations

import csv
import io
import json
import os
import random
import re
import signal
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import pandas as pd
import pytest

from bandscan import tables
from bandscan.baseline import to_files
from bandscan.model import Baseline
from bandscan.shop import Shop, make_shop
from bandscan.store import Log
from bandscan.tally import State, read_state

if sys.platform == "win32":
    pytest.skip("Windows has no pseudo-terminal that Python can drive", allow_module_level=True)

from tally.terminal import Terminal

CHANNELS = range(88_100_000, 108_000_000, 400_000)  # 50 stations
MADE = "2026-05-01T12:00:00Z"
# 40 stations as they come along the dial, one key each: the pad of figures and space
SWEEP = "997895 33276 9992 1mw 58r 3378 9921 6 53"


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """A shop with a reference list of 50 FM stations, two of them with names."""
    made = make_shop(tmp_path / "shop", time_zone="Asia/Tokyo")
    rows = pd.DataFrame({"channel_hz": list(CHANNELS)}).assign(
        band="fm", level_db=[-20.0 - number for number in range(50)], level_unit="dBFS", spread_db=1.0, snr_db=40.0, seen=5,
        surveys=5, stereo=1.0, identity="", name="", steadiness="steady", valid="any", remarks="",
    )  # fmt: skip
    rows.loc[3, "name"], rows.loc[10, "name"] = "Ocker Drei", "Ambit"
    stations = tables.check(rows, tables.BASELINE)
    one = Baseline("fm", "us", "bench", stations, 5, MADE, MADE, MADE, "A", "", 0.0, (), "0")
    files = to_files(one)
    with Log(made.log_path) as log:
        log.keep_list("fm", "us", "bench", MADE, files["baseline.csv"], files["baseline.json"])
    return made


def rows(path: Path) -> list[dict[str, str]]:
    """The rows of a sheet, read without bandscan."""
    text = "".join(line + "\n" for line in path.read_text().splitlines() if not line.startswith("#"))
    return list(csv.DictReader(io.StringIO(text)))


def expected_rows(keys: str) -> list[tuple[str, str]]:
    """Grade and lamp of one-key ticks, by the key card."""
    card = {"9": "3 on", "8": "2 on", "7": "1 on", "6": "3 off", "5": "2 off", "4": "1 off", " ": "2 "}
    return [tuple(card.get(key, f"{key.upper()} ").split(" ")) for key in keys]  # type: ignore[misc]


def test_a_sweep_of_forty_stations_is_tallied_with_one_hand_killed_twice_and_checked(shop: Shop) -> None:
    """Every key of every part is in the sheet, in order; the same command goes on after a kill; `check` takes it at once."""
    assert len(SWEEP) == 40
    terminal = Terminal(shop.folder, "tally")
    terminal.until("job number")
    terminal.type("2044\r\x1b")
    terminal.until("none yet")
    sent = ""
    for part, after in ((SWEEP[:17], "kill"), (SWEEP[17:31], "kill"), (SWEEP[31:], "finish")):
        for key in part:
            sent += key
            terminal.type(key)
            terminal.until(lambda: f" {len(sent):>3}   " in terminal.text)  # noqa: B023
        if after == "kill":
            terminal.kill()
            terminal = Terminal(shop.folder, "tally")
            terminal.until("was left in the middle (job 2044, ")
            terminal.type("\r")
            terminal.until(f" {len(sent):>3}   ")
    terminal.type("qq")
    assert terminal.end() == 0
    (sheet,) = shop.reports.glob("sheet*.csv")
    assert f"to judge it run: bandscan check {sheet.relative_to(shop.folder)}" in " ".join(terminal.text.split())
    assert [(row["grade"], row["lamp"]) for row in rows(sheet)] == expected_rows(SWEEP)
    assert {row["sweep"] for row in rows(sheet)} == {"1up"}
    swept = re.search(r"# swept: (.*)", sheet.read_text())
    assert swept is not None
    tokyo = datetime.now(UTC).replace(tzinfo=None) + timedelta(hours=9)
    assert abs(datetime.fromisoformat(swept[1]) - tokyo) < timedelta(minutes=10)

    line = [sys.executable, "-m", "bandscan", "check", str(sheet)]
    done = subprocess.run(line, cwd=shop.folder, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode in (0, 1), done.stderr
    record = json.loads((shop.reports / "2044" / "check.json").read_text())
    counts = sum(key not in "17mwr" for key in SWEEP)
    assert record["job"] == "2044"
    assert record["bands"]["fm"]["counted"] == counts
    assert record["bands"]["fm"]["lamp"]["lit"] is not None


@pytest.mark.parametrize("seed", [1, 2])
def test_a_kill_in_the_middle_of_quick_keys_leaves_a_whole_sheet(tmp_path: Path, seed: int) -> None:
    """Whenever it comes, the file holds the keys up to some moment, all of them and in order, at least those that were seen."""
    rng = random.Random(seed)
    keys = "".join(rng.choices("321987654mwr ", k=150))
    terminal = Terminal(tmp_path, "tally", "s.csv")
    terminal.until("job number")
    terminal.type("\x1b")
    terminal.until("none yet")
    terminal.type(keys)
    seen = rng.randrange(5, 40)
    terminal.until(lambda: max((int(one) for one in re.findall(r"FM 1up +(\d+) ", terminal.text)), default=0) >= seen)
    terminal.kill()
    text = (tmp_path / "s.csv").read_text()
    state = read_state(text, "s.csv")
    assert len(state.stops) >= seen
    assert [(stop.grade, stop.lamp) for stop in state.stops] == expected_rows(keys)[: len(state.stops)]


def agrees(state: State, terminal: Terminal) -> bool:
    """Whether the screen shows what the state holds."""
    seen = terminal.text
    typed = state.entry is None or f"{state.entry.text}_" in seen or state.entry.what.startswith("silent")
    place = f"{state.band.upper()}   sweep {state.sweep[0]}" in seen
    return typed and place and (state.pad_db == "6") == ("pad 6 dB" in seen) and state.shown == ("list SHOWN" in seen)


def test_what_is_seen_is_saved(shop: Shop) -> None:
    """After each key, once the screen shows what it did, the file brings all of it back: a kill there loses nothing."""
    terminal = Terminal(shop.folder, "tally", "s.csv")
    terminal.until("job number")
    sheet = shop.folder / "s.csv"
    script = [
        ("7", "job number: 7_"), ("\r", "radio, make and model: _"), ("\x1b", "next in the list: hidden"),
        ("9", "lamp on"), ("d", "dial reads: _"), ("9", "dial reads: 9_"), ("4", "dial reads: 94_"), ("\r", "94  "),
        ("a", "name heard: _"), ("o", "name heard: o_"), ("c", "Ocker Drei"), ("\r", "Ocker Drei"), ("n", "sweep 2, down"),
        ("p", "attenuator"), ("6", ": 6_"), ("\r", "pad 6 dB in line"), ("e", "list SHOWN"), ("3", "FM 2down  6 dB"),
        ("b", "AM   sweep 1"), ("u", "FM   sweep 2"), ("b", "AM   sweep 1"), ("q", "was AM swept"),
    ]  # fmt: skip
    for key, shows in script:
        terminal.type(key)
        terminal.until(shows)
        again = read_state(sheet.read_text(), "s.csv")
        terminal.until(partial(agrees, again, terminal))  # the screen may be seen half drawn
    terminal.kill()
    again = read_state(sheet.read_text(), "s.csv")
    assert [(stop.dial, stop.name, stop.sweep, stop.pad_db) for stop in again.stops] == [
        ("94", "Ocker Drei", "1up", ""),
        ("", "", "2down", "6"),
    ]
    assert again.header["job"] == "7"


def test_blind_no_byte_of_the_list_reaches_the_terminal(shop: Shop) -> None:
    """Neither a name nor a channel of the list is drawn, until it is asked for; then the next one is."""
    terminal = Terminal(shop.folder, "tally", "s.csv")
    terminal.until("job number")
    terminal.type("\x1b")
    terminal.until("none yet")
    terminal.type("3aa")
    terminal.until("name heard: a_")
    assert b"Ambit" not in terminal.raw
    assert b"Ocker" not in terminal.raw
    terminal.type("m\r33")
    terminal.until("   3   3 clean")
    terminal.type("e")
    terminal.until("list SHOWN")
    terminal.until("seeing it makes one hear it")
    terminal.until("next in the list, MHz")
    terminal.type("\x03")
    assert terminal.end() == 130
    assert rows(shop.folder / "s.csv")[0]["name"] == "Ambit"
    assert "# seen_list: yes" in (shop.folder / "s.csv").read_text()


def test_in_a_window_that_shrinks_the_keys_wait(tmp_path: Path) -> None:
    """It says how large it must be; keys there note nothing; enlarged again it goes on as it was."""
    terminal = Terminal(tmp_path, "tally", "s.csv")
    terminal.until("job number")
    terminal.type("\x1b")
    terminal.until("none yet")
    terminal.type("3")
    terminal.until("   1   3 clean")
    terminal.resize(60, 20)
    terminal.until("needed: 80 and 24")
    terminal.type("333")
    terminal.until("that key was not taken")
    terminal.resize(100, 30)
    terminal.until("   1   3 clean")
    terminal.type("2")
    terminal.until("   2   2 every word")
    terminal.type("qq")
    assert terminal.end() == 0
    assert len(rows(tmp_path / "s.csv")) == 2


HOSTILE = "Cor\x1b]0;owned\x07\x1b[31mvane \x9b2J\u202eevil"


def test_a_hostile_sheet_steers_no_terminal_and_no_colour_is_used(tmp_path: Path) -> None:
    """Codes in a sheet's cells come out as question marks; nothing but bold and reverse is asked of the terminal; all is ASCII
    where the terminal is."""
    sheet = tmp_path / "s.csv"
    sheet.write_text(f"# job: 7\n# radio: {HOSTILE}\nband,dial,grade,name,remark\nfm,96.5,3,{HOSTILE},{HOSTILE}\n")
    terminal = Terminal(tmp_path, "tally", "s.csv", PYTHONIOENCODING="ascii", NO_COLOR="1")
    terminal.until("Cor?]0;owned??[31mvane")
    terminal.type("e3qq")
    assert terminal.end() == 0
    assert terminal.raw.isascii()
    assert b"######" in terminal.raw
    for code in (b"\x1b]0;owned", b"\x1b[31m"):
        assert code not in terminal.raw
    colours = re.findall(rb"\x1b\[([0-9;]*)m", terminal.raw)
    assert {one for code in colours for one in code.split(b";")} <= {b"", b"0", b"1", b"7"}


@pytest.mark.parametrize("ending", ["ctrl-c", "term", "hang-up"])
def test_rows_that_cannot_be_saved_outlive_every_end_but_a_kill(tmp_path: Path, ending: str) -> None:
    """One line says how many the sheet lacks and where they are, below a terminal that was put right; status 3."""
    (tmp_path / "gone").write_text("a file in the place of the folder")
    spare = tmp_path / "temp"
    spare.mkdir()
    terminal = Terminal(tmp_path, "tally", "gone/s.csv", TMPDIR=str(spare))
    terminal.until("job number")
    terminal.type("\x1b")
    terminal.until("none yet")
    terminal.type("39")
    terminal.until("   2   3 clean")
    terminal.until("NOT SAVED: cannot be written: ")
    terminal.until("saving is tried once more")
    assert "all is saved" not in terminal.text
    if ending == "ctrl-c":
        terminal.type("\x03")
    else:
        os.kill(terminal.child.pid, signal.SIGTERM if ending == "term" else signal.SIGHUP)
    assert terminal.end() == 3
    (path,) = spare.iterdir()
    assert [row["lamp"] for row in rows(path)] == ["", "on"]
    said = terminal.raw.decode().split("\x1b[?1049l")[-1]
    assert f"; 2 rows are not in it; the whole sheet is in {path}: put that in its place" in said
    assert "is saved" not in said


BROKEN = """
import sys
from bandscan.tally import desk
def press(*_): raise ZeroDivisionError("a defect")
desk.press = press
from bandscan.cli import main
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.parametrize(
    ("ending", "status"), [("finished", 0), ("ctrl-c", 130), ("term", 128 + signal.SIGTERM), ("defect", 1)]
)
def test_the_terminal_is_put_right_at_every_end_but_a_kill(tmp_path: Path, ending: str, status: int) -> None:
    """Its modes are those from before, the cursor is back, and the other screen is left."""
    terminal = Terminal(tmp_path, "tally", "s.csv", code=BROKEN if ending == "defect" else "")
    before = _modes(terminal)
    terminal.until("job number")
    assert _modes(terminal) != before
    if ending == "term":
        os.kill(terminal.child.pid, signal.SIGTERM)
    else:
        terminal.type({"finished": "\x1b", "ctrl-c": "\x03", "defect": "3"}[ending])
    if ending == "finished":
        terminal.until("none yet")
        terminal.type("3qq")
    after = []
    assert terminal.end(lambda: after.append(_modes(terminal))) == status
    assert after[-1] == before
    for on, off in ((b"\x1b[?1049h", b"\x1b[?1049l"), (b"\x1b[?25l", b"\x1b[?25h"), (b"\x1b[?2004h", b"\x1b[?2004l")):
        assert terminal.raw.rfind(off) > terminal.raw.rfind(on) >= 0
    if ending == "defect":
        assert b"ZeroDivisionError: a defect" in terminal.raw


def _modes(terminal: Terminal) -> list[object]:
    import termios

    return termios.tcgetattr(terminal.child.child_fd)


@pytest.mark.parametrize(("how", "line"), [
    ("pipe", "bandscan tally: needs a terminal for keys and screen; run it without `|`, `<` and `>` (over ssh: ssh -t)"),
    ("dumb", "bandscan tally: this terminal (TERM is dumb) cannot place text; use another, or fill in the sheet by hand"),
])  # fmt: skip
def test_where_there_is_no_terminal_it_says_so_in_one_line(tmp_path: Path, how: str, line: str) -> None:
    """Exit status 2, one line, no file."""
    if how == "pipe":
        command = [sys.executable, "-m", "bandscan", "tally", "s.csv"]
        done = subprocess.run(command, cwd=tmp_path, input="333", capture_output=True, text=True, timeout=60, check=False)
        assert (done.returncode, done.stdout, done.stderr) == (2, "", line + "\n")
    else:
        terminal = Terminal(tmp_path, "tally", "s.csv", TERM="dumb")
        assert terminal.end() == 2
        assert " ".join(terminal.raw.decode().split()) == line
    assert list(tmp_path.iterdir()) == []
