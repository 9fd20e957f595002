"""A tally as the pipeline opens it: bandscan/pipeline/tallying.py."""

from __future__ import annotations

from pathlib import Path

import pytest
from pipeline.test_checking import COLUMNS, HEAD, MADE, STRONGEST_FIRST, swept
from tally.bench import typed

from bandscan.errors import InputError
from bandscan.pipeline import check, tally
from bandscan.shop import Shop
from bandscan.store import Log


def test_a_read_only_sheet_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    """One line, the sheet as it was, and no copy of it beside."""
    sheet = tmp_path / "s.csv"
    sheet.write_text("band;dial;grade\nfm;96,5;3\n")
    sheet.chmod(0o444)
    with pytest.raises(InputError, match="the sheet is read-only; make it writable"):
        tally(sheet, shop=None)
    assert [path.name for path in tmp_path.iterdir()] == ["s.csv"]


@pytest.mark.parametrize("text", ["", "\n\n", "\ufeff", "\ufeff\r\n", ",,,,,,,\r\n;;\n", " \t\n"])
def test_a_sheet_with_nothing_in_it_is_a_new_one(tmp_path: Path, text: str) -> None:
    """Made beforehand or emptied by hand, it is begun as one that is not there, in its place and with no copy beside."""
    sheet = tmp_path / "s.csv"
    sheet.write_bytes(text.encode())
    opened, new = tally(sheet, shop=None), tally(tmp_path / "other.csv", shop=None)
    assert (opened.desk.state, opened.notes, opened.path) == (new.desk.state, new.notes, sheet)
    assert [path.name for path in tmp_path.iterdir()] == ["s.csv"]


def test_a_sheet_of_words_alone_is_refused_and_kept(tmp_path: Path) -> None:
    """A file that holds something is no new sheet."""
    sheet = tmp_path / "s.csv"
    sheet.write_text("shopping\n")
    with pytest.raises(InputError, match="column 'shopping' is not known"):
        tally(sheet, shop=None)
    assert sheet.read_text() == "shopping\n"


def test_a_set_that_is_dead_on_fm_is_asked_about(tmp_path: Path) -> None:
    """A new sheet begins on FM: with rows of AM alone the end asks whether FM was swept and silent; the header then says so."""
    state = typed(tally(tmp_path / "s.csv", shop=None).desk.state, "<escape>b33333333333333q")
    assert state.entry is not None
    assert state.entry.what == "silent fm"
    over = typed(state, "yq")
    assert (over.over, over.header["bands"], len(over.stops)) == (True, "fm, am", 14)


FAMILY = HEAD + "# family: early\n"
HEADER = FAMILY.replace("11:00", "12:00") + "# job: 5\n"


def left(folder: Path, name: str, stands: str, rows: str = "", *, below_hz: int = 92_000_000) -> Path:
    """The sheet of a good set, FM swept up to there, whose tally stands so."""
    ticked = sorted(hz for hz in STRONGEST_FIRST[:18] if hz < below_hz)
    ticks = "".join(f"fm,{hz / 1e6:.1f},3,on,,1up,,\n" for hz in ticked)
    path = folder / name
    path.write_text(f"{HEADER}{stands}\n{COLUMNS}{ticks}{rows}")
    return path


@pytest.mark.parametrize("tail", ["", ",,,,,,,"])
def test_a_tally_left_in_the_middle_is_not_judged_as_a_whole_sweep(shop: Shop, tmp_path: Path, tail: str) -> None:
    """Neither in line nor short by what was not swept yet, no measure, nothing to compare with; a whole one is judged."""
    check([swept(tmp_path, "0.csv", 18, FAMILY + "# job: 1\n")], shop=shop, known_good=True, made_utc=MADE)
    check([swept(tmp_path, "1.csv", 18, FAMILY + "# job: 5\n")], shop=shop, made_utc=MADE)
    whole = check([left(tmp_path, "whole.csv", "# a remark")], shop=shop, made_utc=MADE)
    assert (whole.checks[0].bands["fm"].verdict, len(whole.changes)) == ("falls short", 1)
    sheet = left(tmp_path, "left off.csv", f"# tally stands at fm 1up pad 0 bands fm list hidden skip 0{tail}")
    done = check([sheet], shop=shop, known_good=True, made_utc=MADE)
    (one,) = done.checks
    fm = one.bands["fm"]
    assert fm.verdict == "cannot tell"
    assert fm.why == "the tally was left in the middle of FM, sweep 1up: the rest is not swept yet"
    assert fm.do_next == 'finish the tally, `bandscan tally "left off.csv"`, then check again'
    assert 'this tally was left in the middle: `bandscan tally "left off.csv"` goes on' in one.cautions
    assert not [caution for caution in one.cautions if "judged as a whole sweep" in caution]
    assert (fm.against_reference_db, fm.findings) == (None, ())
    assert {station.heard for station in fm.stations} == {True, None}
    assert done.changes == []
    assert done.notes[0].startswith("FM: not kept as a known-good set: the tally was left in the middle of FM")
    with Log(shop.log_path) as log:
        assert len(log.known_good("fm", "bench")) == 1
    # nor is it what a later sweep is held against
    later = swept(tmp_path, "3.csv", 18, HEADER.replace("12:00", "13:00"))
    (change,) = check([later], shop=shop, made_utc=MADE).changes
    assert change.before.swept == "2026-03-04 12:00"
    assert change.bands["fm"].counted_before == whole.checks[0].bands["fm"].counted


@pytest.mark.parametrize("stands", ["am 1up pad 0", "fm 2down pad 0", "fm 1up pad 20"])
def test_what_was_swept_before_a_tally_was_left_is_judged_as_ever(shop: Shop, tmp_path: Path, stands: str) -> None:
    """On AM, turned round or with an attenuator put in, and nothing noted since: the sweep before stands, with the caution."""
    sheet = left(tmp_path, "s.csv", f"# tally stands at {stands} bands fm+am list hidden skip 0", below_hz=108_000_000)
    whole = check([left(tmp_path, "w.csv", "# a remark", below_hz=108_000_000)], shop=shop, made_utc=MADE).checks[0]
    one = check([sheet], shop=shop, made_utc=MADE).checks[0]
    assert one.bands["fm"] == whole.bands["fm"]
    assert one.cautions[0] == "this tally was left in the middle: `bandscan tally s.csv` goes on"
    turned = left(
        tmp_path,
        "t.csv",
        f"# tally stands at {stands} bands fm+am list hidden skip 0",
        "fm,107.9,1,,20,1up,,\nfm,107.9,1,,,2down,,\n",
    )
    assert (check([turned], shop=shop, made_utc=MADE).checks[0].bands["fm"].verdict == "cannot tell") == stands.startswith("fm")


def test_a_band_that_was_to_be_swept_and_is_not_begun_is_not_silent(shop: Shop, tmp_path: Path) -> None:
    """`bands` names FM, the tally stands there without a row: no dead band."""
    sheet = tmp_path / "s.csv"
    sheet.write_text(f"{HEADER}# bands: fm\n# tally stands at fm 1up pad 0 bands fm list hidden skip 0\n{COLUMNS}")
    fm = check([sheet], shop=shop, made_utc=MADE).checks[0].bands["fm"]
    assert (fm.verdict, fm.findings) == ("cannot tell", ())
