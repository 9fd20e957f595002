"""Bytes to complex64: every encoding, frames over the ends, windows, values that are no numbers."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from source.made import CODES, assert_same, signal, stored

from bandscan.errors import RecordingError
from bandscan.source import samples
from bandscan.source.samples import ENCODINGS, MappedSamples


def mapped(folder: Path, data: bytes, encoding: str, offset: int = 0) -> MappedSamples:
    path = folder / "samples"
    path.write_bytes(data)
    entry = ENCODINGS[encoding]
    return MappedSamples(path, entry, (len(data) - offset) // entry.sample_bytes, offset)


# Stored bytes of one sample and its value by the house rule: (v - 127.5) / 127.5 for unsigned bytes, two's complement over
# its most negative code, floats as they are (bytes of 0.5 and -2.0 from IEEE 754).
EXACT = [
    ("cu8", b"\x00\xff", -1.0 + 1.0j),
    ("cu8", b"\x7f\x80", -1 / 255 + 1j / 255),
    ("ci8", b"\x80\x7f", -1.0 + 0.9921875j),
    ("ci8", b"\x40\x00", 0.5 + 0.0j),
    ("ci16_le", b"\x00\x80\x00\x40", -1.0 + 0.5j),
    ("ci16_be", b"\x80\x00\x40\x00", -1.0 + 0.5j),
    ("ci16_le", b"\x01\x00\xff\xff", 2.0**-15 - 1j * 2.0**-15),
    ("ci24_le", b"\x00\x00\x80\x00\x00\x40", -1.0 + 0.5j),
    ("ci24_be", b"\x80\x00\x00\x40\x00\x00", -1.0 + 0.5j),
    ("ci24_le", b"\x01\x00\x00\xff\xff\xff", 2.0**-23 - 1j * 2.0**-23),
    ("ci24_be", b"\x01\x02\x03\xff\x00\x00", 66051 * 2.0**-23 - 1j * 65536 * 2.0**-23),
    ("cf32_le", b"\x00\x00\x00\x3f\x00\x00\x00\xc0", 0.5 - 2.0j),
    ("cf32_be", b"\x3f\x00\x00\x00\xc0\x00\x00\x00", 0.5 - 2.0j),
]


@pytest.mark.parametrize(("encoding", "data", "value"), EXACT)
def test_stored_bytes_have_the_value_that_the_format_defines(
    tmp_path: Path, encoding: str, data: bytes, value: complex
) -> None:
    """Zero point, scale and byte order of each encoding, at codes worked out by hand."""
    got = mapped(tmp_path, data, encoding).frames(0, 1, 1, 1)
    assert got.dtype == np.complex64
    np.testing.assert_allclose(got[0, 0], value, rtol=2e-7, atol=1e-9)


@pytest.mark.parametrize(("encoding", "data", "value"), EXACT)
def test_samples_are_stored_as_the_codes_they_came_from(encoding: str, data: bytes, value: complex) -> None:
    """Writing is the inverse of reading for values that an encoding holds."""
    assert ENCODINGS[encoding].to_bytes(np.array([value], np.complex64)) == data


def test_values_beyond_the_format_are_stored_clipped() -> None:
    """An overdriven sample becomes the largest code; it never wraps around."""
    loud = np.array([3.0 - 3.0j], np.complex64)
    assert ENCODINGS["cu8"].to_bytes(loud) == b"\xff\x00"
    assert ENCODINGS["ci16_le"].to_bytes(loud) == b"\xff\x7f\x00\x80"
    assert ENCODINGS["ci24_be"].to_bytes(loud) == b"\x7f\xff\xff\x80\x00\x00"


@pytest.mark.parametrize("encoding", sorted(CODES))
def test_every_encoding_gives_the_same_samples_within_its_quantiser(tmp_path: Path, encoding: str) -> None:
    """Half a step of the quantiser is all that an encoding may change (0 for floats)."""
    want = signal(5000)
    got = mapped(tmp_path, stored(want, encoding), encoding).frames(0, 1, 5000, 1)[0]
    assert_same(got, want, encoding)


def test_clipping_is_told_by_the_outermost_codes_alone(tmp_path: Path) -> None:
    """`full_scale` lies between the outermost code and the next one; floats have no ceiling."""
    for encoding, codes, clipped in (
        ("cu8", np.array([0, 1, 254, 255], "u1"), [True, False, False, True]),
        ("ci8", np.array([-128, -126, 126, 127], "i1"), [True, False, False, True]),
        ("ci16_be", np.array([-32768, -32766, 32766, 32767], ">i2"), [True, False, False, True]),
    ):
        reader = mapped(tmp_path, codes.tobytes(), encoding)
        numbers = np.abs(reader.frames(0, 1, 2, 1).view(np.float32)[0])
        assert reader.full_scale is not None
        assert (numbers >= reader.full_scale).tolist() == clipped
    assert mapped(tmp_path, bytes(8), "cf32_le").full_scale is None


@pytest.mark.parametrize("encoding", sorted(CODES))
@pytest.mark.parametrize(
    ("start", "rows", "length", "hop"),
    [
        (0, 4, 100, 75),
        (-60, 3, 100, 75),
        (700, 5, 100, 90),
        (-250, 20, 100, 75),
        (0, 1, 1500, 1),
        (990, 2, 5, 5),
        (500, 3, 10, 60),
    ],
)
def test_frames_overlap_and_are_zero_past_the_ends(
    tmp_path: Path, encoding: str, start: int, rows: int, length: int, hop: int
) -> None:
    """Row r holds samples start + r * hop on, zero where there are none, wherever the frames lie."""
    reader = mapped(tmp_path, b"head" + stored(signal(1000), encoding) + b"\x01", encoding, offset=4)
    assert len(reader) == 1000
    whole = reader.frames(0, 1, 1000, 1)[0]
    padded = np.concatenate([np.zeros(2000, np.complex64), whole, np.zeros(2000, np.complex64)])
    want = np.stack([padded[2000 + start + row * hop :][:length] for row in range(rows)])
    out = np.full((rows, length), 9 + 9j, np.complex64)
    got = reader.frames(start, rows, length, hop, out)
    assert got is out
    np.testing.assert_array_equal(got, want)
    np.testing.assert_array_equal(reader.frames(start, rows, length, hop), want)


def test_frames_wholly_outside_are_zero(tmp_path: Path) -> None:
    """Frames before the first or after the last sample hold nothing but zero."""
    reader = mapped(tmp_path, stored(signal(10), "cu8"), "cu8")
    assert not reader.frames(-50, 2, 10, 10).any()
    assert not reader.frames(10, 2, 10, 10).any()
    assert reader.frames(0, 0, 10, 10).shape == (0, 10)


def test_out_of_a_wrong_shape_is_refused(tmp_path: Path) -> None:
    """A buffer that does not fit the frames is a defect of the caller."""
    with pytest.raises(ValueError, match=r"out is complex64 \(2, 3\), not complex64 \(3, 2\)"):
        mapped(tmp_path, bytes(100), "cu8").frames(0, 3, 2, 1, np.empty((2, 3), np.complex64))


@pytest.mark.parametrize("encoding", ["cu8", "ci24_le", "cf32_be"])
def test_windows_join_without_a_seam(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, encoding: str) -> None:
    """A window smaller than the file gives the same frames as one that holds it all, forward, backward and across."""
    data = stored(signal(4000), encoding)
    whole = mapped(tmp_path, data, encoding).frames(0, 1, 4000, 1)[0]
    monkeypatch.setattr(samples, "WINDOW_BYTES", 1000)
    reader = mapped(tmp_path, data, encoding)
    for start in [*range(0, 3900, 37), *range(3900, 0, -211), 0, 3900, 2000]:
        np.testing.assert_array_equal(reader.frames(start, 1, 100, 1)[0], whole[start : start + 100])
    np.testing.assert_array_equal(reader.frames(0, 1, 4000, 1)[0], whole)  # a frame longer than a window


def test_floats_that_are_no_numbers_become_zero_and_are_counted_once(tmp_path: Path) -> None:
    """NaN, infinite and absurdly large I or Q make that sample zero; overlapping and repeated reads count it once."""
    numbers = signal(100).view(np.float32).copy()
    numbers[20], numbers[41], numbers[80], numbers[81], numbers[150] = np.nan, -np.inf, np.inf, np.nan, 1e13
    reader = mapped(tmp_path, numbers.astype("<f4").tobytes(), "cf32_le")
    assert reader.bad_samples == 0
    got = reader.frames(0, 10, 20, 10)
    assert np.isfinite(got.view(np.float32)).all()
    assert np.count_nonzero(reader.frames(0, 1, 100, 1) == 0) == 4  # samples 10, 20, 40 and 75
    assert reader.bad_samples == 4
    assert mapped(tmp_path, stored(signal(100), "cf32_le"), "cf32_le").bad_samples == 0


def test_large_but_usable_floats_are_kept(tmp_path: Path) -> None:
    """Unscaled floats, as some receivers write them, are no fault."""
    data = np.array([32767.0, -2e9], "<f4").tobytes()
    reader = mapped(tmp_path, data, "cf32_le")
    assert reader.frames(0, 1, 1, 1)[0, 0] == np.complex64(32767 - 2e9j)
    assert reader.bad_samples == 0


@pytest.mark.skipif(sys.platform == "win32", reason="that system does not let go of a file that is mapped")
def test_a_file_cut_while_it_is_read_is_one_line(tmp_path: Path) -> None:
    """A file that shrinks under the reader is refused; a map of lost bytes would end the program."""
    reader = mapped(tmp_path, bytes(100_000), "cu8")
    reader.frames(0, 1, 100, 1)
    (tmp_path / "samples").write_bytes(bytes(1000))
    with pytest.raises(RecordingError, match="samples: the file became shorter while it was read; read it when it is whole"):
        reader.frames(40_000, 1, 100, 1)


@pytest.mark.skipif(sys.platform == "win32", reason="that system does not let go of a file that is mapped")
def test_a_file_gone_while_it_is_read_is_one_line(tmp_path: Path) -> None:
    """A file that vanishes between two frames is refused."""
    reader = mapped(tmp_path, bytes(1000), "cu8")
    (tmp_path / "samples").unlink()
    with pytest.raises(RecordingError, match=r"samples: cannot be read: .*; check the disk and the file"):
        reader.frames(0, 1, 100, 1)
