"""What the stations of a list claim to be, and which of them send one programme by their codes."""

from __future__ import annotations

from collections import defaultdict

import pandas as pd

from bandscan import tables
from bandscan.plans import BY_CODE, programmes, relay_word, without_relays
from bandscan.plans.callsign import CLAIM, claim
from bandscan.units import channel_text_unit

_SHOWN = 3


def with_claims(stations: pd.DataFrame, region: str) -> pd.DataFrame:
    """BASELINE whose `identity` ends with the call letters of its code, and whose remarks name the stations of the same code.

    `identity` is the code that most surveys claim, and what stands after it; what the surveys said of codes one by one is
    dropped from the remarks.
    """
    codes = [None if pd.isna(identity) else identity.split()[0] for identity in stations["identity"]]
    sent: defaultdict[str | None, list[int]] = defaultdict(list)
    for channel, code in zip(stations["channel_hz"], codes, strict=True):
        sent[code].append(channel)
    said = []
    for band, channel, text, code in zip(stations["band"], stations["channel_hz"], stations["remarks"], codes, strict=True):
        words = [word for word in without_relays(text, BY_CODE).split(";") if word and not word.startswith(CLAIM)]
        if code is not None:
            words += [relay_word(band, other, BY_CODE) for other in sent[code] if other != channel]
        said.append(";".join(sorted(words)))
    claimed = [
        identity if code is None else f"{identity} {claim(int(code, 16), region)}".rstrip()
        for identity, code in zip(stations["identity"], codes, strict=True)
    ]
    return tables.check(stations.assign(identity=claimed, remarks=said), tables.BASELINE)


def shared_said(stations: pd.DataFrame, band: str) -> list[str]:
    """What a count has to know of BASELINE: how many different programmes its stations carry, where that is fewer."""
    groups = programmes(stations["channel_hz"].tolist(), stations["remarks"], band)
    if len(groups) == len(stations):
        return []
    shared = [" and ".join(channel_text_unit(band, hz) for hz in group) for group in groups if len(group) > 1]
    more = f", and {len(shared) - _SHOWN} more" if len(shared) > _SHOWN else ""
    return [
        f"{len(stations)} stations carry probably {len(groups)} different programmes, by their codes or sound:"
        f" {'; '.join(shared[:_SHOWN])}{more}; a count by programme comes out lower"
    ]
