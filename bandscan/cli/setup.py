"""`bandscan setup`: what was not told is asked where somebody sits at the terminal."""

from __future__ import annotations

from argparse import Namespace
from typing import TextIO

from bandscan.cli.zone import local_zone

# option -> question, in the order of asking
_QUESTIONS = {
    "name": "name of the shop",
    "place": "place of the bench",
    "time_zone": "time zone",
    "region": "region: us, eu or jp",
    "rig": "a short name for the rig (antenna, lead, splitter, receiver and gain together)",
    "antenna": "antenna",
    "lead": "lead",
    "splitter": "splitter or buffer amplifier, empty for none (on AM never a passive splitter: it makes the radio itself deaf)",
    "receiver": "serial number of the receiver",
    "gain": "its gain in dB, empty if recordings tell it",
    "am_feed": "how AM gets to the receiver: none, direct or upconverter",
}


def ask(told: Namespace, answers: TextIO, questions: TextIO) -> dict[str, str]:
    """The answers by option: those of the command line, else those typed, else the defaults."""
    defaults = {
        "name": told.folder.absolute().name,
        "time_zone": local_zone(),
        "region": "us",
        "rig": "bench",
        "am_feed": "none",
    }
    found: dict[str, str] = {}
    for option, question in _QUESTIONS.items():
        if getattr(told, option) is not None:
            found[option] = getattr(told, option)
            continue
        default = defaults.get(option, "")
        typed = ""
        if answers.isatty():
            print(f"{question}{f' [{default}]' if default else ''}: ", end="", file=questions, flush=True)
            typed = answers.readline().strip()
        found[option] = typed or default
    return found
