"""Channels in words: runs of a band plan as `88.1-89.9, 101.3 MHz`."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from bandscan.units import channel_text


def spans_text(band: str, channels_hz: Collection[int], plan_channels_hz: Sequence[int]) -> str:
    """The channels as runs that are unbroken in the plan, with their unit; empty for none.

    Args:
        band: `fm` or `am`.
        channels_hz: channels to name. [Hz]
        plan_channels_hz: all channels of the band plan, ascending. [Hz]
    """
    wanted = set(channels_hz)
    runs: list[list[int]] = []
    unbroken = False
    for channel in plan_channels_hz:
        if channel not in wanted:
            unbroken = False
            continue
        if not unbroken:
            runs.append([])
        runs[-1].append(channel)
        unbroken = True
    if not runs:
        return ""
    texts = [channel_text(band, run[0]) + (f"-{channel_text(band, run[-1])}" if len(run) > 1 else "") for run in runs]
    return f"{', '.join(texts)} {'MHz' if band == 'fm' else 'kHz'}"
