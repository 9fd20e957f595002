"""Stations found and pilots decided over the ratio, beside what theory allows, as a picture. Not part of the test run:

    python tests/bench/detection.py [--recordings N] [--first N] [--picture FILE.svg]

One second each, five stereo stations to a recording, by the demo's forger and by the tests' own maker in turn. Limits:
- an energy detector of 200 kHz that knows the noise, and one that knows it to 0.3 dB (gamma and non-central chi-square
  distributions, textbook);
- a pilot of 6.75 kHz as a line in white noise, for a receiver that knows the programme: none can do better;
- as one in the noise of an analogue discriminator: f^2, clicks, the signal held down by 1 - exp(-ratio) (S. O. Rice 1963, from
  memory). One of 240 kS/s holds clicks to half a turn and so does a little better.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pandas as pd
import scipy.special
import scipy.stats

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from bands import Band, demo_band, demo_fm, level, own_band, own_fm
from measure.made import capture
from own_maker import Front

from bandscan.demo import Receiver
from bandscan.measure import measure
from bandscan.plans import plan_for
from bandscan.survey.holds import decide

SNRS_DB = [float(snr_db) for snr_db in np.arange(-12.0, 7.5, 1.5)]
RATE_HZ, CENTRE_HZ, SECONDS = 2.4e6, 98_000_000, 1.0
WIDTH_HZ, PILOT_HZ, PILOT_DEV_HZ, MEAN_DEV_HZ = 200e3, 19e3, 6_750.0, 17e3
FALSE_RATE = 1e-4
LEFT, TOP, WIDE, HIGH = 70, 60, 600, 320
MARKS = {"station": "●", "station or unsure": "○", "pilot": "▲"}


def band(seed: int) -> Band:
    """A recording of five stations."""
    dice = np.random.default_rng([seed, 45])
    placed = {hz: level(float(dice.choice(SNRS_DB)), RATE_HZ) for hz in range(97_100_000, 98_900_001, 400_000)}
    if seed % 2:
        own = [own_fm(hz, db, dice, pilot_hz=PILOT_DEV_HZ) for hz, db in placed.items()]
        return own_band("ladder", own, Front(), CENTRE_HZ, RATE_HZ, SECONDS, seed)
    made = [demo_fm(hz, db, dice, pilot_dev_hz=PILOT_DEV_HZ) for hz, db in placed.items()]
    return demo_band("ladder", made, Receiver(), CENTRE_HZ, RATE_HZ, SECONDS, seed)


def decided(seeds: Sequence[int]) -> pd.DataFrame:
    """One row a station: its ratio, and what was said."""
    rows = []
    for seed in seeds:
        one = band(seed)
        found = measure(capture(one.samples, RATE_HZ, CENTRE_HZ), plan_for("us", "fm"))
        holds = decide([found]).set_index("channel_hz")["holds"]
        pilots = found.readings.set_index("channel_hz")["pilot"].fillna(False).astype(bool)
        for hz, truth in one.truths.items():
            nearest = min(SNRS_DB, key=lambda snr_db: abs(snr_db - truth.snr_db))
            rows.append(
                {
                    "snr": nearest,
                    "station": holds[hz] == "station",
                    "station or unsure": holds[hz] in ("station", "unsure"),
                    "pilot": pilots[hz],
                }
            )
    return pd.DataFrame(rows)


def energy_limit(snr_db: float, noise_doubt_db: float = 0.0) -> float:
    """Chance that the power of one second in 200 kHz passes a threshold that noise passes at the false rate.

    Whoever knows the noise to some decibels only must set the threshold so much higher.
    """
    samples = SECONDS * WIDTH_HZ
    threshold = scipy.stats.gamma.isf(FALSE_RATE, samples) * 10 ** (noise_doubt_db / 10)
    return float(scipy.stats.ncx2.sf(2 * threshold, 2 * samples, 2 * samples * 10 ** (snr_db / 10)))


def _line_passes(line_over_bin: float) -> float:
    """Chance that a line passes, at any of its legal places, in one periodogram that noise passes at the false rate."""
    places = 2 * (1 + 2 * 4.9 * SECONDS)
    return float(scipy.stats.ncx2.sf(2 * np.log(places / FALSE_RATE), 2, 2 * line_over_bin))


def pilot_limit(snr_db: float) -> float:
    """A pilot alone is a pair of lines of J1^2 of the carrier's power each; a Hann window takes in 1.5 bins of noise."""
    share = 2 * scipy.special.jv(1, PILOT_DEV_HZ / PILOT_HZ) ** 2
    return _line_passes(share * 10 ** (snr_db / 10) * WIDTH_HZ * SECONDS / 1.5)


def discriminated_limit(snr_db: float) -> float:
    """The pilot's line behind an analogue discriminator, over Rice's noise."""
    ratio = 10 ** (snr_db / 10)
    kept = 1.0 - np.exp(-ratio)
    resting = WIDTH_HZ / (2 * np.sqrt(3)) * scipy.special.erfc(np.sqrt(ratio))
    clicks = 2 * (resting + MEAN_DEV_HZ * np.exp(-ratio))
    density = PILOT_HZ**2 / (ratio * WIDTH_HZ) * kept**2 + clicks
    return _line_passes((kept * PILOT_DEV_HZ) ** 2 / 2 / (density * 1.5 / SECONDS))


LIMITS: dict[str, tuple[Callable[[float], float], str]] = {
    "energy detector, noise known": (energy_limit, "3 4"),
    "energy detector, noise known to 0.3 dB": (lambda snr_db: energy_limit(snr_db, 0.3), "9 4"),
    "pilot, a line in white noise": (pilot_limit, "12 4 3 4"),
    "pilot, a line in an analogue discriminator's noise": (discriminated_limit, "18 5"),
}


def drawing(shares: pd.DataFrame, each: int) -> str:
    """Shares over the ratio with marks, the limits dashed: an SVG that reads in black and white."""
    low, high = -33.0, SNRS_DB[-1]

    def at(snr_db: float, part: float) -> str:
        return f"{LEFT + WIDE * (snr_db - low) / (high - low):.1f},{TOP + HIGH * (1 - part):.1f}"

    parts = []
    for part in (0.0, 0.25, 0.5, 0.75, 1.0):
        x, y = at(low, part).split(",")
        parts.append(
            f'<path d="M{x} {y}h{WIDE}" stroke="#ccc"/><text x="{LEFT - 8}" y="{y}" text-anchor="end">{part:.0%}</text>'
        )
    for snr_db in range(int(low), int(high) + 1, 3):
        x, y = at(snr_db, 0.0).split(",")
        parts.append(f'<text x="{x}" y="{float(y) + 20:.0f}" text-anchor="middle">{snr_db}</text>')
    words = []
    for name, (limit, dashes) in LIMITS.items():
        points = " ".join(at(x, limit(x)) for x in np.linspace(low, high, 161))
        parts.append(f'<polyline points="{points}" fill="none" stroke="#555" stroke-width="2" stroke-dasharray="{dashes}"/>')
        words.append(
            f'<path d="M0 -4h34" stroke="#555" stroke-width="2" stroke-dasharray="{dashes}"/><text x="42">{name}</text>'
        )
    for name, mark in MARKS.items():
        points = " ".join(at(x, y) for x, y in shares[name].items())
        parts.append(f'<polyline points="{points}" fill="none" stroke="#000"/>')
        for point in points.split():
            x, y = point.split(",")
            parts.append(f'<text x="{x}" y="{float(y) + 4:.1f}" text-anchor="middle">{mark}</text>')
        words.append(f'<text x="12">{mark}</text><text x="42">measured: {name}</text>')
    for number, word in enumerate(words):
        parts.append(f'<g transform="translate({LEFT + 10},{TOP + HIGH + 70 + 20 * number})">{word}</g>')
    title = f"One second of a stereo station; at least {each} stations a point"
    parts.append(f'<text x="{LEFT}" y="30" font-size="15">{title}</text>')
    below = TOP + HIGH + 44
    parts.append(f'<text x="{LEFT + WIDE / 2}" y="{below}" text-anchor="middle">level over noise in 200 kHz [dB]</text>')
    box = f'viewBox="0 0 {LEFT + WIDE + 30} {TOP + HIGH + 80 + 20 * len(words)}" font-family="sans-serif" font-size="13"'
    ground = '<rect width="100%" height="100%" fill="#fff"/>'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {box}>{ground}{"".join(parts)}</svg>\n'


def main() -> None:
    """Makes, measures, prints and draws."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--recordings", type=int, default=130)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--picture", type=Path)
    told = parser.parse_args()
    by_snr = decided(range(told.first, told.first + told.recordings)).groupby("snr")
    shares = by_snr.mean()
    limits = pd.DataFrame({name: [limit(x) for x in shares.index] for name, (limit, _) in LIMITS.items()}, index=shares.index)
    print(pd.concat([by_snr.size().rename("stations"), shares, limits], axis=1).round(3).to_string())
    if told.picture is not None:
        told.picture.write_text(drawing(shares, int(by_snr.size().min())), encoding="utf-8")
        print(told.picture)


if __name__ == "__main__":
    main()
