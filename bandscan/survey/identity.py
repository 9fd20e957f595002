"""What the stations of one survey claim to be, and the same programme on several channels, which fools a count.

By code: two stations of which each sends the same programme identification. By audio: what `measure` heard of channels in one
recording; only between stations, because what the receiver makes of a station carries its sound as well.
"""

from __future__ import annotations

from collections import defaultdict

import pandas as pd

from bandscan import tables
from bandscan.plans import BY_AUDIO, BY_CODE, relay_word, same_programme_hz, without_relays
from bandscan.plans.callsign import claim


def with_relays(rows: pd.DataFrame) -> pd.DataFrame:
    """SURVEY rows of one survey with these remarks where both channels hold a station, and nowhere else."""
    stations = rows[rows["holds"] == "station"]
    held = set(stations["channel_hz"])
    sent: defaultdict[str, set[int]] = defaultdict(set)
    for channel, code in zip(stations["channel_hz"], stations["rds_pi"], strict=True):
        if not pd.isna(code):
            sent[code].add(channel)
    alike: defaultdict[int, set[int]] = defaultdict(set)
    for channels in sent.values():
        for channel in channels:
            alike[channel] |= channels - {channel}
    said = []
    for band, channel, text in zip(rows["band"], rows["channel_hz"], rows["remarks"], strict=True):
        words = [without_relays(text)]
        if channel in held:
            heard = held.intersection(same_programme_hz(text, band, BY_AUDIO))
            words += [relay_word(band, hz, BY_CODE) for hz in sorted(alike[channel])]
            words += [relay_word(band, hz, BY_AUDIO) for hz in sorted(heard)]
        said.append(";".join(word for word in words if word))
    return tables.check(rows.assign(remarks=said), tables.SURVEY)


def with_claims(rows: pd.DataFrame, region: str) -> pd.DataFrame:
    """SURVEY rows with the call letters of their code, where it has some in that region, as a remark `claims to be KABC`."""
    said = []
    for text, code in zip(rows["remarks"], rows["rds_pi"], strict=True):
        words = ["" if pd.isna(text) else text, "" if pd.isna(code) else claim(int(code, 16), region)]
        said.append(";".join(word for word in words if word))
    return tables.check(rows.assign(remarks=said), tables.SURVEY)
