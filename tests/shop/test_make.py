"""Finding a shop's folder and making one: shop/make.py."""

from __future__ import annotations

from pathlib import Path

import pytest

from bandscan.errors import ShopError
from bandscan.shop import Rig, find_shop, load, make_shop, read_names


def test_a_made_shop_reads_as_it_was_told(tmp_path: Path) -> None:
    """What setup is told stands in shop.toml, hostile texts too, and comes back when it is read."""
    rig = Rig('wire, "1:2" \\ [x] = # \x7f\n', "a\tb", "RG-62", "1:2", "00000001", 22.9, "upconverter")
    made = make_shop(
        tmp_path / "deep" / "shop", rig, name='Ä "q"', place="é", time_zone="Europe/Berlin", region="eu", demo=True
    )
    assert load(made.folder) == made
    assert made.rigs == {rig.name: rig}
    assert (made.name, made.place, made.time_zone, made.region, made.rig, made.demo) == (
        'Ä "q"', "é", "Europe/Berlin", "eu", rig.name, True,
    )  # fmt: skip


def test_a_new_shop_has_its_folders_and_an_empty_list_of_names(tmp_path: Path) -> None:
    """captures, reports and names.csv are there; other files in the folder are left alone."""
    (tmp_path / "names.csv").write_text("band,channel_hz,name\nfm,98100000,Hill\n")
    shop = make_shop(tmp_path)
    assert shop.captures.is_dir()
    assert shop.reports.is_dir()
    assert (shop.name, shop.rig, shop.demo) == (tmp_path.name, "bench", False)
    assert read_names(shop.names_path, "us")["name"].tolist() == ["Hill"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["captures", "names.csv", "reports", "shop.toml"]
    other = make_shop(tmp_path / "other")
    assert other.names_path.read_text() == "band,channel_hz,name,count,remark\n"


def test_the_example_family_in_a_new_shop_is_a_right_one(tmp_path: Path) -> None:
    """The example that shop.toml shows can be used by taking the remark signs off."""
    make_shop(tmp_path)
    path = tmp_path / "shop.toml"
    lines = path.read_text().splitlines()
    start = lines.index("# [families.early-transistor]")
    path.write_text("\n".join([*lines[:start], *(line.removeprefix("# ") for line in lines[start:])]))
    family = load(tmp_path).families["early-transistor"]
    assert (family.if_khz, family.dial, family.numerals, family.raster_khz, family.converted) == (
        262.5,
        "pointer",
        "am",
        10,
        False,
    )


def test_a_shop_is_never_made_over_another(tmp_path: Path) -> None:
    """setup refuses a folder that is a shop, and says which file to change."""
    make_shop(tmp_path, place="first")
    with pytest.raises(ShopError) as caught:
        make_shop(tmp_path, place="second")
    assert str(caught.value) == f"{tmp_path}: is a shop already; change its settings in {tmp_path / 'shop.toml'}"
    assert load(tmp_path).place == "first"


def test_a_wrong_option_makes_nothing(tmp_path: Path) -> None:
    """A setting that is not accepted is refused before anything is written."""
    folder = tmp_path / "shop"
    with pytest.raises(ShopError, match=r'time_zone = "Mars" \(accepted: a time zone'):
        make_shop(folder, time_zone="Mars")
    assert not folder.exists()


def test_a_folder_that_cannot_be_made_is_one_line(tmp_path: Path) -> None:
    """A file in the folder's place is said in one line."""
    (tmp_path / "file").write_text("")
    with pytest.raises(ShopError, match=r"shop: cannot be made a shop: .+; choose a folder that you may write to"):
        make_shop(tmp_path / "file" / "shop")


def test_the_shop_is_the_variables_else_the_nearest_upward(tmp_path: Path) -> None:
    """BANDSCAN_SHOP comes before the folders upward; of those the nearest; with none there is no shop."""
    make_shop(tmp_path / "a")
    make_shop(tmp_path / "a" / "b")
    inside = tmp_path / "a" / "b" / "c" / "d"
    inside.mkdir(parents=True)
    assert find_shop({}, inside) == tmp_path / "a" / "b"
    assert find_shop({}, tmp_path / "a") == tmp_path / "a"
    assert find_shop({"BANDSCAN_SHOP": str(tmp_path / "a")}, inside) == tmp_path / "a"
    assert find_shop({"BANDSCAN_SHOP": ""}, tmp_path) is None


def test_a_variable_that_names_no_shop_is_refused(tmp_path: Path) -> None:
    """A mistyped BANDSCAN_SHOP is not passed over silently, and makes no shop."""
    with pytest.raises(ShopError, match=r"BANDSCAN_SHOP names it, but it is no shop; run `bandscan setup "):
        find_shop({"BANDSCAN_SHOP": str(tmp_path / "typo")}, tmp_path)
    assert not (tmp_path / "typo").exists()
