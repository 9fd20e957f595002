"""WAV and RF64 as sound libraries write them and as receivers leave them behind."""

from __future__ import annotations

import struct
import sys
import wave
from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile
from source.made import assert_same, signal, stored, wav

from bandscan.model import Capture
from bandscan.source import RawFormat, read


def capture_of(folder: Path, data: bytes) -> Capture:
    (folder / "x.wav").write_bytes(data)
    (capture,) = read(folder / "x.wav", centre_hz=98e6)
    return capture


@pytest.mark.parametrize(("kind", "encoding"), [("u1", "cu8"), ("<i2", "ci16_le"), ("<f4", "cf32_le")])
def test_what_scipy_writes_is_read(tmp_path: Path, kind: str, encoding: str) -> None:
    """Outside check: files made by scipy.io.wavfile (scipy 1.15 or later) give the stored samples."""
    want = signal(1000)
    numbers = np.frombuffer(stored(want, encoding), kind).reshape(-1, 2)
    wavfile.write(tmp_path / "x.wav", 250_000, numbers)
    (capture,) = read(tmp_path / "x.wav", centre_hz=1e6)
    assert (capture.rate_hz, capture.centre_hz, capture.notes, capture.started_utc) == (250e3, 1e6, (), "")
    assert_same(capture.samples.frames(0, 1, 1000, 1)[0], want, encoding)


def test_what_the_standard_library_writes_in_24_bit_is_read(tmp_path: Path) -> None:
    """Outside check: a 24-bit file made by Python's own wave module gives the stored samples."""
    want = signal(1000)
    with wave.open(str(tmp_path / "x.wav"), "wb") as file:
        file.setparams((2, 3, 192_000, 0, "NONE", ""))
        file.writeframes(stored(want, "ci24_le"))
    (capture,) = read(tmp_path / "x.wav", centre_hz=1e6)
    assert capture.rate_hz == 192e3
    assert_same(capture.samples.frames(0, 1, 1000, 1)[0], want, "ci24_le")


@pytest.mark.parametrize(("bits", "encoding"), [(8, "cu8"), (16, "ci16_le"), (24, "ci24_le"), (32, "cf32_le"), (16, "ci16_be")])
def test_scipy_reads_the_tests_own_files_alike(tmp_path: Path, bits: int, encoding: str) -> None:
    """Outside check: scipy.io.wavfile finds the same numbers in the files that these tests make."""
    want = signal(300)
    order = ">" if encoding.endswith("be") else "<"
    (tmp_path / "x.wav").write_bytes(wav(stored(want, encoding), bits, real=bits == 32, order=order))
    rate, numbers = wavfile.read(tmp_path / "x.wav")
    assert rate == 2_400_000
    # scipy gives 24-bit numbers in the top of 32
    scale, zero = {8: (127.5, 127.5), 16: (32768.0, 0.0), 24: (2.0**31, 0.0), 32: (1.0, 0.0)}[bits]
    theirs = ((numbers.astype(np.float64) - zero) / scale).astype(np.float32).view(np.complex64)[:, 0]
    (capture,) = read(tmp_path / "x.wav", centre_hz=1e6)
    np.testing.assert_allclose(capture.samples.frames(0, 1, 300, 1)[0], theirs, rtol=0, atol=1e-7)


def test_chunks_before_and_after_the_samples_are_passed_over(tmp_path: Path) -> None:
    """Notes before (one of odd length, padded) and after the samples are neither samples nor worth a word."""
    data = stored(signal(100), "ci16_le")
    before = b"LIST" + struct.pack("<I", 5) + b"hello\x00" + b"junk" + struct.pack("<I", 4) + b"data"
    after = b"id3 " + struct.pack("<I", 4) + b"tags"
    capture = capture_of(tmp_path, wav(data, 16, before=before, after=after))
    assert (len(capture.samples), capture.notes) == (100, ())
    assert_same(capture.samples.frames(0, 1, 100, 1)[0], signal(100), "ci16_le")


def test_room_laid_out_after_the_samples_is_left_out(tmp_path: Path) -> None:
    """Zeros after a short data chunk are not walked and not taken for samples; a line says so."""
    capture = capture_of(tmp_path, wav(stored(signal(100), "ci16_le"), 16, after=bytes(3_000_000)))
    assert len(capture.samples) == 100
    assert capture.notes == ("x.wav: 3.0 MB after its data are no part of the recording; left out",)
    assert capture.remarks == ()


def test_room_laid_out_and_no_size_written_is_left_out(tmp_path: Path) -> None:
    """A recorder that died left a size of 0 and zeros to the end: they are cut off in blocks of 64 KiB."""
    data = stored(signal(100_000), "ci16_le")
    capture = capture_of(tmp_path, wav(data + bytes(10_000_000), 16, size=0))
    assert 100_000 <= len(capture.samples) <= 100_000 + 65536 // 4
    assert_same(capture.samples.frames(0, 1, 100_000, 1)[0], signal(100_000), "ci16_le")
    assert capture.notes[0] == "x.wav: the size of its data was never written; taken to the end of the file"
    assert capture.notes[1].endswith("MB of zero bytes at its end are left out")


def test_the_zeros_of_a_recording_whose_size_is_known_are_kept(tmp_path: Path) -> None:
    """Silence is data where the header says so."""
    capture = capture_of(tmp_path, wav(bytes(800_000), 16))
    assert (len(capture.samples), capture.notes) == (200_000, ())


@pytest.mark.skipif(sys.platform == "win32", reason="files are not sparse there: it would fill 4 GiB of the disk")
def test_a_size_that_wrapped_at_four_gibibytes_is_unwrapped(tmp_path: Path) -> None:
    """The 32-bit size of a longer plain WAV starts anew at 4 GiB; all of it is read, its last sample included."""
    size = 2**32 + 4000
    head = wav(b"", 16, size=size % 2**32)
    with (tmp_path / "x.wav").open("wb") as file:
        file.write(head)
        file.truncate(len(head) + size)
        file.seek(len(head) + size - 4)
        file.write(b"\x00\x40\x00\xc0")
        file.write(b"LIST" + struct.pack("<I", 4) + b"note")
    (capture,) = read(tmp_path / "x.wav", centre_hz=98e6)
    assert len(capture.samples) == 2**30 + 1000
    assert capture.samples.frames(len(capture.samples) - 1, 1, 1, 1)[0, 0] == 0.5 - 0.5j
    assert capture.notes == ("x.wav: the size of its data wrapped at 4 GiB; 4295.0 MB are used",)
    assert capture.remarks == ()


@pytest.mark.skipif(sys.platform == "win32", reason="files are not sparse there: it would fill 5 GiB of the disk")
def test_an_rf64_of_five_gibibytes_is_read_to_its_end(tmp_path: Path) -> None:
    """The 64-bit size of an RF64 header counts."""
    size = 5 * 2**30
    head = wav(b"", 16, size=0xFFFFFFFF, ds64_size=size)
    with (tmp_path / "x.wav").open("wb") as file:
        file.write(head)
        file.truncate(len(head) + size)
        file.seek(len(head) + size - 4)
        file.write(b"\x00\x40\x00\xc0")
    (capture,) = read(tmp_path / "x.wav", centre_hz=98e6)
    assert (len(capture.samples), capture.notes, capture.remarks) == (5 * 2**28, (), ())
    assert capture.samples.frames(5 * 2**28 - 1, 1, 1, 1)[0, 0] == 0.5 - 0.5j


def test_a_wav_under_another_name_is_known_by_its_first_bytes(tmp_path: Path) -> None:
    """A WAV called .iq is not taken for bare samples, and the centre given with a format counts for it."""
    (tmp_path / "x.iq").write_bytes(wav(stored(signal(100), "ci16_le"), 16))
    (capture,) = read(tmp_path / "x.iq", RawFormat("cu8", 1e6, 99e6))
    assert (capture.rate_hz, capture.centre_hz, len(capture.samples)) == (2.4e6, 99e6, 100)
