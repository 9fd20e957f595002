"""Pages to PDF through a browser on the PATH: pipeline/printing.py."""

from __future__ import annotations

import os
import re
import shutil
import stat
import sys
from pathlib import Path

import pytest
from report import records

from bandscan import report
from bandscan.errors import BandscanError
from bandscan.pipeline import printing
from bandscan.pipeline.printing import print_pages

posix = pytest.mark.skipif(os.name != "posix", reason="a stand-in for the browser is a script with a first line")


@pytest.fixture
def pages(tmp_path: Path) -> list[Path]:
    """A check's files in a folder whose name has a blank, a percent sign and a letter beyond ASCII."""
    folder = tmp_path / "job 17 50% ü"
    folder.mkdir()
    lists = {"fm": records.baseline()}
    (folder / "owner.html").write_text(report.customer_page(records.radio_check(), lists), encoding="utf-8")
    (folder / "record.html").write_text(report.record_page(records.radio_check(), lists), encoding="utf-8")
    (folder / "check.json").write_text("{}")
    return sorted(folder.iterdir())


def stand_in(folder: Path, monkeypatch: pytest.MonkeyPatch, body: str) -> None:
    """A program called msedge, the only one on the PATH."""
    folder.mkdir()
    program = folder / "msedge"
    program.write_text(f"#!{sys.executable}\nimport sys, pathlib, time\n{body}\n")
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("PATH", str(folder))


def test_owner_s_page_and_record_become_pdf(pages: list[Path]) -> None:
    """With a real browser: two files beside the pages, the owner's of one side, and nothing else is left behind."""
    if not any(shutil.which(name) for name in printing.BROWSERS):
        pytest.skip("no browser is installed: nothing can be printed")
    errors: list[BandscanError] = []
    printed = print_pages(pages, errors)
    assert errors == []
    assert [path.name for path in printed] == ["owner.pdf", "record.pdf"]
    sides = [len(re.findall(rb"/Type\s*/Page\b(?!s)", path.read_bytes())) for path in printed]
    assert sides[0] == 1
    assert sides[1] > 1
    assert sorted(path.name for path in pages[0].parent.iterdir()) == sorted(
        ["check.json", "owner.html", "owner.pdf", "record.html", "record.pdf"]
    )


def test_without_a_browser_one_line_says_what_to_do(pages: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Which programs would do and which page to open instead; one line for both pages. No page, no line."""
    monkeypatch.setenv("PATH", str(tmp_path))
    errors: list[BandscanError] = []
    assert print_pages(pages, errors) == []
    (error,) = errors
    assert "--pdf needs a browser" in str(error)
    assert "chromium, google-chrome, microsoft-edge" in str(error)
    assert "owner.html and print it" in str(error)
    assert print_pages([pages[0]], errors) == []
    assert len(errors) == 1


@posix
def test_the_browser_is_kept_off_the_network_and_given_the_page_s_address(
    pages: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No name can be looked up, no background traffic, a profile that is gone afterwards, the address percent-coded."""
    body = """
out = next(word for word in sys.argv if word.startswith('--print-to-pdf=')).split('=', 1)[1]
pathlib.Path(out).write_bytes(b'%PDF-1.4 ' + chr(10).join(sys.argv).encode())
"""
    stand_in(tmp_path / "bin", monkeypatch, body)
    errors: list[BandscanError] = []
    printed = print_pages(pages, errors)
    assert errors == []
    words = printed[0].read_text().splitlines()
    for word in ("--host-resolver-rules=MAP * ~NOTFOUND", "--disable-background-networking", "--disable-component-update"):
        assert word in words
    assert words[-1].startswith("file:///")
    assert words[-1].endswith("/job%2017%2050%25%20%C3%BC/owner.html")
    profile = next(word for word in words if word.startswith("--user-data-dir=")).split("=", 1)[1]
    assert not Path(profile).exists()


@posix
@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("print('no display', file=sys.stderr); sys.exit(7)", "msedge made no PDF of it: no display"),
        ("pass", "msedge made no PDF of it"),
        ("time.sleep(30)", "msedge made no PDF of it in 1 s"),
        (
            "pathlib.Path(next(w for w in sys.argv if 'to-pdf' in w).split('=', 1)[1]).write_text('<html>')",
            "msedge made no PDF of it",
        ),
    ],
    ids=["fails", "writes nothing", "hangs", "writes something else"],
)
def test_a_browser_that_fails_leaves_the_pages_and_a_line(
    pages: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, body: str, said: str
) -> None:
    """What it was, which page, what to do; an older PDF stays as it was, and no draft is left."""
    stand_in(tmp_path / "bin", monkeypatch, body)
    monkeypatch.setattr(printing, "_PATIENCE_S", 1.0)
    folder = pages[0].parent
    (folder / "owner.pdf").write_text("older")
    errors: list[BandscanError] = []
    assert print_pages([folder / "owner.html"], errors) == []
    (error,) = errors
    assert said in str(error)
    assert "owner.html" in str(error)
    assert "print it from a browser" in str(error)
    assert (folder / "owner.pdf").read_text() == "older"
    assert not list(folder.glob(".*"))
