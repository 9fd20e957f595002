"""One programme on several channels: what it makes of a count by programme. No fault of the radio; it turns no verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from bandscan.model import Finding, StationHeard
from bandscan.plans import programmes
from bandscan.radio.findings import MOST_EVIDENCE
from bandscan.units import channel_text_unit

_SHOWN = 3
_REPEAT_TESTS = {
    "fm": "put a 10 dB attenuator in line: repeats that the set makes go first, those on the air stay",
    "am": "look twice the IF above each: a station there of the same words makes it an image",
}
# ten to one that what the list or the listener says of a shared programme is so (from memory): under what turns a verdict
_WEIGHT = 1.0


def sharing(stations: pd.DataFrame, band: str) -> Mapping[int, tuple[int, ...]]:
    """Each channel of BASELINE that probably shares its programme, with the others that carry it. [Hz]"""
    groups = programmes(stations["channel_hz"].tolist(), stations["remarks"], band)
    return {hz: tuple(other for other in group if other != hz) for group in groups if len(group) > 1 for hz in group}


def repeated_finding(
    band: str, shown: Sequence[StationHeard], shared: Mapping[int, tuple[int, ...]], marked_hz: Sequence[int | None]
) -> Finding | None:
    """That heard stations of the list are fewer programmes, or that ticks were marked as repeats; None where neither is.

    `marked_hz` has the channel of every tick that the listener marked as a repeat, None where it was not read.
    """
    heard = [station.channel_hz for station in shown if station.heard]
    groups = sorted({tuple(hz for hz in heard if hz == one or hz in shared[one]) for one in heard if one in shared})
    groups = [group for group in groups if len(group) > 1]
    said, tests = [], []
    if groups:
        carry = "; ".join(f"{_listed(band, group)} carry probably one programme" for group in groups[:_SHOWN])
        more = f" (and {len(groups) - _SHOWN} more such)" if len(groups) > _SHOWN else ""
        fewer = len(heard) - sum(len(group) - 1 for group in groups)
        counted = f"the {len(heard)} stations of the list that were heard are probably {fewer} programmes"
        said.append(f"{carry}{more}: {counted}; who counts by programme comes out lower, and that is no fault of the radio")
        tests.append(f"listen to {_listed(band, groups[0])} one after the other: the same words are one programme")
    if marked_hz:
        few = (
            "1 tick is marked as a repeat and is"
            if len(marked_hz) == 1
            else f"{len(marked_hz)} ticks are marked as repeats and are"
        )
        said.append(f"{few} not counted")
        tests.append(_REPEAT_TESTS[band])
    if not said:
        return None
    evidence = sorted({hz for group in groups for hz in group} | {hz for hz in marked_hz if hz is not None})
    return Finding("repeated-programme", "; ".join(said), tuple(evidence[:MOST_EVIDENCE]), tests[0], _WEIGHT)


def relay_words(band: str, channel_hz: int, others_hz: tuple[int, ...]) -> str:
    """What a tick marked as a repeat may be where the list has a station whose programme others carry too."""
    return (
        f"marked as a repeat (repeated-programme): the list has a station on {channel_text_unit(band, channel_hz)}"
        f" that probably carries the programme of {_listed(band, others_hz)}; if it was that, grade it as a station"
    )


def _listed(band: str, channels_hz: tuple[int, ...]) -> str:
    return " and ".join(channel_text_unit(band, hz) for hz in channels_hz)
