"""One programme on several channels: what it makes of a count by programme. It is no fault of the radio and weighs nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from bandscan.model import StationHeard
from bandscan.plans import programmes
from bandscan.units import channel_text_unit

_SHOWN = 3


def sharing(stations: pd.DataFrame, band: str) -> Mapping[int, tuple[int, ...]]:
    """Each channel of BASELINE that probably shares its programme, with the others that carry it. [Hz]"""
    groups = programmes(stations["channel_hz"].tolist(), stations["remarks"], band)
    return {hz: tuple(other for other in group if other != hz) for group in groups if len(group) > 1 for hz in group}


def repeated_said(band: str, shown: Sequence[StationHeard], shared: Mapping[int, tuple[int, ...]]) -> list[str]:
    """How many programmes the heard stations of the list are, where that is fewer; nothing else."""
    heard = [station.channel_hz for station in shown if station.heard]
    groups = sorted({tuple(hz for hz in heard if hz == one or hz in shared[one]) for one in heard if one in shared})
    groups = [group for group in groups if len(group) > 1]
    if not groups:
        return []
    said = "; ".join(f"{_listed(band, group)} carry probably one programme" for group in groups[:_SHOWN])
    more = f" (and {len(groups) - _SHOWN} more such)" if len(groups) > _SHOWN else ""
    fewer = len(heard) - sum(len(group) - 1 for group in groups)
    counted = f"the {len(heard)} stations of the list that were heard are probably {fewer} programmes"
    return [
        f"{band.upper()}: {said}{more}: {counted}; who counts by programme comes out lower, and that is no fault of the radio"
    ]


def relay_words(band: str, channel_hz: int, others_hz: tuple[int, ...]) -> str:
    """What a tick marked as a repeat may be where the list has a station whose programme others carry too."""
    return (
        f"marked as a repeat (repeated-programme): the list has a station on {channel_text_unit(band, channel_hz)}"
        f" that probably carries the programme of {_listed(band, others_hz)}; if it was that, grade it as a station"
    )


def _listed(band: str, channels_hz: tuple[int, ...]) -> str:
    return " and ".join(channel_text_unit(band, hz) for hz in channels_hz)
