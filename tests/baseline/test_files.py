"""The reference station list as files, both ways: baseline/files.py."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace

import pandas as pd
import pytest

from bandscan import tables
from bandscan.baseline import from_files, to_files
from bandscan.errors import BaselineError
from bandscan.model import Baseline


def some_list() -> Baseline:
    """A list of two stations; the second has a code with leading zeros and a name that a spreadsheet would run."""
    rows = [
        ("fm", 88_100_000, -40.25, "dBFS", 1.5, 30.0, 3, 3, 1.0, None, None, "steady", "any", "edge"),
        ("fm", 98_100_000, -61.0, "dBFS", None, 9.5, 1, 3, None, "0007", "=HYPERLINK(1)", "occasional", "any", None),
    ]
    return Baseline(
        band="fm",
        region="us",
        rig="bench, attic",
        stations=tables.check(pd.DataFrame(rows, columns=tables.BASELINE.names), tables.BASELINE),
        surveys=3,
        first_utc="2026-03-01T10:00:00Z",
        last_utc="2026-03-03T10:05:00Z",
        made_utc="2026-03-04T08:00:00Z",
        grade="B",
        grade_reason="1 of 101 channels not covered: 87.9 MHz",
        overload_share=0.0001,
        uncovered_hz=(87_900_000,),
        version="0.1.0",
        forged=True,
        cautions=("forged",),
    )


def test_a_list_comes_back_from_its_files_as_it_was() -> None:
    """Everything of a list survives the way through its two files, codes with leading zeros and odd names too."""
    before = some_list()
    files = to_files(before)
    after = from_files(files["baseline.csv"], files["baseline.json"])
    pd.testing.assert_frame_equal(after.stations, before.stations)
    fields = [name for name in Baseline.__dataclass_fields__ if name != "stations"]
    assert {name: getattr(after, name) for name in fields} == {name: getattr(before, name) for name in fields}


def test_a_list_names_the_surveys_that_it_is_made_of() -> None:
    """Their ids come back; a list made before they were kept knows none, and ids that are no texts are refused."""
    before = replace(some_list(), survey_ids=("fm-1", "fm-2"))
    files = to_files(before)
    assert from_files(files["baseline.csv"], files["baseline.json"]).survey_ids == ("fm-1", "fm-2")
    assert "survey_ids" not in json.loads(to_files(some_list())["baseline.json"])
    about = json.loads(files["baseline.json"])
    for wrong in ([1], "fm-1", {}):
        with pytest.raises(BaselineError, match=r"baseline\.json: missing or wrong: survey_ids"):
            from_files(files["baseline.csv"], json.dumps(about | {"survey_ids": wrong}))


def test_the_files_read_as_promised() -> None:
    """The first line names the contract's columns; a formula is disarmed; levels show two decimals."""
    lines = to_files(some_list())["baseline.csv"].splitlines()
    assert lines[0] == (
        "band,channel_hz,level_db,level_unit,spread_db,snr_db,seen,surveys,stereo,identity,name,steadiness,valid,remarks"
    )
    assert lines[1] == "fm,88100000,-40.25,dBFS,1.5,30.0,3,3,1.0,,,steady,any,edge"
    assert lines[2] == "fm,98100000,-61.0,dBFS,,9.5,1,3,,0007,'=HYPERLINK(1),occasional,any,"


def test_without_the_second_file_the_unknown_is_named() -> None:
    """The list alone is enough, and a caution names what is missing."""
    found = from_files(to_files(some_list())["baseline.csv"], None)
    assert (found.band, found.region, found.grade, found.rig) == ("fm", "us", "unknown", "")
    assert found.overload_share is None
    assert found.cautions == (
        "no baseline.json beside the list: rig, span of time, grade, overload and uncovered channels are unknown;"
        " region us is guessed from its channels",
    )


def without(key: str) -> Callable[[str, str], tuple[str, str]]:
    """The files with one entry of the JSON taken out."""

    def change(csv: str, about: str) -> tuple[str, str]:
        return csv, json.dumps({name: value for name, value in json.loads(about).items() if name != key})

    return change


def entry(key: str, value: object) -> Callable[[str, str], tuple[str, str]]:
    """The files with one entry of the JSON changed."""
    return lambda csv, about: (csv, json.dumps(json.loads(about) | {key: value}))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda csv, about: ("", about), "list.csv: not a table of comma-separated values: No columns"),
        (lambda csv, about: ("a,b\n1,2\n", about), "list.csv: columns missing: ['band',"),
        (lambda csv, about: (csv.replace("steady", "rock"), about), "list.csv: column steadiness holds ['rock'"),
        (lambda csv, about: (csv.replace("98100000", "98.1"), about), "list.csv: column channel_hz is not int"),
        (lambda csv, about: (csv.replace("98100000", "88100000"), about), "list.csv: channel 88100000 stands there twice"),
        (lambda csv, about: (csv.replace("fm,98", "am,98"), about), "list.csv: holds two bands"),
        (lambda csv, about: (csv.replace("-61.0", "inf"), about), "list.csv: column level_db holds an infinite value"),
        (lambda csv, about: (csv, "{"), "list.json: not JSON"),
        (lambda csv, about: (csv, "[" * 100_000), "list.json: not JSON"),
        (lambda csv, about: (csv, "[]"), "list.json: not a JSON object"),
        (without("rig"), "list.json: missing or wrong: rig"),
        (entry("surveys", True), "list.json: missing or wrong: surveys"),
        (entry("region", "mars"), "list.json: missing or wrong: region"),
        (entry("uncovered_hz", [1.5]), "list.json: missing or wrong: uncovered_hz"),
        (entry("cautions", [1]), "list.json: missing or wrong: cautions"),
        (entry("band", "am"), "list.csv: holds fm, its baseline.json says am"),
    ],
)
def test_a_wrong_file_is_named_with_what_is_wrong(change: Callable[[str, str], tuple[str, str]], said: str) -> None:
    """One line each: which file, what is wrong in it."""
    files = to_files(some_list())
    csv, about = change(files["baseline.csv"], files["baseline.json"])
    with pytest.raises(BaselineError) as caught:
        from_files(csv, about, where="list.csv")
    assert str(caught.value).startswith(said)
    assert "\n" not in str(caught.value)


def test_a_list_without_rows_needs_its_second_file() -> None:
    """An empty list with its JSON is a list; without it nothing is known of it."""
    files = to_files(some_list())
    header = files["baseline.csv"].splitlines()[0] + "\n"
    assert len(from_files(header, files["baseline.json"]).stations) == 0
    with pytest.raises(BaselineError, match=r"baseline\.csv: holds no station"):
        from_files(header, None)
    with pytest.raises(BaselineError, match="its channels are in no region's band plan"):
        from_files(files["baseline.csv"].replace("98100000", "98123456"), None)
