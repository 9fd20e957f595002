"""The writer: pairs that bandscan and the sigmf library both read."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import sigmf
from source.made import assert_same, metadata, pair, signal, stored

from bandscan.errors import RecordingError
from bandscan.source import ENCODINGS, Heading, read, write

DATATYPES = ["cu8", "ci8", "ci16_le", "ci16_be", "cf32_le", "cf32_be"]


def heading(datatype: str = "cu8") -> Heading:
    return Heading(datatype, 2.4e6, 98.1e6, "2026-03-14T10:30:00Z", "loft", "s-1", 20.7, True, "a test", "a receiver")


@pytest.mark.parametrize("datatype", DATATYPES)
def test_what_is_written_reads_back_the_same(tmp_path: Path, datatype: str) -> None:
    """Every field and every sample, within half a step of the quantiser."""
    want = signal(3000)
    blocks = [ENCODINGS[datatype].to_bytes(want[:1000]), ENCODINGS[datatype].to_bytes(want[1000:])]
    path = write(tmp_path / "fm-98.1", heading(datatype), blocks)
    assert path == tmp_path / "fm-98.1.sigmf-meta"
    (capture,) = read(path)
    assert (capture.name, capture.rate_hz, capture.centre_hz, capture.started_utc) == (
        "fm-98.1",
        2.4e6,
        98.1e6,
        "2026-03-14T10:30:00Z",
    )
    assert (capture.rig, capture.survey_id, capture.gain_db, capture.forged) == ("loft", "s-1", 20.7, True)
    assert capture.notes == ()  # the hash was compared
    assert_same(capture.samples.frames(0, 1, 3000, 1)[0], want, datatype)


@pytest.mark.parametrize("datatype", DATATYPES)
def test_the_sigmf_library_reads_what_is_written(tmp_path: Path, datatype: str) -> None:
    """Outside check: the reference library (sigmf 1.2 or later) validates the pair, its hash and gives the same samples.

    The library reads cu8 as (v - 128) / 128, not (v - 127.5) / 127.5, which is undone here before comparing.
    """
    want = signal(3000)
    path = write(tmp_path / "a", heading(datatype), [ENCODINGS[datatype].to_bytes(want)])
    theirs = sigmf.fromfile(path)
    theirs.validate()
    got = theirs.read_samples()
    assert_same((got * 128 + 0.5 + 0.5j) / np.float32(127.5) if datatype == "cu8" else got, want, datatype)
    assert theirs.get_global_field("core:sample_rate") == 2.4e6
    assert theirs.get_captures()[0]["core:frequency"] == 98.1e6
    assert theirs.get_global_field("core:extensions")[0]["name"] == "bandscan"


@pytest.mark.parametrize("datatype", DATATYPES)
def test_what_the_sigmf_library_writes_is_read(tmp_path: Path, datatype: str) -> None:
    """Outside check: a pair made by the reference library gives the stored samples."""
    want = signal(500)
    (tmp_path / "b.sigmf-data").write_bytes(stored(want, datatype))
    theirs = sigmf.SigMFFile(
        data_file=tmp_path / "b.sigmf-data", global_info={"core:datatype": datatype, "core:sample_rate": 1e6}
    )
    theirs.add_capture(0, metadata={"core:frequency": 1e6, "core:datetime": "2026-03-14T10:30:00Z"})
    theirs.tofile(tmp_path / "b.sigmf-meta")
    (capture,) = read(tmp_path / "b.sigmf-meta")
    assert_same(capture.samples.frames(0, 1, 500, 1)[0], want, datatype)
    assert (capture.rate_hz, capture.centre_hz, capture.notes) == (1e6, 1e6, ())


def test_nothing_that_is_unknown_is_written(tmp_path: Path) -> None:
    """No empty rig, survey, gain or time: only what is known, and that the extension is used."""
    path = write(tmp_path / "a", Heading("cu8", 1e6, 1e6), [bytes(10)])
    told = json.loads(path.read_text(encoding="utf-8"))
    assert told["global"]["bandscan:forged"] is False
    assert told["global"]["core:extensions"] == [{"name": "bandscan", "version": "1.0.0", "optional": True}]
    assert not {"bandscan:rig", "bandscan:survey", "bandscan:gain_db", "core:hw"} & set(told["global"])
    assert "core:datetime" not in told["captures"][0]


def test_a_write_that_is_broken_off_leaves_no_recording(tmp_path: Path) -> None:
    """Neither half a pair nor a leftover: the recording before it stays as it was."""
    before = write(tmp_path / "a", heading(), [bytes(10)]).read_bytes()

    def broken() -> Iterator[bytes]:
        yield bytes(10)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write(tmp_path / "a", heading(), broken())
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.sigmf-data", "a.sigmf-meta"]
    assert (tmp_path / "a.sigmf-meta").read_bytes() == before


def test_half_a_sample_and_no_sample_are_refused(tmp_path: Path) -> None:
    """What cannot be read back is not written."""
    for data in (bytes(11), b""):
        with pytest.raises(RecordingError, match=f"{len(data)} bytes are no whole number of samples; accepted: samples as cu8"):
            write(tmp_path / "a", heading(), [data])
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_one_line(tmp_path: Path) -> None:
    """The folder is the caller's to make."""
    with pytest.raises(RecordingError, match=r"cannot be written: .*; check the folder and the disk"):
        write(tmp_path / "gone" / "a", heading(), [bytes(10)])


def test_made_metadata_is_what_the_tests_believe(tmp_path: Path) -> None:
    """The tests' own pairs are valid SigMF to the reference library."""
    sigmf.fromfile(pair(tmp_path, "x", bytes(10), metadata())).validate()
