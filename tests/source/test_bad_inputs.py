"""Bad recordings and the one line that each gives: what, where, what is accepted, what to do."""

from __future__ import annotations

import json
import struct
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from source.made import archive, link, metadata, pair, wav

from bandscan.errors import RecordingError
from bandscan.source import RawFormat, read

TYPES = "cu8, ci8, ci16_le, ci16_be, cf32_le, cf32_be"
WAV = "WAV or RF64 with two channels (I, Q) of 8, 16 or 24 bit or 32-bit float"
TAR = "an uncompressed SigMF archive (tar) with NAME.sigmf-meta and NAME.sigmf-data"
ALL = (
    "SigMF pairs (.sigmf-meta with .sigmf-data), SigMF archives (.sigmf), WAV and RF64 (I left, Q right) with --centre, "
    "bare I/Q with --format, --rate and --centre"
)
JSON = "SigMF metadata (JSON)"


@dataclass(frozen=True)
class Bad:
    """`make` puts the file into a folder and returns its path; `line` is the error with HERE for the folder."""

    what: str
    make: Callable[[Path], Path]
    line: str
    raw: RawFormat | None = None
    centre_hz: float | None = 98e6


def meta(what: str, said: str, *, data: bytes = bytes(100), centre_hz: float | None = 98e6, **changes: Any) -> Bad:
    """A pair with metadata changed; the line is about the metadata."""
    return Bad(
        what, lambda folder: pair(folder, "x", data, metadata(**changes)), f"HERE/x.sigmf-meta: {said}", centre_hz=centre_hz
    )


def text(what: str, written: bytes, said: str) -> Bad:
    """A pair whose metadata are the text as it stands."""
    return Bad(what, lambda folder: pair(folder, "x", bytes(100), written), f"HERE/x.sigmf-meta: {said}")


def one(what: str, name: str, written: bytes, said: str, **asked: Any) -> Bad:
    """A single file."""

    def make(folder: Path) -> Path:
        (folder / name).write_bytes(written)
        return folder / name

    return Bad(what, make, f"HERE/{name}: {said}", **asked)


def tar(what: str, members: dict[str, bytes], said: str) -> Bad:
    """A SigMF archive."""
    return Bad(what, lambda folder: archive(folder / "x.sigmf", members), f"HERE/x.sigmf: {said}")


def capture(**changes: Any) -> list[dict[str, Any]]:
    return [{"core:sample_start": 0, "core:frequency": 98e6} | {f"core:{name}": value for name, value in changes.items()}]


def alone(name: str) -> Callable[[Path], Path]:
    """One file of a pair without the other."""

    def make(folder: Path) -> Path:
        path = pair(folder, "x", bytes(100), metadata())
        (folder / name).unlink()
        return path if path.exists() else folder / "x.sigmf-data"

    return make


def linked(folder: Path) -> Path:
    """A pair whose data are a link to a file elsewhere."""
    inner = folder / "inner"
    inner.mkdir()
    (folder / "secret").write_bytes(bytes(100))
    path = pair(inner, "x", b"", metadata())
    (inner / "x.sigmf-data").unlink()
    link(inner / "x.sigmf-data", folder / "secret")
    return path


def data_folder(folder: Path) -> Path:
    """A pair whose data are a folder."""
    path = pair(folder, "x", b"", metadata())
    (folder / "x.sigmf-data").unlink()
    (folder / "x.sigmf-data").mkdir()
    return path


RATE = "accepted: a number from 1000 to 1e+09 Hz"
COUNT = "accepted: a whole number from 0"
ORDER = "accepted: captures in the order of their first samples"
OBJECT = "accepted: a JSON object"
TEXT = "accepted: printable text of at most 200 characters"
PCM = struct.pack("<HHIIHH", 1, 2, 2_400_000, 9_600_000, 4, 16)

BAD = [
    # metadata that are no metadata
    text("metadata are empty", b"", "is empty; accepted: a recording"),
    text("metadata are a picture", b"\x89PNG\r\n\x1a\n" + bytes(50), "is not UTF-8 text; accepted: " + JSON),
    text(
        "metadata are cut", b'{"global": {"core:datatype"', "is no JSON: Expecting ':' delimiter in line 1; accepted: " + JSON
    ),
    text("metadata are a list", b"[1, 2]", f"the metadata is [1, 2]; {OBJECT}"),
    text("metadata nest", b"[" * 100_000, "is nested too deeply; accepted: " + JSON),
    text("metadata nest in objects", b'{"a":' * 100_000, "is nested too deeply; accepted: " + JSON),
    text("metadata without global", b"{}", "has no global object; accepted: SigMF metadata"),
    text("global is a number", b'{"global": 5}', f"global is 5; {OBJECT}"),
    text("metadata too long", b" " * 4_000_001, "metadata too long; accepted: up to 4.0 MB"),
    text("a name twice", b'{"global": {"a": 1, "a": 2}}', "'a' stands twice in one object; accepted: each name once"),
    text(
        "a name twice among 200000",
        b"{" + b",".join(b'"%d":1' % number for number in range(200_000)) + b',"199999":1}',
        "'199999' stands twice in one object; accepted: each name once",
    ),
    text(
        "a number without end",
        b'{"global": {"core:sample_rate": ' + b"9" * 5000 + b"}}",
        "holds a number of too many digits; accepted: " + JSON,
    ),
    # fields
    meta("no datatype", f"global has no core:datatype; accepted: {TYPES}", core_datatype=None),
    meta("datatype a number", f"global core:datatype is 5; {TEXT}", datatype=5),
    meta("datatype real", f"global core:datatype is 'ri16_le'; accepted: {TYPES}", datatype="ri16_le"),
    meta("no rate", "global has no core:sample_rate; write the sample rate in Hz there", core_sample_rate=None),
    meta("rate NaN", f"global core:sample_rate is nan; {RATE}", core_sample_rate=float("nan")),
    meta("rate infinite", f"global core:sample_rate is inf; {RATE}", core_sample_rate=float("inf")),
    meta("rate negative", f"global core:sample_rate is -2400000.0; {RATE}", core_sample_rate=-2.4e6),
    meta("rate zero", f"global core:sample_rate is 0; {RATE}", core_sample_rate=0),
    meta("rate absurd", f"global core:sample_rate is 1e+300; {RATE}", core_sample_rate=1e300),
    meta("rate of 400 digits", f"global core:sample_rate is {'9' * 37}...; {RATE}", core_sample_rate=10**400 - 1),
    meta("rate in words", f"global core:sample_rate is '2.4M'; {RATE}", core_sample_rate="2.4M"),
    meta("rate true", f"global core:sample_rate is True; {RATE}", core_sample_rate=True),
    meta(
        "two channels",
        "global core:num_channels is 2; accepted: 1; write each channel to a recording of its own",
        core_num_channels=2,
    ),
    meta(
        "no channels",
        "global core:num_channels is 0; accepted: 1; write each channel to a recording of its own",
        core_num_channels=0,
    ),
    meta(
        "metadata only",
        "says that it has no data (core:metadata_only); accepted: a recording with its samples",
        core_metadata_only=True,
    ),
    meta("forged a word", "global bandscan:forged is 'no'; accepted: true or false", bandscan_forged="no"),
    meta("gain a word", "global bandscan:gain_db is 'high'; accepted: a number from -200 to 200 dB", bandscan_gain_db="high"),
    meta("gain true", "global bandscan:gain_db is True; accepted: a number from -200 to 200 dB", bandscan_gain_db=True),
    meta("rig a list", f"global bandscan:rig is ['loft']; {TEXT}", bandscan_rig=["loft"]),
    meta("rig with a line end", f"global bandscan:rig is 'a\\nb'; {TEXT}", bandscan_rig="a\nb"),
    meta(
        "hash too short",
        "global core:sha512 is 'abc'; accepted: 128 hexadecimal digits; without it the data are not verified",
        core_sha512="abc",
    ),
    # captures
    meta(
        "no centre",
        "captures[0] has no core:frequency; write the centre there, or give --centre",
        centre_hz=None,
        captures=[{"core:sample_start": 0}],
    ),
    meta(
        "no captures",
        "captures[0] has no core:frequency; write the centre there, or give --centre",
        centre_hz=None,
        captures=[],
    ),
    meta(
        "centre NaN",
        "captures[0] core:frequency is nan; accepted: a number from 0 to 1e+11 Hz",
        captures=capture(frequency=float("nan")),
    ),
    meta("captures an object", "captures is {}; accepted: a list of up to 10000 captures", captures={}),
    meta("captures too many", "10001 captures; accepted: a list of up to 10000 captures", captures=[{}] * 10001),
    meta("a capture is null", f"captures[0] is None; {OBJECT}", captures=[None]),
    meta("start negative", f"captures[0] core:sample_start is -1; {COUNT}", captures=capture(sample_start=-1)),
    meta("start a fraction", f"captures[0] core:sample_start is 0.5; {COUNT}", captures=capture(sample_start=0.5)),
    meta("start missing", f"captures[1] core:sample_start is None; {ORDER}", captures=[*capture(), {"core:frequency": 99e6}]),
    meta(
        "starts backward",
        f"captures[1] core:sample_start is 10; {ORDER}",
        captures=capture(sample_start=20) + capture(sample_start=10),
    ),
    meta("start before the offset", f"captures[0] core:sample_start is 0; {ORDER}", core_offset=1000, captures=capture()),
    meta(
        "header_bytes absurd",
        f"captures[0] core:header_bytes is 1000000000000000000; {COUNT}",
        captures=capture(header_bytes=10**18),
    ),
    meta("header_bytes negative", f"captures[0] core:header_bytes is -5; {COUNT}", captures=capture(header_bytes=-5)),
    Bad(
        "header_bytes past the end",
        lambda folder: pair(folder, "x", bytes(100), metadata(captures=capture(header_bytes=10**12))),
        "HERE/x.sigmf-data: holds no whole sample (100 bytes); accepted: samples as cu8",
    ),
    Bad(
        "trailing_bytes past the start",
        lambda folder: pair(folder, "x", bytes(100), metadata(core_trailing_bytes=101)),
        "HERE/x.sigmf-data: holds no whole sample (100 bytes); accepted: samples as cu8",
    ),
    Bad(
        "start past the end",
        lambda folder: pair(folder, "x", bytes(100), metadata(captures=capture(sample_start=50))),
        "HERE/x.sigmf-data: holds no whole sample (100 bytes); accepted: samples as cu8",
    ),
    # where the data are
    meta(
        "data in another folder",
        "core:dataset '../../secret' leads out of the folder; accepted: a file name without a folder",
        core_dataset="../../secret",
    ),
    meta(
        "data at an absolute path",
        "core:dataset '/etc/hostname' leads out of the folder; accepted: a file name without a folder",
        core_dataset="/etc/hostname",
    ),
    meta(
        "data on another drive",
        "core:dataset 'C:secret' leads out of the folder; accepted: a file name without a folder",
        core_dataset="C:secret",
    ),
    meta(
        "data at a network path",
        r"core:dataset '\\\\host\\share' leads out of the folder; accepted: a file name without a folder",
        core_dataset=r"\\host\share",
    ),
    meta(
        "data are the folder above",
        "core:dataset '..' leads out of the folder; accepted: a file name without a folder",
        core_dataset="..",
    ),
    meta("data named but missing", "its data file y.bin is missing; copy both files of the pair", core_dataset="y.bin"),
    Bad(
        "data missing",
        alone("x.sigmf-data"),
        "HERE/x.sigmf-meta: its data file x.sigmf-data is missing; copy both files of the pair",
    ),
    Bad(
        "metadata missing",
        alone("x.sigmf-meta"),
        "HERE/x.sigmf-data: its metadata file x.sigmf-meta is missing; copy it too, or give --format, --rate and --centre",
    ),
    Bad(
        "data a link out of the folder",
        linked,
        "HERE/inner/x.sigmf-meta: its data file x.sigmf-data is a link out of the folder; put the data file itself there",
    ),
    Bad("data a folder", data_folder, "HERE/x.sigmf-meta: its data file x.sigmf-data is no file; accepted: a regular file"),
    Bad(
        "data empty",
        lambda folder: pair(folder, "x", b"", metadata()),
        "HERE/x.sigmf-data: holds no whole sample (0 bytes); accepted: samples as cu8",
    ),
    Bad(
        "hash wrong",
        lambda folder: pair(folder, "x", bytes(100), metadata(core_sha512="0" * 128)),
        "HERE/x.sigmf-data: its bytes do not match core:sha512: altered, or cut short; copy it again from where it was made",
    ),
    # archives
    tar(
        "archive of something else",
        {"readme.txt": b"hello"},
        f"holds no metadata, or ends before them; accepted: {TAR}; copy it again",
    ),
    tar(
        "archive without data",
        {"x/x.sigmf-meta": json.dumps(metadata()).encode()},
        f"'x/x.sigmf-meta': its data 'x/x.sigmf-data' are not in the archive; accepted: {TAR}",
    ),
    tar(
        "archive with data elsewhere",
        {"x/x.sigmf-meta": json.dumps(metadata(core_dataset="../secret")).encode(), "secret": bytes(100)},
        "'x/x.sigmf-meta': core:dataset '../secret' leads out of the folder; accepted: a file name without a folder",
    ),
    tar(
        "archive with bad metadata",
        {"x.sigmf-meta": b"no"},
        f"'x.sigmf-meta': is no JSON: Expecting value in line 1; accepted: {JSON}",
    ),
    one("archive is text", "x.sigmf", b"hello" * 200, f"is no tar file; accepted: {TAR}"),
    one("archive compressed", "x.sigmf.gz", b"\x1f\x8b" + bytes(50), f"is compressed; accepted: {TAR}; unpack it"),
    # WAV
    one(
        "WAV without a centre",
        "x.wav",
        wav(bytes(400), 16),
        "a WAV file does not tell its centre frequency; give --centre",
        centre_hz=None,
    ),
    one("WAV is text", "x.wav", b"hello, this is no sound", f"is no WAV file, whatever its name says; accepted: {WAV}"),
    one("WAV of six bytes", "x.wav", b"RIFF\x00\x00", f"is no WAV file, whatever its name says; accepted: {WAV}"),
    one(
        "WAV of one channel",
        "x.wav",
        wav(bytes(400), 16, channels=1),
        f"stores format 1, 1 channel(s), 16 bit, 2 bytes a frame; accepted: {WAV}",
    ),
    one(
        "WAV of 12 bit",
        "x.wav",
        wav(bytes(300), 12),
        f"stores format 1, 2 channel(s), 12 bit, 3 bytes a frame; accepted: {WAV}",
    ),
    one(
        "WAV of 64-bit float",
        "x.wav",
        wav(bytes(1600), 64, real=True),
        f"stores format 3, 2 channel(s), 64 bit, 16 bytes a frame; accepted: {WAV}",
    ),
    one("WAV of rate 0", "x.wav", wav(bytes(400), 16, rate=0), f"its sample rate is 0; {RATE}"),
    one("WAV without samples", "x.wav", wav(b"", 16), f"holds no whole sample (0 bytes); accepted: {WAV}"),
    one("WAV of half a sample", "x.wav", wav(b"\x01\x02\x03", 16), f"holds no whole sample (3 bytes); accepted: {WAV}"),
    one(
        "WAV cut in its header",
        "x.wav",
        wav(bytes(400), 16)[:30],
        f"ends before its samples begin; accepted: {WAV}; copy it again",
    ),
    one(
        "WAV without a format",
        "x.wav",
        b"RIFF\x00\x00\x00\x00WAVEdata\x04\x00\x00\x00abcd",
        f"its samples come before their format; accepted: {WAV}",
    ),
    one(
        "WAV with a short format",
        "x.wav",
        b"RIFF\x00\x00\x00\x00WAVEfmt \x04\x00\x00\x00abcddata",
        "its format takes 4 bytes; accepted: at least 16",
    ),
    one(
        "WAV of chunks without end",
        "x.wav",
        b"RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00" + PCM + bytes(100_000),
        f"has no samples within its first 1000 chunks; accepted: {WAV}",
    ),
    one(
        "WAV all zero without a size",
        "x.wav",
        wav(bytes(200_000), 16, size=0),
        f"holds nothing but zero bytes and tells no size; accepted: {WAV}",
    ),
    # anything else
    one("empty file", "x.iq", b"", "is empty; accepted: a recording", raw=RawFormat("cu8", 2.4e6, 98e6)),
    one("bare without a format", "x.iq", bytes(100), f"is no recording that can be read; accepted: {ALL}"),
    one("a text", "notes.txt", b"hello", f"is no recording that can be read; accepted: {ALL}"),
    one("a picture", "photo.jpg", b"\xff\xd8\xff\xe0" + bytes(50), f"is no recording that can be read; accepted: {ALL}"),
    one(
        "bare of half a sample",
        "x.iq",
        bytes(7),
        "holds no whole sample (7 bytes); accepted: bare I/Q as cf32",
        raw=RawFormat("cf32", 2.4e6, 98e6),
    ),
]


@pytest.mark.parametrize("bad", BAD, ids=lambda bad: bad.what)
def test_a_bad_recording_gives_its_line(bad: Bad, tmp_path: Path) -> None:
    """Refused within 5 s (it takes milliseconds) by a RecordingError of exactly this line, never by another error."""
    path = bad.make(tmp_path)
    started = time.perf_counter()
    with pytest.raises(RecordingError) as caught:
        read(path, bad.raw, bad.centre_hz)
    assert time.perf_counter() - started < 5
    line = str(caught.value).replace(str(tmp_path), "HERE").replace("\\", "/")
    assert line == bad.line.replace("\\", "/")
    assert "\n" not in line


def test_no_bad_recording_is_listed_twice() -> None:
    """Each row of the table is an input of its own."""
    assert len({bad.what for bad in BAD}) == len(BAD)
    assert len(BAD) >= 80


def test_a_name_that_steers_a_terminal_stays_one_printable_line(tmp_path: Path) -> None:
    """Control signs of a file name do not reach the terminal."""
    path = tmp_path / "evil\x1b[2J\nname.wav"
    try:
        path.write_bytes(b"hello")
    except OSError:
        pytest.skip("this system does not allow such a name")
    with pytest.raises(RecordingError) as caught:
        read(path, centre_hz=98e6)
    assert str(caught.value).isprintable()
    assert "evil?[2J name.wav: is no WAV file" in str(caught.value)
