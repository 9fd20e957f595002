"""The shop's folder: where it is, what its shop.toml says, its own names of stations."""

from __future__ import annotations

from bandscan.shop.make import SHOP_VARIABLE, find_shop, make_shop
from bandscan.shop.names import read_names, with_names
from bandscan.shop.settings import AM_FEEDS, SETTINGS, Family, Rig, Shop, load

__all__ = [
    "AM_FEEDS",
    "SETTINGS",
    "SHOP_VARIABLE",
    "Family",
    "Rig",
    "Shop",
    "find_shop",
    "load",
    "make_shop",
    "read_names",
    "with_names",
]
