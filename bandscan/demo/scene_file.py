"""The scene from its TOML file; what cannot be forged is refused with its place."""

from __future__ import annotations

import re
import tomllib
from datetime import datetime
from pathlib import Path

from bandscan.demo.scene import BandScene, OnAir, Radio, RadioBand, Sample, Scene
from bandscan.demo.stations import PROGRAMMES, AmStation, FmStation, Receiver, Spur
from bandscan.demo.toml_table import TomlTable
from bandscan.errors import InputError
from bandscan.plans import BANDS, REGIONS, BandPlan, plan_for

SCENE_PATH = Path(__file__).resolve().parents[2] / "captures_demo" / "scene.toml"
_TIME = "2026-04-14T18:05:00Z"
_HEADER = ("job", "radio", "family", "swept", "by", "antenna", "warm_up_min", "supply_v", "ground", "dial", "numerals")
_PREEMPHASIS_S = {"us": 75e-6, "eu": 50e-6, "jp": 50e-6}  # 47 CFR 73.317(e); ITU-R BS.450-3


def load_scene(path: Path | None = None) -> Scene:
    """The scene in `path`, by default the demo's own.

    Raises:
        InputError: the file is missing, is no TOML, or says something that cannot be forged.
    """
    path = path or SCENE_PATH
    try:
        values = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        do = "run the demo from a clone of the project, installed with `pip install -e .`"
        raise InputError("the demo's scene is not there", where=path, do=do) from error
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(f"cannot be read: {error}", where=path, accepted="a TOML file", do="correct it") from error
    return _scene(TomlTable(values, path.name))


def _scene(table: TomlTable) -> Scene:
    shop = table.table("workshop")
    region = shop.text("region", words=REGIONS)
    days = tuple(_day(entry) for entry in table.tables("survey"))
    if not days:
        raise InputError("no [[survey]] in the scene", where=table.where, do="add at least one with started_utc")
    scene = Scene(
        name=shop.text("name"),
        place=shop.text("place"),
        region=region,
        rig=shop.text("rig"),
        seed=shop.whole("seed", 0, 2**31),
        days=days,
        bands={band: _band(table.table(band), band, region, len(days)) for band in BANDS},
        radios=tuple(_radio(entry, len(days)) for entry in table.tables("radio")),
        samples=tuple(_sample(entry) for entry in table.tables("sample")),
    )
    shop.finish()
    table.finish()
    return scene


def _day(table: TomlTable) -> datetime:
    text = table.text("started_utc")
    table.finish()
    if not re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", text):
        raise InputError(f"started_utc = {text!r} is no time", where=table.where, accepted=_TIME)
    try:
        return datetime.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"started_utc = {text!r} is no time: {error}", where=table.where, accepted=_TIME) from error


def _band(table: TomlTable, band: str, region: str, days: int) -> BandScene:
    plan = plan_for(region, band)
    receiver = Receiver(
        noise_dbfs_hz=table.number("noise_dbfs_hz", -150, -60),
        dc_dbfs=table.maybe_number("dc_dbfs", -100, -10),
        slope_db=table.number("slope_db", -10, 10, 0.0),
        droop_db=table.number("droop_db", 0, 20, 0.0),
        gain_db=table.number("gain_db", 0, 60),
        ppm=table.number("ppm", -100, 100, 0.0),
    )
    station = _fm_station if band == "fm" else _am_station
    made = BandScene(
        band=band,
        receiver=receiver,
        rate_hz=table.number("rate_hz", 225e3, 20e6),
        seconds=table.number("seconds", 0.05, 10),
        centres_hz=table.whole_list("centres_hz", 0, 2**31),
        on_air=tuple(station(entry, plan, days) for entry in table.tables("station")),
        spurs=tuple(_spur(entry) for entry in table.tables("spur")),
    )
    table.finish()
    return made


def _fm_station(table: TomlTable, plan: BandPlan, days: int) -> OnAir:
    pi = table.text("pi", "")
    if pi and not re.fullmatch(r"[0-9A-F]{4}", pi):
        raise InputError(f"pi = {pi!r} is no programme identification", where=table.where, accepted="four digits 0-9, A-F")
    ps = table.text("ps", "")
    if not re.fullmatch(r"[ -~]{0,8}", ps):
        raise InputError(f"ps = {ps!r} cannot be sent", where=table.where, accepted="up to 8 characters of ASCII")
    station = FmStation(
        channel_hz=_channel(table, "mhz", 1e6, plan),
        level_dbfs=table.number("dbfs", -80, -3),
        programme=table.text("programme", words=PROGRAMMES),
        pilot_dev_hz=1e3 * table.number("pilot_khz", 0, 10, 6.75),
        deviation_hz=1e3 * table.number("deviation_khz", 20, 82.5, 75),
        carrier_error_hz=table.number("carrier_error_hz", -3000, 3000, 0.0),
        pilot_error_hz=table.number("pilot_error_hz", -2, 2, 0.0),
        pi=int(pi, 16) if pi else None,
        ps=ps,
        rds_dev_hz=1e3 * table.number("rds_khz", 1, 7.5, 2),
        preemphasis_s=_PREEMPHASIS_S[plan.region],
        digital_db=table.maybe_number("digital_db", -40, 0),
        name=table.text("name"),
    )
    return _on_air(table, station, days)


def _am_station(table: TomlTable, plan: BandPlan, days: int) -> OnAir:
    station = AmStation(
        channel_hz=_channel(table, "khz", 1e3, plan),
        level_dbfs=table.number("dbfs", -90, -3),
        programme=table.text("programme", words=PROGRAMMES),
        depth=table.number("depth", 0, 1, 0.85),
        carrier_error_hz=table.number("carrier_error_hz", -20, 20, 0.0),
        audio_hz=1e3 * table.number("audio_khz", 3, 10, 5),
        stereo=table.flag("stereo", False),
        name=table.text("name"),
    )
    return _on_air(table, station, days)


def _on_air(table: TomlTable, station: FmStation | AmStation, days: int) -> OnAir:
    on_air = OnAir(station, table.number("fading_db", 0, 10, 2.0), table.whole_list("off", 1, days))
    table.finish()
    return on_air


def _channel(table: TomlTable, key: str, unit_hz: float, plan: BandPlan) -> int:
    value = table.number(key, 0.1, 2000)
    channel_hz = round(value * unit_hz)
    if channel_hz not in plan.channels_hz:
        raise InputError(f"{key} = {value:g} is no channel", where=table.where, accepted=plan.rule, do="correct it")
    return channel_hz


def _spur(table: TomlTable) -> Spur:
    spur = Spur(table.number("hz", 0, 2e9), table.number("dbfs", -90, -3))
    table.finish()
    return spur


def _sample(table: TomlTable) -> Sample:
    sample = Sample(table.text("band", words=BANDS), table.whole("centre_hz", 0, 2**31), table.number("seconds", 0.05, 2))
    table.finish()
    return sample


def _radio(table: TomlTable, days: int) -> Radio:
    key, seed, day = table.text("key"), table.whole("seed", 0, 2**31), table.whole("day", 1, days)
    known_good = table.flag("known_good", False)
    header = table.table("header")
    texts = {name: header.text(name) for name in _HEADER}
    if_khz = header.number("if_khz", 100, 11_000)
    radio = Radio(
        key,
        seed,
        day,
        known_good,
        texts | {"if_khz": f"{if_khz:g}"},
        if_khz,
        {band: _radio_band(table.table(band)) for band in BANDS},
    )
    header.finish()
    table.finish()
    return radio


def _radio_band(table: TomlTable) -> RadioBand:
    made = RadioBand(
        threshold_dbfs=table.number("threshold_dbfs", -90, 0),
        spread_db=table.number("spread_db", 0, 10, 3.0),
        tilt_db=table.number("tilt_db", -20, 20, 0.0),
        lamp_dbfs=table.number("lamp_dbfs", -90, 100, 100.0),
        offset_khz=table.number("offset_khz", -2000, 2000, 0.0),
        stretch=table.number("stretch", -0.1, 0.1, 0.0),
        reading_khz=table.number("reading_khz", 0, 500),
        graduation_khz=table.number("graduation_khz", 1, 500),
        neighbour_db=table.number("neighbour_db", 0, 100, 20.0),
        image_db=table.number("image_db", 0, 100, 60.0),
        ticks_sidebands=table.flag("ticks_sidebands", False),
    )
    table.finish()
    return made
