"""A tally as the pipeline opens it: bandscan/pipeline/tallying.py."""

from __future__ import annotations

from pathlib import Path

import pytest
from tally.bench import typed

from bandscan.errors import InputError
from bandscan.pipeline import tally


def test_a_read_only_sheet_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    """One line, the sheet as it was, and no copy of it beside."""
    sheet = tmp_path / "s.csv"
    sheet.write_text("band;dial;grade\nfm;96,5;3\n")
    sheet.chmod(0o444)
    with pytest.raises(InputError, match="the sheet is read-only; make it writable"):
        tally(sheet, shop=None)
    assert [path.name for path in tmp_path.iterdir()] == ["s.csv"]


def test_a_set_that_is_dead_on_fm_is_asked_about(tmp_path: Path) -> None:
    """A new sheet begins on FM: with rows of AM alone the end asks whether FM was swept and silent; the header then says so."""
    state = typed(tally(tmp_path / "s.csv", shop=None).desk.state, "<escape>b33333333333333q")
    assert state.entry is not None
    assert state.entry.what == "silent fm"
    over = typed(state, "yq")
    assert (over.over, over.header["bands"], len(over.stops)) == (True, "fm, am", 14)
