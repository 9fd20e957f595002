"""How well bands are measured and judged: tables over many made bands. Not part of the test run:

    python tests/bench/accuracy.py [--seeds N] [--first N] [--workers N] [--band fm|am] [--only NAME ...] [--worst N]

Each seed makes about 180 FM and 220 AM channels, by the demo's forger and by the tests' own maker (bands.py). The figures are
those that issue 4 asks for; "error" is the 95th percentile of the absolute error.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from bands import Band, am_bands, fm_bands, odd_bands
from measure.made import capture

from bandscan.measure import measure
from bandscan.plans import plan_for
from bandscan.survey.holds import decide

SNR_EDGES_DB = (-99.0, -1.5, 1.5, 5.5, 9.0, 15.0, 25.0, 99.0)
SNR_NAMES = ("-3", "0", "3", "8", "9-15", "15-25", "25+")
SHARED = ("digital", "products", "image")  # levels there are of more than one emission, or compressed


def judged(band: Band) -> list[dict[str, Any]]:
    """One row for each covered channel: truth beside what was measured and decided."""
    one = capture(band.samples, band.rate_hz, band.centre_hz, name=band.name)
    found = measure(one, plan_for(band.region, band.band))
    decided = decide([found]).set_index("channel_hz")
    readings = found.readings.set_index("channel_hz")
    rows = []
    for channel_hz, row in decided.iterrows():
        truth = band.truths.get(int(channel_hz))
        seen = readings.loc[channel_hz]
        figures: dict[str, Any] = {
            "scene": band.name,
            "maker": band.maker,
            "band": band.band,
            "rate": band.rate_hz,
            "channel_hz": int(channel_hz),
            "true": truth is not None,
            "kind": "station" if truth else band.kind(int(channel_hz)),
            "holds": row["holds"],
            "remarks": "" if pd.isna(row["remarks"]) else row["remarks"],
            "noise_error": seen["noise_dbfs"] - band.noise_db(int(channel_hz) - band.centre_hz),
            "noise_sd": seen.get("noise_sd_db"),
            "pilot_said": bool(not pd.isna(row["pilot"]) and row["pilot"]),
        }
        if truth is not None:
            figures |= _against(truth.__dict__, row, seen)
        rows.append(figures)
    return rows


def _against(truth: dict[str, Any], row: pd.Series, seen: pd.Series) -> dict[str, Any]:
    """Errors of one station's figures and the uncertainties stated with them."""
    pilot_hz = truth["pilot_hz"]
    return {
        "snr": truth["snr_db"],
        "programme": truth["programme"],
        "stereo": truth["stereo"] or pilot_hz > 0,
        "over_digital": truth["over_digital_db"],
        "pilot_seen": bool(not pd.isna(seen["pilot"]) and seen["pilot"]),
        "level_error": row["level_dbfs"] - truth["level_dbfs"],
        "level_sd": seen["level_sd_db"],
        "carrier_error": seen["carrier_error_hz"] - truth["carrier_hz"],
        "carrier_sd": seen.get("carrier_sd_hz"),
        "pilot_error": seen["pilot_dev_hz"] / pilot_hz - 1 if pilot_hz else np.nan,
        "pilot_sd": (seen.get("pilot_dev_sd_hz") or np.nan) / pilot_hz if pilot_hz else np.nan,
        "peak_error": seen["peak_dev_hz"] / truth["peak_hz"] - 1,
        "peak_sd": (seen.get("peak_dev_sd_hz") or np.nan) / truth["peak_hz"],
        "depth_error": seen["am_depth"] - truth["depth"],
        "am_stereo_seen": bool(not pd.isna(seen["am_stereo"]) and seen["am_stereo"]),
    }


def of_seed(task: tuple[int, str, tuple[str, ...]]) -> list[dict[str, Any]]:
    """All rows of one seed."""
    seed, which, only = task
    known = (("fm", odd_bands), ("fm", fm_bands), ("am", am_bands))
    makers = [make for name, make in known if which in ("", name)]
    if only == ("odd",):
        makers = [odd_bands]  # the others need not be made to be left out
    return [
        row | {"seed": seed} for make in makers for band in make(seed) if not only or band.name in only for row in judged(band)
    ]


def share(values: Iterable[bool]) -> str:
    """`97.5 % of 200`."""
    made = list(values)
    return f"{100 * np.mean(made):.1f} % of {len(made)}" if made else "-"


def error(values: pd.Series, digits: int = 3) -> str:
    """95th percentile of the absolute values, with the mean and the count."""
    known = values.astype(float).dropna()
    if not len(known):
        return "-"
    return f"{np.percentile(np.abs(known), 95):.{digits}f} (mean {known.mean():+.{digits}f}, n {len(known)})"


def coverage(error_of: pd.Series, sd: pd.Series) -> str:
    """How often the stated 95 % interval holds the truth, and the rms of error over stated sd, which should be near 1."""
    both = pd.DataFrame({"e": error_of, "s": sd}).astype(float).dropna()
    if not len(both):
        return "-"
    z = both["e"] / both["s"]
    return f"{share(np.abs(z) <= 1.96)} (z {np.sqrt(np.mean(z**2)):.2f})"


def show(title: str, rows: dict[str, dict[str, str]]) -> None:
    """A table on standard output."""
    print(f"\n{title}")
    print(pd.DataFrame.from_dict(rows, orient="index").fillna("").to_string())


def by_snr(frame: pd.DataFrame) -> Iterable[tuple[str, pd.DataFrame]]:
    """Stations in steps of their ratio."""
    step = pd.cut(frame["snr"], SNR_EDGES_DB, labels=SNR_NAMES)
    for name in SNR_NAMES:
        yield name, frame[step == name]


def fm_tables(frame: pd.DataFrame) -> None:
    """What issue 4 asks of FM."""
    stations = frame[frame["true"] & ~frame["scene"].isin(("digital",))]
    rows = {}
    for name, part in by_snr(stations):
        if not len(part):
            continue
        lost = part.loc[part["holds"] != "station", "holds"].value_counts()
        rows[f"snr {name} dB"] = {
            "found": share(part["holds"] == "station"),
            "unsure": share(part["holds"] == "unsure"),
            "else": ", ".join(f"{word} {count}" for word, count in lost.items()),
            "stereo: pilot": share(part.loc[part["stereo"], "pilot_said"]),
            "mono: pilot": share(part.loc[~part["stereo"], "pilot_said"]),
        }
    show("FM stations found (99 % at 3 dB, 95 % at 0 dB; unsure <= 1 %); pilots decided (99.5 % from 3 dB, false 0.1 %)", rows)

    rows = {}
    for kind, part in frame[~frame["true"]].groupby("kind"):
        words = part["holds"].value_counts()
        rows[str(kind)] = {
            "channels": str(len(part)),
            "station": str(words.get("station", 0)),
            "unsure": share(part["holds"] == "unsure"),
            "else": ", ".join(f"{word} {count}" for word, count in words.items() if word not in ("station", "unsure")),
            "pilot said": str(int(part["pilot_said"].sum())),
        }
    show("FM channels without a station (no false station in 6,000; unsure <= 2 %)", rows)

    digital = frame[frame["true"] & frame["over_digital"].notna()]
    rows = {}
    for over_db, part in digital.groupby("over_digital"):
        rows[f"{over_db:.0f} dB over the sideband"] = {
            "found": share(part["holds"] == "station"),
            "unsure": share(part["holds"] == "unsure"),
            "level error dB": error(part.loc[part["holds"] == "station", "level_error"], 2),
        }
    show("Stations on a digital sideband's channel (found from 0 dB; 1 dB)", rows)

    clean = stations[~stations["scene"].isin(SHARED) & (stations["holds"] == "station")]
    rows = {}
    for name, part in by_snr(clean):
        if not len(part):
            continue
        rows[f"snr {name} dB"] = {
            "level dB": error(part["level_error"], 2),
            "pilot deviation %": error(100 * part["pilot_error"], 2),
            "peak deviation %": error(100 * part["peak_error"], 1),
            "carrier Hz": error(part["carrier_error"], 0),
        }
    show("Errors (level 0.1 dB from 10, 0.3 from 3; pilot 1 % from 10, 2 % from 8; peak deviation 3 % from 25)", rows)

    rows = {}
    for scene, part in frame.groupby("scene"):
        bound = part["remarks"].str.contains("noise-upper-bound")
        rows[str(scene)] = {
            "noise dB": error(part.loc[~bound, "noise_error"], 2),
            "worst": f"{part.loc[~bound, 'noise_error'].abs().max():.2f}",
            "said to be a bound": share(bound),
            "noise coverage": coverage(part.loc[~bound, "noise_error"], part.loc[~bound, "noise_sd"]),
        }
    show("Noise by scene (0.3 dB packed, 0.5 dB tilted and narrow)", rows)

    peak = clean[clean["peak_error"].notna()]
    rows = {
        f"{maker} {programme}": {
            "peak deviation %": error(100 * part["peak_error"], 1),
            "level dB, snr >= 8": error(part.loc[part["snr"] >= 8, "level_error"], 2),
            "found": share(
                stations.loc[
                    (stations["maker"] == maker) & (stations["programme"] == programme) & (stations["snr"] > -1.5), "holds"
                ]
                == "station"
            ),
        }
        for (maker, programme), part in peak.groupby(["maker", "programme"])
    }
    show("By maker and programme (found: from 0 dB)", rows)

    rows = {}
    for name, part in by_snr(clean):
        if len(part):
            rows[f"snr {name} dB"] = {
                what: coverage(part[f"{what}_error"], part[f"{what}_sd"]) for what in ("level", "carrier", "pilot", "peak")
            }
    show("Coverage of stated 95 % intervals (93-97 %)", rows)


def am_tables(frame: pd.DataFrame) -> None:
    """What issue 4 asks of AM."""
    stations = frame[frame["true"]]
    rows = {}
    for name, part in by_snr(stations):
        if not len(part):
            continue
        rows[f"snr {name} dB"] = {
            "found": share(part["holds"] == "station"),
            "unsure": share(part["holds"] == "unsure"),
            "level dB": error(part["level_error"], 3),
            "carrier Hz": error(part["carrier_error"], 4),
            "depth": error(part.loc[part["snr"] >= 20, "depth_error"], 3),
            "25 Hz pilot": share(part.loc[part["stereo"], "am_stereo_seen"]),
            "false 25 Hz": share(part.loc[~part["stereo"], "am_stereo_seen"]),
            "level coverage": coverage(part["level_error"], part["level_sd"]),
            "carrier coverage": coverage(part["carrier_error"], part["carrier_sd"]),
        }
    show("AM (carrier 0.02 Hz and 0.1 dB from 8 dB; depth 0.05 from 20 dB; 25 Hz pilot 99 % from 10 dB, false 0.1 %)", rows)
    deep = stations[stations["snr"] >= 20]
    rows = {
        f"{maker} {programme}{' stereo' if stereo else ''}": {"depth": error(part["depth_error"], 3)}
        for (maker, programme, stereo), part in deep.groupby(["maker", "programme", "stereo"])
    }
    show("AM depth by maker and programme, from 20 dB", rows)
    rows = {}
    for kind, part in frame[~frame["true"]].groupby("kind"):
        words = part["holds"].value_counts()
        rows[str(kind)] = {"channels": str(len(part))} | {str(word): str(count) for word, count in words.items()}
    show("AM channels without a station", rows)
    rows = {
        maker: {"noise dB": error(part["noise_error"], 2), "coverage": coverage(part["noise_error"], part["noise_sd"])}
        for maker, part in frame.groupby("maker")
    }
    show("AM noise (0.3 dB)", rows)


def worst(frame: pd.DataFrame, count: int) -> None:
    """The rows to look at first."""
    if not count:
        return
    names = ["seed", "scene", "maker", "rate", "channel_hz", "kind", "snr", "programme", "holds", "remarks"]
    wrong = frame[
        (~frame["true"] & (frame["holds"].isin(("station", "unsure"))))
        | (frame["true"] & (frame["snr"] >= 3) & (frame["holds"] != "station"))
    ]
    print(f"\nWrongly judged, {min(count, len(wrong))} of {len(wrong)}\n{wrong[names].head(count).to_string(index=False)}")
    sure = frame[frame["true"] & (frame["snr"] >= 8) & ~frame["scene"].isin((*SHARED, "narrow"))]
    for what in ("level_error", "noise_error", "pilot_error", "peak_error", "depth_error"):
        part = sure.loc[sure[what].abs().sort_values(ascending=False).index[: count // 3]]
        print(f"\nLargest {what}\n{part[[*names[:5], 'snr', 'programme', 'stereo', what]].to_string(index=False)}")


def main() -> None:
    """Makes, measures, prints."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--first", type=int, default=1, help="first seed")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--band", choices=("fm", "am"), default="")
    parser.add_argument(
        "--only", nargs="*", default=(), help="open, weak, strong, packed, tilted, digital, spurs, image, narrow, odd, ..."
    )
    parser.add_argument("--worst", type=int, default=0, help="also list so many rows that are wrong")
    asked = parser.parse_args()
    start = time.perf_counter()
    tasks = [(seed, asked.band, tuple(asked.only)) for seed in range(asked.first, asked.first + asked.seeds)]
    if asked.workers > 1:
        with ProcessPoolExecutor(asked.workers) as pool:
            parts = list(pool.map(of_seed, tasks))
    else:
        parts = [of_seed(task) for task in tasks]
    frame = pd.DataFrame([row for part in parts for row in part])
    flags = ["stereo", "pilot_seen", "am_stereo_seen"]
    frame[flags] = frame[flags].fillna(False).astype(bool)
    stations = int(frame["true"].sum())
    print(f"{asked.seeds} seeds, {len(frame)} channels, {stations} stations, {time.perf_counter() - start:.0f} s")
    if (frame["band"] == "fm").any():
        fm_tables(frame[frame["band"] == "fm"])
    if (frame["band"] == "am").any():
        am_tables(frame[frame["band"] == "am"])
    worst(frame, asked.worst)


if __name__ == "__main__":
    main()
