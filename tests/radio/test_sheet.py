"""Count sheets as people and spreadsheets write them, and every way in which they are wrong."""

from __future__ import annotations

import re

import pytest

from bandscan.errors import SheetError
from bandscan.radio import read_sheet, totals_sheet
from bandscan.radio.header import swept_hour
from bandscan.radio.sheet import COLUMNS

LINE = ",".join(COLUMNS)


def test_a_plain_sheet_keeps_header_rows_and_their_order() -> None:
    """Header, cells and row order arrive as written."""
    text = f"# job: 117\n# by: Ola\n{LINE}\nfm,96.5,3,on,0,2up,,\nfm,95.9,2,off,0,2up,Kreuz,hum\nam,140,M,,10,1,,\n"
    sheet = read_sheet(text, "s.csv")
    assert sheet.job == "117"
    assert sheet.header["by"] == "Ola"
    assert sheet.source == "s.csv"
    assert list(sheet.ticks["band"]) == ["fm", "fm", "am"]
    assert list(sheet.ticks["dial_hz"]) == [96_500_000.0, 95_900_000.0, 1_400_000.0]
    assert list(sheet.ticks["grade"]) == ["3", "2", "M"]
    assert list(sheet.ticks["lamp"].fillna("")) == ["on", "off", ""]
    assert list(sheet.ticks["pad_db"]) == [0.0, 0.0, 10.0]
    assert list(sheet.ticks["sweep"]) == ["2up", "2up", "1"]
    assert sheet.ticks["name"][1] == "Kreuz"
    assert sheet.ticks["remark"][1] == "hum"


@pytest.mark.parametrize(
    "text",
    [
        f"\ufeff{LINE}\r\nfm,96.5,3,on,,,,\r\n\r\nam,1400,2,,10.5,,,\r\n",
        f"{LINE.replace(',', ';')}\n;;;;;;;\nfm;96,5;3;ON;;;;\nam;1400;2;;10,5;;;\n",
        f"{LINE.replace(',', chr(9))}\nFM\t96,5\t3\ton\t\t\t\t\nAM\t140\t2\t\t10,5 dB\t\t\t\n",
        f'{LINE}\nfm,"96,5",3,on,,,,\nam,"1400","2",,"10,5",,,\n',
        "fm,965,3,on\nam,140,2,,10.5\n",
        'Dial,Band,Grade,Lamp,Pad dB\n96 1/2,fm,3.0,on,\n140,am,"2,0",,"10,5"\n',
        "band,dial,grade,lamp,pad_db,,\nfm,96½,3,on,,,\nam,1.4 MHz,2,,10.5,,\n",
        f"\ufeffsep=;\r\n# job: 4,5,6\r\n{LINE.replace(',', ';')}\r\nfm;96,5;3;on\r\nam;1400;2;;10,5\r\n",
        f'"sep=,"\n{LINE}\nfm,96.5,3,on\nam,1400,2,,10.5\n',
        "SEP=\t\nfm\t96,5\t3\ton\t\nam\t1400\t2\t\t10,5\n",
    ],
    ids=[
        *("bom-crlf", "semicolons", "tabs", "quoted", "no-column-line", "own-order", "trailing-cells"),
        *("told-semicolon", "told-quoted", "told-tab"),
    ],
)
def test_spreadsheet_habits_give_the_same_sheet(text: str) -> None:
    """Byte order mark, line ends, `;`, tabs, quotes, decimal commas, blank lines and column order change nothing."""
    ticks = read_sheet(text, "s.csv").ticks
    assert list(ticks["band"]) == ["fm", "am"]
    assert list(ticks["dial_hz"]) == [96_500_000.0, 1_400_000.0]
    assert list(ticks["grade"]) == ["3", "2"]
    assert list(ticks["lamp"].fillna("")) == ["on", ""]
    assert list(ticks["pad_db"]) == [0.0, 10.5]
    assert list(ticks["sweep"]) == ["1", "1"]


def test_a_row_below_a_told_separator_keeps_its_number() -> None:
    """The line `sep=;` is one of the file's: messages count it."""
    with pytest.raises(SheetError, match=r"row 3 grade '7'"):
        read_sheet("sep=;\nband;dial;grade\nfm;96,5;7\n", "s.csv")


@pytest.mark.parametrize(
    "line", ["total,61,,,,,,", ",Total: 61,,,,,,", "fm,34,,,,,total,", "am,61,,,,,Sum,", "Total 61", "am,,,,,,,subtotal AM"]
)
def test_a_total_under_the_rows_is_said_to_be_one(line: str) -> None:
    """A line that adds the rows up is no stop: not one on 610 kHz either, and no band that is not known."""
    with pytest.raises(SheetError, match=r"1 place .*row 3 '.*': a total is no stop on the dial \(take the line out"):
        read_sheet(f"{LINE}\nfm,96.5,3,on,,,,\n{line}\n", "s.csv")


def test_a_station_may_be_called_total() -> None:
    """What was heard, with a grade, is a stop whatever it is called."""
    assert len(read_sheet(f"{LINE}\nfm,96.5,3,on,,,Total,\nfm,97.1,2,,,,Summit,sum of two\n", "s.csv").ticks) == 2


def test_header_lines_survive_a_spreadsheet() -> None:
    """Header lines padded with empty cells, quoted or holding the cell sign are read whole."""
    text = '# Job: 12;;;\n"# antenna: whip; 1 m";;\n# if khz: 262,5;;\n# a remark without a colon\nband;dial;grade\nfm;96,5;3\n'
    sheet = read_sheet(text, "s.csv")
    assert sheet.header == {"job": "12", "antenna": "whip; 1 m", "if_khz": "262,5"}


def test_an_empty_dial_is_allowed_and_order_kept() -> None:
    """Rows without a reading stay, in their order."""
    ticks = read_sheet("band,dial,grade\nfm,,3\nfm,,1\nfm,,2\n", "s.csv").ticks
    assert list(ticks["grade"]) == ["3", "1", "2"]
    assert ticks["dial_hz"].isna().all()


def test_rows_left_empty_are_not_heard_and_rows_without_a_grade_are_followed() -> None:
    """A prepared sheet's empty rows are no ticks; a reading without a grade counts as 2; both are said."""
    sheet = read_sheet("band,dial,grade,lamp,name\nfm,,,,98.1\nfm,96.5,,,\n", "s.csv")
    assert list(sheet.ticks["grade"]) == ["2"]
    assert "1 row without a grade is taken as 2, every word follows" in sheet.cautions
    assert "rows that are not filled in are taken as not heard: 1" in sheet.cautions


def test_what_is_written_down_and_not_judged_is_said() -> None:
    """The lamp of AM rows and whistles on FM are kept in the sheet, and no figure uses them."""
    text = "band,dial,grade,lamp\nam,600,3,on\nam,700,3,off\nam,800,W,\nfm,96.5,W,\nfm,97.5,3,on\n"
    cautions = read_sheet(text, "s.csv").cautions
    assert "AM rows with a lamp: 2; the lamp is judged on FM only" in cautions
    assert [one.split(";")[0] for one in cautions if "whistles" in one] == ["FM rows marked as whistles: 1"]
    assert not [one for one in read_sheet("band,dial,grade,lamp\nam,800,W,\nfm,97.5,3,on\n", "s.csv").cautions if ";" in one]


def test_sheets_put_together_may_repeat_the_column_names() -> None:
    """The names again are no row; in another order they are, and are named."""
    head = "band,dial,grade\n"
    assert list(read_sheet(f"{head}fm,96.5,3\nBand,Dial,Grade,\nam,600,2\n", "s.csv").ticks["grade"]) == ["3", "2"]
    with pytest.raises(SheetError, match="row 3 band 'grade'"):
        read_sheet(f"{head}fm,96.5,3\ngrade,band,dial\n2,am,600\n", "s.csv")


def test_what_matters_and_is_missing_is_said() -> None:
    """Missing header lines that a judgement leans on, and lines not known, are named."""
    sheet = read_sheet("# swept: 2026-03-14 11:20\n# colour: red\nband,dial,grade\nfm,96.5,3\n", "s.csv")
    assert sheet.cautions[0] == "the sheet does not say: antenna, family, dial"
    assert sheet.cautions[1].startswith("header lines not known and not used: colour (known: job, radio,")


@pytest.mark.parametrize(
    ("swept", "hour"), [("2026-03-14 11:30", 11.5), ("2026-03-14T07:15+02:00", 7.25), ("2026-03-14", None), ("20260314", None)]
)
def test_the_hour_is_known_only_where_it_is_written(swept: str, hour: float | None) -> None:
    """A date alone tells no hour."""
    assert swept_hour({"swept": swept}) == hour


@pytest.mark.parametrize("swept", ["2026-03-14T07:15+02:00", "2026-03-14T07:15Z"])
def test_a_time_with_an_offset_is_refused(swept: str) -> None:
    """It would be taken for the shop's own time, hours off."""
    with pytest.raises(SheetError) as caught:
        read_sheet(f"# swept: {swept}\nband,dial,grade\nfm,96.5,3\n", "s.csv")
    assert str(caught.value) == (
        f"s.csv: 1 place cannot be understood: row 1 swept '{swept}' (local time as 2026-03-14 11:20, without Z or an offset);"
        " correct and check again"
    )


def test_am_numerals_on_an_fm_dial_are_read_as_such() -> None:
    """A converted set's FM readings are on the AM scale; the header may stand below the rows."""
    sheet = read_sheet("band,dial,grade\nfm,140,3\n# numerals: am\n", "s.csv")
    assert sheet.ticks["dial_hz"][0] == 1_400_000.0


def test_rows_are_read_by_what_is_known_of_the_family() -> None:
    """The family's numerals and dial hold where the sheet does not say otherwise; the header stays as written."""
    families = {"conv": {"numerals": "am", "dial": "digits"}}
    rows = "band,dial,grade\nfm,105,3\nfm,612,3\n"
    sheet = read_sheet(f"# family: conv\n{rows}", "s.csv", families)
    assert list(sheet.ticks["dial_hz"]) == [1_050_000.0, 612_000.0]
    assert sheet.cautions[0] == "the sheet does not say: swept, antenna"
    assert sheet.header == {"family": "conv"}
    with pytest.raises(SheetError, match="row 5 dial '612'"):
        read_sheet(f"# family: conv\n# numerals: fm\n{rows}", "s.csv", families)


def test_am_numerals_that_the_sheet_does_not_say_are_asked_for() -> None:
    """Three readings or more that only AM's numerals have, all others being possible there: one line. Else each is named."""
    readings = ["612", "737", "954", "1028", "1265", "1400"]
    text = "band,dial,grade\n" + "".join(f"fm,{one},3\n" for one in readings)
    with pytest.raises(SheetError) as caught:
        read_sheet(text, "s.csv")
    assert str(caught.value) == (
        "s.csv: 1 place cannot be understood: band fm: 3 dial readings, first row 2 dial '612', are of AM's numerals (write"
        " `# numerals: am` where FM is read off those); correct and check again"
    )
    assert len(read_sheet(f"# numerals: am\n{text}", "s.csv").ticks) == 6
    for other, places in ((f"{text}fm,30.5,3\n", 4), (text.replace("fm,1400,3\n", ""), 2)):
        with pytest.raises(SheetError, match=rf"{places} places .* row 2 dial '612' \(70 to 115 MHz"):
            read_sheet(other, "s.csv")


def test_fm_in_megahertz_under_am_numerals_is_refused() -> None:
    """Readings of 87 to 108 off AM's numerals would keep to a fifth of the dial: a sweep of them, or a few with decimals."""
    head = "# numerals: am\nband;dial\n"
    few = ["88.5", "91.1", "94.3", "97,9"]
    whole = ["88", "89", "91", "94", "97", "99", "101", "104", "107"]
    for readings in (few, whole, [*few, *few, *few, "112.3"]):
        with pytest.raises(SheetError, match=r"band fm: the dial readings are FM's own in MHz.*`# numerals: fm`"):
            read_sheet(head + "".join(f"fm;{one}\n" for one in readings), "s.csv")
    for readings in (few[:3], whole[:7], [*few, "60", "140"], ["890", "911", "943", "979", "1005", "1045", "1066", "1071"]):
        assert len(read_sheet(head + "".join(f"fm;{one}\n" for one in readings), "s.csv").ticks) == len(readings)
    assert len(read_sheet("band;dial\n" + "".join(f"fm;{one}\n" for one in whole), "s.csv").ticks) == 9


def test_a_few_readings_of_am_with_decimals_of_fm_are_refused() -> None:
    """From four on, where most have decimals that nobody reads off AM's tenths; halves of a tenth are read off them."""
    readings = ["88.5", "91.1", "94.3", "97.9"]
    with pytest.raises(SheetError, match=r"FM in MHz.*write kHz"):
        read_sheet("band;dial\n" + "".join(f"am;{one}\n" for one in readings), "s.csv")
    for taken in (readings[:3], [*readings, "120"], ["88.5", "90", "94.5", "97", "98.5"]):
        assert len(read_sheet("band;dial\n" + "".join(f"am;{one}\n" for one in taken), "s.csv").ticks) == len(taken)


def test_a_station_that_is_only_named_was_heard() -> None:
    """A name by ear is a tick, and said; a channel alone was prepared, and so are names in every row, some of them graded."""
    head = "band,dial,grade,name\n"
    sheet = read_sheet(f"{head}fm,,,Kreuz\nfm,96.5,3,\nfm,,,98.1\nfm,,,\n", "s.csv")
    assert list(sheet.ticks["name"].fillna("")) == ["Kreuz", ""]
    assert list(sheet.ticks["grade"]) == ["2", "3"]
    assert "rows with a name alone are taken as heard: 1; empty the name of what was not" in sheet.cautions
    assert "rows that are not filled in are taken as not heard: 2" in sheet.cautions
    listed = read_sheet(f"{head}fm,,,Kreuz\nfm,96.5,3,Ambit\nfm,,,Ocker\nam,,,Ombra\n", "s.csv")
    assert list(listed.ticks["name"]) == ["Ambit", "Ombra"]
    said = "rows with a name alone, where all have one, are taken as not heard: 2; write a grade where one was"
    assert said in listed.cautions
    assert "1 row without a grade is taken as 2, every word follows" in listed.cautions


# text, then what its one line says between the opening and the closing words
BAD = {
    "no rows": ("", "there is no row and no line of column names"),
    "only header": ("# job: 1\n", "there is no row and no line of column names"),
    "no table": (
        "dear workshop\nthe radio is fine\n",
        f"row 1 as the line of column names: column 'dear_workshop' is not known, column band is missing (accepted: {LINE})",
    ),
    "column unknown": (
        "band,dial,grad\nfm,96.5,3\n",
        f"row 1 as the line of column names: column 'grad' is not known (accepted: {LINE})",
    ),
    "column twice": (
        "band,dial,dial\nfm,96.5,3\n",
        f"row 1 as the line of column names: column dial stands twice (accepted: {LINE})",
    ),
    "column band missing": (
        "dial,grade\n96.5,3\n",
        f"row 1 as the line of column names: column band is missing (accepted: {LINE})",
    ),
    "band": ("band,dial,grade\nsw,96.5,3\n", "row 2 band 'sw' (fm or am)"),
    "band empty": ("band,dial,grade\n,96.5,3\n", "row 2 band '' (fm or am)"),
    "fm dial": (
        "band,dial,grade\nfm,140,3\n",
        "row 2 dial '140' (70 to 115 MHz as 96.5, 96,5 or 96 1/2, or the dial's tenth as 965)",
    ),
    "am dial": (
        "band,dial,grade\nam,96.53e7,3\n",
        "row 2 dial '96.53e7' (440 to 1850 kHz as 1400, or the dial's tenth as 140)",
    ),
    "am dial out of band": (
        "band,dial,grade\nam,300,3\n",
        "row 2 dial '300' (440 to 1850 kHz as 1400, or the dial's tenth as 140)",
    ),
    "dial negative": (
        "band,dial,grade\nam,-1400,3\n",
        "row 2 dial '-1400' (440 to 1850 kHz as 1400, or the dial's tenth as 140)",
    ),
    "dial words": (
        f"band,dial,grade\nam,{'near the old mark ' * 4},3\n",
        "row 2 dial 'near the old mark near the old mark n...' (440 to 1850 kHz as 1400, or the dial's tenth as 140)",
    ),
    "dial fraction": (
        "band,dial,grade\nfm,96 3/2,3\n",
        "row 2 dial '96 3/2' (70 to 115 MHz as 96.5, 96,5 or 96 1/2, or the dial's tenth as 965)",
    ),
    "grade": ("band,dial,grade\nfm,96.5,4\n", "row 2 grade '4' (3, 2, 1, M, W or R)"),
    "lamp": ("band,dial,grade,lamp\nfm,96.5,3,lit\n", "row 2 lamp 'lit' (on, off, flicker or empty)"),
    "pad words": ("band,dial,grade,pad_db\nfm,96.5,3,ten\n", "row 2 pad_db 'ten' (0 to 120 dB or empty)"),
    "pad negative": ("band,dial,grade,pad_db\nfm,96.5,3,-10\n", "row 2 pad_db '-10' (0 to 120 dB or empty)"),
    "pad once": (
        "band,dial,grade,pad_db\nfm,90.1,3,20\nfm,92.3,3,\nfm,94.5,3,\nfm,96.7,3,\n",
        "band fm: pad_db stands in the first row only (write it in each row that went through it, or in none)",
    ),
    "pad absurd": ("band,dial,grade,pad_db\nfm,96.5,3,500\n", "row 2 pad_db '500' (0 to 120 dB or empty)"),
    "sweep": ("band,dial,grade,sweep\nfm,96.5,3,second\n", "row 2 sweep 'second' (1, 2up, 2down ... or empty)"),
    "decimal comma": (
        "band,dial,grade\nfm,96,5,3\n",
        "row 2 has 4 cells for 3 columns (a decimal comma needs `;` between cells, or quotes)",
    ),
    "quote": ('band,dial,grade\nfm,"96.5,3\nfm,97.1,3\n', "row 2: a quotation mark is not closed"),
    "key twice": ("# job: 1\n# job: 2\nband,dial,grade\nfm,96.5,3\n", "row 2: `job` is given twice"),
    "swept": ("# swept: yesterday\nband,dial,grade\nfm,96.5,3\n", "row 1 swept 'yesterday' (local time as 2026-03-14 11:20)"),
    "dial kind": ("# dial: round\nband,dial,grade\nfm,96.5,3\n", "row 1 dial 'round' (pointer or digits)"),
    "intermediate frequency": ("# if_khz: 10.7 MHz\nband,dial,grade\nfm,96.5,3\n", "row 1 if_khz '10.7 MHz' (a number of kHz)"),
    "bands": ("# bands: long\nband,dial,grade\nfm,96.5,3\n", "row 1 bands 'long' (the bands that were swept: fm, am or both)"),
    "all at once": (
        "# ground: none\nband,dial,grade,lamp\nfm,xx,4,lit\nam,96.5,3,\nfm,200,3,\n",
        "row 1 ground 'none' (neg or pos); row 3 dial 'xx' (70 to 115 MHz as 96.5, 96,5 or 96 1/2, or the dial's tenth "
        "as 965); row 3 grade '4' (3, 2, 1, M, W or R); row 3 lamp 'lit' (on, off, flicker or empty); row 5 "
        "dial '200' (70 to 115 MHz as 96.5, 96,5 or 96 1/2, or the dial's tenth as 965)",
    ),
}


@pytest.mark.parametrize("case", BAD, ids=list(BAD))
def test_a_wrong_cell_is_named_by_row_and_column(case: str) -> None:
    """Each bad sheet gives exactly its line: row, column, what stands there, what is accepted."""
    text, said = BAD[case]
    places = "5 places" if case == "all at once" else "1 place"
    with pytest.raises(SheetError) as caught:
        read_sheet(text, "s.csv")
    assert str(caught.value) == f"s.csv: {places} cannot be understood: {said}; correct and check again"


def test_too_many_rows_are_refused() -> None:
    """No dial holds thousands of stations."""
    with pytest.raises(SheetError, match=r"2001 rows are more than any dial holds \(at most 2000\)"):
        read_sheet("band,dial,grade\n" + "fm,96.5,3\n" * 2001, "s.csv")


def test_hundreds_of_wrong_cells_stay_one_readable_line() -> None:
    """The first hundred are named, the rest counted."""
    with pytest.raises(SheetError) as caught:
        read_sheet("band,dial,grade\n" + "fm,96.5,9\n" * 250, "s.csv")
    assert str(caught.value).startswith("s.csv: 250 places cannot be understood: row 2 grade '9'")
    assert "row 101 grade" in str(caught.value)
    assert "row 102 grade" not in str(caught.value)
    assert "and 150 more" in str(caught.value)


def test_bare_totals() -> None:
    """Totals are a sheet without ticks that says what it cannot tell."""
    sheet = totals_sheet({"fm": 31, "am": 7})
    assert sheet.totals == {"fm": 31, "am": 7}
    assert not len(sheet.ticks)
    assert sheet.cautions == ("only totals are given: which stations were heard, the dial and the lamp cannot be judged",)


@pytest.mark.parametrize(
    ("totals", "line"),
    [
        ({}, "totals: no total is given; accepted: fm or am and a count of 0 to 2000"),
        ({"lw": 3}, "totals: lw is no band; accepted: fm or am and a count of 0 to 2000"),
        ({"fm": -1}, "totals: fm counts -1; accepted: fm or am and a count of 0 to 2000"),
    ],
)
def test_wrong_totals(totals: dict[str, int], line: str) -> None:
    """A total is of a band and no less than nothing."""
    with pytest.raises(SheetError) as caught:
        totals_sheet(totals)
    assert str(caught.value) == line


@pytest.mark.parametrize(("said", "warned"), [("yes", True), ("no", False), ("", False)])
def test_a_list_that_was_seen_is_said(said: str, warned: bool) -> None:
    """A sweep made with the station list in sight is no blind count: the sheet's cautions say so, and only then."""
    cautions = " ".join(read_sheet(f"# seen_list: {said}\n{LINE}\nfm,96.5,3,,,,,\n", "s.csv").cautions)
    assert ("the station list was seen while sweeping" in cautions) == warned
    assert "not known" not in cautions


def test_a_sweep_of_fm_under_the_name_of_am_is_refused() -> None:
    """Readings of 88 to 108 only: tenths of AM would keep to a fifth of the dial. Kilohertz, and a few of them, are taken."""
    reading = ["88.5", "89,9", "91 1/2", "93.3", "95.1", "98", "101.7", "104.3", "107.9"]
    text = "band;dial\n" + "".join(f"am;{one}\n" for one in reading)
    with pytest.raises(SheetError, match=r"FM in MHz.*write kHz"):
        read_sheet(text, "s.csv")
    assert len(read_sheet("band;dial\n" + "".join(f"am;{one}\n" for one in reading[:6]), "s.csv").ticks) == 6
    assert len(read_sheet(text + "am;140\n", "s.csv").ticks) == 10
    kilohertz = "band;dial\n" + "".join(f"am;{hz}\n" for hz in range(880, 1080, 10))
    assert len(read_sheet(kilohertz, "s.csv").ticks) == 20


@pytest.mark.parametrize(
    ("line", "do"),
    [
        ("# job 12", "row 1: `# job 12` has no colon (write `# job: 12`)"),
        ("# swept 2026-04-16 13:20", "(write `# swept: 2026-04-16 13:20`)"),
        ("job: 1", "row 1 'job: 1': a line of the header begins with # (write `# job: 1`)"),
    ],
)
def test_a_header_line_that_is_none_is_not_lost(line: str, do: str) -> None:
    """Without its colon or its # it would be a remark or a column; true remarks are taken."""
    rows = "band,dial,grade\nfm,96.5,3\n"
    with pytest.raises(SheetError, match=re.escape(do)):
        read_sheet(f"{line}\n{rows}", "s.csv")
    assert len(read_sheet(f"# job went well\n# bands names what was swept\n{rows}", "s.csv").ticks) == 1
    assert read_sheet(f"# job : 12\n{rows}", "s.csv").job == "12"


@pytest.mark.parametrize(("sweep", "do"), [("1down", "go up the dial (write 1up"), ("2up", "go down the dial (write 2down")])
def test_readings_that_go_against_the_sweep_s_name_are_refused(sweep: str, do: str) -> None:
    """Laid over the list backwards a good radio would be called stone deaf. Without a direction either order is taken."""
    up = [f"fm;{88 + 1.7 * k + 0.3 * (k % 3):.1f}" for k in range(11)]
    rows = up if sweep == "1down" else up[::-1]
    head = "band;dial;grade;lamp;pad_db;sweep\n"
    with pytest.raises(SheetError, match=re.escape(do)):
        read_sheet(head + "".join(f"{one};3;;;{sweep}\n" for one in rows), "s.csv")
    for taken, order in ((sweep, rows[::-1]), ("1", rows), (sweep, rows[:7])):
        assert len(read_sheet(head + "".join(f"{one};3;;;{taken}\n" for one in order), "s.csv").ticks) == len(order)


def test_two_sweeps_under_one_name_are_refused() -> None:
    """Up and down again, or rows pasted twice: they would make the set too keen. Named, or a little out of order: taken."""
    up = [f"fm;{88 + 2 * k + 0.1 * (k % 3):.1f}" for k in range(10)]
    head = "band;dial;grade;lamp;pad_db;sweep\n"
    for again in (up, up[::-1]):
        with pytest.raises(SheetError, match="along the dial twice"):
            read_sheet(head + "".join(f"{one};3;;;\n" for one in [*up, *again]), "s.csv")
        named = "".join(f"{one};3;;;1\n" for one in up) + "".join(f"{one};3;;;2\n" for one in again)
        assert len(read_sheet(head + named, "s.csv").ticks) == 20
    with pytest.raises(SheetError, match=r"every row stands there twice \(take one of each two out\)"):
        read_sheet(head + "".join(f"{one};3;;;\n{one};3;;;\n" for one in up), "s.csv")
    coarse = [f"fm;{mhz}" for mhz in (88, 88, 89, 90, 90, 91, 92, 92, 92, 94, 94, 95, 97, 98, 98, 100, 100, 101)]
    assert len(read_sheet(head + "".join(f"{one};3;;;\n" for one in coarse), "s.csv").ticks) == 18
    swapped = [*up[:4], up[5], up[4], *up[6:], *[f"fm;{107 + 0.1 * k:.1f}" for k in range(8)]]
    assert len(read_sheet(head + "".join(f"{one};3;;;\n" for one in swapped), "s.csv").ticks) == 18
    assert len(read_sheet(head + "".join(f"{one};3;;;\n" for one in up[::-1]), "s.csv").ticks) == 10
