"""An invented bench for the tests of the tally: five FM stations, one that the list lacks, one AM; and keys as a text."""

from __future__ import annotations

import re

from bandscan.radio.bench import plain
from bandscan.tally.keys import press
from bandscan.tally.state import Known, State, Station

NOW = "2026-05-20 11:42"


def station(channel_hz: int, label: str, written: str, *also: str) -> Station:
    """A station of the list, known to the judge by what is written and by `also`."""
    return Station(channel_hz, label, written, frozenset(plain(name) for name in (written, *also)))


KNOWN = Known(
    {
        "fm": (
            station(88_100_000, "Kreuz 88.1", "88.1", "Kreuz"),
            station(91_300_000, "Kreuz 91.3", "91.3", "Kreuz"),
            station(96_900_000, "Ocker Drei", "Ocker Drei", "96.9"),
            Station(99_900_000, "Fernsender", "Fernsender", listed=False),
            station(101_500_000, "101.5", "101.5"),
            station(104_700_000, "Ambit", "Ambit", "104.7"),
        ),
        "am": (station(1_400_000, "Ombra", "Ombra", "1400"),),
    },
    {"dial": ("pointer", "digits"), "family": ("six-transistor", "converted")},
)


def ready() -> State:
    """An empty sheet with nothing asked."""
    return State()


def typed(state: State, keys: str, known: Known = KNOWN) -> State:
    """The state after keys: each sign is one, `<enter>` and its like are one."""
    for key in re.findall(r"<\w+>|.", keys):
        state = press(state, key.strip("<>") if len(key) > 1 else key, known, NOW)
    return state
