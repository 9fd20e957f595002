"""Empty count sheets: what they hold, and that they come back as sheets."""

from __future__ import annotations

import csv
import io

import pandas as pd
import pytest

from bandscan import tables
from bandscan.model import Baseline
from bandscan.radio import blank_sheet, read_sheet


def _list(band: str, rows: list[tuple[int, str, str]]) -> Baseline:
    frame = pd.DataFrame(rows, columns=["channel_hz", "name", "identity"]).assign(
        band=band, level_db=-60.0, level_unit="dBFS", spread_db=1.0, snr_db=30.0, seen=2, surveys=2, stereo=1.0,
        steadiness="steady", valid="any", remarks="",
    )  # fmt: skip
    stations = tables.check(frame, tables.BASELINE)
    return Baseline(band, "us", "bench", stations, 2, "", "", "", "A", "", 0.0, (), "0")


FM = _list("fm", [(98_100_000, "Kreuz", "1A2B"), (89_300_000, "", "=SUM"), (104_500_000, "", "")])
AM = _list("am", [(1_400_000, "", "")])


def test_a_sheet_with_names_lists_the_stations_in_dial_order() -> None:
    """Every station has its row: its name, else what it claims, else its channel, and nothing that a spreadsheet runs."""
    text = blank_sheet([AM, FM], blind=False, header={"by": "Ola"})
    rows = list(csv.DictReader(io.StringIO("".join(line + "\n" for line in text.splitlines() if not line.startswith("#")))))
    assert [(row["band"], row["remark"]) for row in rows] == [
        ("fm", "expected =SUM"),
        ("fm", "expected Kreuz"),
        ("fm", "expected 104.5"),
        ("am", "expected 1400"),
    ]
    assert "# by: Ola\n" in text
    assert "# rig: bench\n" in text


def test_a_blind_sheet_names_no_station() -> None:
    """Seeing the list biases the ear: a blind sheet has room for all of it and names none."""
    text = blank_sheet([FM], blind=True)
    assert "Kreuz" not in text
    assert "98.1" not in text
    assert text.count("\nfm,") >= len(FM.stations) + 10


@pytest.mark.parametrize("blind", [True, False])
def test_an_empty_sheet_reads_back_as_nothing_heard(blind: bool) -> None:
    """Rows that nobody filled in are no ticks."""
    sheet = read_sheet(blank_sheet([FM, AM], blind=blind), "s.csv")
    assert not len(sheet.ticks)
    assert sheet.header["rig"] == "bench"


def test_a_prepared_row_is_no_anchor_until_somebody_names_it() -> None:
    """A grade behind a prepared row is a tick; the station printed there is expected, not known by ear."""
    text = blank_sheet([FM], blind=False).replace("fm,,,,,,,expected 104.5", "fm,,3,on,,,,expected 104.5")
    text = text.replace("fm,,,,,,,expected Kreuz", "fm,,2,,,,Kreuz,expected Kreuz")
    ticks = read_sheet(text, "s.csv").ticks
    assert list(ticks["grade"]) == ["2", "3"]
    assert list(ticks["name"].fillna("")) == ["Kreuz", ""]
    assert list(ticks["remark"]) == ["expected Kreuz", "expected 104.5"]


def test_only_a_sheet_with_names_says_that_the_list_was_seen() -> None:
    """Who fills in a sheet with the stations on it has seen them; a blind one leaves the line open."""
    assert "# seen_list: yes\n" in blank_sheet([FM], blind=False)
    assert "# seen_list:\n" in blank_sheet([FM], blind=True)
