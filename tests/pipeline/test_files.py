"""Files that a command writes: pages share one library of plots, whatever their folder: pipeline/files.py."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import pytest
from report import records

from bandscan.errors import BandscanError, InputError
from bandscan.pipeline.files import PLOTS, csv_text, share_plots, write_files
from bandscan.radio import to_rows
from bandscan.report import check_page, plot_library
from bandscan.tables import armed

LIMIT_BYTES, FOLDER_LIMIT_BYTES = 6_000_000, 10_000_000


def page(library: str) -> str:
    """A page that tells nothing but where it looks for the library."""
    return f"[{library}]"


def libraries(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob(PLOTS))


def test_a_page_finds_the_library_beside_it(tmp_path: Path) -> None:
    """Without a word about sharing the library is written into the page's own folder, and only where a page needs it."""
    write_files(tmp_path / "words", {"a.csv": "a\n"})
    assert libraries(tmp_path) == []
    assert write_files(tmp_path / "one", {"a.csv": "a\n", "a.html": page}) == [
        tmp_path / "one" / "a.csv",
        tmp_path / "one" / "a.html",
    ]
    assert (tmp_path / "one" / "a.html").read_text() == "[plots.js]"
    assert (tmp_path / "one" / PLOTS).read_text(encoding="utf-8") == plot_library()


def test_pages_of_the_folders_in_a_folder_share_the_library_above_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The library lies in `top` once; a path that is relative or goes back and forth leads there as well."""
    monkeypatch.chdir(tmp_path)
    for number, folder in enumerate((Path("reports/17"), Path("reports/../reports/18"), Path("reports/am/19"))):
        write_files(folder, {"a.html": page}, top=Path("reports"))
        assert (folder / "a.html").read_text() == ("[../plots.js]" if number < 2 else "[../../plots.js]")
    assert libraries(tmp_path) == ["reports/plots.js"]


def test_a_library_that_lies_above_is_used(tmp_path: Path) -> None:
    """A folder up to two levels below one that has the library gets none of its own; further down it does."""
    share_plots(tmp_path)
    for depth, address in ((1, "../plots.js"), (2, "../../plots.js"), (3, "plots.js")):
        folder = tmp_path.joinpath(*"abc"[:depth])
        write_files(folder, {"a.html": page})
        assert (folder / "a.html").read_text() == f"[{address}]"
    assert libraries(tmp_path) == ["a/b/c/plots.js", "plots.js"]


def test_a_library_of_another_version_is_replaced_or_left(tmp_path: Path) -> None:
    """Beside the page an older file is replaced; one further up belongs to other pages and stays."""
    (tmp_path / PLOTS).write_text("old")
    write_files(tmp_path / "a", {"a.html": page})
    assert (tmp_path / PLOTS).read_text() == "old"
    assert (tmp_path / "a" / "a.html").read_text() == "[plots.js]"
    write_files(tmp_path, {"a.html": page})
    assert (tmp_path / PLOTS).read_text(encoding="utf-8") == plot_library()


def test_a_library_that_cannot_be_written_is_a_failure_with_its_place(tmp_path: Path) -> None:
    """A folder that bears its name is in the way: one line, and the page is not left without a library."""
    (tmp_path / PLOTS).mkdir()
    errors: list[BandscanError] = []
    assert write_files(tmp_path, {"a.csv": "a\n", "a.html": page, "b.csv": "b\n"}, errors) == [tmp_path / "a.csv"]
    assert [str(tmp_path / PLOTS) in str(error) for error in errors] == [True]
    with pytest.raises(InputError, match="cannot be written"):
        write_files(tmp_path, {"a.html": page})
    assert not (tmp_path / "a.html").exists()
    assert not list(tmp_path.glob(".*"))


def test_ten_full_pages_stay_below_ten_megabytes_and_each_below_six(tmp_path: Path) -> None:
    """Ten checks of 105 stations with hostile names, each in its job's folder: one library, as files weigh on the disk."""
    lists = {"fm": records.baseline(names=records.HOSTILE), "am": records.baseline("am", 45, levels=False)}
    full = records.radio_check(hostile=True)
    whole = check_page(full, lists, library="../plots.js")
    for job in range(10):
        write_files(
            tmp_path / str(job), {"check.html": lambda library: whole if library == "../plots.js" else ""}, top=tmp_path
        )
    sizes = [path.stat().st_size for path in tmp_path.rglob("*") if path.is_file()]
    assert len(sizes) == 11
    assert sum(sizes) < FOLDER_LIMIT_BYTES
    assert all(0 < size < LIMIT_BYTES for size in sizes)


def test_hostile_names_stay_text_in_the_table_of_a_check() -> None:
    """check.csv keeps its shape, no cell begins as a spreadsheet's formula does, and each name can be had back."""
    band = records.band_check("fm")
    names = (
        *records.HOSTILE,
        "+1",
        "-1+cmd|' /C calc'!A0",
        "@SUM(1)",
        "\t=1",
        "two\nlines",
        'a "quoted", one',
        "a;b",
        "a;=1",
        'a;"=1',
        "a\t@b",
    )
    stations = tuple(replace(one, name=names[index % len(names)]) for index, one in enumerate(band.stations))
    text = csv_text(to_rows(replace(records.radio_check(), bands={"fm": replace(band, stations=stations)})))
    rows = list(csv.reader(io.StringIO(text)))
    assert {len(row) for row in rows} == {len(rows[0])}
    assert len(rows) == 1 + len(stations) + len(band.extras)
    written = [row[rows[0].index("name")] for row in rows[1:]]
    formula = ("=", "+", "-", "@", "\t", "\r")
    assert not [cell for cell in written if cell.startswith(formula)]
    assert set(names) <= {armed(cell) for cell in written}
    # a spreadsheet that splits at another sign takes no name's piece for a formula either
    for sign in ";\t":
        pieces = [piece for cell in written for piece in cell.split(sign)[1:]]
        assert pieces
        assert not [piece for piece in pieces if piece.lstrip('"').startswith(formula)]
