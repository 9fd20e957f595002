"""What the screen shows, without a terminal: bandscan/tally/view.py, figures.py, card.py."""

from __future__ import annotations

from dataclasses import replace

import pytest
from rich.cells import cell_len
from tally.bench import KNOWN, ready, station, typed

from bandscan.cli.key_card import KEY_CARD
from bandscan.tally.card import CARD
from bandscan.tally.figures import HEIGHT, big
from bandscan.tally.keys import _ACTS, _TICKS
from bandscan.tally.state import Known, State
from bandscan.tally.view import Screen, lines

HOSTILE = "\x1b]0;owned\x07\x1b[2J\x9b31m‮\r\n\t全角" + "x" * 300


def shown(state: State, screen: Screen | None = None, known: Known = KNOWN) -> str:
    """The screen as one text."""
    return "\n".join(text for _, text in lines(state, known, screen or Screen(), "s.csv", "saved in s.csv"))


def test_all_of_it_fits_a_terminal_of_80_by_24() -> None:
    """Whatever is noted, typed or offered: 24 lines of at most 80 cells, the key card and the file below."""
    for keys in ["", "3", "39" * 30 + "e", "3a", "3akre", "i", "3q", "3bq", "3d96", "3t" + "y" * 90, "3aKreuz<enter>"]:
        found = shown(typed(ready(), keys)).split("\n")
        assert len(found) == 24
        assert max(map(cell_len, found)) <= 80
        assert [line.strip() for line in found[-6:]] == [*CARD, "saved in s.csv"]


def test_a_larger_terminal_shows_more_rows() -> None:
    """Height is used for what was noted; the card stays at the foot."""
    state = typed(ready(), "3" * 40)
    tall = shown(state, Screen(120, 60))
    assert (shown(state).count(" FM 1up "), tall.count(" FM 1up ")) == (6, 40)
    assert tall.split("\n")[-1] == " saved in s.csv"


@pytest.mark.parametrize(("columns", "rows"), [(79, 24), (80, 23), (20, 3), (1, 1)])
def test_a_small_window_says_what_is_needed(columns: int, rows: int) -> None:
    """It fits the window all the same."""
    found = shown(ready(), Screen(columns, rows)).split("\n")
    assert len(found) <= rows
    assert max(map(cell_len, found)) <= columns
    if (columns, rows) != (1, 1):
        assert found[0] == "this window is too small"[:columns]
        assert "needed: 80 and 24"[:columns] in found


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        (
            "3d" + "y" * 60 + "<enter>",
            " is no reading; accepted: 70 to 115 MHz as 96.5, 96,5 or 96 1/2, or the dial's tenth as 965",
        ),
        ("b3d" + "全" * 60 + "<enter>", " is no reading; accepted: 440 to 1850 kHz as 1400, or the dial's tenth as 140"),
        ("3p" + "y" * 60 + "<enter>", " is no attenuator; accepted: 0 to 120 dB"),
        ("3a" + "y" * 60 + "<enter>", " is no station of the list here: kept, but it pins nothing"),
        ("i<enter><enter><enter><enter><enter>" + "y" * 60 + "<enter>", "? accepted: pointer or digits"),
        ("3bqx", "Y or N (ESC goes back to the sweep)"),
        ("i", "about the radio: ENTER goes on to the next, typed or not; ESC leaves the rest"),
    ],
    ids=["fm-dial", "am-dial", "pad", "name", "about", "silent", "questions"],
)
def test_nothing_that_is_said_is_cut_off(keys: str, said: str) -> None:
    """At 80 by 24 the whole of it can be read, what is accepted above all, and so can the question and what was typed."""
    state = typed(ready(), keys)
    found = shown(state).split("\n")
    assert len(found) == 24
    assert max(map(cell_len, found)) <= 80
    assert said in " ".join(" ".join(found).split())
    if state.entry is not None and state.entry.text:
        assert f"{state.entry.text}_" in " ".join("".join(line.strip() for line in found).split())


def test_the_offer_that_is_meant_is_in_sight() -> None:
    """Also the last of more than there is room for, which is the text as typed."""
    known = Known({"fm": tuple(station(88_100_000 + 200_000 * one, f"Kreuz {one}", f"Kreuz {one}") for one in range(9))}, {})
    assert "   Kreuz 0" in shown(typed(ready(), "3akr", known), known=known)
    assert "   kr   (as typed)" in shown(typed(ready(), "3akr<up>", known), known=known)


def test_what_is_not_saved_is_nowhere_said_to_be() -> None:
    """Neither on the card nor in a small window, and the whole of the fault and its remedy can be read in both."""
    fault = (
        "NOT SAVED: cannot be written: No space left on device; make room, or close it in the other program, then press a key"
    )
    for screen in (Screen(), Screen(40, 10), Screen(79, 24)):
        found = [text.strip() for _, text in lines(typed(ready(), "33x"), KNOWN, screen, "s.csv", fault)]
        assert len(found) <= screen.rows
        assert fault in " ".join(found)
        assert "all is saved" not in " ".join(found)
        assert "once more" in " ".join(found)


def test_the_list_is_nowhere_on_a_blind_screen() -> None:
    """Neither channel nor name of any station, until asked for, and not while a single letter is typed."""
    for keys in ["", "333", "3a", "3ak", "3n"]:
        text = shown(typed(ready(), keys))
        for one in (*KNOWN.listed("fm"), *KNOWN.listed("am")):
            assert one.label not in text
        assert "next in the list: hidden" in text
        assert "list hidden" in text


def test_the_next_station_is_shown_large_when_asked_for() -> None:
    """Its channel in large figures, its name under them, and the status says that the list is in sight."""
    text = shown(typed(ready(), "e33"))
    for line in big("96.9", "█"):
        assert line.rstrip() in text
    assert "next in the list, MHz: Ocker Drei" in text
    assert "list SHOWN" in text
    assert "none left" in shown(typed(ready(), "e33333"))


def test_count_and_last_grade_are_large() -> None:
    """Of this sweep only; whistles and repeats are counted aside."""
    text = shown(typed(ready(), "3" * 12 + "wM"))
    for figure in ("13", "M"):
        for line in big(figure, "█"):
            assert line.rstrip() in text
    assert "heard, 1 aside" in text
    assert "two at once" in text
    assert "none yet" in shown(typed(ready(), "3n"))


@pytest.mark.parametrize("text", ["0123456789", "MWR", "-", "101.5"])
def test_large_figures_are_rectangles(text: str) -> None:
    """Every line of a figure is as long as the others, so that figures stand straight."""
    found = big(text, "#")
    assert len(found) == HEIGHT
    assert len(set(map(len, found))) == 1
    assert "#" in "".join(found)


def test_figures_differ_from_each_other() -> None:
    """No two look alike."""
    assert len({tuple(big(sign, "#")) for sign in "0123456789MWR.-"}) == 15


def test_a_terminal_without_blocks_gets_plain_signs() -> None:
    """In ASCII every line is ASCII: hashes for blocks, question marks for what cannot be written."""
    text = shown(typed(replace(ready(), header={"radio": "Überklang"}), "3e"), Screen(encoding="ascii"))
    assert text.isascii()
    assert "######" in text
    assert "?berklang" in text


def test_nothing_that_steers_a_terminal_reaches_it() -> None:
    """Header, names, offers and remarks from outside: each sign is printable, each line fits."""
    known = Known({"fm": (station(88_100_000, HOSTILE, HOSTILE),)}, {})
    state = typed(replace(ready(), header={"job": HOSTILE, "radio": HOSTILE}), "3a" + "]0" + "<enter>e", known)
    state = replace(state, stops=(*state.stops, replace(state.stops[0], name=HOSTILE, remark=HOSTILE, dial=HOSTILE)))
    for one in (state, typed(state, "a]0", known), replace(state, said=HOSTILE), typed(state, "i", known)):
        for _, text in lines(one, known, Screen(), HOSTILE, HOSTILE):
            assert text.isprintable()
            assert cell_len(text) <= 80


def test_both_key_cards_name_every_key() -> None:
    """The foot of the screen and the help: each key that does something stands in them."""
    words = {" ": "SPACE", "enter": "ENTER", "backspace": "BACKSPACE", "left": "LEFT", "right": "RIGHT"}
    for key in {*_TICKS, *_ACTS} - {",", "backspace"}:
        assert f" {words.get(key, key.upper())}" in f" {KEY_CARD}".replace("\n", " "), key
    for key in {*_TICKS, *_ACTS} - {",", ".", "backspace", "enter"}:
        assert f" {words.get(key, key.upper())}" in f" {'  '.join(CARD)}", key
    assert "BACKSPACE" in KEY_CARD
    assert max(map(len, CARD)) <= 78
    assert max(map(len, KEY_CARD.splitlines())) <= 80
