"""shop.toml: what it says and how a wrong one is told: shop/settings.py."""

from __future__ import annotations

from pathlib import Path

import pytest

from bandscan.errors import ShopError
from bandscan.shop import Family, Rig, Shop, load

GOOD = """\
name = "Bench of Harrow"
place = "Harrow"
time_zone = "America/Denver"
region = "eu"
rig = "loft wire"

[limits]
look_db = 5
fail_db = 9.5

[rigs."loft wire"]
antenna = "wire"
gain_db = 28.0
am_feed = "direct"

[families.early]
if_khz = 262.5
dial = "pointer"
numerals = "am"
converted = true
"""


def shop(folder: Path, text: str | bytes) -> Shop:
    """The shop that the text of a shop.toml makes."""
    (folder / "shop.toml").write_bytes(text if isinstance(text, bytes) else text.encode())
    return load(folder)


def test_settings_are_taken_as_written(tmp_path: Path) -> None:
    """Every setting reaches the shop; what is not given has its default."""
    assert shop(tmp_path, GOOD) == Shop(
        tmp_path,
        name="Bench of Harrow",
        place="Harrow",
        time_zone="America/Denver",
        region="eu",
        rig="loft wire",
        look_db=5.0,
        fail_db=9.5,
        rigs={"loft wire": Rig("loft wire", antenna="wire", gain_db=28.0, am_feed="direct")},
        families={"early": Family("early", if_khz=262.5, dial="pointer", numerals="am", converted=True)},
    )


def test_an_empty_file_gives_the_defaults(tmp_path: Path) -> None:
    """6 and 10 dB, region us, UTC, no rigs; a byte order mark and CRLF are taken."""
    assert shop(tmp_path, "") == Shop(tmp_path, look_db=6.0, fail_db=10.0, region="us", time_zone="UTC")
    assert shop(tmp_path, b'\xef\xbb\xbfregion = "jp"\r\nname = "x"\r\n').region == "jp"


def test_a_folder_without_settings_says_how_to_make_it_a_shop(tmp_path: Path) -> None:
    """A folder that is no shop is refused with the command that makes it one."""
    with pytest.raises(ShopError) as caught:
        load(tmp_path)
    assert str(caught.value) == f"{tmp_path}: is no shop: it has no shop.toml; run `bandscan setup {tmp_path}`"


FIX = "; correct it and run the command again"
TOML = '; accepted: name = "text in quotes", look_db = 6.0, [rigs.bench]' + FIX
ZONE = '(accepted: a time zone as "America/Denver", "Europe/Berlin" or "UTC")'
SETTING = "(accepted: name, place, time_zone, region, rig, demo, keep_gb, latitude, longitude, limits, rigs, families)"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name = Harrow\n", "line 1, column 8: not TOML: invalid value" + TOML),
        ('name = "a"\n\nplace "b"\n', "line 3, column 7: not TOML: expected '=' after a key in a key/value pair" + TOML),
        ('name = "a"\nname = "b"\n', "line 2, column 11: not TOML: cannot overwrite a value" + TOML),
        ('[limits]\nlook_db = 6\n[limits]\n', "line 3, column 8: not TOML: cannot declare ('limits',) twice" + TOML),
        ("[limits\nlook_db = 6\n", "line 1, column 8: not TOML: expected ']' at the end of a table declaration" + TOML),
        ('name = "a\n', "line 1, column 10: not TOML: illegal character '\\n'" + TOML),
        ('rig = "a"\nname = """a\n\n', "line 4: not TOML: unterminated string" + TOML),
        ('name = "a"\nregion = "uk"\n', 'line 2: region = "uk" (accepted: "us" or "eu" or "jp")' + FIX),
        ("region = 1\n", 'line 1: region = 1 (accepted: "us" or "eu" or "jp")' + FIX),
        ('\n\ntime_zone = "Mars/North"\n', f'line 3: time_zone = "Mars/North" {ZONE}' + FIX),
        ('time_zone = "../etc/passwd"\n', f'line 1: time_zone = "../etc/passwd" {ZONE}' + FIX),
        ("name = 7\n", "line 1: name = 7 (accepted: a text in quotes)" + FIX),
        ('demo = "yes"\n', 'line 1: demo = "yes" (accepted: true or false)' + FIX),
        ("\nlimit = 6\n", f"line 2: no setting 'limit' {SETTING}" + FIX),
        ("limits = 6\n", "line 1: limits = 6 (accepted: a table [limits])" + FIX),
        ('[limits]\nlook_db = "six"\n', 'line 2: look_db = "six" in [limits] (accepted: a number of dB from 0 to 60)' + FIX),
        ("[limits]\nlook_db = true\n", "line 2: look_db = true in [limits] (accepted: a number of dB from 0 to 60)" + FIX),
        ("[limits]\n# x\nfail_db = nan\n", "line 3: fail_db = nan in [limits] (accepted: a number of dB from 0 to 60)" + FIX),
        ("[limits]\nfail_db = -1\n", "line 2: fail_db = -1 in [limits] (accepted: a number of dB from 0 to 60)" + FIX),
        ("[limits]\nlook = 6\n", "line 2: no setting 'look' in [limits] (accepted: look_db, fail_db)" + FIX),
        (
            "[limits]\nlook_db = 12\n",
            "line 2: look_db is not below fail_db (accepted: look_db = 6.0 and fail_db = 10.0, for instance)" + FIX,
        ),
        ("[rigs]\nbench = 3\n", "line 2: bench = 3 in [rigs] (accepted: a table [rigs.NAME])" + FIX),
        ('rigs = "bench"\n', 'line 1: rigs = "bench" (accepted: a table [rigs.NAME])' + FIX),
        (
            '[rigs."my bench"]\nantenna = "wire"\nam_feed = "loop"\n',
            'line 3: am_feed = "loop" in [rigs.my bench] (accepted: "none" or "direct" or "upconverter")' + FIX,
        ),
        ('rigs.a.gain_db = "auto"\n', 'line 1: gain_db = "auto" in [rigs.a] (accepted: a number of dB from -20 to 120)' + FIX),
        ("[rigs.a]\nlead = 2\n[rigs.b]\nlead = 3\n",
         "line 2: lead = 2 in [rigs.a] (accepted: a text in quotes); "
         "line 4: lead = 3 in [rigs.b] (accepted: a text in quotes)" + FIX),
        ('rig = "b"\n[rigs.a]\n', 'line 1: rig = "b" (accepted: a rig that has its table: a)' + FIX),
        ("[families.x]\nif_khz = 10.7\n",
         "line 2: if_khz = 10.7 in [families.x] (accepted: a number of kHz from 50 to 20000)" + FIX),
        ('[families.x]\ndial = "round"\n', 'line 2: dial = "round" in [families.x] (accepted: "pointer" or "digits")' + FIX),
        ("[families.x]\ncolour = 1\n",
         "line 2: no setting 'colour' in [families.x] (accepted: if_khz, dial, numerals, raster_khz, converted)" + FIX),
        ('region = "uk"\n[limits]\nfail_db = "x"\n',
         'line 1: region = "uk" (accepted: "us" or "eu" or "jp"); line 3: fail_db = "x" in [limits]'
         " (accepted: a number of dB from 0 to 60)" + FIX),
        (b'name = "a"\nplace = "\xff"\n', "line 2: not UTF-8; save the file as UTF-8"),
        ("name = " + "[" * 50_000, "not TOML: nested too deeply"),
    ],
)  # fmt: skip
def test_a_wrong_setting_is_named_with_its_line(tmp_path: Path, text: str | bytes, said: str) -> None:
    """The exact line for each way to get shop.toml wrong: file, line, what, what is accepted, what to do."""
    with pytest.raises(ShopError) as caught:
        shop(tmp_path, text)
    assert str(caught.value) == f"{tmp_path / 'shop.toml'}: {said}"


def test_settings_of_a_megabyte_are_no_settings(tmp_path: Path) -> None:
    """A file that was put there by mistake is not read in."""
    with pytest.raises(ShopError, match="1000001 bytes are no settings; accepted: at most 1000000"):
        shop(tmp_path, "#" * 1_000_001)
