"""What is asked of a capture, and how it is meant on this bench: feed, rig, gain."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bandscan.baseline import YEAR
from bandscan.errors import DeviceError, UsageError
from bandscan.pipeline.place import UNNAMED
from bandscan.plans import BandPlan
from bandscan.shop import Rig, Shop
from bandscan.source import dongle_plan
from bandscan.source.dongle_gain import choose_gain
from bandscan.source.dongle_take import CONVERTS, SAME_GAIN_DB, TUNERS, Dongle
from bandscan.store import Log
from bandscan.units import channel_text_unit

CHOOSE = "choose"
# abs(F - 28.8 MHz): what a dongle without a filter folds onto AM (computed)
_FOLDS = (
    "AM by direct sampling: without a low-pass of 2 to 3 MHz in front, FM of 87.9-88.1 MHz folds onto 1500-1700 kHz and"
    " whatever is at 27.1-28.3 MHz onto AM; a station that is as strong with the AM antenna off is such a fold"
)


@dataclass(frozen=True)
class Order:
    """What was asked for. `gain` is a number of dB, `choose`, or empty for the rig's. [Hz, s, ppm]"""

    band: str
    gain: str = ""
    passes: int = dongle_plan.PASSES
    quick: bool = False
    keep: str = "none"
    rate_hz: int = dongle_plan.RATE_HZ
    settle_s: float = 0.1
    dwell_s: float | None = None
    pause_s: float | None = None
    ppm: int = 0
    direct: str = ""
    upconverter_hz: int | None = None
    serial: str = ""
    rig: str = ""
    region: str = ""

    def __post_init__(self) -> None:
        low, high = 1, 1000
        if not low <= self.passes <= high:
            raise UsageError(f"--passes {self.passes}", accepted=f"{low} to {high}")
        if not 0 <= self.settle_s <= 5:
            raise UsageError(f"--settle {1e3 * self.settle_s:g}", accepted="0 to 5000 milliseconds")
        for name, value, least, most in (("dwell", self.dwell_s, 0.05, 13.0), ("pause", self.pause_s, 0.0, 3600.0)):
            if value is not None and not least <= value <= most:
                raise UsageError(f"--{name} {value:g}", accepted=f"{least:g} to {most:g} seconds")
        if not -200 <= self.ppm <= 200:
            raise UsageError(f"--ppm {self.ppm}", accepted="whole numbers from -200 to 200")
        if self.gain == "auto":
            raise UsageError(
                "an automatic gain makes levels of two moments incomparable",
                accepted="--gain 28.0, or --gain choose, which looks once and holds it",
            )
        if self.gain not in ("", CHOOSE):
            _number(self.gain)
        if self.direct and self.upconverter_hz is not None:
            raise UsageError("--direct and --upconverter together", accepted="one of the two: either brings AM to the receiver")
        if self.band == "fm" and (self.direct or self.upconverter_hz is not None):
            raise UsageError("--direct and --upconverter are for AM", accepted="bandscan capture --band am")


def _number(text: str) -> float:
    try:
        found = float(text.lower().removesuffix("db").replace(",", "."))
    except ValueError:
        found = -1.0
    if not 0 <= found <= 60:
        raise UsageError(f"--gain {text}", accepted="a number of dB from 0 to 60, or choose")
    return found


@dataclass(frozen=True)
class Feed:
    """How a band gets to the receiver's samples: `direct` is `i`, `q` or empty, `offset_hz` an upconverter's. [Hz]"""

    direct: str = ""
    offset_hz: int = 0
    words: str = ""


def rig_of_capture(order: Order, shop: Shop | None) -> Rig:
    """The rig that is captured with, as far as the shop knows it."""
    name = order.rig or (shop.rig if shop is not None else "") or UNNAMED
    return shop.rigs.get(name, Rig(name)) if shop is not None else Rig(name)


def feed_of(order: Order, rig: Rig) -> Feed:
    """The feed that was asked for, else the rig's.

    Raises:
        UsageError: the rig's upconverter needs its frequency.
    """
    if order.band == "fm":
        return Feed()
    if order.upconverter_hz is not None:
        return Feed(offset_hz=order.upconverter_hz, words=f"upconverter {order.upconverter_hz / 1e6:g} MHz")
    if order.direct or rig.am_feed == "direct":
        branch = order.direct or "q"  # where most dongles that have an input for it have it (common practice)
        return Feed(direct=branch, words=f"direct sampling, branch {branch}")
    if rig.am_feed == "upconverter":
        raise UsageError(
            f"rig {rig.name} has an upconverter, whose frequency is not told",
            accepted="--upconverter 125M, as printed on it",
        )
    return Feed()


def feed_notes(feed: Feed) -> list[str]:
    """What to mind of a feed."""
    notes = []
    if feed.direct:
        notes.append(_FOLDS)
        notes.append("AM by direct sampling has no gain to change: what the receiver makes itself is not told by a second gain")
    if feed.offset_hz:
        notes.append(
            "AM by upconverter: check one station you know; a wrong frequency or sign of it shifts or mirrors the whole list"
        )
    return notes


def refuse_out_of_reach(dongle: Dongle, feed: Feed, plan: BandPlan) -> None:
    """Rather than measure noise where the tuner does not reach.

    Raises:
        DeviceError: the tuner starts above the band.
    """
    name, lowest_hz = TUNERS.get(dongle.tuner, ("unknown", 0.0))
    first_hz = plan.channels_hz[0] + feed.offset_hz
    # one kind has dongles with a converter that the driver switches in: whether this one has shows when it is tuned
    if not feed.direct and first_hz < lowest_hz and dongle.tuner != CONVERTS:
        raise out_of_reach(name, lowest_hz, plan)


def out_of_reach(tuner: str, lowest_hz: float, plan: BandPlan) -> DeviceError:
    """The line for a tuner that cannot have a band."""
    first = channel_text_unit(plan.band, plan.channels_hz[0])
    other = (
        "AM needs --direct q (or i) on a dongle that has an input for it, or --upconverter HZ; without either, the sweep of a "
    )
    return DeviceError(
        f"its tuner ({tuner}) starts at {lowest_hz / 1e6:.0f} MHz and cannot reach {plan.band.upper()} from {first}",
        where="dongle",
        do=other + "known-good radio can serve as the list" if plan.band == "am" else "use a dongle with another tuner",
    )


def gain_of(
    order: Order, rig: Rig, feed: Feed, plan: BandPlan, dongle: Dongle, log: Log | None, say: Callable[[str], None]
) -> float | None:
    """The gain to hold: the one asked for, else the rig's, else that of the rig's last survey, else one that is chosen. [dB]

    Raises:
        DeviceError: the dongle does not work.
    """
    if feed.direct:
        if order.gain:
            say("direct sampling: the tuner is asleep, --gain has no effect")
        return None
    asked_db: float | None = _number(order.gain) if order.gain not in ("", CHOOSE) else None
    if order.gain == "":
        asked_db = rig.gain_db
        if asked_db is None and log is not None:
            earlier = log.surveys(plan.band, rig.name, plan.region, days=YEAR.days)
            asked_db = earlier[-1].gain_db if earlier else None
    if asked_db is not None:
        gain_db = min(dongle.gains_db, key=lambda gain: abs(gain - asked_db))
        if abs(gain_db - asked_db) > SAME_GAIN_DB:
            say(f"the tuner's gain nearest to {asked_db:.1f} dB is {gain_db:.1f} dB: that is taken")
    else:
        say("choosing the gain: a look over the band")
        sets = dongle_plan.centres_hz(plan, order.rate_hz)
        chosen = choose_gain(dongle, sets[0])
        where = channel_text_unit(plan.band, chosen.loudest_hz)
        gain_db = chosen.gain_db
        say(f"gain {gain_db:.1f} dB is held: peaks reach {chosen.peak_dbfs:.1f} dBFS, around {where}")
        for note in chosen.notes:
            say(note)
    if rig.gain_db is not None and abs(gain_db - rig.gain_db) > SAME_GAIN_DB:
        held = f"shop.toml gives rig {rig.name} gain_db = {rig.gain_db:.1f}: levels are meant at that"
        say(f"{held}; write {gain_db:.1f} there if this gain is to stay")
    elif rig.gain_db is None:
        say(f"to hold this gain for good, write gain_db = {gain_db:.1f} under [rigs.{rig.name}] in shop.toml")
    return gain_db
