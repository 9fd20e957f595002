"""What each key does, without a terminal: bandscan/tally/keys.py, entries.py, state.py."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tally.bench import KNOWN, NOW, ready, typed

from bandscan.radio import read_sheet
from bandscan.tally.keys import press
from bandscan.tally.state import Known, State, place_in_list
from bandscan.tally.text import read_state, sheet_text


@pytest.mark.parametrize(
    ("keys", "grades", "lamps"),
    [
        ("321", "321", ["", "", ""]),
        ("654", "321", ["off", "off", "off"]),
        ("987", "321", ["on", "on", "on"]),
        ("mWr", "MWR", ["", "", ""]),
        (" ", "2", [""]),
    ],
)
def test_one_key_notes_one_station(keys: str, grades: str, lamps: list[str]) -> None:
    """Grade, and lamp where the key says one; space is the trade's own tick, every word followed."""
    stops = typed(ready(), keys).stops
    assert "".join(stop.grade for stop in stops) == grades
    assert [stop.lamp for stop in stops] == lamps
    assert {(stop.band, stop.sweep, stop.pad_db) for stop in stops} == {("fm", "1up", "")}


def test_enter_is_a_tick_as_space_is() -> None:
    """A foot switch that sends Enter will do."""
    assert [stop.grade for stop in typed(ready(), "<enter>").stops] == ["2"]


def test_the_first_tick_sets_the_time_of_the_sweep_and_no_later_one_does() -> None:
    """`swept` is when it began; one that the sheet has already stays."""
    first = press(ready(), "3", KNOWN, NOW)
    assert first.header["swept"] == NOW
    assert press(first, "3", KNOWN, "2031-01-01 00:00").header["swept"] == NOW
    told = replace(ready(), header={"swept": "2026-04-16 09:00"})
    assert press(told, "3", KNOWN, NOW).header["swept"] == "2026-04-16 09:00"


def test_the_lamp_key_changes_the_station_noted_last() -> None:
    """On, flicker, off, not looked at, and round again."""
    state = typed(ready(), "33")
    seen = []
    for _ in range(5):
        state = typed(state, "l")
        seen.append(state.stops[-1].lamp)
    assert seen == ["on", "flicker", "off", "", "on"]
    assert state.stops[0].lamp == ""


@pytest.mark.parametrize("key", ["u", "-", "<backspace>"])
def test_undo_takes_back_one_key_after_the_other(key: str) -> None:
    """Each thing that a key changed goes back by itself: pad, band, sweep, name, dial, lamp, tick, to the empty sheet."""
    steps = ["3", "l", "d96.5<enter>", "aKre<enter>", "n", "b", "p10<enter>", "2"]
    states = [ready()]
    for keys in steps:
        states.append(typed(states[-1], keys))
    state = states[-1]
    for before in reversed(states[:-1]):
        state = typed(state, key)
        kept = ("stops", "band", "sweep", "pad_db", "skip")
        assert [getattr(state, name) for name in kept] == [getattr(before, name) for name in kept]
    assert "swept" not in state.header
    assert typed(state, key).said == "nothing to take back"


def test_undo_keeps_what_is_told_about_the_radio_and_that_the_list_was_seen() -> None:
    """What was seen cannot be unseen."""
    state = typed(ready(), "3e2i2044<enter><escape>uuu")
    assert state.stops == ()
    assert state.header == {"job": "2044", "seen_list": "yes"}


def test_a_band_that_was_chosen_by_mistake_is_not_asked_about() -> None:
    """Undo takes the choice back whole; what an earlier session chose stays chosen when one of its rows goes."""
    state = typed(ready(), "3buq")
    assert state.entry is not None
    assert state.entry.what == "quit"
    left = read_state(sheet_text(typed(ready(), "b3")), "s.csv")
    assert typed(left, "u").visited == ("fm", "am")


def test_an_empty_sweep_that_is_turned_round_is_said_to_be() -> None:
    """N means the next sweep: where it only turns this one, that is seen at once; a next one needs no words."""
    state = typed(ready(), "n")
    assert state.said == "nothing is noted in this sweep: it now goes down the dial"
    assert typed(state, "n").said == "nothing is noted in this sweep: it now goes up the dial"
    assert typed(ready(), "3n").said == ""


def test_sweeps_go_up_and_down_in_turn_and_count_on() -> None:
    """The first is up; a new one that has no tick yet only turns round; each band counts its own."""
    state = ready()
    seen = []
    for keys in ["", "n", "n", "3n", "n", "2n", "b", "2n", "b"]:
        state = typed(state, keys)
        seen.append(f"{state.band} {state.sweep}")
    assert seen == [
        "fm 1up", "fm 1down", "fm 1up", "fm 2down", "fm 2up", "fm 3down", "am 1up", "am 2down", "fm 2up",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "pad_db"), [("10", "10"), ("20 dB", "20"), ("6,5", "6.5"), ("0", ""), ("120", "120"), ("", "")]
)
def test_the_attenuator_is_that_of_the_stations_to_come(text: str, pad_db: str) -> None:
    """Stations noted before keep theirs."""
    stops = typed(ready(), f"3p{text}<enter>3").stops
    assert [stop.pad_db for stop in stops] == ["", pad_db]


@pytest.mark.parametrize("text", ["x", "121", "-3", "1e2", "10 20"])
def test_what_is_no_attenuator_is_not_taken(text: str) -> None:
    """It says what is accepted and leaves the text to be mended."""
    state = typed(ready(), f"p{text}<enter>")
    assert state.said == f"{text} is no attenuator; accepted: 0 to 120 dB"
    assert state.entry is not None
    assert state.entry.text == text


@pytest.mark.parametrize(
    ("numerals", "band", "text", "taken"),
    [
        ("", "", "96.5", True),
        ("", "", "96 1/2", True),
        ("", "", "965", True),
        ("", "", "140", False),
        ("am", "", "140", True),
        ("", "b", "140", True),
        ("", "b", "30.5", False),
    ],
)
def test_a_dial_reading_is_one_of_the_dial_s_numerals(numerals: str, band: str, text: str, taken: bool) -> None:
    """As the sheet's reader takes it: FM in MHz, AM in kHz or tenths, FM on a dial with AM numerals as those."""
    state = typed(replace(ready(), header={"numerals": numerals}), f"{band}3d{text}<enter>")
    assert (state.stops[-1].dial == text) == taken
    assert (state.entry is None) == taken
    assert ("no reading; accepted:" in state.said) == (not taken)


def test_a_dial_s_numerals_are_known_of_its_family() -> None:
    """What the shop knows of the family holds where the sheet does not say otherwise, when typed and when taken up again."""
    families = {"conv": {"numerals": "am"}}
    known = replace(KNOWN, families=families)
    state = typed(replace(ready(), header={"family": "conv"}), "3d612<enter>", known)
    assert state.stops[-1].dial == "612"
    again = read_state(sheet_text(state), "s.csv", families)
    assert (again.stops, again.header["family"], again.header.get("numerals")) == (state.stops, "conv", None)
    own = typed(replace(ready(), header={"family": "conv", "numerals": "fm"}), "3d612<enter>", known)
    assert "no reading; accepted:" in own.said


@pytest.mark.parametrize("keys", ["d", "a", "t", "l"])
def test_keys_for_the_last_station_need_one_in_this_sweep(keys: str) -> None:
    """Before the first tick, and after a new sweep, the last station is not meant."""
    for before in ("", "3n", "3b"):
        state = typed(ready(), before + keys)
        assert state.said == "no station is noted in this sweep yet: press a grade first"
        assert state.entry is None


def test_a_name_is_completed_from_the_list_and_pins_the_place() -> None:
    """Two letters and Enter; what is next in the list goes on from there."""
    state = typed(ready(), "e33aoc<enter>")
    assert state.stops[-1].name == "Ocker Drei"
    assert KNOWN.listed("fm")[place_in_list(state, KNOWN)].channel_hz == 101_500_000
    assert KNOWN.listed("fm")[place_in_list(typed(state, "3"), KNOWN)].channel_hz == 104_700_000


def test_two_stations_of_one_name_are_offered_by_their_channel() -> None:
    """The sheet then names the channel, since the judge takes no name that two stations bear."""
    state = typed(ready(), "3aKreuz<down><enter>")
    assert state.stops[-1].name == "91.3"
    assert state.said == ""


def test_a_name_that_is_not_in_the_list_is_kept_and_said_to_pin_nothing() -> None:
    """Neither a strange name nor one of the shop's own that the list lacks is an anchor."""
    for text, name in [("Zebra<enter>", "Zebra"), ("Fern<enter>", "Fernsender")]:
        state = typed(ready(), "3a" + text)
        assert state.stops[-1].name == name
        assert state.said == f"{name} is no station of the list here: kept, but it pins nothing"


def test_a_channel_is_a_name_too() -> None:
    """A frequency that was announced pins as well."""
    assert typed(ready(), "3a91.3<enter>").said == ""


def test_escape_leaves_what_is_being_typed() -> None:
    """Nothing of it is taken."""
    state = typed(ready(), "3d96<escape>")
    assert state.stops[-1].dial == ""
    assert state.entry is None


def test_a_remark_stands_beside_what_the_tally_itself_remarks() -> None:
    """A row noted with the list in sight keeps saying so."""
    assert typed(ready(), "3thum<enter>").stops[-1].remark == "hum"
    assert typed(ready(), "e3thum<enter>").stops[-1].remark == "list shown; hum"


def test_the_list_is_hidden_until_asked_for_and_the_sheet_then_says_so() -> None:
    """Rows noted while it is in sight say so one by one; the header says it for good."""
    state = typed(ready(), "3e3e3")
    assert [stop.remark for stop in state.stops] == ["", "list shown", ""]
    assert state.header["seen_list"] == "yes"
    assert not state.shown
    assert "seen_list" not in typed(ready(), "333").header


def test_without_a_list_there_is_nothing_to_show() -> None:
    """It says so, and the sheet does not claim that something was seen."""
    state = press(ready(), "e", Known(), NOW)
    assert state.said == "there is no reference list of FM here to show"
    assert not state.shown
    assert "seen_list" not in state.header


def test_what_is_next_follows_the_sweep_and_can_be_moved() -> None:
    """Up from the low end, down from the high end; whistles and repeats are no station; arrows stop at the ends."""

    def after(keys: str) -> int:
        return place_in_list(typed(ready(), keys), KNOWN)

    assert after("e") == 0
    assert after("e3mwr") == 2
    assert after("en") == 4
    assert after("en3") == 3
    assert after("e<right><right>3") == 3
    assert after("e<left><left>") == 0
    assert after("e3333333<left>") == 4
    assert after("e<right><right>nn") == 0
    assert place_in_list(typed(ready(), "e<right><right>bb"), KNOWN) == 0
    assert after("e<right><right>p10<enter>") == 0
    assert typed(ready(), "<right>").said == "the list is hidden: E shows it"


def test_finishing_asks_once_more() -> None:
    """A slip of the finger ends nothing; any other key goes on and notes no station."""
    assert not typed(ready(), "3q").over
    assert typed(ready(), "3qq").over
    state = typed(ready(), "3q3")
    assert not state.over
    assert len(state.stops) == 1


def test_a_band_without_a_station_counts_as_silent_only_when_told_so() -> None:
    """A count of nothing condemns a radio: the header names the band only after a plain yes."""
    silent = typed(ready(), "3bqyq")
    assert (silent.over, silent.header["bands"]) == (True, "fm, am")
    only = typed(ready(), "3bqnq")
    assert (only.over, only.header.get("bands", "")) == (True, "")
    strange = typed(ready(), "3bq3")
    assert strange.said == "Y or N (ESC goes back to the sweep)"
    assert strange.stops == silent.stops
    assert typed(strange, "<escape>3").stops[-1].band == "am"


def test_the_questions_about_the_radio_can_be_passed_over() -> None:
    """Enter alone leaves a line open, a wrong word is said, Escape leaves the rest."""
    asked = typed(State(), "i77<enter><enter>six<enter>")
    assert asked.header == {"job": "77", "family": "six-transistor"}
    assert asked.entry is not None
    assert asked.entry.what == "about by"
    wrong = typed(asked, "<enter><enter>drum<enter>")
    assert wrong.said == "dial drum? accepted: pointer or digits"
    assert typed(wrong, "<escape>3").stops[0].grade == "3"


def test_keys_that_mean_nothing_change_nothing() -> None:
    """They are said to be none; a control key is passed over in silence."""
    state = typed(ready(), "3x")
    assert (state.said, len(state.stops)) == ("x is no key of this card", 1)
    assert typed(ready(), "<tab>") == replace(ready(), said="")


def test_a_sheet_that_no_dial_could_fill_takes_no_more() -> None:
    """A key that is held down by a book does not grow a sheet that cannot be read again."""
    full = replace(ready(), stops=typed(ready(), "3").stops * 2000)
    state = typed(full, "3")
    assert len(state.stops) == 2000
    assert "begin another sheet" in state.said


def test_a_sweep_through_an_attenuator_counts_as_silent_only_when_told_so() -> None:
    """It becomes a row without a grade, which the judge holds against what a good set follows through so much: after a sweep
    without one, and where no station was heard at all."""
    for keys, rows in (("3np20<enter>qyq", ["3", ""]), ("p20<enter>qyq", [""])):
        silent = typed(ready(), keys)
        assert silent.over
        assert [one.grade for one in silent.stops] == rows
        assert (silent.stops[-1].band, silent.stops[-1].pad_db, silent.header.get("bands", "")) == ("fm", "20", "")
        sheet = read_sheet(sheet_text(silent), "s.csv")
        assert [one[:3] for one in sheet.silent] == [("fm", silent.sweep, 20.0)]
        assert len(sheet.ticks) == len(rows) - 1
    no = typed(ready(), "3np20<enter>qnq")
    assert (no.over, [one.grade for one in no.stops]) == (True, ["3"])
    asked_not = typed(ready(), "3p20<enter>3q")
    assert asked_not.entry is not None
    assert asked_not.entry.what == "quit"


@pytest.mark.parametrize("leave", ["p0<enter>3", "b3"])
def test_an_empty_sweep_through_an_attenuator_is_asked_about_before_it_is_left(leave: str) -> None:
    """Another attenuator, or the other band: a silent sweep was gone without a word. The key goes on after the answer."""
    key, rest = leave[0], leave[1:]
    asked = typed(ready(), f"3p20<enter>{key}")
    assert asked.entry is not None
    assert (asked.entry.what, asked.pad_db, asked.band) == ("silent fm", "20", "fm")
    assert read_state(sheet_text(asked), "s.csv").entry == asked.entry
    silent, spoken = typed(asked, f"y{rest}"), typed(asked, f"n{rest}")
    assert [(one.grade, one.pad_db) for one in silent.stops] == [("3", ""), ("", "20"), ("3", "")]
    assert [(one.grade, one.pad_db) for one in spoken.stops] == [("3", ""), ("3", "")]
    assert typed(silent, "qq").over
    assert typed(spoken, "qq").over
    back = typed(asked, "<escape>2")
    assert [(one.band, one.pad_db) for one in back.stops] == [("fm", ""), ("fm", "20")]


def test_am_is_swept_without_the_attenuator_and_fm_goes_on_with_it() -> None:
    """50 ohm across the lead make any AM set deaf (trade practice): B takes the attenuator out and says so; back on FM, as
    its sweep was left."""
    there = typed(ready(), "p20<enter>3b")
    assert there.said == "AM is swept without the 20 dB: take them out (P changes it)"
    assert typed(there, "2").stops[-1].pad_db == ""
    back = typed(there, "2b")
    assert (back.pad_db, back.said) == ("20", "FM goes on through 20 dB, as it was left (P changes it)")
    assert typed(there, "u").pad_db == "20"
    assert typed(ready(), "3b").said == ""


def test_a_silent_sweep_goes_when_it_is_taken_back_or_a_station_is_heard() -> None:
    """U takes its row away, and so does a grade in the same sweep; what is about the station noted last changes no such row."""
    silent = typed(ready(), "3np20<enter>qy<escape>")
    assert [one.grade for one in typed(silent, "u").stops] == ["3"]
    assert [one.grade for one in typed(silent, "2").stops] == ["3", "2"]
    assert typed(silent, "l").stops == silent.stops


def test_a_pad_of_the_header_is_taken_into_the_rows() -> None:
    """A tally writes each row's own attenuator: none after the header's 20 dB stays none."""
    state = read_state("# pad_db: 20\nband,dial,grade,pad_db\nfm,89.5,3,\n", "s.csv")
    assert (state.pad_db, "pad_db" in state.header) == ("20", False)
    again = read_sheet(sheet_text(typed(state, "p0<enter>3")), "s.csv")
    assert again.ticks["pad_db"].tolist() == [20.0, 0.0]
    silent = read_state("# bands: fm\n# pad_db: 20\nband,dial,grade\n", "s.csv")
    assert [one[:3] for one in read_sheet(sheet_text(silent), "s.csv").silent] == [("fm", "1", 20.0)]
