"""Figures and lamps five lines high, to be read from an arm's length away."""

from __future__ import annotations

HEIGHT = 5
LAMPS = {"": "", "on": "*", "off": "o", "flicker": "%"}
"""The sign for `big` that a lamp has; none where it was not looked at."""
_SHAPES = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": (" # ", "## ", " # ", " # ", "###"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", "###", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", "  #", "  #", "  #"),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
    "M": ("#   #", "## ##", "# # #", "#   #", "#   #"),
    "W": ("#   #", "#   #", "# # #", "## ##", "#   #"),
    "R": ("### ", "#  #", "### ", "# # ", "#  #"),
    ".": ("  ", "  ", "  ", "  ", "# "),
    "*": (" # ", "###", "###", "###", " # "),
    "o": (" # ", "# #", "# #", "# #", " # "),
    "%": (" # ", "## ", "###", " ##", " # "),
    "-": ("   ", "   ", "###", "   ", "   "),
}


def big(text: str, ink: str) -> list[str]:
    """A short text in large figures: `HEIGHT` lines of one length. `ink` is one sign; a dot of a figure is two of it wide."""
    shapes = [_SHAPES[sign] for sign in text]
    return ["  ".join("".join(2 * dot for dot in shape[line]) for shape in shapes).replace("#", ink) for line in range(HEIGHT)]
