"""What an FM channel holds, from one recording's READINGS.

An FM station is an emission of some width around its channel's carrier whose envelope is steady, because frequency modulation
leaves the amplitude alone. Noise, digital sidebands and pieces of a neighbour have an envelope that scatters like noise.
`steadiness` puts that scatter on a scale on which a carrier in noise of the measured ratio is 1 and noise is 0.
What the receiver makes itself is told by its phase: an image by its mirror, a product by its makers.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import Any

import pandas as pd

from bandscan.plans import BandPlan
from bandscan.survey.judgement import Judgement
from bandscan.tables import CENTRE_IN_DOUBT, RATE_IN_DOUBT
from bandscan.units import db, from_db

LEAST_SNR_DB = -3.0  # an emission weaker than this in its channel is not told from the floor's own doubt
STEADY = 0.55  # steadiness from which an envelope is that of an FM emission that echoes, a spark or a neighbour shake
UNSHAKEN = 0.8  # of one that nothing shakes: 285 made ones had 0.88 and more, two carriers 0.5
NOISY = 0.35  # below this it is that of noise
GUSTS = 0.2  # below this a pilot in a weak emission is a stronger neighbour's, if there is one
GUSTS_HZ = 400_000  # as far away
LEAST_WIDTH_HZ = 9e3  # a modulated emission is wider; speech fills 30 kHz, a bare carrier with its pilot 38 kHz
LINE_SHARE = 0.85  # more than this in at most three lines: unmodulated; speech and test tones leave 0.15
OFF_CHANNEL_HZ = 25e3  # centre of gravity further out than this: not a station of this channel
CARRIER_SDS = 2.0  # standard uncertainties further out
NEIGHBOUR_DB = 6.0  # a neighbour stronger by this explains what leans towards it
MADE_SHARE = 0.5  # this much of an emission explained by an image or a product: made in the receiver
DOUBTFUL_SHARE = 0.2
LEAST_OVER_DIGITAL = 0.25  # an emission must stand out of a digital sideband's own doubt by this share of it
DIGITAL_HZ = 200_000  # a digital sideband lies in the channel this far from its station's
DIGITAL_SHAKES = 0.7
DIGITAL_DB = 8.0  # each is at least 10 dB below its carrier (common practice), less 2 for the measurement
WIDEST_HZ, COMB_SHARE = 165e3, 0.3  # weak stations reach 148 kHz, and 0.14 in three lines (300 made ones, -3 to 6 dB)
SWEPT_SHARE = 0.03  # in three lines of what is spread evenly from one end of the channel to the other; wide stations have 0.04
PROGRAMME_SNR_DB = 9.0  # from here up clicks hide no programme: a receiver makes 25 dB of audio of it and more (textbook)
PROGRAMME_AUDIO_DB = 10.0  # less, multipath and all: there is none
HALF_DB = 4.0  # half of a station, seen from the next channel of a 100 kHz raster, is 3 dB weaker; 1 more for the measurement
CARRIER_HZ = 12e3  # a station's carrier is this near: 2 kHz (47 CFR 73.1545) and 100 ppm of the receiver
OWN_CARRIER_HZ = 4e3  # the same where other stations tell the receiver's clock: 2 kHz each
CLOCK_SNR_DB, CLOCK_STATIONS = 15.0, 2  # stereo stations this strong, and so many, tell it


@dataclass(frozen=True)
class _Channel:
    """One reading with what the rules ask of it; absent figures are NaN."""

    hz: int
    level_db: float
    snr_db: float
    width_hz: float
    centroid_hz: float
    line_share: float
    core_db: float
    scatter: float
    carrier_hz: float
    carrier_sd_hz: float
    pilot: bool
    noise_db: float
    digital_db: float
    image_share: float
    product_share: float
    product_of: str
    audio_snr_db: float
    hum_only: bool
    place_in_doubt: bool

    @classmethod
    def of(cls, row: Mapping[Hashable, Any]) -> _Channel:
        """The channel of one READINGS row."""
        pilot = False if pd.isna(row["pilot"]) else bool(row["pilot"])
        return cls(
            hz=int(row["channel_hz"]),
            level_db=float(row["level_dbfs"]),
            snr_db=float(row["snr_db"]),
            width_hz=float(row["width_hz"]),
            centroid_hz=float(row["centroid_hz"]),
            line_share=float(row["line_share"]),
            core_db=float(row["core_dbfs"]),
            scatter=float(row["envelope_scatter"]),
            carrier_hz=float(row["carrier_error_hz"]),
            carrier_sd_hz=float(row["carrier_sd_hz"]),
            pilot=pilot,
            noise_db=float(row["noise_dbfs"]),
            digital_db=float(row["digital_dbfs"]),
            image_share=float(row["image_share"]),
            product_share=float(row["product_share"]),
            product_of="" if pd.isna(row["product_of"]) else str(row["product_of"]),
            audio_snr_db=float(row["audio_snr_db"]),
            hum_only="hum-only" in str(row["remarks"]).split(";"),
            place_in_doubt=not {CENTRE_IN_DOUBT, RATE_IN_DOUBT}.isdisjoint(str(row["remarks"]).split(";")),
        )

    @property
    def own_power(self) -> float:
        """Power of the emission without a neighbour's digital sideband; at most 0 where that is all there is."""
        return from_db(self.level_db) - self.digital_power

    @property
    def digital_power(self) -> float:
        """Power of neighbours' digital sidebands in this channel."""
        return 0.0 if math.isnan(self.digital_db) else from_db(self.digital_db)

    @property
    def steadiness(self) -> float:
        """1 for a steady carrier in noise (a digital sideband included) of the measured ratio, 0 for noise alone.

        A carrier of power r times the noise's has a power whose variance over its mean squared is (2 r + 1) / (r + 1)^2
        (Rice distribution, textbook).
        """
        r = self.own_power / (from_db(self.noise_db) + self.digital_power)
        return (1.0 - self.scatter) * ((r + 1.0) / r) ** 2 if r > 0 else 0.0

    @property
    def emission_share(self) -> float:
        """Share of the channel's power that is not noise."""
        r = from_db(self.snr_db)
        return r / (r + 1.0)


def judge_fm(readings: pd.DataFrame, plan: BandPlan) -> list[Judgement]:
    """One judgement for each row of one capture's READINGS, in order."""
    channels = [_Channel.of(row) for row in readings.to_dict("records")]
    by_hz = {channel.hz: channel for channel in channels}
    clock = _clock(channels)
    judged = [_judge(channel, by_hz, clock) for channel in channels]
    return [
        replace(one, holds="unsure") if _unsure(channel, one) else one for channel, one in zip(channels, judged, strict=True)
    ]


def _unsure(channel: _Channel, judged: Judgement) -> bool:
    """Whether what the channel itself shows is in doubt for what the whole recording shows, or for want of a programme."""
    # a supply's or an oscillator's line that hum or wander sways is as steady as a station, and a station may pause
    swayed = channel.hum_only and judged.holds == "station"
    return swayed or (channel.place_in_doubt and judged.holds in ("station", "spur", "sideband"))


def _clock(channels: Sequence[_Channel]) -> tuple[float, float]:
    """Where carriers stand in this recording, from their nominal places, and how far from there a station's may be. [Hz]"""
    sure = [
        one.carrier_hz for one in channels if one.pilot and one.snr_db >= CLOCK_SNR_DB and abs(one.carrier_hz) <= CARRIER_HZ
    ]
    middle = median(sure) if sure else 0.0
    if len(sure) < CLOCK_STATIONS or max(abs(hz - middle) for hz in sure) > OWN_CARRIER_HZ:
        return 0.0, CARRIER_HZ
    return middle, OWN_CARRIER_HZ


def _judge(channel: _Channel, by_hz: dict[int, _Channel], clock: tuple[float, float]) -> Judgement:
    if math.isnan(channel.level_db):
        return Judgement("empty")
    # gusts of a strong neighbour carry its 19 kHz, but scatter like noise and more; a carrier in noise never does (Rice)
    weak = channel.snr_db < PROGRAMME_SNR_DB
    gusts = channel.scatter >= 1.0 or (weak and channel.steadiness < GUSTS and _beside_stronger(channel, by_hz))
    own_pilot = channel.pilot and abs(channel.carrier_hz) <= CARRIER_HZ and not gusts
    leaning = abs(channel.centroid_hz) > OFF_CHANNEL_HZ
    neighbour = _strong_neighbour(channel, by_hz)
    if channel.snr_db < LEAST_SNR_DB:
        # a pilot under so much noise is a station's, but whose it is the shape cannot tell any more
        clear = own_pilot and not leaning and neighbour is None
        return Judgement("unsure", "pilot-in-the-noise") if clear else Judgement("empty")
    made = _made_in_receiver(channel)
    if made is not None:
        return made
    if not own_pilot and (channel.line_share >= LINE_SHARE or channel.width_hz < LEAST_WIDTH_HZ):
        if neighbour is not None and leaning:
            return Judgement("sideband", f"of-{neighbour.hz / 1e6:.1f}")
        return Judgement("spur", f"unmodulated;at{channel.centroid_hz / 1e3:+.0f}kHz")
    if neighbour is not None and _carries_digital(neighbour, channel):
        return _beside_digital(channel, neighbour, own_pilot)
    if neighbour is not None and _between(channel, by_hz):
        return Judgement("sideband", f"between-{neighbour.hz / 1e6:.1f}-and-its-like")
    if neighbour is not None and (leaning or channel.steadiness < NOISY) and not (own_pilot and not leaning):
        return Judgement("sideband", f"of-{neighbour.hz / 1e6:.1f}")
    if leaning and not own_pilot:
        if _leans_out(channel, by_hz):
            return Judgement("sideband", "of-a-channel-beyond-the-recording")
        return Judgement("spur", f"off-raster;at{channel.centroid_hz / 1e3:+.0f}kHz")
    if not own_pilot and weak and channel.width_hz > WIDEST_HZ and not SWEPT_SHARE < channel.line_share < COMB_SHARE:
        return Judgement("unsure", "lines")  # a comb's, from one end of the channel to the other, at rest or swept
    off_hz = abs(channel.carrier_hz - clock[0])
    if not own_pilot and off_hz > clock[1] + CARRIER_SDS * channel.carrier_sd_hz:
        return Judgement("unsure", f"off-raster;at{channel.carrier_hz / 1e3:+.0f}kHz")
    if own_pilot or channel.steadiness >= (UNSHAKEN if off_hz > OWN_CARRIER_HZ else STEADY):
        # a swept clock is as steady as a station, and has nothing to hear
        heard = own_pilot or weak or channel.audio_snr_db >= PROGRAMME_AUDIO_DB
        return Judgement("station") if heard else Judgement("unsure", "no-programme")
    if channel.steadiness < NOISY:
        return Judgement("unsure", "noise-like")
    return Judgement("unsure", "unsteady-envelope")


def _made_in_receiver(channel: _Channel) -> Judgement | None:
    """A phantom, or doubt about one, by the share of the emission that an image or a product explains."""
    shares = ((channel.image_share, "image"), (channel.product_share, f"product-of-{channel.product_of}"))
    share, what = max((0.0 if math.isnan(share) else share, what) for share, what in shares)
    explained = share / channel.emission_share
    if explained >= MADE_SHARE:
        return Judgement("phantom", what)
    if explained >= DOUBTFUL_SHARE:
        return Judgement("unsure", f"partly-{what}")
    return None


def _carries_digital(neighbour: _Channel, channel: _Channel) -> bool:
    """Whether what lies in the channel can be the neighbour's digital sideband: 200 kHz away, and weak beside it."""
    weak = channel.digital_power <= from_db(neighbour.level_db - DIGITAL_DB)
    # a share s of noise-like power scatters the envelope by 2 s - s^2 at least: crossing skirts that pass for a block do not
    noise_like = from_db(channel.noise_db) + channel.digital_power
    share = min(noise_like / (from_db(channel.noise_db) + from_db(channel.level_db)), 1.0)
    shaken = channel.scatter >= DIGITAL_SHAKES * (2.0 * share - share**2)
    return abs(neighbour.hz - channel.hz) == DIGITAL_HZ and channel.digital_power > 0 and weak and shaken


def _beside_digital(channel: _Channel, neighbour: _Channel, own_pilot: bool) -> Judgement:
    """A channel in which a neighbour's digital sideband lies: that alone, or a station under it."""
    of = f"digital-of-{neighbour.hz / 1e6:.1f}"
    if channel.own_power < LEAST_OVER_DIGITAL * channel.digital_power:
        return Judgement("sideband", of)
    level_db = db(channel.own_power)
    over = channel.own_power / (from_db(channel.noise_db) + channel.digital_power)
    if (own_pilot or channel.steadiness >= STEADY) and db(over) < LEAST_SNR_DB:
        return Judgement("unsure", of, level_db)
    if own_pilot or channel.steadiness >= STEADY:
        return Judgement("station", f"{of}-taken-off", level_db)
    if channel.steadiness < NOISY:
        return Judgement("sideband", of)
    return Judgement("unsure", of, level_db)


def _strong_neighbour(channel: _Channel, by_hz: dict[int, _Channel]) -> _Channel | None:
    """The strongest channel within 200 kHz that explains this one, on the side towards which it leans if it leans."""
    found = None
    for step in (-200_000, -100_000, 100_000, 200_000):
        other = by_hz.get(channel.hz + step)
        if other is None or math.isnan(other.level_db):
            continue
        if abs(channel.centroid_hz) > OFF_CHANNEL_HZ and channel.centroid_hz * step < 0:
            continue
        if abs(step) == 100_000:
            # the two share most of their spectrum: the emission is at the channel in whose middle it lies
            explains = other.level_db >= channel.level_db - HALF_DB and abs(other.centroid_hz) < OFF_CHANNEL_HZ
        else:
            explains = other.level_db >= channel.level_db + NEIGHBOUR_DB
        if explains and (found is None or other.level_db > found.level_db):
            found = other
    return found


def _leans_out(channel: _Channel, by_hz: dict[int, _Channel]) -> bool:
    """Whether an emission at the end of several channels stands towards one that the recording does not cover."""
    end = max(by_hz) if channel.centroid_hz > 0 else min(by_hz)
    return len(by_hz) > 2 and channel.hz == end


def _beside_stronger(channel: _Channel, by_hz: dict[int, _Channel]) -> bool:
    """Whether a far stronger channel is near."""
    near = (other for hz, other in by_hz.items() if 0 < abs(hz - channel.hz) <= GUSTS_HZ)
    return any(other.level_db >= channel.level_db + NEIGHBOUR_DB for other in near)


def _between(channel: _Channel, by_hz: dict[int, _Channel]) -> bool:
    """A channel of a 100 kHz raster between two stations 200 kHz apart, made of a half of each: less steady than either."""
    sides = [by_hz.get(channel.hz + step) for step in (-100_000, 100_000)]
    return all(
        side is not None
        and side.level_db >= channel.level_db - HALF_DB
        and abs(side.centroid_hz) < OFF_CHANNEL_HZ
        and side.scatter < channel.scatter
        for side in sides
    )
