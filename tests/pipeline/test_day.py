"""The day of a sweep in a check: pipeline/day.py."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import onair
import pytest
from pipeline.test_checking import CHANNELS, COLUMNS, HEAD, MADE, STRONGEST_FIRST, keep_surveys

from bandscan.model import RadioCheck
from bandscan.pipeline import baseline, check
from bandscan.shop import Shop, load, make_shop

HEARD = 16
LEVELS = {hz: -20.0 - 2 * rank for rank, hz in enumerate(STRONGEST_FIRST)}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """A shop an hour east of UTC with three surveys, a list of them and a good set that follows 16 of 25 stations."""
    made = make_shop(tmp_path_factory.mktemp("day") / "shop", time_zone="Africa/Lagos")
    keep_surveys(made)
    baseline(made, made_utc=MADE)
    for number in (1, 2):
        head = HEAD.replace("Ombra", f"Good {number}") + f"# family: early\n# job: g{number}\n"
        check([swept(made.folder, head, range(HEARD))], shop=made, known_good=True, made_utc=MADE)
    return made


def swept(folder: Path, head: str, heard: range | list[int]) -> Path:
    """A digital set's sheet with the stations of these ranks."""
    path = folder / "s.csv"
    rows = "".join(f"fm,{hz / 1e6:.1f},3,on,,1,,\n" for hz in sorted(STRONGEST_FIRST[rank] for rank in heard))
    path.write_text(head + COLUMNS + rows)
    return path


def low(one: RadioCheck) -> float:
    """The lower bound of how deaf FM is. [dB]"""
    against = one.bands["fm"].against_reference_db
    assert against is not None
    assert against.low is not None
    return against.low


def high(one: RadioCheck) -> float:
    """The upper bound of how deaf FM is. [dB]"""
    against = one.bands["fm"].against_reference_db
    assert against is not None
    assert against.high is not None
    return against.high


def judged(shop: Shop, when: str, heard: range | list[int] = range(HEARD)) -> RadioCheck:
    """The check of a radio that was swept at this local time, made on that evening: none is made before its sweep."""
    head = HEAD.replace("2026-03-04 11:00", when) + "# family: early\n# job: 5\n"
    return check([swept(shop.folder, head, heard)], shop=load(shop.folder), made_utc=f"{when[:10]}T23:00:00Z").checks[0]


@pytest.mark.parametrize(
    ("when", "day"),
    [
        ("2026-03-03 09:01", "fm-20260303T100000Z-bench"),
        ("2026-03-03 13:00", "fm-20260303T100000Z-bench"),
        ("2026-03-03 08:59", None),
        ("2026-03-03 13:01", None),
        ("2026-03-03", None),
        ("", None),
    ],
)
def test_the_newest_survey_within_two_hours_is_today(shop: Shop, when: str, day: str | None) -> None:
    """The survey began at 10:00:00 UTC, 11:00 by the shop's clock, and took two seconds; no hour, no today."""
    one = judged(shop, when)
    assert (one.today or {}).get("fm", {}).get("survey") == day


def test_without_a_survey_of_the_day_it_is_said_the_doubt_is_wider_and_one_is_asked_for(shop: Shop) -> None:
    """The same sheet with and without: a wider interval, the caution, and what to run, where the verdict is open."""
    known, unknown = judged(shop, "2026-03-03 11:30"), judged(shop, "2026-03-04 18:00")

    assert high(unknown) - low(unknown) > high(known) - low(known) + 0.1
    said = "there is no survey of today: a station off the air counts against the radio (bandscan capture --quick)"
    assert (said in known.cautions, said in unknown.cautions) == (False, True)
    open_one = judged(shop, "2026-03-04 18:00", range(HEARD - 4)).bands["fm"]
    assert open_one.verdict == "look closer"
    assert open_one.do_next.endswith("run `bandscan capture --band fm --quick` beside the next sweep, so that its day is known")


def test_a_station_silent_today_is_not_held_against_the_radio(shop: Shop) -> None:
    """Two strong and three weak stations missing: on the day on which they are off the air the radio is no deafer for it."""
    gone = (0, 1, 12, 13, 14)
    heard = [rank for rank in range(HEARD) if rank not in gone]
    held = judged(shop, "2026-03-03 11:30", heard)
    keep_surveys(shop, days=[7], silent=gone)
    free = judged(shop, "2026-03-07 11:30", heard)
    assert free.today is not None
    assert free.today["fm"]["off_air_hz"] == sorted(STRONGEST_FIRST[rank] for rank in gone)
    assert any(caution.startswith("FM today: off the air, and not held against the radio: ") for caution in free.cautions)
    missed = [{one.channel_hz for one in day.bands["fm"].stations if one.heard is False} for day in (held, free)]
    assert [len(missing & set(free.today["fm"]["off_air_hz"])) for missing in missed] == [len(gone), 0]
    assert high(free) < high(held) - 0.5
    faults = [[finding.fault for finding in one.bands["fm"].findings] for one in (held, free)]
    assert ["strongest-missing" in found for found in faults] == [True, False]


def test_a_noisy_day_is_not_held_against_the_radio(shop: Shop) -> None:
    """10 dB more noise and five stations fewer: on an ordinary day the set is 10 dB deaf, on this one it may be in order."""
    keep_surveys(shop, days=[9], noise_db=-70.0)
    few = range(HEARD - 5)
    ordinary, noisy = judged(shop, "2026-03-03 11:30", few), judged(shop, "2026-03-09 11:30", few)
    assert noisy.today is not None
    assert noisy.today["fm"]["noise_db"] == pytest.approx(10.0)
    assert low(ordinary) > 0.0 > low(noisy)
    assert ordinary.bands["fm"].verdict == "look closer"
    assert noisy.bands["fm"].verdict == "cannot tell"


def test_a_survey_of_another_rig_is_not_the_day(shop: Shop) -> None:
    """Another antenna's survey of that hour tells nothing of this one's day, and a sheet of that antenna cannot be told."""
    keep_surveys(shop, "attic", days=[12], silent=(0, 1))
    assert judged(shop, "2026-03-12 11:00").today is None
    head = HEAD.replace("2026-03-04 11:00", "2026-03-12 11:00") + "# rig: attic\n# job: 6\n"
    foreign = check([swept(shop.folder, head, range(HEARD))], shop=shop, made_utc="2026-03-12T23:00:00Z").checks[0].bands["fm"]
    assert (foreign.verdict, foreign.why) == ("cannot tell", "the sheet is of rig attic, the FM list of rig bench")


def test_an_old_list_is_cautioned_and_a_stale_one_cannot_tell(shop: Shop) -> None:
    """90 days after the newest survey the age is said; 200 days after it nothing is judged, and what to do is."""
    old, stale = judged(shop, "2026-06-01 11:00"), judged(shop, "2026-09-19 11:00")
    assert "FM list: 90 days old at the time of the sweep" in old.cautions
    assert old.bands["fm"].verdict == "in line"
    assert stale.bands["fm"].verdict == "cannot tell"
    assert stale.bands["fm"].why == "the FM list is 200 days older than the sweep"
    assert stale.bands["fm"].do_next.startswith("survey the FM band again, then sweep")

    assert stale.bands["fm"].do_next == "survey the FM band again, then sweep"


@pytest.mark.parametrize("kept", [lambda line: not line.startswith("# swept"), lambda line: not line.startswith("#")])
def test_a_sheet_without_a_date_is_asked_for_it_before_a_new_survey(shop: Shop, kept: Callable[[str], bool]) -> None:
    """Checked 200 days after the list, swept nobody knows when: the date is what to do, not another survey."""
    head = "".join(line for line in HEAD.splitlines(keepends=True) if kept(line))
    sheet = swept(shop.folder, head, range(HEARD))
    undated = check([sheet], shop=shop, made_utc="2026-09-19T11:00:00Z").checks[0].bands["fm"]
    assert (undated.verdict, undated.why) == (
        "cannot tell",
        "the FM list is 200 days older than this check, and the sheet has no date",
    )
    assert undated.do_next == "write when it was swept into the sheet's header, as `# swept:`"


def test_a_total_is_of_now_and_an_old_list_is_surveyed_again(shop: Shop) -> None:
    """A total has no header to write a date into."""
    now = check([], totals={"fm": 20}, shop=shop, made_utc="2026-09-19T11:00:00Z").checks[0].bands["fm"]
    assert (now.verdict, now.do_next) == ("cannot tell", "survey the FM band again, then sweep")


def test_a_station_that_is_new_today_explains_an_extra(shop: Shop) -> None:
    """A tick where the list has nothing: unexplained on an ordinary day, on the air on the day whose survey has it."""
    new_hz = next(hz for hz in CHANNELS[3:] if hz not in STRONGEST_FIRST)
    onair.keep(shop, onair.survey("fm", "2026-03-20T10:00:00Z", {**LEVELS, new_hz: -40.0}, noise_dbfs=-80.0))
    told = []
    for when in ("2026-03-03 11:00", "2026-03-20 11:00"):
        head = HEAD.replace("2026-03-04 11:00", when) + "# job: 7\n"
        path = swept(shop.folder, head, range(HEARD))
        path.write_text(path.read_text() + f"fm,{new_hz / 1e6:.1f},3,on,,1,,\n")
        told.append(check([path], shop=shop, made_utc=MADE).checks[0].bands["fm"].extras)
    assert [[extra.channel_hz for extra in one] for one in told] == [[new_hz], [new_hz]]
    assert [one[0].explained_by == "on the air today, not in the list" for one in told] == [False, True]
