"""Who a station claims to be, from samples to lists and pages: survey, log, baseline, names and count sheet."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from places import RECORDINGS, needs_recordings

from bandscan import tables
from bandscan.demo import FmStation, Receiver, forge, quantise
from bandscan.pipeline import baseline, sheet, survey
from bandscan.shop import Shop, load, make_shop
from bandscan.source import RawFormat

CENTRE_HZ, RATE_HZ = 98_000_000, 2.4e6
PARENT, RELAY, OTHER = 97_300_000, 98_700_000, 97_900_000
ENTITIES = re.compile(r"<[^>]+>")


def shop_with(folder: Path, *names: str) -> Shop:
    """A shop that knows some stations by name."""
    shop = make_shop(folder)
    shop.names_path.write_text("\n".join(["band,channel_hz,name,count,remark", *names]) + "\n")
    return load(folder)


def csv(folder: Path, name: str, table: tables.Table) -> pd.DataFrame:
    """A written table by channel."""
    return tables.from_csv((folder / name).read_text(), table).set_index("channel_hz")


def visible(path: Path) -> str:
    """What stands on a page, without tags and scripts."""
    text = re.sub(r"(?s)<(script|style).*?</\1>", " ", path.read_text())
    return " ".join(ENTITIES.sub(" ", text).split())


@pytest.fixture(scope="module")
def band(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A second of 2.4 MS/s: 1528 (KBYU, a published pair) with a relay 50 ms later, and a station of its own."""
    station, other = FmStation(PARENT, -20.0, pi=0x1528, ps="HILL"), FmStation(OTHER, -25.0, "music", pi=0x0FFF, ps="VALE")
    parent = forge([station], Receiver(noise_dbfs_hz=-250.0), CENTRE_HZ, RATE_HZ, 1.05, 1).samples
    around = forge([other], Receiver(), CENTRE_HZ, RATE_HZ, 1.0, 2).samples
    count, late = len(around), round(0.05 * RATE_HZ)
    moved = np.exp(2j * np.pi * np.mod((RELAY - PARENT) / RATE_HZ * np.arange(count), 1.0)) / 3
    air = around + parent[late : late + count] + parent[:count] * moved
    path = tmp_path_factory.mktemp("air") / "band.cu8"
    path.write_bytes(quantise(air.astype(np.complex64), "cu8").tobytes())
    return path


def test_identity_reaches_every_table_and_page(band: Path, tmp_path: Path) -> None:
    """Code, name as sent and claim go from survey.csv to the list; the relay is marked; the shop's own name wins on pages."""
    shop = shop_with(tmp_path / "shop", f"fm,{PARENT},Hill at the bench,yes,")
    done = survey([band], shop=shop, raw=RawFormat("cu8", RATE_HZ, CENTRE_HZ), out=tmp_path / "out")
    assert not done.errors
    for name, table in (("survey.csv", tables.SURVEY), ("stations.csv", tables.STATIONS)):
        found = csv(tmp_path / "out", name, table)
        assert found["rds_pi"][[PARENT, RELAY, OTHER]].tolist() == ["1528", "1528", "0FFF"]
        words = set(found["remarks"][PARENT].split(";"))
        assert words == {
            "claims to be KBYU",
            "same-programme-as-98.7:by-code",
            "same-programme-as-98.7:by-audio",
        }
        assert pd.isna(found["remarks"][OTHER])
    assert csv(tmp_path / "out", "stations.csv", tables.STATIONS)["name"][PARENT] == "Hill at the bench"

    made = baseline(shop, out=tmp_path / "list")
    assert not made.errors
    listed = csv(tmp_path / "list", "baseline.csv", tables.BASELINE)
    assert listed["identity"][RELAY].split()[0] == "1528"
    assert listed["identity"][RELAY].endswith("claims to be KBYU")
    assert listed["identity"][OTHER].split()[0] == "0FFF"
    assert listed["remarks"][RELAY] == "same-programme-as-97.3:by-audio;same-programme-as-97.3:by-code"
    page = visible(tmp_path / "list" / "baseline.html")
    assert "Hill at the bench" in page
    assert "claims to be KBYU" in page

    sheet(shop, out=tmp_path / "sheets")
    page = visible(tmp_path / "sheets" / "open-sheet.html")
    assert "Hill at the bench" in page
    assert page.count("1528 HILL") == 1  # of the relay alone, which has no name of its own


@needs_recordings
def test_the_class_recording_shows_its_claim(tmp_path: Path) -> None:
    """PI 9331 (checked independently) and the letters that the rule of NRSC-4 annex D gives reach the files and the list.

    The recording of noise beside it puts nothing into the list.
    """
    number = 0x9331 - 21_672
    letters = "W" + "".join(chr(ord("A") + number // 26**power % 26) for power in (2, 1, 0))
    shop = make_shop(tmp_path / "shop")
    raw = RawFormat("ci16", 256_000, 93_100_000)
    done = survey([RECORDINGS / "us-93p1-256k.ci16"], shop=shop, raw=raw, out=tmp_path / "out")
    assert not done.errors
    for name, table in (("survey.csv", tables.SURVEY), ("stations.csv", tables.STATIONS)):
        found = csv(tmp_path / "out", name, table).loc[93_100_000]
        assert found["rds_pi"] == "9331"
        assert f"claims to be {letters}" in found["remarks"].split(";")
        assert "same-programme" not in found["remarks"]
    noise = RawFormat("ci8", 300_000, 107_900_000)
    assert not survey([RECORDINGS / "us-107p9-noise-300k.ci8"], shop=shop, raw=noise).errors
    baseline(shop, out=tmp_path / "list")
    listed = csv(tmp_path / "list", "baseline.csv", tables.BASELINE)
    assert listed.index.tolist() == [93_100_000]
    assert listed["identity"][93_100_000].split()[0] == "9331"
    assert listed["identity"][93_100_000].endswith(f"claims to be {letters}")
