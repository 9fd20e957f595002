"""Of which stronger stations an emission may be a product: by its place alone, which proves nothing by itself."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from bandscan.units import channel_text

STRONGEST = 8  # stations that are tried as makers
WEAKER_DB = 15.0  # a product lies at least this far below each of its makers
SECOND, THIRD = 2, 3  # orders


@dataclass(frozen=True)
class Makers:
    """The channels that a product would be made of [Hz], its order and its formula in words."""

    channels_hz: frozenset[int]
    order: int
    formula: str


def makers_of(channel_hz: int, level_dbfs: float, stations_dbfs: Mapping[int, float], band: str) -> Iterator[Makers]:
    """The strongest stations of which 2a - b or a + b - c falls on the channel, on AM a + b and a - b too.

    stations_dbfs: levels by channel, in the unit of `level_dbfs` and at the same gain. A product of second order falls out of
    the FM band.
    """
    strong = [hz for hz, level in stations_dbfs.items() if level >= level_dbfs + WEAKER_DB and hz != channel_hz]
    strong = sorted(strong, key=lambda hz: -stations_dbfs[hz])[:STRONGEST]
    for place, first in enumerate(strong):
        for second in strong[place:]:
            third = first + second - channel_hz
            if third in strong and third not in (first, second):
                formula = f"{channel_text(band, first)}+{channel_text(band, second)}-{channel_text(band, third)}"
                yield Makers(frozenset((first, second, third)), THIRD, formula)
            if band == "am" and first != second and channel_hz in (first + second, abs(first - second)):
                high, low = max(first, second), min(first, second)
                sign = "+" if channel_hz == first + second else "-"
                yield Makers(frozenset((first, second)), SECOND, f"{channel_text(band, high)}{sign}{channel_text(band, low)}")
