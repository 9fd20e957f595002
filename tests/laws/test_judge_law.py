"""Whatever stands on a sheet that can be read, a judgement comes out, and it is plain JSON."""

from __future__ import annotations

import json

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from bandscan import tables
from bandscan.model import Baseline, Reference
from bandscan.radio import Limits, from_json, judge, read_sheet, to_json, to_rows

ROWS = st.tuples(
    st.sampled_from(["", "88", "96.5", "97.1", "107.9", "110", "84.3"]),
    st.sampled_from(["3", "2", "1", "M", "W", "R", ""]),
    st.sampled_from(["on", "off", "flicker", ""]),
    st.sampled_from(["0", "10", "20"]),
    st.sampled_from(["1", "2up", "2down"]),
    st.sampled_from(["", "Kreuz", "96.5", "nobody"]),
)
HEADERS = st.sampled_from(
    ["", "# dial: digits\n", "# dial: pointer\n", "# numerals: am\n", "# if_khz: 455\n", "# raster_khz: 100\n"]
)
LEVELS = st.lists(st.one_of(st.none(), st.integers(-100, 0)), max_size=8)


def _list(levels: list[int | None]) -> Baseline:
    count = len(levels)
    frame = pd.DataFrame(
        {
            "band": ["fm"] * count,
            "channel_hz": [88_100_000 + 2_800_000 * place for place in range(count)],
            "level_db": [float("nan") if level is None else float(level) for level in levels],
            "level_unit": ["" if all(level is None for level in levels) else "dBFS"] * count,
            "spread_db": [float("nan")] * count,
            "snr_db": [float("nan") if level is None else level + 100.0 for level in levels],
            "seen": [1] * count,
            "surveys": [1] * count,
            "stereo": [float(place % 2) for place in range(count)],
            "identity": [""] * count,
            "name": ["Kreuz"] + [""] * (count - 1) if count else [],
            "steadiness": ["steady"] * count,
            "valid": ["any"] * count,
            "remarks": [""] * count,
        }
    )
    stations = tables.check(frame, tables.BASELINE)
    return Baseline("fm", "us", "bench", stations, 1, "", "", "", "A", "", None, (), "0")


@given(st.lists(ROWS, max_size=14), HEADERS, LEVELS, st.sampled_from([None, -70.0, 40.0]))
@settings(deadline=None, max_examples=120)
def test_any_sheet_is_judged(
    rows: list[tuple[str, ...]], header: str, levels: list[int | None], threshold: float | None
) -> None:
    """Any ticks against any list, with and without a reference: no exception, no NaN, chances between nought and one."""
    if "numerals" in header:
        rows = [("", *row[1:]) for row in rows]
    text = f"# bands: fm\n{header}band,dial,grade,lamp,pad_db,sweep,name\n" + "".join(f"fm,{','.join(row)}\n" for row in rows)
    references = {} if threshold is None else {"fm": Reference(threshold, 2.0, "known-good", "dBFS", 1)}
    check = judge(read_sheet(text, "s"), {"fm": _list(levels)}, references, Limits(), "2026-03-14T12:00:00Z", "0")
    written = json.dumps(to_json(check), allow_nan=False)
    assert json.dumps(to_json(from_json(json.loads(written))), allow_nan=False) == written
    band = check.bands["fm"]
    assert band.verdict in ("in line", "look closer", "falls short", "cannot tell")
    assert all(0.0 <= station.probability <= 1.0 for station in band.stations)
    assert len(to_rows(check)) == len(band.stations) + len(band.extras)
    shown = sum(bool(station.grade) for station in band.stations)
    marked = sum(row[1] in ("W", "R") for row in rows)
    assert shown + marked <= len(rows)
