"""check.json and check.csv as the contract has them."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from typing import Any

import pytest
from radio.bench_sim import GOOD_DB, Listener, Radio, bench, reference_list, sweep

from bandscan.errors import InputError
from bandscan.model import RadioCheck, Reference
from bandscan.radio import Limits, from_json, judge, read_sheet, to_json, to_rows, totals_sheet

MADE = "2026-03-14T12:00:00Z"


def _check() -> RadioCheck:
    dice = random.Random(2)
    fm, am = bench(dice, 25), bench(dice, 12, band="am")
    first = sweep(dice, fm, Radio(deaf_db=8.0), Listener(grades=True), reading_hz=0.2e6, header="# job: 7\n# by: Ola\n")
    second = sweep(dice, am, Radio(), Listener(), band="am", reading_hz=8e3)
    text = first.text.replace("# bands: fm", "# bands: fm am") + second.text.split("sweep,name\n")[1] + "am,910,W,,0,1,\n"
    baselines = {"fm": reference_list(fm), "am": reference_list(am, "am")}
    good = {"fm": Reference(GOOD_DB, 1.5, "known-good", "dBFS", 5, MADE)}
    return judge(read_sheet(text, "s.csv"), baselines, good, Limits(), MADE, "0.9")


def _keys(record: dict[str, Any]) -> set[str]:
    return set(record)


def test_check_json_has_the_contracts_keys() -> None:
    """Every field that the contract names is there, plain JSON without NaN."""
    record = json.loads(json.dumps(to_json(_check()), allow_nan=False))
    assert {"job", "bands", "cautions", "baseline", "today", "made_utc", "version"} <= _keys(record)
    assert (record["job"], record["by"], record["version"], record["made_utc"]) == ("7", "Ola", "0.9", MADE)
    fm, am = record["bands"]["fm"], record["bands"]["am"]
    for band in (fm, am):
        assert {"counted", "expected", "reference", "threshold_db", "against_reference_db", "dial", "lamp"} <= _keys(band)
        assert {"stations", "extras", "findings", "verdict", "why", "do_next"} <= _keys(band)
        assert {"value", "low", "high", "unit", "bound"} <= _keys(band["threshold_db"])
        assert {"threshold_db", "sd_db", "basis"} <= _keys(band["reference"])
        assert {"model", "points"} <= _keys(band["dial"])
        assert {"at_hz", "error_hz", "low", "high"} <= _keys(band["dial"]["points"][0])
        assert _keys(band["lamp"]) == {"expected", "lit", "threshold_db"}
        assert {"channel_hz", "level_db", "heard", "probability", "dial", "grade", "lamp"} <= _keys(band["stations"][0])
        assert band["verdict"] in ("in line", "look closer", "falls short", "cannot tell")
    assert _keys(fm["expected"]) == {"low", "mid", "high"}
    assert _keys(fm["against_reference_db"]) == {"value", "low", "high"}
    assert (am["expected"], am["against_reference_db"], am["reference"]["basis"]) == (None, None, "none")
    assert _keys(am["extras"][-1]) == {"dial", "channel_hz", "explained_by"}
    assert len(fm["stations"]) == 25


def test_what_was_issued_comes_back_to_the_letter() -> None:
    """Written, read and written again, a check is the same text."""
    first = json.dumps(to_json(_check()), allow_nan=False)
    again = json.dumps(to_json(from_json(json.loads(first))), allow_nan=False)
    assert again == first


def test_figures_are_rounded_and_what_is_no_number_is_null() -> None:
    """No figure has more than three decimals, and JSON holds no NaN."""
    check = _check()
    odd = replace(check, bands={"fm": replace(check.bands["fm"], spread_db=float("nan"))})
    assert to_json(odd)["bands"]["fm"]["spread_db"] is None

    def numbers(value: Any) -> list[float]:
        if isinstance(value, dict):
            return [one for each in value.values() for one in numbers(each)]
        if isinstance(value, list):
            return [one for each in value for one in numbers(each)]
        return [value] if isinstance(value, float) else []

    found = numbers(to_json(check))
    assert len(found) > 50
    assert all(round(one, 3) == one for one in found)


@pytest.mark.parametrize("record", [{}, {"job": 1}, {"bands": []}, []])
def test_what_is_no_check_is_refused(record: Any) -> None:
    """A record that is no check gives one line."""
    with pytest.raises(InputError, match=r"^not a check: .*; accepted: what `bandscan check` wrote as check.json$"):
        from_json(record)


def test_check_csv_has_one_row_per_station_and_extra() -> None:
    """Rows in dial order per band, extras among them."""
    check = _check()
    rows = to_rows(check)
    assert list(rows.columns) == [
        "band", "channel_hz", "name", "level_db", "level_unit", "heard", "probability", "dial", "grade", "lamp",
    ]  # fmt: skip
    for band in ("fm", "am"):
        mine = rows[rows["band"] == band]
        one = check.bands[band]
        assert len(mine) == len(one.stations) + len(one.extras)
        placed = mine["channel_hz"].dropna()
        assert list(placed) == sorted(placed)
    assert set(rows["heard"]) <= {"yes", "no", "unsure", "extra"}
    assert "extra" in set(rows["heard"])


def test_a_check_of_totals_is_written_too() -> None:
    """Bare totals have no dial and no extras, and still every key."""
    check = judge(totals_sheet({"fm": 9}), {"fm": reference_list(bench(random.Random(1), 20))}, {}, Limits(), MADE, "0")
    record = json.loads(json.dumps(to_json(check), allow_nan=False))
    assert record["bands"]["fm"]["counted"] == 9
    assert record["bands"]["fm"]["dial"] == {"model": "order only", "points": []}
    assert record["job"] == "unnamed"
    assert len(to_rows(check)) == 20
