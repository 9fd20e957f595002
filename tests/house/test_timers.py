"""The timers of the README are what systemd, launchd and Task Scheduler read; what they start is a command of bandscan."""

from __future__ import annotations

import configparser
import plistlib
import re
import shlex

from places import PROJECT

from bandscan.cli.arguments import parser

README = (PROJECT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    """The code blocks of a language, in order."""
    return re.findall(rf"^```{language}\n(.*?)^```", README, flags=re.MULTILINE | re.DOTALL)


def check(words: list[str]) -> None:
    """A day's logging into a shop."""
    told = parser().parse_args(words)
    assert (told.command, told.band, told.every, told.until) == ("capture", ["fm"], "30m", "18:00")
    assert told.shop is not None


def test_the_timer_for_linux() -> None:
    """A service that is stopped as by hand, and a timer of the same name that starts it each morning."""
    service, timer = (configparser.ConfigParser(interpolation=None) for _ in range(2))
    for unit, text in zip((service, timer), blocks("ini"), strict=True):
        unit.read_string(text)
    assert service.sections() == ["Service"]
    check(shlex.split(service["Service"]["ExecStart"])[1:])
    assert service["Service"]["KillSignal"] == "SIGINT"
    assert timer["Timer"]["OnCalendar"] == "*-*-* 07:00"
    assert timer["Install"]["WantedBy"] == "timers.target"


def test_the_timer_for_macos() -> None:
    """A property list with the label that its file has."""
    (text,) = blocks("xml")
    told = plistlib.loads(text.encode())
    assert told["Label"] == "bandscan"
    words = told["ProgramArguments"]
    assert words[2].endswith("/bin/bandscan")
    check(words[3:])
    assert told["StartCalendarInterval"] == {"Hour": 7, "Minute": 0}


def test_the_timer_for_windows() -> None:
    """A daily task whose command is one argument, short enough for Task Scheduler (261 characters, by its manual)."""
    (line,) = re.findall(r"^schtasks /Create /TN bandscan /SC DAILY /ST 07:00 /TR \"(.*)\"$", README, flags=re.MULTILINE)
    program, *words = line.split(" ")
    assert program.endswith(r"\Scripts\bandscan.exe")
    check(words)
    assert len(line) <= 261
