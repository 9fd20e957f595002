"""The programme service name: eight characters that come two at a time, put together only out of what can be trusted."""

from __future__ import annotations

from collections import Counter

_KEPT = 16  # different names counted at once
# EN 50067 annex E, basic set, from memory: ASCII but for a few places below 80 hex, then Latin letters row by row
_LOWER = {0x24: "¤", 0x5E: "―", 0x60: "‖", 0x7E: "¯"}
_UPPER = (
    "áàéèíìóòúùÑÇŞβ¡Ĳ"
    "âäêëîïôöûüñçşǧıĳ"
    "ªα©‰Ǧěňőπ€£$←↑→↓"
    "º¹²³±İńűµ¿÷°¼½¾§"
    "ÁÀÉÈÍÌÓÒÚÙŘČŠŽÐĿ"
    "ÂÄÊËÎÏÔÖÛÜřčšžđŀ"
    "ÃÅÆŒŷÝÕØÞŊŔĆŚŹŦð"
    "ãåæœŵýõøþŋŕćśźŧ "
)


def character(code: int) -> str:
    """One byte of the basic character set; a space for a control code."""
    if code >= 0x80:
        return _UPPER[code - 0x80]
    return _LOWER.get(code, chr(code)) if 0x20 <= code < 0x7F else " "


class Name:
    """Pairs of characters in, complete names out.

    A pair is taken when it came in trusted blocks, or twice alike. Names are also changed to run text through them: a pair that
    differs from the one taken before for its place shows a change, and what came before the current cycle of places is dropped.
    """

    def __init__(self) -> None:
        self.seen: Counter[str] = (
            Counter()
        )  # complete names; each pair taken adds how many of the name's pairs its cycle brought
        self._taken: dict[int, tuple[int, int]] = {}  # by place: pair, cycle
        self._once: dict[int, int] = {}
        self._cycle = self._last = 0

    def add(self, address: int, pair: int, trusted: bool) -> None:
        """Adds the two characters (16 bits) of places 2 * address and 2 * address + 1."""
        self._cycle += address < self._last
        self._last = address
        before, self._once[address] = self._once.get(address), pair
        if not trusted and before != pair:
            return
        if address in self._taken and self._taken[address][0] != pair:
            self._taken = {place: taken for place, taken in self._taken.items() if taken[1] == self._cycle}
        self._taken[address] = (pair, self._cycle)
        if len(self._taken) == 4:
            pairs = [self._taken[place][0] for place in range(4)]
            name = "".join(character(pair >> 8) + character(pair & 0xFF) for pair in pairs)
            if name not in self.seen and len(self.seen) >= _KEPT:
                del self.seen[min(self.seen, key=self.seen.__getitem__)]
            self.seen[name] += sum(cycle == self._cycle for _, cycle in self._taken.values())
