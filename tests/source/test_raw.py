"""Bare I/Q: everything but the samples comes from the caller."""

from __future__ import annotations

from pathlib import Path

import pytest
from source.made import assert_same, signal, stored

from bandscan.errors import UsageError
from bandscan.source import RawFormat, read


@pytest.mark.parametrize("encoding", ["cu8", "ci8", "ci16", "ci16_le", "ci16_be", "cf32", "cf32_le", "cf32_be"])
def test_bare_samples_are_read_as_the_caller_says(tmp_path: Path, encoding: str) -> None:
    """Each encoding by its name on the command line; without an order it is little-endian."""
    want = signal(3000)
    path = tmp_path / "morning.98.1.iq"
    ordered = f"{encoding}_le" if encoding in {"ci16", "cf32"} else encoding
    path.write_bytes(stored(want, ordered))
    (capture,) = read(path, RawFormat(encoding, 2.4e6, 98e6, "2026-03-14T12:30:00+02:00"))
    assert (capture.name, capture.path, capture.rate_hz, capture.centre_hz) == ("morning.98.1", path, 2.4e6, 98e6)
    assert (capture.started_utc, capture.rig, capture.survey_id, capture.forged) == ("2026-03-14T10:30:00Z", "", "", False)
    assert (capture.remarks, capture.notes, capture.gain_db) == ((), (), None)
    assert capture.duration_s == pytest.approx(3000 / 2.4e6)
    assert_same(capture.samples.frames(0, 1, 3000, 1)[0], want, ordered)


def test_a_file_that_ends_within_a_sample_is_used_and_says_so(tmp_path: Path) -> None:
    """The last whole sample is the end; the row remark and the line for the user tell of the rest."""
    path = tmp_path / "cut.ci16"
    path.write_bytes(stored(signal(10), "ci16_le")[:-3])
    (capture,) = read(path, RawFormat("ci16", 250e3, 1e6))
    assert len(capture.samples) == 9
    assert capture.remarks == ("truncated",)
    assert capture.notes == ("cut.ci16: ends within a sample; its last 1 bytes are left out",)


def test_a_name_that_steers_a_terminal_is_made_plain(tmp_path: Path) -> None:
    """What a capture is called, and what is said of it, can be printed whatever the file is called."""
    path = tmp_path / "evil\x1b[2J.iq"
    try:
        path.write_bytes(bytes(5))
    except OSError:
        pytest.skip("this system does not allow such a name")
    (capture,) = read(path, RawFormat("cu8", 250e3, 1e6))
    assert capture.name == "evil?[2J"
    assert capture.notes == ("evil?[2J.iq: ends within a sample; its last 1 bytes are left out",)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("cu16", 2.4e6, 98e6), "no sample format 'cu16'; accepted: cu8, ci8, ci16, cf32, ci16_le, ci16_be, cf32_le, cf32_be"),
        (("cu8", 0.0, 98e6), "the sample rate is 0.0; accepted: a number from 1000 to 1e+09 Hz"),
        (("cu8", float("nan"), 98e6), "the sample rate is nan; accepted: a number from 1000 to 1e+09 Hz"),
        (("cu8", 2.4e6, -1.0), "the centre frequency is -1.0; accepted: a number from 0 to 1e+11 Hz"),
        (("cu8", 2.4e6, float("inf")), "the centre frequency is inf; accepted: a number from 0 to 1e+11 Hz"),
        (("cu8", 2.4e6, 98e6, "yesterday"), "no date and time 'yesterday'; accepted: 2026-03-14T10:30:00Z"),
        (("cu8", 2.4e6, 98e6, "2026-03-14"), "no date and time '2026-03-14'; accepted: 2026-03-14T10:30:00Z"),
    ],
)
def test_a_format_that_cannot_be_is_a_wrong_command_line(arguments: tuple[str, float, float], said: str) -> None:
    """What the user gave for bare I/Q is checked before any file is touched."""
    with pytest.raises(UsageError) as caught:
        RawFormat(*arguments)
    assert str(caught.value) == said
