"""The key card at the foot of the screen; the help has it at length in `cli.key_card`."""

from __future__ import annotations

CARD = (
    "3 clean   2 every word   1 a trace   | lamp off: 6 5 4 | lamp on: 9 8 7",
    "SPACE heard (2)   M two at once   W a whistle   R a repeat   U - take back",
    "last one:   L lamp   D dial reading   A name heard   T remark",
    "from here:  N next sweep   B band   P pad   I the radio   E list, LEFT RIGHT",
    "Q finish    CTRL-C leave, all is saved",
)
"""Five lines of at most 78 signs."""
CARD_UNSAVED = (*CARD[:-1], "Q finish    CTRL-C leave; saving is tried once more")
"""The same while something is not saved."""
