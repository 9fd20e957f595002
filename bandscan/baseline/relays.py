"""The same programme on several stations of a list, by the code that most surveys claim of each."""

from __future__ import annotations

from collections import defaultdict

import pandas as pd

from bandscan import tables
from bandscan.plans import BY_CODE, relay_word, without_relays


def with_codes_compared(stations: pd.DataFrame) -> pd.DataFrame:
    """BASELINE whose remarks name the stations with the same code, whatever the surveys said of codes one by one."""
    codes = [None if pd.isna(identity) else identity.split()[0] for identity in stations["identity"]]
    sent: defaultdict[str | None, list[int]] = defaultdict(list)
    for channel, code in zip(stations["channel_hz"], codes, strict=True):
        sent[code].append(channel)
    said = []
    for band, channel, text, code in zip(stations["band"], stations["channel_hz"], stations["remarks"], codes, strict=True):
        others = [hz for hz in sent[code] if hz != channel] if code is not None else []
        words = [*without_relays(text, BY_CODE).split(";"), *(relay_word(band, hz, BY_CODE) for hz in others)]
        said.append(";".join(sorted(word for word in words if word)))
    return tables.check(stations.assign(remarks=said), tables.BASELINE)
