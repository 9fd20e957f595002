"""A tally as the pipeline opens it: bandscan/pipeline/tallying.py."""

from __future__ import annotations

from pathlib import Path

from tally.bench import typed

from bandscan.pipeline import tally


def test_a_set_that_is_dead_on_fm_is_asked_about(tmp_path: Path) -> None:
    """A new sheet begins on FM: with rows of AM alone the end asks whether FM was swept and silent; the header then says so."""
    state = typed(tally(tmp_path / "s.csv", shop=None).desk.state, "<escape>b33333333333333q")
    assert state.entry is not None
    assert state.entry.what == "silent fm"
    over = typed(state, "yq")
    assert (over.over, over.header["bands"], len(over.stops)) == (True, "fm, am", 14)
