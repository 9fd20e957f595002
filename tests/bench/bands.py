"""Bands to measure accuracy on: what a receiver meets, with its truth, by the demo's forger and by the tests' own maker."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import own_maker

from bandscan.demo import AmStation, FmStation, Receiver, Source, Spur, forge

LADDER_DB = (-3.0, 0.0, 3.0, 8.0, 10.0, 13.0, 17.0, 21.0, 26.0, 31.0, 38.0)
WEAK_DB = (-3.0, 0.0, 3.0, 8.0)
NOISE_DBFS_HZ = -106.0
STEPS_DBFS = -49.89  # noise of 8-bit steps of 2/255 in I and Q: 20 log10(2 / 255) - 10 log10 6
WIDTH_HZ = {"fm": 200e3, "am": 10e3}


@dataclass(frozen=True)
class Truth:
    """One station as recorded."""

    channel_hz: int
    level_dbfs: float
    snr_db: float
    programme: str
    carrier_hz: float
    pilot_hz: float = 0.0
    peak_hz: float = float("nan")
    depth: float = float("nan")
    stereo: bool = False
    over_digital_db: float = float("nan")  # over the digital sideband that lies on its channel


@dataclass
class Band:
    """A recording with its truth. `noise_db` gives the noise in a channel at an offset; `kinds` names what else is where."""

    name: str
    maker: str
    band: str
    region: str
    samples: npt.NDArray[np.complexfloating]
    rate_hz: float
    centre_hz: float
    truths: dict[int, Truth]
    noise_db: Callable[[float], float]
    kinds: dict[int, str] = field(default_factory=dict)
    tilted: bool = False

    def kind(self, channel_hz: int) -> str:
        """What a channel without a station holds."""
        if channel_hz in self.kinds:
            return self.kinds[channel_hz]
        if self.band == "fm":
            near = {step: self.truths.get(channel_hz + step) for step in (-200_000, -100_000, 100_000, 200_000)}
            if near[-100_000] or near[100_000]:
                return "100 kHz neighbour"
            if any(one is not None and one.snr_db >= 25 for one in (near[-200_000], near[200_000])):
                return "next to a strong one"
        elif any((one := self.truths.get(channel_hz + step)) and one.snr_db >= 25 for step in (-10_000, 10_000)):
            return "next to a strong one"
        return "noise"


def _noise_db(band: str, rate_hz: float, response_db: Callable[[float], float] | None = None) -> Callable[[float], float]:
    def at(offset_hz: float) -> float:
        air_db = NOISE_DBFS_HZ + (response_db(offset_hz / rate_hz) if response_db else 0.0)
        return float(10 * np.log10((10 ** (air_db / 10) + 10 ** (STEPS_DBFS / 10) / rate_hz) * WIDTH_HZ[band]))

    return at


def demo_band(
    name: str,
    sources: Sequence[Source],
    receiver: Receiver,
    centre_hz: float,
    rate_hz: float,
    seconds: float,
    seed: int,
    **more: object,
) -> Band:
    """A band of the demo's forger."""
    made = forge(sources, receiver, centre_hz, rate_hz, seconds, seed)
    band = "am" if any(isinstance(one, AmStation) for one in sources) else "fm"
    noise = _noise_db(band, rate_hz, lambda x: receiver.slope_db * x - receiver.droop_db * (2 * x) ** 8)
    truths = {
        one.channel_hz: Truth(
            one.channel_hz,
            one.level_dbfs,
            one.level_dbfs - noise(one.channel_hz - centre_hz),
            one.programme,
            one.carrier_error_hz,
            one.pilot_dev_hz,
            one.peak_dev_hz or float("nan"),
            one.am_depth or float("nan"),
            one.am_stereo,
        )
        for one in made.truth
        if one.kind != "spur"
    }
    return Band(name, "demo", band, "us", made.samples, rate_hz, centre_hz, truths, noise, **more)  # type: ignore[arg-type]


def own_band(
    name: str,
    stations: list[own_maker.Fm] | list[own_maker.Am],
    front: own_maker.Front,
    centre_hz: float,
    rate_hz: float,
    seconds: float,
    seed: int,
    **more: object,
) -> Band:
    """A band of the tests' own maker."""
    made = own_maker.make(stations, front, centre_hz, rate_hz, seconds, seed)
    band = "am" if stations and isinstance(stations[0], own_maker.Am) else "fm"
    noise = _noise_db(band, rate_hz, lambda x: float(front.response_db(np.array(x))))
    truths = {}
    for one in stations:
        level_dbfs = made.level_dbfs[one.channel_hz]
        fm = isinstance(one, own_maker.Fm)
        truths[one.channel_hz] = Truth(
            one.channel_hz,
            level_dbfs,
            level_dbfs - noise(one.channel_hz - centre_hz),
            one.programme if isinstance(one, own_maker.Fm) else "shaped",
            one.carrier_hz,
            one.pilot_hz if isinstance(one, own_maker.Fm) else 0.0,
            made.peak_hz.get(one.channel_hz, float("nan")),
            made.depth.get(one.channel_hz, float("nan")),
            not fm and bool(getattr(one, "stereo", False)),
        )
    return Band(name, "own", band, "us", made.samples, rate_hz, centre_hz, truths, noise, **more)  # type: ignore[arg-type]


def level(snr_db: float, rate_hz: float, band: str = "fm") -> float:
    """Level of a station that stands snr_db over the noise of its channel."""
    return snr_db + _noise_db(band, rate_hz)(0.0)


def demo_fm(channel_hz: int, level_dbfs: float, dice: np.random.Generator, **more: object) -> FmStation:
    """A station of ordinary make with chance's choices."""
    figures: dict[str, object] = {
        "programme": str(dice.choice(["speech", "music", "tone"])),
        "pilot_dev_hz": float(dice.choice([0.0, *dice.uniform(6000, 7500, 3)])),
        "deviation_hz": float(dice.uniform(55e3, 75e3)),
        "carrier_error_hz": float(dice.uniform(-1500, 1500)),
        "pilot_error_hz": float(dice.uniform(-1.5, 1.5)),
        "pi": int(dice.integers(1, 0xFFF)) if dice.random() < 0.5 else None,
        "ps": "BENCH",
    }
    return FmStation(channel_hz, level_dbfs, **(figures | more))  # type: ignore[arg-type]


def own_fm(channel_hz: int, level_dbfs: float, dice: np.random.Generator, **more: object) -> own_maker.Fm:
    """A station of another make: louder, other pre-emphasis, sometimes with a second subcarrier."""
    figures: dict[str, object] = {
        "programme": str(dice.choice(["voice", "song", "hot", "tone"])),
        "pilot_hz": float(dice.choice([0.0, *dice.uniform(6000, 7500, 3)])),
        "tau_s": float(dice.choice([50e-6, 75e-6])),
        "carrier_hz": float(dice.uniform(-1500, 1500)),
        "data": bool(dice.random() < 0.5),
        "subcarrier": bool(dice.random() < 0.2),
    }
    return own_maker.Fm(channel_hz, level_dbfs, **(figures | more))  # type: ignore[arg-type]


RATES_HZ = (2.4e6, 2.048e6, 3.2e6)
CENTRE_HZ = 98_000_000


def fm_channels(rate_hz: float, centre_hz: int = CENTRE_HZ, step_hz: int = 200_000) -> list[int]:
    """Covered channels on odd tenths (or every 100 kHz)."""
    reach = 0.45 * rate_hz - 100_000
    first = 87_500_000 if step_hz == 100_000 else 87_900_000
    return [hz for hz in range(first, 108_000_001, step_hz) if abs(hz - centre_hz) <= reach]


def _both(
    name: str,
    placed: dict[int, float],
    rate_hz: float,
    seed: int,
    dice: np.random.Generator,
    *,
    receiver: Receiver | None = None,
    front: own_maker.Front | None = None,
    centre_hz: float = CENTRE_HZ,
    **more: object,
) -> Iterator[Band]:
    """The same levels by both makers."""
    yield demo_band(
        name,
        [demo_fm(hz, db, dice) for hz, db in placed.items()],
        receiver or Receiver(dc_dbfs=-50.0),
        centre_hz,
        rate_hz,
        1.0,
        seed,
        **more,
    )
    yield own_band(
        name,
        [own_fm(hz, db, dice) for hz, db in placed.items()],
        front or own_maker.Front(dc_dbfs=-50.0),
        centre_hz,
        rate_hz,
        1.0,
        seed,
        **more,
    )


def fm_bands(seed: int) -> Iterator[Band]:
    """All FM bands of one seed, about 180 channels."""
    dice = np.random.default_rng([seed, 5])
    rate_hz = RATES_HZ[seed % 3]
    channels = fm_channels(rate_hz)

    def ladder(steps: Sequence[float]) -> dict[int, float]:
        start = int(dice.integers(0, 2))
        return {hz: level(float(dice.choice(steps)), rate_hz) for hz in channels[start::2]}

    yield from _both("open", ladder(LADDER_DB), rate_hz, seed, dice)
    yield from _both("weak", ladder(WEAK_DB), rate_hz, seed, dice)
    yield from _both("strong", ladder(LADDER_DB[6:]), rate_hz, seed, dice)

    free = int(dice.choice(channels))
    packed = {hz: level(float(dice.uniform(8, 33)), rate_hz) for hz in channels if hz != free}
    yield from _both("packed", packed, rate_hz, seed, dice)
    slope, droop = float(dice.uniform(-4, 4)), 2.0
    tilts = {"receiver": Receiver(slope_db=slope, droop_db=droop), "front": own_maker.Front(slope_db=slope, droop_db=droop)}
    yield from _both("tilted", packed, rate_hz, seed, dice, **tilts, tilted=True)  # type: ignore[arg-type]

    yield from digital_bands(seed, rate_hz, channels, dice)

    lines = [
        Spur(CENTRE_HZ + float(x), level(float(dice.uniform(0, 30)), rate_hz)) for x in dice.uniform(-0.4, 0.4, 4) * rate_hz
    ]
    kinds = {hz: "spur" for hz in channels if any(abs(hz - line.at_hz) <= 101e3 for line in lines)}
    kinds |= {hz: "DC at a channel's edge" for hz in channels if abs(hz - CENTRE_HZ) <= 100_000 and hz not in kinds}
    yield demo_band("spurs", lines, Receiver(dc_dbfs=float(dice.uniform(-45, -15))), CENTRE_HZ, rate_hz, 1.0, seed, kinds=kinds)

    raster = fm_channels(rate_hz, step_hz=100_000)
    placed, at = {}, int(dice.integers(0, 4))
    while at < len(raster):
        placed[raster[at]] = level(float(dice.choice(LADDER_DB[2:])), rate_hz)
        at += int(dice.integers(3, 6))
    for band in _both("100 kHz raster", placed, rate_hz, seed, dice):
        band.region = "eu"
        yield band

    strong = int(dice.choice([hz for hz in channels if abs(hz - CENTRE_HZ) > 200_000]))
    mirror = 2 * CENTRE_HZ - strong
    image = {"receiver": Receiver(image_db=-35.0), "front": own_maker.Front(image_db=-35.0)}
    yield from _both("image", {strong: -12.0}, rate_hz, seed, dice, **image, kinds={mirror: "image"})  # type: ignore[arg-type]

    first = channels[len(channels) // 2 - 1]
    loud = {first: -13.0, first + 400_000: -12.0}
    kinds = dict.fromkeys((first - 400_000, first + 800_000), "product")
    compressing = {"receiver": Receiver(compression=0.3), "front": own_maker.Front(cubic=0.3)}
    yield from _both("products", loud, rate_hz, seed, dice, **compressing, kinds=kinds)  # type: ignore[arg-type]

    yield from _both("narrow", {98_100_000: float(dice.uniform(-30, -12))}, 256e3, seed, dice, centre_hz=98_100_000)


def odd_bands(seed: int) -> Iterator[Band]:
    """What other receivers do: any rate and centre, slopes up to 8 dB, strong DC; stations on any channel, side by side too."""
    dice = np.random.default_rng([seed, 991])
    rate_hz = float(dice.choice([0.96e6, 1.024e6, 1.2e6, 1.4e6, 1.8e6, 1.92e6, 2.56e6, 2.8e6, 3.0e6]))
    centre_hz = int(round(float(dice.uniform(90e6, 106e6)), -2 if dice.random() < 0.5 else -5))
    levels = {hz: level(float(dice.choice(LADDER_DB)), rate_hz) for hz in fm_channels(rate_hz, centre_hz)}
    placed = {hz: level_dbfs for hz, level_dbfs in levels.items() if dice.random() < 0.55}
    look = {"slope_db": float(dice.uniform(-8, 8)), "droop_db": 2.0, "dc_dbfs": float(dice.uniform(-50, -20))}
    if placed:
        makers = {"receiver": Receiver(**look), "front": own_maker.Front(**look)}
        yield from _both("odd", placed, rate_hz, seed, dice, centre_hz=centre_hz, **makers)  # type: ignore[arg-type]


def digital_bands(seed: int, rate_hz: float, channels: list[int], dice: np.random.Generator) -> Iterator[Band]:
    """A station with digital sidebands; on one of them, in half of the cases, a real station 0 to 12 dB over the sideband."""
    host = int(dice.choice(channels[1:-1]))
    digital_db, over_db = float(dice.uniform(-22, -15)), float(dice.choice([0.0, 3.0, 6.0, 12.0]))
    host_db = level(float(dice.uniform(32, 40)), rate_hz)
    guest = host + int(dice.choice([-200_000, 200_000]))
    there = dice.random() < 0.5
    kinds = {host - 200_000: "digital sideband", host + 200_000: "digital sideband"}
    for maker in ("demo", "own"):
        station = demo_fm if maker == "demo" else own_fm
        stations = [station(host, host_db, dice, digital_db=digital_db)]
        if there:
            stations.append(station(guest, host_db + digital_db + over_db, dice))
        if maker == "demo":
            band = demo_band("digital", stations, Receiver(), CENTRE_HZ, rate_hz, 1.0, seed, kinds=kinds)  # type: ignore[arg-type]
        else:
            band = own_band("digital", stations, own_maker.Front(), CENTRE_HZ, rate_hz, 1.0, seed, kinds=kinds)  # type: ignore[arg-type]
        if there:
            own = band.truths[guest]
            band.truths[guest] = Truth(**{**own.__dict__, "over_digital_db": over_db})
        yield band


def am_bands(seed: int) -> Iterator[Band]:
    """Two AM dials of one seed, one by each maker, two seconds, about 220 channels."""
    dice = np.random.default_rng([seed, 6])
    ladder = (-3.0, 0.0, 3.0, 8.0, 10.0, 13.0, 17.0, 21.0, 25.0, 30.0, 38.0, 45.0)
    channels = [int(hz) for hz in dice.permutation(np.arange(540_000, 1_700_001, 40_000))[:24]]
    stations = [
        AmStation(
            hz,
            level(float(dice.choice(ladder)), 2.4e6, "am"),
            programme=str(dice.choice(["speech", "music", "tone"])),
            depth=float(dice.uniform(0.4, 0.95)),
            carrier_error_hz=float(dice.uniform(-15, 15)),
            stereo=bool(dice.random() < 0.3),
            tone_hz=float(dice.choice([400.0, 1000.0])),
        )
        for hz in channels
    ]
    receiver = Receiver(dc_dbfs=-45.0)
    yield demo_band("dial", stations, receiver, 1_115_000, 2.4e6, 2.0, seed)
    own = [
        own_maker.Am(
            hz,
            level(float(dice.choice(ladder)), 1.2e6, "am"),
            carrier_hz=float(dice.uniform(-15, 15)),
            depth=float(dice.uniform(0.5, 1.0)),
            stereo=bool(dice.random() < 0.3),
        )
        for hz in channels
        if abs(hz - 1_115_000) < 0.44 * 1.2e6
    ]
    yield own_band("dial", own, own_maker.Front(dc_dbfs=-45.0), 1_115_000, 1.2e6, 2.0, seed)
