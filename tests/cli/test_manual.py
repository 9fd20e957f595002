"""README.md is the manual: each command that it shows does what it is shown for, in the manual's order: bandscan/cli."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import numpy as np
import pytest
from house.test_papers import README, shown_commands
from places import PROJECT
from recordings import AM, FM_LOW, recording
from scipy.io import wavfile

from bandscan import pipeline
from bandscan.cli import main
from bandscan.pipeline.printing import BROWSERS

# what needs a dongle, a terminal, or a quarter of a minute has tests of its own
ELSEWHERE = {"capture": "tests/device", "tally": "tests/tally", "demo": "tests/cli/test_demo.py"}
# the manual's order: one makes what the next needs
ORDER = ("setup", "survey", "baseline", "sheet", "check", "log")


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder as the manual's reader has it: the project's recordings, his own of two days, and the manual's count sheet."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("BANDSCAN_SHOP", raising=False)
    monkeypatch.setattr(pipeline, "dongle_lines", lambda serial: ("no dongle here",))
    shutil.copytree(PROJECT / "captures_demo", tmp_path / "captures_demo")
    for day in (14, 15):
        for source in (FM_LOW, AM):
            recording(tmp_path / "RECORDINGS", source, f"{source}-{day}", started=f"2026-04-{day}T18:00:00Z", rig="bench")
    noise = np.random.default_rng(5).integers(100, 156, 2 * 600_000)
    noise.astype(np.uint8).tofile("band.cu8")
    wavfile.write("band.wav", 2_400_000, (noise.reshape(-1, 2) - 128).astype(np.int16) * 64)
    (sheet,) = re.findall(r"^```\n(# job:.*?)^```", README, flags=re.MULTILINE | re.DOTALL)
    for name in ("sheet.csv", "before.csv"):
        Path(name).write_text(sheet, encoding="utf-8")
    Path("after.csv").write_text(sheet.replace("14:05", "16:05"), encoding="utf-8")
    return tmp_path


def by_command(line: str) -> str:
    words = shlex.split(line)[1:]
    return words[2] if words[:1] == ["--shop"] else (words or [""])[0]


def test_every_command_of_the_manual_runs(
    bench: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Run in the order of the work each ends without failure; a verdict is no failure. Pages and log are there afterwards."""
    lines = [line for line in dict.fromkeys(shown_commands()) if "--help" not in line and by_command(line)]
    kinds = {by_command(line) for line in lines}
    assert kinds == {*ORDER, *ELSEWHERE}
    assert [place for place in ELSEWHERE.values() if not (PROJECT / place).exists()] == []
    browser = any(shutil.which(name) for name in BROWSERS)
    for kind in ORDER:
        if kind == "baseline":  # the manual's reader stands in his shop from here on
            monkeypatch.setenv("BANDSCAN_SHOP", "my-shop")
        for line in (one for one in lines if by_command(one) == kind):
            if kind == "setup":
                shutil.rmtree(bench / "my-shop", ignore_errors=True)
            status = main(shlex.split(line)[1:])
            told = capsys.readouterr()
            if "--pdf" in line and not browser:
                assert (status, "needs a browser" in told.err) == (3, True), line
                continue
            assert status in ((0, 1) if kind == "check" else (0,)), f"{line}: {told.err}"
            assert told.out if kind == "log" else told.err.splitlines()[-1].startswith(("next: ", "open ")), line
    reports = bench / "my-shop" / "reports"
    for page in (
        "baseline/fm/baseline.html",
        "sheet.html",
        "open-sheet.html",
        "2044/check.html",
        "2044/owner.html",
        "2044/after/before-after.html",
        "plots.js",
    ):
        assert (reports / page).is_file(), page


def test_what_the_manual_says_a_page_says_is_what_it_says() -> None:
    """The sentences quoted under "When it cannot tell" stand so in the program; what an example fills in is left open."""
    section = README[README.index("## When it cannot tell") : README.index("## The count sheet")]
    quoted = re.findall(r'^\| "([^"]+)" \|', section, flags=re.MULTILINE)
    assert len(quoted) > 5
    rooms = "".join(path.read_text(encoding="utf-8") for path in sorted((PROJECT / "bandscan" / "radio").glob("*.py")))
    code = re.sub(r"\{[^{}]*\}", "", rooms).replace("  ", " ")
    for sentence in quoted:
        fixed = [
            part.strip(" ,")
            for part in re.split(r"AM(?= on)|10(?= dB)|rig [AB]|60(?= days)|older|the list|the sheet is", sentence)
        ]
        assert [part for part in fixed if part not in code] == [], sentence
