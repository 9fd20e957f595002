"""A tally as its sheet's text and back: bandscan/tally/text.py."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tally.bench import KNOWN, NOW, ready, typed

from bandscan.errors import SheetError
from bandscan.radio import read_sheet
from bandscan.tally.keys import press
from bandscan.tally.state import State
from bandscan.tally.text import asked, read_state, sheet_text

# all that a tally is, but for the line to the user and the way back
KEPT = ("header", "stops", "remarks", "band", "sweep", "pad_db", "visited", "shown", "skip", "asking", "over")
SCRIPT = (
    'i2044<enter>Mirrim, "Deluxe"<enter><escape>39l d96 1/2<enter>aKre<enter>thum: 50 Hz, loud<enter>np10<enter>2be<right>1qn'
)


def same(one: State, other: State) -> bool:
    """Whether two states are the same but for undo, what is said and which offer is meant."""
    entries = [state.entry and (state.entry.what, state.entry.text) for state in (one, other)]
    return entries[0] == entries[1] and all(getattr(one, name) == getattr(other, name) for name in KEPT)


def same_sheet(one: State, other: State) -> bool:
    """Whether two states have the same sheet; where a finished one stood is not in it."""
    return all(getattr(one, name) == getattr(other, name) for name in ("header", "stops", "remarks"))


def test_whatever_key_was_the_last_the_sheet_brings_all_of_it_back() -> None:
    """After each key of a session, questions and half-typed words included, the text alone holds where the tally stands."""
    state = asked(State())
    for number in range(len(SCRIPT)):
        state = typed(asked(State()), SCRIPT[: number + 1])
        again = read_state(sheet_text(state), "s.csv")
        header = {key: value.replace('"', "'") for key, value in state.header.items() if value}
        assert same(replace(state, header=header), again), SCRIPT[: number + 1]
    assert len(state.stops) == 5


KEYS = st.sampled_from([*"321654987mwrlundapteibq.-,: \"'#;=é√x", "enter", "escape", "backspace", "tab", "up", "left", "right"])


@given(st.lists(KEYS, max_size=60))
@settings(deadline=None, max_examples=300)
def test_any_keys_leave_a_sheet_that_is_read_back_the_same(keys: list[str]) -> None:
    """Whatever is typed, the sheet's reader takes it, and the tally goes on from it."""
    state = ready()
    for key in keys:
        state = press(state, key, KNOWN, NOW)
    again = read_state(sheet_text(state), "s.csv")
    header = {key: value.replace('"', "'").rstrip(",;\t ") for key, value in state.header.items()}
    left = replace(state, header={key: value for key, value in header.items() if value})
    assert same_sheet(left, again) if state.over else same(left, again)


def test_a_finished_sheet_is_a_plain_count_sheet() -> None:
    """No line of the tally's own is left in it, and nothing that the reader does not know."""
    text = sheet_text(typed(ready(), "39qq"))
    sheet = read_sheet(text, "s.csv")
    assert "tally" not in text
    assert list(sheet.ticks["grade"]) == ["3", "3"]
    assert not [caution for caution in sheet.cautions if "not known" in caution]


def test_an_unfinished_sheet_is_one_too() -> None:
    """A sheet that was left in the middle can be judged as it is."""
    text = sheet_text(typed(ready(), "39d96.5, 97: x"))
    sheet = read_sheet(text, "s.csv")
    assert len(sheet.ticks) == 2
    assert not [caution for caution in sheet.cautions if "not known" in caution]


def test_undo_goes_back_over_what_an_earlier_session_noted() -> None:
    """Row by row, with the band, sweep and attenuator of that row."""
    state = read_state(sheet_text(typed(ready(), "39p10<enter>2bp10<enter>1qq")), "s.csv")
    seen = []
    for _ in range(5):
        state = typed(state, "u")
        seen.append((len(state.stops), state.band, state.pad_db, state.said))
    assert seen == [
        (3, "am", "10", "taken back: AM 1"),
        (2, "fm", "10", "taken back: FM 2"),
        (1, "fm", "", "taken back: FM 3"),
        (0, "fm", "", "taken back: FM 3"),
        (0, "fm", "", "nothing to take back"),
    ]


@pytest.mark.parametrize("keys", ["n", "b", "p10<enter>"])
def test_undo_after_a_kill_takes_back_the_last_key_and_no_row(keys: str) -> None:
    """A sweep, band or attenuator that was chosen after the last row goes first, then the row."""
    state = typed(read_state(sheet_text(typed(ready(), "39" + keys)), "s.csv"), "u")
    assert (len(state.stops), state.band, state.sweep, state.pad_db, state.said) == (2, "fm", "1up", "", "taken back")
    assert typed(state, "u").said == "taken back: FM 3"


def test_the_hour_goes_with_the_last_row() -> None:
    """Rows that are noted anew after all of an earlier session were taken back do not bear its hour."""
    state = read_state(sheet_text(typed(ready(), "39")), "s.csv")
    assert typed(state, "u").header["swept"] == NOW
    assert press(typed(state, "uu"), "3", KNOWN, "2031-01-01 00:00").header["swept"] == "2031-01-01 00:00"


def test_a_sheet_by_hand_is_taken_up() -> None:
    """Its header, its remarks and the lines that no reader knows stay; rows that are not filled in go."""
    text = "# job: 7\n# a word, and another\n# serial: 12-4\nband;dial;grade;name\nfm;96,5;;Kreuz\nfm;;;Ambit\nam;140;3;\n"
    state = read_state(text, "s.csv")
    assert [(stop.band, stop.dial, stop.grade, stop.name) for stop in state.stops] == [
        ("fm", "96,5", "2", "Kreuz"),
        ("am", "140", "3", ""),
    ]
    assert state.entry is None
    again = sheet_text(typed(state, "1"))
    assert "# job: 7\n" in again
    assert "# a word, and another\n# serial: 12-4\n" in again
    assert '\nfm,"96,5",2,,,1,Kreuz,\n' in again
    assert again.endswith("\nam,,1,,,1,,\n")


def test_an_empty_sheet_asks_what_it_does_not_say() -> None:
    """Lines that somebody filled in before are not asked again, and a sheet that says all of it asks nothing."""
    state = read_state("# job: 7\n# by: Ola\nband,dial,grade\nfm,,\n", "s.csv")
    assert state.entry is not None
    assert [state.entry.what, *state.asking] == ["about radio", "family", "antenna", "dial"]
    full = "".join(f"# {key}: pointer\n" for key in ("job", "radio", "family", "by", "antenna", "dial"))
    assert read_state(full + "band,dial,grade\n", "s.csv").entry is None


def test_nothing_that_a_spreadsheet_would_run_is_written() -> None:
    """A name that begins as a formula is disarmed, and stays one name however often the sheet is opened."""
    text = sheet_text(typed(ready(), "3a=SUM(A1)<enter>qq"))
    assert "'=SUM(A1)" in text
    assert sheet_text(replace(read_state(text, "s.csv"), over=True)) == text


def test_a_sheet_that_is_none_is_refused() -> None:
    """Before anything is written."""
    with pytest.raises(SheetError, match="row 2 grade 'x'"):
        read_state("band,dial,grade\nfm,,x\n", "s.csv")


@pytest.mark.parametrize(
    "line",
    [
        "# tally stands at xm 1up pad 0 bands fm list hidden skip 0",
        "# tally stands at fm 1up pad 0 bands fm list hidden skip 0 types ../../x=y",
        "# tally stands at",
    ],
)
def test_a_line_of_its_own_that_was_spoilt_is_passed_over(line: str) -> None:
    """The tally then goes on after the last row."""
    state = read_state(f"{line}\nband,dial,grade,lamp,pad_db,sweep\nam,,3,,10,2down\n", "s.csv")
    assert (state.band, state.sweep, state.pad_db, state.entry) == ("am", "2down", "10", None)
