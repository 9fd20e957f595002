"""Quantising and the SigMF pair, read back with the sigmf library alone."""

from __future__ import annotations

import json

import numpy as np
import pytest
import sigmf

from bandscan.demo import FmStation, Receiver, forge, quantise, write
from bandscan.errors import UsageError


@pytest.fixture(scope="module")
def made():
    return forge([FmStation(98_100_000, -15.0, pi=0xD001, ps="HI")], Receiver(dc_dbfs=-30.0), 98e6, 2.4e6, 0.05, 1)


def test_unsigned_bytes_are_rounded_and_clipped():
    """cu8 is round(127.5 v + 127.5) clipped to 0...255."""
    given = np.array([0.1 - 1.0j, 1.5 + 0.0j, -2.0 + 0.5j], dtype=np.complex64)
    assert quantise(given, "cu8").tolist() == [140, 0, 255, 128, 0, 191]


def test_quantising_noise_is_that_of_its_steps(band_dbfs):
    """Rounding to 8 bits adds -113.7 dBFS/Hz at 2.4 MS/s: 2 (1 / 127.5)^2 / 12 over the rate."""
    noise = forge([], Receiver(noise_dbfs_hz=-85.0), 98e6, 2.4e6, 0.2, 2).samples
    error = (quantise(noise, "cu8").astype(np.float64) - 127.5) / 127.5 - noise.view(np.float32)
    assert band_dbfs(error[0::2] + 1j * error[1::2], 2.4e6, -1e6, 1e6) - 63.01 == pytest.approx(-113.7, abs=0.1)


def test_unknown_encoding_is_refused(made):
    """An encoding that cannot be written is one clear line."""
    with pytest.raises(UsageError, match=r"^no encoding 'cu16' to write; accepted: cu8, ci8, ci16, cf32$"):
        quantise(made.samples, "cu16")


@pytest.mark.parametrize(("encoding", "step"), [("cu8", 1 / 127), ("ci8", 1 / 128), ("ci16", 1 / 32768), ("cf32", 0.0)])
def test_pair_reads_back_with_the_sigmf_library(made, tmp_path, encoding, step):
    """The sigmf library, with its own checks on, reads rate, centre, time, our own fields and the samples to within a step."""
    path = write(
        made, tmp_path / "x", encoding=encoding, started_utc="2026-04-14T18:05:00Z", rig="r", survey_id="s", gain_db=22.9
    )
    read = sigmf.fromfile(path)
    read.validate()
    info, capture = read.get_global_info(), read.get_captures()[0]
    own = [info[f"bandscan:{key}"] for key in ("forged", "rig", "survey", "gain_db")]
    assert own == [True, "r", "s", 22.9]
    assert (info["core:sample_rate"], capture["core:frequency"]) == (2.4e6, 98e6)
    assert capture["core:datetime"] == "2026-04-14T18:05:00Z"
    difference = (read.read_samples() - made.samples).view(np.float32)
    # the sigmf library takes unsigned bytes as (v - 128) / 128: half a step lower and 0.03 dB less
    assert np.abs(difference).max() <= step * 1.05 + (0.01 if encoding == "cu8" else 0)


def test_truth_beside_the_recording(made, tmp_path):
    """On demand the truth lies beside the pair as JSON."""
    write(made, tmp_path / "x", truth=True)
    truth = json.loads((tmp_path / "x.truth.json").read_text(encoding="utf-8"))
    assert truth["noise_dbfs_hz"] == -106.0
    assert [(row["channel_hz"], row["rds_pi"], row["rds_ps"]) for row in truth["truth"]] == [(98_100_000, "D001", "HI      ")]
