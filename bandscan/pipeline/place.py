"""Where a command runs: in which shop, for which region and rig."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

from bandscan.errors import BaselineError, ShopError, UsageError
from bandscan.model import utc_text
from bandscan.shop import SETTINGS, Rig, Shop, find_shop, load, make_shop

UNNAMED = "unnamed"


def now() -> str:
    """This moment, ISO 8601 in UTC."""
    return utc_text(datetime.now(UTC))


def open_shop(named: Path | None, environ: Mapping[str, str], here: Path) -> tuple[Shop | None, str]:
    """The shop, or None, and a line for the user where there is something to say.

    A folder that is named and no shop yet is made one with defaults.

    Raises:
        ShopError: the shop's settings are wrong, or it cannot be made.
    """
    if named is not None and not (named / SETTINGS).is_file():
        try:
            return make_shop(named), f"{named} was no shop: made one with defaults, see {named / SETTINGS}"
        except ShopError:
            if not (named / SETTINGS).is_file():
                raise
            # another program made it at the same moment
    folder = named or find_shop(environ, here)
    return (load(folder), "") if folder is not None else (None, "")


def rig_of(asked: str | None, shop: Shop | None, known: Sequence[str], what: str) -> str:
    """Which rig is meant: the one asked for, else the shop's, else the only one of which there is something.

    Args:
        asked: the rig named on the command line or in a sheet.
        shop: the shop.
        known: rigs of which the log has `what`.
        what: what is looked for, in words.

    Raises:
        BaselineError: there is nothing of it, or it is not clear which is meant.
    """
    listed = ", ".join(known)
    if asked is not None:
        if asked not in known:
            raise BaselineError(
                f"no {what} of rig {asked!r} in the log",
                accepted=listed or "none yet",
                do="run `bandscan survey` on recordings of this rig first",
            )
        return asked
    if shop is not None and shop.rig in known:
        return shop.rig
    if len(known) == 1:
        return known[0]
    if not known:
        raise BaselineError(f"no {what} in the log", do="run `bandscan survey` on recordings first")
    raise BaselineError(f"{what} of several rigs in the log", accepted=listed, do="name one with --rig")


def setup(
    folder: Path,
    *,
    name: str,
    place: str,
    time_zone: str,
    region: str,
    rig: str,
    antenna: str,
    lead: str,
    splitter: str,
    receiver: str,
    gain: str,
    am_feed: str,
    latitude: float | None = None,
    longitude: float | None = None,
) -> Shop:
    """Make a folder a shop.

    Raises:
        UsageError: the gain is no number.
        ShopError: it is a shop already, cannot be made, or a setting is wrong.
    """
    try:
        gain_db = None if gain == "" else float(gain.lower().removesuffix("db").replace(",", "."))
    except ValueError as error:
        raise UsageError(f"gain {gain!r} is no number of dB", accepted="28.0, or empty") from error
    own = Rig(rig, antenna=antenna, lead=lead, splitter=splitter, receiver=receiver, gain_db=gain_db, am_feed=am_feed)
    return make_shop(
        folder, own, name=name, place=place, time_zone=time_zone, region=region, latitude=latitude, longitude=longitude
    )


def dongle_lines(serial: str = "") -> tuple[str, ...]:
    """What a look at the dongle tells: what it can and cannot do, or why there is none to look at."""
    from bandscan.source.dongle_look import look_lines

    return look_lines(serial)
