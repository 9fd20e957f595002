"""Names put together out of pairs of characters."""

from __future__ import annotations

import pytest

from bandscan.dsp.rds_name import Name, character


def pairs(name: str) -> list[int]:
    """The four pairs of a name."""
    code = name.ljust(8).encode("ascii")
    return [code[n] << 8 | code[n + 1] for n in range(0, 8, 2)]


def told(*came: tuple[int, str, bool]) -> dict[str, int]:
    """Names seen after pairs (place, name that it is taken from, trusted)."""
    name = Name()
    for place, text, trusted in came:
        name.add(place, pairs(text)[place], trusted)
    return dict(name.seen)


def test_four_trusted_pairs_are_a_name() -> None:
    """In any order of places, as it is met."""
    assert list(told(*((place, "BENCH FM", True) for place in (2, 3, 0, 1)))) == ["BENCH FM"]


def test_three_pairs_are_no_name() -> None:
    """Nothing is filled in."""
    assert told(*((place, "BENCH FM", True) for place in (0, 1, 3, 0, 1, 3))) == {}


def test_a_mended_pair_counts_when_it_comes_again() -> None:
    """Once is not enough; twice alike is; twice unlike is not."""
    clean = [(place, "BENCH FM", True) for place in (0, 1, 2)]
    assert told(*clean, (3, "BENCH FM", False)) == {}
    assert list(told(*clean, (3, "BENCH FM", False), (3, "BENCH FM", False))) == ["BENCH FM"]
    assert told(*clean, (3, "BENCH FM", False), (3, "BENCH XX", False)) == {}


def test_a_change_of_text_drops_what_came_before_this_cycle() -> None:
    """As met off-air: a pair of the old text, then the new text from its beginning."""
    came = [(1, "OLD TEXT", True), *((place, "NEW ONE", True) for place in range(4))]
    assert list(told(*came)) == ["NEW ONE "]


def test_after_a_change_a_lost_pair_is_not_taken_from_the_old_text() -> None:
    """Pairs 1 and 2 of the old text, then 0, 1 and 3 of the new one: no name."""
    came = [(1, "OLD TEXT", True), (2, "OLD TEXT", True), *((place, "NEW ONE", True) for place in (0, 1, 3))]
    assert told(*came) == {}


def test_the_name_with_most_evidence_leads_where_text_is_run_through_it() -> None:
    """A name put together from two texts, before the change could be seen, is outvoted by the whole one."""
    came = [(2, "TRAFFIC ", True), (3, "TRAFFIC ", True), *((place, "BENCH FM", True) for place in range(4))]
    seen = told(*came)
    assert max(seen, key=lambda name: seen[name]) == "BENCH FM"


def test_a_thousand_texts_take_no_more_memory_than_sixteen() -> None:
    """The least seen make room."""
    name = Name()
    for number in range(1000):
        for place, pair in enumerate(pairs(f"{number:08d}")):
            name.add(place, pair, True)
    assert len(name.seen) == 16


@pytest.mark.parametrize(
    ("code", "shown"), [(0x41, "A"), (0x20, " "), (0x0D, " "), (0x7F, " "), (0x82, "é"), (0x99, "ü"), (0xFF, " ")]
)
def test_characters_of_the_basic_set(code: int, shown: str) -> None:
    """ASCII, control codes as spaces, and two Latin letters (EN 50067 annex E, from memory)."""
    assert character(code) == shown
    assert all(len(character(any_code)) == 1 for any_code in range(256))
