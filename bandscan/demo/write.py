"""Quantised samples into a SigMF pair that says it was forged."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import sigmf

from bandscan.demo.forge_band import Forged
from bandscan.demo.span import ComplexArray
from bandscan.errors import UsageError

_SIGMF_NAMES = {"cu8": "cu8", "ci8": "ci8", "ci16": "ci16_le", "cf32": "cf32_le"}
_BLOCK = 2**18  # samples at a time, to keep long recordings within memory
_STEPS = {"cu8": ("u1", 127.5, 127.5), "ci8": ("i1", 128.0, 0.0), "ci16": ("<i2", 32768.0, 0.0), "cf32": ("<f4", 1.0, 0.0)}


def quantise(samples: ComplexArray, encoding: str) -> npt.NDArray[Any]:
    """Interleaved I and Q as the encoding's numbers, clipped at full scale 1.0; shape (2 * len(samples),).

    cu8 is round(127.5 v + 127.5), as RTL dongles give; ci8 and ci16 round(128 v) and round(32768 v).

    Raises:
        UsageError: there is no such encoding.
    """
    if encoding not in _STEPS:
        raise UsageError(f"no encoding {encoding!r} to write", accepted=", ".join(_STEPS))
    parts = np.ascontiguousarray(samples, dtype=np.complex64).view(np.float32)
    if encoding == "cf32":
        return np.asarray(parts.astype("<f4"))
    numbers, scale, zero = _STEPS[encoding]
    limits = np.iinfo(numbers)
    steps = parts * np.float32(scale)
    steps += np.float32(zero)
    np.clip(np.rint(steps, out=steps), limits.min, limits.max, out=steps)
    return steps.astype(numbers)


def write(
    forged: Forged,
    base: Path,
    *,
    encoding: str = "cu8",
    started_utc: str = "",
    rig: str = "",
    survey_id: str = "",
    gain_db: float | None = None,
    truth: bool = False,
) -> Path:
    """Writes `base`.sigmf-data and .sigmf-meta (and .truth.json on demand) and returns the path of the metadata."""
    base.parent.mkdir(parents=True, exist_ok=True)
    data_path = base.with_name(base.name + ".sigmf-data")
    with data_path.open("wb") as data:
        for first in range(0, len(forged.samples), _BLOCK):
            data.write(quantise(forged.samples[first : first + _BLOCK], encoding).tobytes())
    own: dict[str, Any] = {"bandscan:forged": True}
    own |= {"bandscan:rig": rig} if rig else {}
    own |= {"bandscan:survey": survey_id} if survey_id else {}
    own |= {"bandscan:gain_db": gain_db} if gain_db is not None else {}
    meta = sigmf.SigMFFile(
        data_file=data_path,
        global_info={
            sigmf.DATATYPE_KEY: _SIGMF_NAMES[encoding],
            sigmf.SAMPLE_RATE_KEY: forged.rate_hz,
            sigmf.DESCRIPTION_KEY: "forged, not received: invented stations of bandscan's demo",
            sigmf.EXTENSIONS_KEY: [{"name": "bandscan", "version": "1.0.0", "optional": True}],
            **own,
        },
    )
    capture = {sigmf.FREQUENCY_KEY: forged.centre_hz}
    meta.add_capture(0, metadata=capture | ({sigmf.DATETIME_KEY: started_utc} if started_utc else {}))
    meta_path = base.with_name(base.name + ".sigmf-meta")
    meta.tofile(meta_path, overwrite=True)
    if truth:
        rows = {"noise_dbfs_hz": forged.noise_dbfs_hz, "truth": [asdict(row) for row in forged.truth]}
        base.with_name(base.name + ".truth.json").write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")
    return meta_path
