"""`bandscan check --pdf`: pages for filing, and what is said where there is no browser: cli/commands.py."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from report import records

from bandscan.baseline import to_files
from bandscan.cli import main
from bandscan.pipeline.printing import BROWSERS

SHEET = "# job: 17\n# radio: Corvane\nband,dial,grade,lamp,pad_db,sweep,name,remark\nfm,97.7,3,on,,1,,\nfm,101.1,3,on,,1,,\n"


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """A check of a sheet against a list, without a shop, in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("BANDSCAN_SHOP", raising=False)
    for name, text in {**to_files(records.baseline()), "sheet.csv": SHEET}.items():
        Path(name).write_text(text, encoding="utf-8")
    return ["check", "sheet.csv", "--baseline", "baseline.csv", "--out", "out"]


def test_without_a_browser_the_pages_are_there_and_the_status_is_3(
    line: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The check is made and its pages are named; one line on standard error says that nothing was printed, and why."""
    monkeypatch.setenv("PATH", str(tmp_path))
    assert main([*line, "--pdf"]) == 3
    told = capsys.readouterr()
    assert told.err.count("--pdf needs a browser, and there is none on the PATH") == 1
    assert "open out/owner.html" in told.err.replace("\\", "/")
    assert not list(tmp_path.rglob("*.pdf"))
    assert main(line) < 2
    assert "browser" not in capsys.readouterr().err


def test_with_a_browser_the_pdf_files_are_named_to_open(line: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """owner.pdf and record.pdf lie beside the pages."""
    if not any(shutil.which(name) for name in BROWSERS):
        pytest.skip("no browser is installed: nothing can be printed")
    assert main([*line, "--pdf"]) < 2
    told = capsys.readouterr().err.replace("\\", "/")
    for name in ("owner.pdf", "record.pdf"):
        assert f"open out/{name}" in told
        assert (Path("out") / name).read_bytes()[:5] == b"%PDF-"
