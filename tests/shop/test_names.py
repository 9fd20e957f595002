"""names.csv: shop/names.py."""

from __future__ import annotations

from pathlib import Path

import pytest

from bandscan.errors import ShopError
from bandscan.shop import read_names

HEAD = "band,channel_hz,name,count,remark\n"


def names(folder: Path, text: str | bytes, region: str = "us") -> list[list[object]]:
    """Rows of the table that the text makes, None for empty."""
    path = folder / "names.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    table = read_names(path, region)
    return table.astype(object).where(table.notna(), None).to_numpy().tolist()


def test_names_are_read_with_a_spreadsheets_habits(tmp_path: Path) -> None:
    """Byte order mark, semicolons, CRLF, blank lines, short rows, columns in another order; an empty count means yes."""
    text = b"\xef\xbb\xbfname;Band;channel_hz;count\r\n\r\nHill; first;FM;98100000;no\r\nMill;am;1400000\r\n;;;\r\n"
    assert names(tmp_path, text.replace(b"Hill; first", b'"Hill; first"')) == [
        ["fm", 98_100_000, "Hill; first", "no", None],
        ["am", 1_400_000, "Mill", "yes", None],
    ]


def test_no_file_and_an_empty_one_hold_no_names(tmp_path: Path) -> None:
    """Nothing there is no fault."""
    assert len(read_names(tmp_path / "names.csv", "us")) == 0
    assert names(tmp_path, "") == names(tmp_path, HEAD) == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a,b\n", "row 1: the line of column names is 'a,b' (accepted: band,channel_hz,name,count,remark)"),
        ("band,channel_hz\n", "row 1: the line of column names is 'band,channel_hz' (accepted: band,"),
        (HEAD + "tv,98100000,Hill\n", "row 2 band 'tv' (accepted: fm or am)"),
        (
            HEAD + "fm,98.1,Hill\n",
            "row 2 channel_hz '98.1' (accepted: a channel of fm in region us in whole hertz, 87900000 to",
        ),
        (HEAD + "fm,98000000,Hill\n", "row 2 channel_hz '98000000' (accepted:"),
        (HEAD + "fm,98100000,\n", "row 2 name is empty (accepted: a text)"),
        (HEAD + "fm,98100000,Hill,perhaps\n", "row 2 count 'perhaps' (accepted: yes or no)"),
        (HEAD + "fm,98100000,Hill\nfm,98100000,Mill\n", "row 3 channel_hz 98100000: named in row 2 already"),
        (HEAD + "fm,98100000,Hill,yes,a,b\n", "row 2: 6 cells for 5 columns (put a name that holds ',' in quotes)"),
        (HEAD + "tv,98100000,Hill\n\nfm,1,Mill,2\n", "row 2 band 'tv' (accepted: fm or am); row 4 channel_hz '1' ("),
        (b"band,channel_hz,name\nfm,98100000,\xff\n", "not UTF-8; save the file as UTF-8"),
    ],
)
def test_wrong_cells_are_named_by_row_and_column(tmp_path: Path, text: str | bytes, said: str) -> None:
    """All wrong cells at once, each with what is accepted."""
    with pytest.raises(ShopError) as caught:
        names(tmp_path, text)
    assert str(caught.value).startswith(f"{tmp_path / 'names.csv'}: {said}")


def test_channels_are_those_of_the_shops_region(tmp_path: Path) -> None:
    """98.0 MHz is a channel in region eu, not in us."""
    assert names(tmp_path, HEAD + "fm,98000000,Hill\n", "eu")[0][1] == 98_000_000
