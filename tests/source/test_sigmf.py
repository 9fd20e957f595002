"""SigMF pairs: fields, segments, times, hashes."""

from __future__ import annotations

import hashlib
import json
import time
from pathlib import Path

import numpy as np
import pytest
from source.made import assert_same, link, metadata, pair, signal, stored

from bandscan.errors import RecordingError
from bandscan.source import read, sigmf


@pytest.mark.parametrize("datatype", ["cu8", "ci8", "ci16_le", "ci16_be", "cf32_le", "cf32_be"])
def test_a_pair_gives_its_samples_and_fields(tmp_path: Path, datatype: str) -> None:
    """Samples, rate, centre, time and bandscan's own fields come from the metadata."""
    want = signal(2000)
    own = {"bandscan_rig": "loft", "bandscan_survey": "s-1", "bandscan_gain_db": 20.7, "bandscan_forged": True}
    path = pair(tmp_path, "fm-98.1", stored(want, datatype), metadata(datatype, **own))
    (capture,) = read(path, centre_hz=1e6)
    assert (capture.name, capture.rate_hz, capture.centre_hz) == ("fm-98.1", 2.4e6, 98e6)
    assert (capture.rig, capture.survey_id, capture.gain_db, capture.forged) == ("loft", "s-1", 20.7, True)
    assert (capture.started_utc, capture.remarks, capture.notes) == ("2026-03-14T10:30:00Z", (), ())
    assert_same(capture.samples.frames(0, 1, 2000, 1)[0], want, datatype)


def test_fields_that_are_absent_stay_empty(tmp_path: Path) -> None:
    """A recording that names no rig, survey, gain or time has none, and counts as received."""
    path = pair(tmp_path, "a", bytes(10), metadata(captures=[{"core:sample_start": 0, "core:frequency": 98e6}]))
    (capture,) = read(path)
    assert (capture.rig, capture.survey_id, capture.gain_db, capture.forged, capture.started_utc) == ("", "", None, False, "")


def test_segments_with_their_own_centres_are_captures_of_their_own(tmp_path: Path) -> None:
    """`NAME#k` counts from 0 as `captures` does; a segment without a time starts where the one before it ends."""
    want = signal(1000)
    captures = [
        {"core:sample_start": 0, "core:frequency": 89e6, "core:datetime": "2026-03-14T10:30:00Z"},
        {"core:sample_start": 240, "core:frequency": 91e6},
        {"core:sample_start": 640, "core:frequency": 93e6, "core:datetime": "2026-03-14T10:31:00.5Z"},
    ]
    path = pair(tmp_path, "sweep", stored(want, "cf32_le"), metadata("cf32_le", captures=captures))
    found = read(path)
    assert [(c.name, c.centre_hz, len(c.samples), c.started_utc) for c in found] == [
        ("sweep#0", 89e6, 240, "2026-03-14T10:30:00Z"),
        ("sweep#1", 91e6, 400, "2026-03-14T10:30:00.000100Z"),
        ("sweep#2", 93e6, 360, "2026-03-14T10:31:00.500000Z"),
    ]
    np.testing.assert_array_equal(np.concatenate([c.samples.frames(0, 1, len(c.samples), 1)[0] for c in found]), want)


def test_header_trailer_and_offset_are_left_out(tmp_path: Path) -> None:
    """header_bytes before a segment, trailing_bytes after the last and core:offset of the first index are allowed for."""
    want = signal(100)
    data = stored(want, "ci8")
    whole = b"HEAD" + data[:80] + b"second head" + data[80:] + b"tail!"
    captures = [
        {"core:sample_start": 1000, "core:frequency": 89e6, "core:header_bytes": 4},
        {"core:sample_start": 1040, "core:frequency": 91e6, "core:header_bytes": 11},
    ]
    meta = metadata("ci8", captures=captures, core_dataset="x.bin", core_offset=1000, core_trailing_bytes=5)
    path = pair(tmp_path, "x", b"", meta)
    (tmp_path / "x.bin").write_bytes(whole)
    first, second = read(path)
    assert (len(first.samples), len(second.samples), first.path.name) == (40, 60, "x.bin")
    got = np.concatenate([first.samples.frames(0, 1, 40, 1)[0], second.samples.frames(0, 1, 60, 1)[0]])
    assert_same(got, want, "ci8")
    assert first.notes == second.notes == ()


@pytest.mark.parametrize(
    ("written", "read_as"),
    [
        ("2026-03-14T10:30:00Z", "2026-03-14T10:30:00Z"),
        ("2026-03-14T10:30:00", "2026-03-14T10:30:00Z"),
        ("2026-03-14T10:30:00.25Z", "2026-03-14T10:30:00.250000Z"),
        ("2026-03-14T10:30:00.123456789Z", "2026-03-14T10:30:00.123456Z"),
        ("2026-03-14T05:30:00-05:00", "2026-03-14T10:30:00Z"),
        ("2026-03-14T16:00:00+05:30", "2026-03-14T10:30:00Z"),
    ],
)
def test_times_become_utc(tmp_path: Path, written: str, read_as: str) -> None:
    """ISO 8601 with any offset is UTC with a trailing Z."""
    entry = {"core:sample_start": 0, "core:frequency": 98e6, "core:datetime": written}
    assert read(pair(tmp_path, "a", bytes(10), metadata(captures=[entry])))[0].started_utc == read_as


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="this system does not let a program change its time zone")
def test_a_time_without_an_offset_is_utc_wherever_the_shop_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock of the computer that reads has no say."""
    entry = {"core:sample_start": 0, "core:frequency": 98e6, "core:datetime": "2026-03-14T10:30:00"}
    path = pair(tmp_path, "a", bytes(10), metadata(captures=[entry]))
    with monkeypatch.context() as patched:
        patched.setenv("TZ", "XYZ+5")
        time.tzset()
        started = read(path)[0].started_utc
    time.tzset()
    assert started == "2026-03-14T10:30:00Z"


@pytest.mark.parametrize("written", ["14.3.2026 10:30", "2026-13-14T10:30:00Z", "0001-01-01T00:00:00+09:00", "2026-03-14", "T"])
def test_a_time_that_is_none_leaves_the_recording_undated(tmp_path: Path, written: str) -> None:
    """The recording is still good; a line says that its time is not used."""
    entry = {"core:sample_start": 0, "core:frequency": 98e6, "core:datetime": written}
    path = pair(tmp_path, "a", bytes(10), metadata(captures=[entry]))
    (capture,) = read(path)
    assert capture.started_utc == ""
    assert capture.notes == (f"{path}: captures[0] core:datetime {written!r} is no date and time; left out",)


def test_a_datatype_without_byte_order_is_little_endian_and_says_so(tmp_path: Path) -> None:
    """The specification wants an order; files without one are little-endian in practice (common practice)."""
    want = signal(50)
    path = pair(tmp_path, "a", stored(want, "cf32_le"), metadata("cf32"))
    (capture,) = read(path)
    np.testing.assert_array_equal(capture.samples.frames(0, 1, 50, 1)[0], want)
    assert capture.notes == (f"{path}: core:datatype cf32 names no byte order; taken as little-endian",)


def test_a_byte_order_mark_before_the_metadata_is_passed_over(tmp_path: Path) -> None:
    """Some editors put one there."""
    path = pair(tmp_path, "a", bytes(10), b"\xef\xbb\xbf" + json.dumps(metadata()).encode())
    assert len(read(path)[0].samples) == 5


def test_a_centre_that_is_missing_may_come_from_the_caller(tmp_path: Path) -> None:
    """--centre fills what the recording does not tell, and only that."""
    path = pair(tmp_path, "a", bytes(10), metadata(captures=[{"core:sample_start": 0}]))
    assert read(path, centre_hz=101e6)[0].centre_hz == 101e6
    assert read(pair(tmp_path, "b", bytes(10), metadata(captures=[])), centre_hz=101e6)[0].centre_hz == 101e6


def test_a_cut_data_file_is_used_to_its_last_whole_sample(tmp_path: Path) -> None:
    """What is there is used; the row remark stands at the last segment, the lines at the first."""
    captures = [{"core:sample_start": start, "core:frequency": 89e6 + start} for start in (0, 40, 70)]
    data = stored(signal(100), "ci16_le")[: 60 * 4 + 3]
    meta = metadata("ci16_le", captures=captures, core_sha512=hashlib.sha512(b"all").hexdigest())
    first, second = read(pair(tmp_path, "a", data, meta))
    assert (first.name, len(first.samples), first.remarks) == ("a#0", 40, ())
    assert (second.name, len(second.samples), second.remarks) == ("a#1", 20, ("truncated",))
    assert first.notes == (
        "a.sigmf-data: ends within a sample; its last 3 bytes are left out",
        "a.sigmf-data: captures[2] has no samples; left out",
        "a.sigmf-data: core:sha512 is that of the whole file and cannot be compared",
    )


def test_the_hash_is_compared_where_that_is_quick(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The right hash passes, in capitals as well; a wrong one is refused; a large file says that it was not compared."""
    right = hashlib.sha512(bytes(100)).hexdigest()
    assert read(pair(tmp_path, "a", bytes(100), metadata(core_sha512=right.upper())))[0].notes == ()
    wrong = pair(tmp_path, "b", bytes(99) + b"\x01", metadata(core_sha512=right))
    with pytest.raises(RecordingError, match="do not match core:sha512: altered, or cut short; copy it again"):
        read(wrong)
    monkeypatch.setattr(sigmf, "LARGEST_VERIFIED_BYTES", 99)
    assert read(wrong)[0].notes == ("b.sigmf-data: not compared with core:sha512, which is done up to 0.0 MB (0.0 MB)",)


def test_the_data_may_be_a_link_within_the_folder_or_beside_linked_metadata(tmp_path: Path) -> None:
    """Links are followed as long as data and metadata stay together."""
    store, shop = tmp_path / "store", tmp_path / "shop"
    store.mkdir()
    shop.mkdir()
    pair(store, "a", bytes(10), metadata())
    for name in ("a.sigmf-meta", "a.sigmf-data"):
        link(shop / name, store / name)
    assert len(read(shop / "a.sigmf-meta")[0].samples) == 5
    (shop / "a.sigmf-meta").unlink()
    (shop / "a.sigmf-meta").write_bytes((store / "a.sigmf-meta").read_bytes())
    with pytest.raises(RecordingError, match=r"its data file a\.sigmf-data is a link out of the folder"):
        read(shop / "a.sigmf-meta")
