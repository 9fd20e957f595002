"""Coverage-guided fuzzing of the readers: nothing but samples or a refusal may come of any file.

Not part of the test run. In an environment with bandscan and `pip install atheris`:

    python tests/bench/fuzz_sources.py READER [-runs=200000] [options of libFuzzer]

READER is one of meta, archive, wav, raw. It starts from the good files that the laws start from, stops at the first finding and
leaves the input that led to it in the current folder as `crash-...`.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

with atheris.instrument_imports(include=["bandscan.source", "tarfile", "json"]):
    from source.made import good_files, put, use

    from bandscan.source import RawFormat

STARTS = {"meta": ("meta",), "archive": (".sigmf",), "wav": (".wav",), "raw": (".iq",)}
NAMES = {"meta": "meta", "archive": "x.sigmf", "wav": "x.wav", "raw": "x.iq"}
ENCODINGS = ("cu8", "ci8", "ci16", "cf32", "ci16_be", "cf32_be")


def main() -> None:
    """Fuzz one reader."""
    reader = sys.argv.pop(1) if len(sys.argv) > 1 else ""
    if reader not in STARTS:
        sys.exit(__doc__)
    with tempfile.TemporaryDirectory() as folder:
        corpus, place = Path(folder, "corpus"), Path(folder, "place")
        corpus.mkdir()
        place.mkdir()
        for name, data in good_files().items():
            if name.endswith(STARTS[reader]):
                (corpus / name).write_bytes(data)

        def one(data: bytes) -> None:
            encoding = ENCODINGS[data[0] % len(ENCODINGS)] if data else "cu8"
            use(put(place, NAMES[reader], data), RawFormat(encoding, 2.4e6, 98e6) if reader == "raw" else None)

        # no hang over 5 s; 600 MB holds python, its libraries and the fuzzer, and 300 MB that an input may take
        atheris.Setup([sys.argv[0], "-timeout=5", "-rss_limit_mb=600", "-max_len=20000", *sys.argv[1:], str(corpus)], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
