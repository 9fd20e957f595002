"""Laws of the readers: whatever a file holds, it is a recording or refused in one line, and frames are what they say."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from source.made import CODES, good_files, metadata, pair, put, signal, stored, use

from bandscan.source import RawFormat
from bandscan.source.samples import ENCODINGS, MappedSamples

quick = settings(max_examples=150, deadline=None)
RAW = RawFormat("cf32", 2.4e6, 98e6)


@contextmanager
def folder() -> Iterator[Path]:
    """A folder for one example: the fixture of pytest would be shared by all of them."""
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


WHOLE = good_files()


@st.composite
def damaged(draw: Callable[..., object]) -> tuple[str, bytes]:
    """A good file with some bytes overwritten, taken out, doubled or put in, or cut short."""
    name = draw(st.sampled_from(sorted(WHOLE)))
    data = bytearray(WHOLE[name])
    for _ in range(draw(st.integers(1, 4))):
        # headers stand in front: most harm is done there
        at = draw(st.one_of(st.integers(0, min(100, len(data))), st.integers(0, len(data))))
        size = draw(st.integers(0, 40))
        match draw(st.sampled_from(["over", "out", "twice", "in", "cut"])):
            case "over":
                new = draw(st.binary(min_size=1, max_size=8))
                data[at : at + len(new)] = new
            case "out":
                del data[at : at + size]
            case "twice":
                data[at:at] = data[at : at + size]
            case "in":
                data[at:at] = draw(
                    st.sampled_from([b"\0" * 600, b"\xff" * 4, b"data", b"fmt ", b"{", b"[", b'"', b"-1", b"1e999"])
                )
            case "cut":
                del data[at:]
    return name, bytes(data)


@quick
@given(damaged())
def test_a_damaged_file_is_a_recording_or_refused(case: tuple[str, bytes]) -> None:
    """No byte of a good file can be changed so that anything but samples or one line comes of it."""
    with folder() as place:
        use(put(place, case[0], case[1]), RAW)


@quick
@given(st.sampled_from(sorted(WHOLE)), st.binary(max_size=3000))
def test_any_bytes_under_any_name_are_a_recording_or_refused(name: str, data: bytes) -> None:
    """Noise in place of a file is refused, or read as what the caller said it is."""
    with folder() as place:
        use(put(place, name, data), RAW)


def test_the_good_files_are_recordings() -> None:
    """What the laws start from is taken, so that damage is what they test."""
    for name, data in WHOLE.items():
        with folder() as place:
            assert use(put(place, name, data), RAW), name


_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=20)
    | st.sampled_from(
        [0, 1, 2**31, 2**63, 10**400, -1, 1e308, "cu8", "ci16_le", "../x", "x.sigmf-data", "2026-03-14T10:30:00Z"]
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)
_GLOBAL = [
    *("core:datatype", "core:sample_rate", "core:num_channels", "core:offset", "core:trailing_bytes", "core:dataset"),
    *("core:metadata_only", "core:sha512", "bandscan:rig", "bandscan:survey", "bandscan:gain_db", "bandscan:forged"),
    "bandscan:remarks",
]
_CAPTURE = ["core:sample_start", "core:frequency", "core:datetime", "core:header_bytes"]


@settings(max_examples=300, deadline=None)
@given(
    st.dictionaries(st.sampled_from(_GLOBAL), _VALUES, max_size=3),
    st.lists(st.dictionaries(st.sampled_from(_CAPTURE), _VALUES, max_size=4), max_size=4) | _VALUES,
    st.booleans(),
)
def test_any_values_in_metadata_are_a_recording_or_refused(entries: dict[str, object], captures: object, good: bool) -> None:
    """Every field of the metadata may hold anything: the right type out of range, another type, nothing."""
    meta = metadata("ci16_le") if good else metadata("ci16_le", captures=captures)
    meta["global"] |= entries
    with folder() as place:
        use(pair(place, "x", stored(signal(200), "ci16_le"), meta))


@quick
@given(
    st.sampled_from(sorted(CODES)),
    st.integers(1, 300),
    st.integers(-400, 700),
    st.integers(0, 6),
    st.integers(0, 120),
    st.integers(1, 150),
)
def test_frames_are_the_padded_samples(encoding: str, count: int, start: int, rows: int, length: int, hop: int) -> None:
    """Row r is samples start + r * hop on, zero outside, for any encoding, place, size and step."""
    data = stored(signal(count), encoding)
    with folder() as place:
        (place / "x").write_bytes(data)
        samples = MappedSamples(place / "x", ENCODINGS[encoding], count)
        whole = samples.frames(0, 1, count, 1)[0]
        padded = np.concatenate([np.zeros(2000, np.complex64), whole, np.zeros(2000, np.complex64)])
        want = np.array([padded[2000 + start + row * hop :][:length] for row in range(rows)]).reshape(rows, length)
        np.testing.assert_array_equal(samples.frames(start, rows, length, hop), want)
        del samples  # an open map would keep the folder from being removed on Windows


@quick
@given(st.sampled_from(sorted(CODES)), st.integers(0, 2**32 - 1))
def test_storing_is_the_tests_own_arithmetic(encoding: str, seed: int) -> None:
    """Bytes written by bandscan are those that the format's definition gives, also beyond full scale."""
    samples = signal(50, seed) * np.complex64(1.5)
    np.testing.assert_array_equal(
        np.frombuffer(ENCODINGS[encoding].to_bytes(samples), np.uint8), np.frombuffer(stored(samples, encoding), np.uint8)
    )
