"""Remarks that mark one programme on several channels, as translators and relays send it: written and read only here.

`same-programme-as-97.5:by-code` says that both stations send one programme identification, `:by-audio` that their sound was
the same. Either is a claim: codes are copied and altered, and two stations may share a programme for an hour of news.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from bandscan.units import channel_text

BY_CODE, BY_AUDIO = "by-code", "by-audio"
_WORD = re.compile(rf"^same-programme-as-(\d+(?:\.\d+)?):({BY_CODE}|{BY_AUDIO})$")
_HERTZ = {"fm": 1_000_000, "am": 1000}


def relay_word(band: str, channel_hz: int, how: str) -> str:
    """The remark of a station whose programme `channel_hz` sends as well; `how` is `by-code` or `by-audio`."""
    return f"same-programme-as-{channel_text(band, channel_hz)}:{how}"


def same_programme_hz(remarks: object, band: str, how: str = "") -> tuple[int, ...]:
    """The other channels that a row's remarks name, ascending, once each; only those found `how`, where given. [Hz]"""
    words = remarks.split(";") if isinstance(remarks, str) else []
    found = [match for word in words if (match := _WORD.match(word.strip()))]
    return tuple(sorted({round(float(match[1]) * _HERTZ[band]) for match in found if how in ("", match[2])}))


def without_relays(remarks: object, how: str = "") -> str:
    """The remarks without these words; only those found `how` are left out, where given."""
    words = remarks.split(";") if isinstance(remarks, str) else []
    return ";".join(word for word in words if word and not ((match := _WORD.match(word)) and how in ("", match[2])))


def programmes(channels_hz: Sequence[int], remarks: Iterable[object], band: str) -> list[tuple[int, ...]]:
    """The channels grouped by programme, each once, ascending: as many groups as there are different programmes. [Hz]

    Args:
        channels_hz: channels of one list.
        remarks: the remarks of each; what they say of channels outside the list is left alone.
        band: `fm` or `am`.
    """
    group = {channel: {channel} for channel in channels_hz}
    for channel, text in zip(channels_hz, remarks, strict=True):
        for other in same_programme_hz(text, band):
            if other in group and group[other] is not group[channel]:
                joined = group[channel] | group[other]
                group |= dict.fromkeys(joined, joined)
    return sorted({tuple(sorted(members)) for members in group.values()})
