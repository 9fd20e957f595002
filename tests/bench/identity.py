"""How well stations are identified, and how seldom wrongly. Not part of the test run:

    python tests/bench/identity.py share [--each N] [--workers N] [--picture FILE.svg]
    python tests/bench/identity.py wrong [--seconds N] [--workers N] [--first SEED]

`share`: 1-second forged recordings with 2 kHz of injection over snr, by programme, through bandscan's channeliser and
discriminator; with a second ray; names within 2 s of which 40 % of the groups bring one. Beside it the limit of differentially
decoded BPSK.
`wrong`: channels that send no service, or whose neighbours or parents do, until so many channel-seconds are through.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt
import scipy.fft
import scipy.special
import scipy.stats

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from bench.identity_picture import drawing
from dsp.cut import fm_grid
from dsp.rds_made import RATE_HZ, at_snr, bits_of, demodulated, forged, groups

from bandscan.demo import FmStation, Receiver, forge, rds
from bandscan.dsp.channeliser import Channeliser, channel_filter
from bandscan.dsp.discriminator import Discriminator
from bandscan.dsp.rds import Identity, RdsSum

Wave = npt.NDArray[np.complexfloating]
PROGRAMMES = ("speech", "music", "tone")
SNRS_DB = (10.0, 11.0, 12.0, 13.0, 14.0, 15.0, 16.0, 18.0, 20.0)
RECORDED_HZ = 256_000.0
BATCH = 8
PIECE_S = 4.0
KINDS = ("noise", "speech", "music", "mono", "neighbours", "products")


def multiplex(samples: Wave, rate_hz: float) -> Iterator[tuple[npt.NDArray[np.float32], float]]:
    """The one channel in the middle as the FM pass gives it, in batches, and its rate."""
    grid = fm_grid(rate_hz)
    cutter = Channeliser(grid, channel_filter(grid, 100e3), 0.0)
    discriminator = Discriminator(BATCH, grid.out_hop, grid.out_rate_hz)
    frames = np.lib.stride_tricks.sliding_window_view(samples.astype(np.complex64), grid.size)[:: grid.hop]
    last = np.complex64(0)
    for first in range(0, len(frames), BATCH):
        spectra = scipy.fft.fft(frames[first : first + BATCH], axis=-1)
        cut = cutter.cut(spectra, first, np.empty((len(spectra), grid.out_size), np.complex64))
        frequency = discriminator.run(cut, last, np.empty((len(spectra), grid.out_hop), np.float32))
        last = cut[-1, -1]
        yield frequency.reshape(1, -1), grid.out_rate_hz


def identity(samples: Wave, rate_hz: float) -> Identity:
    """What the channel in the middle claims."""
    service: RdsSum | None = None
    for frequency, out_rate_hz in multiplex(samples, rate_hz):
        service = service or RdsSum(1, out_rate_hz)
        service.add(frequency)
    assert service is not None
    return service.result(0)


def one(job: tuple[str, float, str, int]) -> tuple[bool, bool, float]:
    """Right, wrong and the share of bad blocks of one forged recording; `job` is what, snr [dB], programme, seed."""
    what, snr_db, programme, seed = job
    rng = np.random.default_rng([seed, 1])
    pi, name = 0xE000 + int(rng.integers(4096)), "".join(rng.choice(list("ABCDEFGHIJKLMNOPQRSTUVWXYZ"), 8))
    station = at_snr(snr_db, programme=programme, pi=pi, ps=name)
    if what == "name":
        rds.bits = lambda pi, ps, stereo, count, first=0: bits_of(groups(pi, ps, count // 104 + 3, first))[first % 104 :][
            :count
        ]
    samples = forged(station, 2.0 if what == "name" else 1.0, seed, RECORDED_HZ)
    if what == "ray":
        late = np.exp(-2j * np.pi * 5e-6 * np.fft.fftfreq(len(samples), 1 / RECORDED_HZ))
        samples = np.fft.ifft(np.fft.fft(samples) * (1 + 0.5 * np.exp(2j * np.pi * rng.random()) * late))
    found = identity(samples, RECORDED_HZ)
    if what == "name":
        return found.ps == name, found.ps not in ("", name), found.bad_share
    return found.pi == pi, found.pi not in (None, pi), found.bad_share


@cache
def injection_power() -> float:
    """Mean square of the data subcarrier at 2 kHz. [Hz^2]"""
    position = np.arange(200_000) / 100
    sent = np.random.default_rng(1).integers(0, 2, 2002).astype(np.uint8)
    return float(np.mean(rds.waveform(sent, position) ** 2)) * 2000.0**2 / 2


def clean_limit(snr_db: float) -> float:
    """Share of clean blocks of differentially decoded coherent BPSK at that snr in 200 kHz: 27 symbols right, or all wrong.

    Noise density at 57 kHz: f^2 over carrier power over noise density (textbook).
    """
    density = 57_000.0**2 / (10 ** (snr_db / 10) * 200e3)
    wrong = 0.5 * scipy.special.erfc(math.sqrt(injection_power() / 1187.5 / density))
    return float((1 - wrong) ** 27 + wrong**27)


def share_limit(snr_db: float) -> float:
    """Share of seconds with two clean blocks A of 11 and three others of 34 clean, at that limit."""
    clean = clean_limit(snr_db)
    return float(scipy.stats.binom.sf(1, 11, clean) * scipy.stats.binom.sf(2, 34, clean))


def share(each: int, workers: int, picture: Path | None) -> None:
    """Prints the shares, and draws them."""
    asked = [("code", snr_db, programme) for snr_db in SNRS_DB for programme in PROGRAMMES]
    asked += [("ray", 26.0, programme) for programme in PROGRAMMES] + [("name", 20.0, programme) for programme in PROGRAMMES]
    jobs = [(*what, seed) for what in asked for seed in range(each)]
    with ProcessPoolExecutor(workers) as pool:
        results = list(pool.map(one, jobs, chunksize=8))
    rights = {what: [found for job, found in zip(jobs, results, strict=True) if job[:3] == what] for what in asked}
    print(f"{each} recordings each; right in %, bad blocks in % where a code was agreed; limit: ideal receiver, no averaging")
    print(f"{'':12}" + "".join(f"{programme:>18}" for programme in PROGRAMMES) + f"{'limit':>18}")
    for what, snr_db in dict.fromkeys((what, snr_db) for what, snr_db, _ in asked):
        cells = ""
        for programme in PROGRAMMES:
            found = np.array(rights[what, snr_db, programme])
            bad = found[~np.isnan(found[:, 2]), 2]
            cells += f"{100 * found[:, 0].mean():10.1f}" + (f"{100 * bad.mean():8.1f}" if len(bad) else f"{'':8}")
        limit = f"{100 * share_limit(snr_db):10.1f}{100 * (1 - clean_limit(snr_db)):8.1f}" if what == "code" else ""
        print(f"{what:5}{snr_db:4.0f} dB {cells}{limit}")
    print("wrong:", sum(bool(found[1]) for found in results), "of", len(results))
    if picture:
        shares = {p: [float(np.mean([f[0] for f in rights["code", s, p]])) for s in SNRS_DB] for p in PROGRAMMES}
        picture.write_text(drawing(SNRS_DB, shares, share_limit, each), encoding="utf-8")


@cache
def piece(kind: str, number: int) -> tuple[Wave, frozenset[int]]:
    """Samples of a kind without noise at 240 kS/s, power 1 within 100 kHz, and the codes that anything in it sends."""
    wide_hz = 3 * RATE_HZ
    rng = np.random.default_rng([number, KINDS.index(kind)])
    codes = [0xE000 + int(code) for code in rng.integers(0, 4096, 2)]

    def made(*stations: FmStation) -> Wave:
        return np.asarray(forge(stations, Receiver(noise_dbfs_hz=-250.0), 98_100_000, wide_hz, PIECE_S, number).samples)

    programmes = rng.choice(["speech", "music", "tone"], 2)
    if kind == "neighbours":
        beside = [
            FmStation(98_100_000 + side, -10.0 - float(rng.uniform(0, 20)), str(p), pi=code, ps="BESIDE")
            for side, p, code in zip((-200_000, 200_000), programmes, codes, strict=True)
        ]
        wide = made(*beside)
    elif kind == "products":
        one, other = (
            made(FmStation(98_100_000, 0.0, str(p), pi=c, ps="PARENT")) for p, c in zip(programmes, codes, strict=True)
        )
        wide = one**2 * other.conj()
    else:
        codes = []
        programme = kind if kind != "mono" else str(programmes[0])
        wide = made(FmStation(98_100_000, 0.0, programme, pilot_dev_hz=0.0 if kind == "mono" else 6750.0))
    bins = np.fft.fft(wide)
    inner = np.zeros(round(PIECE_S * RATE_HZ), complex)
    half = len(inner) // 2
    inner[:half], inner[half:] = bins[:half], bins[-half:]
    narrow = np.fft.ifft(inner)
    return narrow.astype(np.complex64) / np.sqrt(np.mean(np.abs(narrow) ** 2)), frozenset(codes)


def claims(job: tuple[str, int]) -> tuple[str, float, float, int, int]:
    """Kind, channel-seconds, seconds with a subcarrier, codes claimed that a neighbour or parent sends, that nobody sends."""
    kind, seed = job
    rng = np.random.default_rng([seed, 99])
    samples = round(PIECE_S * RATE_HZ)
    waves, sent = [], []
    for channel in range(8):
        white = rng.standard_normal(2 * samples, dtype=np.float32).view(np.complex64) * np.float32(math.sqrt(0.5))
        if kind != "noise":
            signal, codes = piece(kind, (seed * 8 + channel) % 6)
            start = int(rng.integers(samples))
            snr = 10 ** (rng.uniform(0.0, 40.0) / 10)
            # white noise of power 1 in 240 kHz holds 200 / 240 of it in 200 kHz
            white = white + np.roll(signal, start) * np.float32(math.sqrt(snr * 200 / 240))
            sent.append(codes)
        else:
            sent.append(frozenset())
        waves.append(demodulated(white))
    service = RdsSum(len(waves), RATE_HZ)
    stacked = np.stack(waves)
    for first in range(0, stacked.shape[1], 18_720):
        service.add(stacked[:, first : first + 18_720])
    found = [service.result(channel) for channel in range(len(waves))]
    known = sum(one.pi in codes for one, codes in zip(found, sent, strict=True))
    unknown = sum(one.pi is not None and one.pi not in codes for one, codes in zip(found, sent, strict=True))
    return kind, len(waves) * PIECE_S, sum(one.subcarrier_s for one in found), known, unknown


def wrong(seconds: float, workers: int, first: int) -> None:
    """Prints what was claimed, by kind."""
    tasks = math.ceil(seconds / (8 * PIECE_S))
    jobs = [(KINDS[number % len(KINDS)], first + number // len(KINDS)) for number in range(tasks)]
    totals: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    with ProcessPoolExecutor(workers) as pool:
        for kind, through, subcarrier, known, unknown in pool.map(claims, jobs, chunksize=2):
            totals[kind].update({"seconds": through, "subcarrier": subcarrier, "known": known, "unknown": unknown})  # type: ignore[dict-item]
    print(f"{'':12}{'channel-seconds':>16}{'with subcarrier':>16}{'sent beside it':>16}{'sent by nobody':>16}")
    for kind, row in [*totals.items(), ("all", sum(totals.values(), Counter()))]:
        print(f"{kind:12}{row['seconds']:16.0f}{row['subcarrier']:16.0f}{row['known']:16d}{row['unknown']:16d}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("share", "wrong"))
    parser.add_argument("--each", type=int, default=40)
    parser.add_argument("--seconds", type=float, default=2000.0)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--picture", type=Path)
    given = parser.parse_args()
    started = time.perf_counter()
    if given.what == "share":
        share(given.each, given.workers, given.picture)
    else:
        wrong(given.seconds, given.workers, given.first)
    print(f"{time.perf_counter() - started:.0f} s")


if __name__ == "__main__":
    main()
