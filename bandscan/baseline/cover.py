"""Which rows of surveys tell whether a station was there."""

from __future__ import annotations

import pandas as pd

_SURE = ("station", "empty", "phantom")


def tells(every: pd.DataFrame) -> pd.Series:
    """Which rows of several surveys count, as a station there or as none; shape (rows,).

    What is `unsure`, a `spur` or a `sideband` may be a station that this survey could not make out. It counts as none only
    where surveys in doubt are no fewer than those that held one: then the station itself is in question.
    """
    sure = every["holds"].isin(_SURE)
    doubts = (~sure).groupby(every["channel_hz"]).transform("sum")
    held = (every["holds"] == "station").groupby(every["channel_hz"]).transform("sum")
    return sure | (doubts >= held)
