"""Coverage-guided fuzzing of the readers: nothing but samples or a refusal may come of any file.

Not part of the test run. In an environment with bandscan and `pip install atheris`:

    python tests/bench/fuzz_sources.py READER [-runs=200000] [options of libFuzzer]

READER is one of meta (SigMF metadata as bytes), fields (the values in them), archive, wav, raw. It starts from the good files
that the laws start from, stops at the first finding and leaves the input that led to it in the current folder as `crash-...`.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

with atheris.instrument_imports(include=["bandscan.source", "tarfile", "json"]):
    from source.made import good_files, metadata, pair, put, signal, stored, use

    from bandscan.source import RawFormat

STARTS = {"meta": ("meta",), "fields": (".wav",), "archive": (".sigmf",), "wav": (".wav",), "raw": (".iq",)}
NAMES = {"meta": "meta", "archive": "x.sigmf", "wav": "x.wav", "raw": "x.iq"}
ENCODINGS = ("cu8", "ci8", "ci16", "cf32", "ci16_be", "cf32_be")


# What chance would take long to spell: names and values of the metadata, marks of the containers.
WORDS = (
    *("global", "captures", "core:datatype", "core:sample_rate", "core:num_channels", "core:offset", "core:trailing_bytes"),
    *("core:dataset", "core:metadata_only", "core:sha512", "core:sample_start", "core:frequency", "core:datetime"),
    *(
        "core:header_bytes",
        "bandscan:rig",
        "bandscan:survey",
        "bandscan:gain_db",
        "bandscan:forged",
        "bandscan:remarks",
        "ci16_be",
        "cf32",
        "true",
    ),
    *(
        "null",
        "NaN",
        "-Infinity",
        "1e999",
        "99999999999999999999",
        "[]",
        "{}",
        "-1",
        "0.5",
        "../x",
        "2026-03-14T10:30:00+09:00",
    ),
    *("RIFF", "RIFX", "RF64", "BW64", "WAVE", "fmt ", "data", "ds64", "ustar", "GNU.sparse.major=1", "size=-512", "path=x"),
)


def mended(archive: bytes) -> bytes:
    """The archive with the check sums of its headers made right, or hardly a change would get past them."""
    whole = bytearray(archive)
    for start in range(0, len(whole) - 511, 512):
        if whole[start + 257 : start + 262] == b"ustar":
            whole[start + 148 : start + 156] = b" " * 8
            whole[start + 148 : start + 156] = b"%06o\0 " % sum(whole[start : start + 512])
    return bytes(whole)


VALUES = (
    None,
    True,
    0,
    1,
    -1,
    2**31,
    2**63,
    10**400,
    1e308,
    float("nan"),
    [],
    {},
    "",
    "cu8",
    "cf32_be",
    "../x",
    "a" * 300,
    "0" * 128,
)
FIELDS = [word for word in WORDS if word.startswith(("core:", "bandscan:"))]


def built(data: bytes) -> dict[str, object]:
    """Metadata whose fields, known ones in any place, hold what the bytes choose."""
    choice = atheris.FuzzedDataProvider(data)

    def value() -> object:
        match choice.ConsumeIntInRange(0, 4):
            case 0:
                return choice.ConsumeInt(9)
            case 1:
                return choice.ConsumeFloat()
            case 2:
                return choice.ConsumeUnicodeNoSurrogates(20)
            case 3:
                return choice.ConsumeIntInRange(0, 250)
        return choice.PickValueInList(list(VALUES))

    captures: list[dict[str, object]] = [{"core:sample_start": 50 * k} for k in range(choice.ConsumeIntInRange(0, 3))]
    meta = metadata("ci16_le", captures=captures)
    for _ in range(choice.ConsumeIntInRange(0, 8)):
        target = choice.PickValueInList([meta["global"], *captures])
        target[choice.PickValueInList(FIELDS)] = value()
    return meta


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
            if reader == "fields":
                use(pair(place, "x", stored(signal(200), "ci16_le"), built(data)))
                return
            if reader == "archive":
                data = mended(data)
            encoding = ENCODINGS[data[0] % len(ENCODINGS)] if data else "cu8"
            use(put(place, NAMES[reader], data), RawFormat(encoding, 2.4e6, 98e6) if reader == "raw" else None)

        words = Path(folder, "words")
        words.write_text("".join(f'"{word}"\n' for word in WORDS), encoding="utf-8")
        # no hang over 5 s; 600 MB holds python, its libraries and the fuzzer, and 300 MB that an input may take
        atheris.Setup(
            [sys.argv[0], "-timeout=5", "-rss_limit_mb=600", "-max_len=20000", f"-dict={words}", *sys.argv[1:], str(corpus)],
            one,
        )
        atheris.Fuzz()


if __name__ == "__main__":
    main()
