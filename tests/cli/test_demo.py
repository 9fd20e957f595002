"""`bandscan demo`: the whole way on forged recordings: cli/demo.py."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from house.pictures import DEMO, stale

from bandscan.cli import main
from bandscan.demo import load_scene
from bandscan.shop import load, make_shop


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    """The demo's folder and what the command said, run once as a newcomer does."""
    folder = tmp_path_factory.mktemp("demo")
    line = [sys.executable, "-m", "bandscan", "demo", "--to", "to"]
    done = subprocess.run(line, cwd=folder, capture_output=True, text=True, timeout=600, check=False)
    return folder / "to", done


def test_the_demo_ends_with_three_files_to_open(demo: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    """It succeeds, names three pages that are there with what each shows, then what to do next."""
    folder, done = demo
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    named = lines[lines.index("open:") + 1 :]
    assert len(named) == 3
    for line in named:
        path, what = line.strip().split(": ", 1)
        assert (folder.parent / path).is_file()
        assert what
    assert done.stderr.splitlines()[-1].startswith("next: for a bench of your own run: bandscan setup DIR;")


def test_the_pictures_of_the_readme_are_of_these_pages(demo: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    """Words and styles of the demo's pages are those of which the pictures were taken; figures may differ in the last digit."""
    folder, _ = demo
    assert stale(folder) == [], "take them anew: bandscan demo, then python tests/house/pictures.py"


def test_the_demos_pages_share_one_library_of_plots(demo: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    """The folders of the demo have one plots.js above them; a page is at most 6 MB, all of them together at most 10 MB."""
    folder, _ = demo
    assert [path.relative_to(folder).as_posix() for path in folder.rglob("plots.js")] == ["plots.js"]
    pages = [path.stat().st_size for path in (*folder.rglob("*.html"), folder / "plots.js")]
    assert len(pages) > 10
    assert max(pages) <= 6_000_000
    assert sum(pages) <= 10_000_000


def test_the_demo_tells_the_deaf_radio_from_the_healthy_one(demo: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    """FM, with a known-good set to measure by: the healthy radio is not condemned, the one 14 dB deaf falls short (the scene's
    truth: thresholds of -42 and -28 dBFS), and that set is deaf by the interval given."""
    folder, _ = demo
    healthy, deaf = (
        json.loads((folder / f"check-{key}" / "check.json").read_text())["bands"]["fm"] for key in ("healthy", "deaf")
    )
    assert healthy["reference"]["basis"] == deaf["reference"]["basis"] == "known-good"
    assert healthy["verdict"] in ("in line", "look closer")
    assert deaf["verdict"] == "falls short"
    assert deaf["against_reference_db"]["low"] < 14 < deaf["against_reference_db"]["high"]
    assert deaf["findings"][0]["fault"] == "deaf"


def test_the_demos_lists_hold_the_scenes_stations(demo: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    """The reference list of three days has every station of the scene that is 10 dB over the noise, and nothing else."""
    folder, _ = demo
    scene = load_scene()
    for band, made in scene.bands.items():
        stations = pd.read_csv(folder / "baseline" / band / "baseline.csv")
        about = json.loads((folder / "baseline" / band / "baseline.json").read_text())
        assert (about["grade"], about["surveys"], about["forged"]) == ("A", 3, True)
        true = {one.station.channel_hz for one in made.on_air}
        assert set(stations["channel_hz"]) <= true
        heard = stations[stations["snr_db"] >= 10]
        assert len(heard) > 10
        assert set(stations.dropna(subset="name")["channel_hz"]) == set(stations["channel_hz"])


def test_the_demos_shop_is_its_own(demo: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    """The demo's shop takes forged recordings only, and its log holds six surveys and three checks."""
    folder, _ = demo
    shop = load(folder / "shop")
    assert shop.demo
    with_log = subprocess.run(
        [sys.executable, "-m", "bandscan", "--shop", str(shop.folder), "log"],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert with_log.stdout.count("-forged") == 6
    assert "bench-1" in with_log.stdout


def _moments(at: object) -> list[str]:
    """Every moment that a JSON tells, in order."""
    if isinstance(at, list):
        return [moment for one in at for moment in _moments(one)]
    if not isinstance(at, dict):
        return []
    return [told for key, one in at.items() for told in ([one] if key.endswith("_utc") else _moments(one))]


def test_the_demos_files_tell_no_day_of_making(demo: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    """Its moments are the scene's, so that those committed in reports/demo are those of any run."""
    folder, _ = demo
    found = sorted(path.relative_to(folder) for path in folder.rglob("*.json") if "shop" not in path.parts)
    assert len(found) == 6
    for path in found:
        moments = _moments(json.loads((folder / path).read_text(encoding="utf-8")))
        assert moments
        assert moments == _moments(json.loads((DEMO / path).read_text(encoding="utf-8")))


def test_the_demo_never_touches_another_shop(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that is a real shop, or anything else, is refused before anything is forged."""
    make_shop(tmp_path / "shop", place="mine")
    assert main(["demo", "--to", str(tmp_path)]) == 2
    assert "is there and not the demo's; choose another folder with --to" in capsys.readouterr().err
    assert load(tmp_path / "shop").place == "mine"
    (tmp_path / "other" / "shop").mkdir(parents=True)
    assert main(["demo", "--to", str(tmp_path / "other")]) == 2
