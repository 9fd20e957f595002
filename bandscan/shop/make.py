"""A shop's folder: finding it, and making one with a shop.toml that explains itself."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from pathlib import Path

from bandscan.errors import ShopError
from bandscan.shop.names import COLUMNS
from bandscan.shop.settings import FAIL_DB, LOOK_DB, SETTINGS, Rig, Shop, parse

SHOP_VARIABLE = "BANDSCAN_SHOP"
RIG = "bench"  # name of the rig of a shop that was not told another

_TEXT = """\
# A shop of bandscan. Change what you like; a wrong line is named when a command next runs.
# Texts stand in double quotes. A line that starts with # is a remark.

name = {name}
# where the bench is; shown on pages
place = {place}
# count sheets tell local time; as "America/Denver", "Europe/Berlin" or "UTC"
time_zone = {time_zone}
# where it stands, in degrees, north and east positive: by the sun AM knows day from night
{latitude}
{longitude}
# band plan: "us", "eu" or "jp"
region = {region}
# the rig that is meant unless --rig names another
rig = {rig}
# how much IQ `bandscan capture --keep iq` may leave here, in GB; the oldest that is surveyed goes first
# keep_gb = 20
{demo}
# A radio falls short when it is surely more than look_db deafer than a good one of its family, and is in line when it is
# surely less than fail_db deafer; what is neither is looked at closer. In dB; surely is 95 %, with every doubt counted in.
[limits]
look_db = {look_db:.1f}
fail_db = {fail_db:.1f}

# A rig is all that levels depend on. Give a changed antenna, lead, splitter, receiver or gain another name:
# levels of two rigs are never compared.
[rigs.{rig_key}]
antenna = {antenna}
lead = {lead}
# splitter or buffer amplifier; on AM never a passive splitter, it makes the radio itself deaf
splitter = {splitter}
# serial number of the receiver
receiver = {receiver}
# receiver gain in dB; without it, the gain of most of a survey
{gain}
# how AM gets to the receiver: "none", "direct" (direct sampling) or "upconverter"
am_feed = {am_feed}

# Families are radios of one kind; known-good sets of a family are the measure for the others. An example:
# [families.early-transistor]
# if_khz = 262.5
# dial = "pointer"      # or "digits"
# numerals = "am"       # what the dial wears: "am" or "fm"
# raster_khz = 10       # of a dial with digits
# converted = false     # true: a modern board behind the old dial
"""


def find_shop(environ: Mapping[str, str], here: Path) -> Path | None:
    """The shop folder where none is named: that of the variable BANDSCAN_SHOP, else the nearest upward from `here`.

    Raises:
        ShopError: the variable names a folder that is no shop.
    """
    if named := environ.get(SHOP_VARIABLE):
        folder = Path(named)
        if not (folder / SETTINGS).is_file():
            raise ShopError(f"{SHOP_VARIABLE} names it, but it is no shop", where=folder, do=f"run `bandscan setup {folder}`")
        return folder
    for folder in (here, *here.parents):
        if (folder / SETTINGS).is_file():
            return folder
    return None


def make_shop(
    folder: Path,
    rig: Rig | None = None,
    *,
    name: str = "",
    place: str = "",
    time_zone: str = "UTC",
    region: str = "us",
    latitude: float | None = None,
    longitude: float | None = None,
    demo: bool = False,
) -> Shop:
    """Make `folder` a shop: shop.toml with remarks, an empty names.csv, `captures` and `reports`. Other files are left alone.

    Raises:
        ShopError: it is a shop already, cannot be made, or a setting is wrong.
    """
    rig = rig or Rig(RIG)
    path = folder / SETTINGS
    if path.exists():
        raise ShopError("is a shop already", where=folder, do=f"change its settings in {path}")
    text = _TEXT.format(
        name=_quoted(name or folder.absolute().name),
        place=_quoted(place),
        time_zone=_quoted(time_zone),
        region=_quoted(region),
        latitude=f"latitude = {latitude:.3f}" if latitude is not None else "# latitude = 39.742",
        longitude=f"longitude = {longitude:.3f}" if longitude is not None else "# longitude = -105.179",
        rig=_quoted(rig.name),
        rig_key=rig.name if re.fullmatch(r"[A-Za-z0-9_-]+", rig.name) else _quoted(rig.name),
        demo="# the demo's own: takes forged recordings and no others\ndemo = true\n" if demo else "",
        look_db=LOOK_DB,
        fail_db=FAIL_DB,
        antenna=_quoted(rig.antenna),
        lead=_quoted(rig.lead),
        splitter=_quoted(rig.splitter),
        receiver=_quoted(rig.receiver),
        gain=f"gain_db = {rig.gain_db:.1f}" if rig.gain_db is not None else "# gain_db = 28.0",
        am_feed=_quoted(rig.am_feed),
    )
    shop = parse(text, folder)
    draft = folder / f"{SETTINGS}.{os.getpid()}.new"
    try:
        for inside in (shop.captures, shop.reports):
            inside.mkdir(parents=True, exist_ok=True)
        if not shop.names_path.exists():
            shop.names_path.write_text(",".join(COLUMNS) + "\n", encoding="utf-8", newline="\n")
        draft.write_text(text, encoding="utf-8", newline="\n")
        draft.replace(path)
    except OSError as error:
        what = f"cannot be made a shop: {error.strerror}"
        raise ShopError(what, where=folder, do="choose a folder that you may write to") from error
    return shop


def _quoted(text: str) -> str:
    """A TOML basic string."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
