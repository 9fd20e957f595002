"""The noise under every FM channel of a recording: by its spectrum, and by the stations' multiplexes and envelopes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from numpy.polynomial import Polynomial

from bandscan.dsp import noise
from bandscan.dsp.response import FLAT, response
from bandscan.units import db, from_db

RealArray = npt.NDArray[np.float64]

CHANNEL_HALF_WIDTH_HZ = 100e3
MULTIPLEX_SNR_DB = (15.0, 45.0)  # weaker stations click, in stronger ones the programme's own distortion looks like noise
MULTIPLEX_SD_DB = 0.3  # how well a multiplex tells its noise, from forged stations
ENVELOPE_SHARES = (0.003, 0.45)  # of noise in a station's power: less is the transmitter's own, more has no carrier
ALONE_SHARE = 0.0063  # the same where a recording holds one channel only
ENVELOPE_SD_DB = 0.2  # the envelope itself tells it within 0.1 dB; the rest is what a weaker neighbour spills
BOTH = (0.7, 0.15)  # the envelope's weight and the uncertainty [dB] where both agree
ENVELOPE_FILTER_DB = 0.06  # the channel's filter passes so much less noise than its nominal width
SPILLS_SNR_DB = 24.0  # a neighbour this far over the noise spills some of it (by simulation: from 22 to 30)
# windows may agree on a skirt by chance: a line that few of them drew may be laid wrong as a whole, and one that none drew
# (checked by simulation on slopes of 5 to 12 dB over the rate)
FEW_DB, FEW = 2.0, 10.0
UNSEEN_DB = (0.3, 1.5)  # its own uncertainty, channel by channel, and that of the whole


@dataclass(frozen=True, eq=False)
class ChannelNoise:
    """What a recording tells of its noise; `found` weighs it.

    density, offset_hz: averaged spectrum [1/Hz] of `averages` frames and its bins' distance from the centre [Hz], ascending.
    centres_hz: the channels' distances from the centre, ascending. [Hz]
    scatter: of each channel's envelope: variance of its power over its mean squared.
    noise_over_carrier: as each channel's multiplex shows it. [1/Hz]
    reach_hz: the spectrum is looked at within this of the centre. [Hz]
    """

    density: RealArray
    offset_hz: RealArray
    averages: float
    centres_hz: RealArray
    scatter: RealArray
    noise_over_carrier: RealArray
    reach_hz: float

    def found(self) -> tuple[noise.Floor, npt.NDArray[np.bool_], Polynomial]:
        """The noise in every channel, where it is only an upper bound, and the receiver's response [dB]."""
        floor, unseen = self._about(FLAT)
        level_db = db(np.maximum(floor.density, 1e-30))
        shape = response(self.centres_hz, level_db, floor.sd_db, floor.seen_db, floor.seen_sd_db)
        if shape.degree():
            floor, unseen = self._about(shape)
        return floor, unseen, shape

    def _about(self, shape: Polynomial) -> tuple[noise.Floor, npt.NDArray[np.bool_]]:
        centres_hz = self.centres_hz
        line = noise.noise_floor(self.density, self.offset_hz, self.averages, centres_hz, self.reach_hz, noise.FM_FLOOR, shape)
        floor = noise.with_seen(line)
        unseen = floor.witnesses < noise.LEAST_WITNESSES
        for index in np.flatnonzero(unseen):
            floor.density[index] = min(floor.density[index], self._envelope_bound(int(index)))
        if len(centres_hz) == 1:
            floor, unseen[0] = self._alone(floor)
            return floor, unseen
        smooth_db = np.where(unseen, UNSEEN_DB[1], FEW_DB * np.exp((noise.LEAST_WITNESSES - floor.witnesses) / FEW))
        floor = replace(floor, sd_db=np.where(unseen, UNSEEN_DB[0], floor.sd_db))
        # stations tell the noise under them, whatever stands next to them: that tells the floor of a full band, whose lowest
        # places hold skirts
        told = [self._told(index, float(floor.density[index])) for index in range(len(centres_hz))]
        change_db, told_sd_db = np.array(told).T
        held = noise.held_against(floor, centres_hz, change_db, told_sd_db, noise.FM_FLOOR, smooth_db)
        # what stations told is no bound any more, but a figure with its uncertainty
        return held, unseen & (held.sd_db >= noise.UNSEEN_SD_DB)

    def _told(self, index: int, floor: float) -> tuple[float, float]:
        """By how much the noise under a station differs from `floor`, and how unsure that is [dB]; NaN where nothing tells.

        By the multiplex, in which a discriminator turns noise into noise that rises with f^2 beside the programme, and by the
        envelope, which noise alone shakes. To both only more can be added, by the programme or a neighbour: the lower counts.
        """
        multiplex_db = self._by_multiplex(index, floor)
        envelope_db = self._by_envelope(index, floor)
        if abs(envelope_db - multiplex_db) <= MULTIPLEX_SD_DB:
            return BOTH[0] * envelope_db + (1.0 - BOTH[0]) * multiplex_db, BOTH[1]
        if np.isnan(envelope_db) or multiplex_db < envelope_db:
            return multiplex_db, MULTIPLEX_SD_DB
        return envelope_db, ENVELOPE_SD_DB

    def _by_envelope(self, index: int, floor: float) -> float:
        """By how much the noise that shakes a station's envelope differs from `floor` [dB]; NaN where it tells nothing."""
        share = shaken(float(self.scatter[index]))
        if not ENVELOPE_SHARES[0] <= share <= ENVELOPE_SHARES[1]:
            return float("nan")
        change_db = db(share * float(self._in_channel(index).mean()) / floor) + ENVELOPE_FILTER_DB
        bin_hz = float(self.offset_hz[1] - self.offset_hz[0])
        excess, offset_hz = (self.density - floor) * bin_hz, self.offset_hz - self.centres_hz[index]
        spilt = beside(excess, offset_hz) > from_db(SPILLS_SNR_DB) * floor * 2 * CHANNEL_HALF_WIDTH_HZ
        # what a strong neighbour spills only adds: less than the floor is less all the same
        return float("nan") if spilt and change_db > 0 else float(change_db)

    def _in_channel(self, index: int) -> RealArray:
        inside = np.abs(self.offset_hz - self.centres_hz[index]) <= CHANNEL_HALF_WIDTH_HZ
        return np.asarray(self.density[inside], dtype=np.float64)

    def _by_multiplex(self, index: int, floor: float) -> float:
        """By how much the noise that a station's multiplex shows differs from `floor` [dB].

        NaN where there is no station or it tells nothing: too weak or too strong.
        """
        bin_hz = float(self.offset_hz[1] - self.offset_hz[0])
        carrier = float((self._in_channel(index) - floor).sum()) * bin_hz
        ratio = float(self.noise_over_carrier[index])
        if not (carrier > 0 and ratio > 0):
            return float("nan")
        snr_db = db(1.0 / (ratio * 2 * CHANNEL_HALF_WIDTH_HZ))
        return db(ratio * carrier / floor) if MULTIPLEX_SNR_DB[0] <= snr_db <= MULTIPLEX_SNR_DB[1] else float("nan")

    def _alone(self, floor: noise.Floor) -> tuple[noise.Floor, bool]:
        """The floor of a recording of one channel, and whether it is only an upper bound.

        Within one channel a station's skirts cannot be told from a floor; its multiplex and envelope show the noise under it,
        but take the programme's own distortion for noise. All only ever add: the lower is nearer, and where they agree it is
        the noise.
        """
        # what few windows witness is an estimate: a bound lies over it by its doubt
        seen = floor.witnesses[0] >= noise.LEAST_WITNESSES
        over_db = 2 * float(floor.sd_db[0]) if seen else 0.0
        unsure = np.maximum(floor.sd_db, noise.UNSEEN_SD_DB)
        change_db, told_sd_db = self._told(0, float(floor.density[0]))
        doubt_db = float(np.hypot(told_sd_db, floor.sd_db[0]))
        # a little more is the programme's, which stays in the multiplex of weak stations too; over strong ones' noise lies what
        # the recording's edges cut from their widest swings, in floor, multiplex and envelope alike
        if shaken(float(self.scatter[0])) >= ALONE_SHARE and -2 * doubt_db <= change_db <= 3 * doubt_db:
            sd_db = np.maximum(floor.sd_db, told_sd_db)
            return replace(floor, density=floor.density * from_db(min(change_db, 0.0)), sd_db=sd_db), False
        # a bound must not be broken by the multiplex' own doubt
        lower_db = float(np.fmin(self._by_multiplex(0, float(floor.density[0])) + 2 * MULTIPLEX_SD_DB, over_db))
        return replace(floor, density=floor.density * from_db(lower_db), sd_db=unsure), True

    def _envelope_bound(self, index: int) -> float:
        """Noise density of a channel that its station fills, from the scatter of the envelope: at most this much. [1/Hz]"""
        return float(self._in_channel(index).mean()) * shaken(float(self.scatter[index]))


def shaken(scatter: float) -> float:
    """Share of a channel's power that shakes its envelope, from the variance of the envelope's power over its mean squared.

    A carrier with a share s of noise in its power scatters by 2 s - s^2 (Rice distribution, textbook). The channel's filter and
    neighbours only add to it.
    """
    return 1.0 - float(np.sqrt(1.0 - min(max(scatter, 0.0), 1.0)))


def beside(excess: RealArray, offset_hz: RealArray) -> float:
    """Power of the stronger of the two bands of a channel's width next to a channel, from each bin's power over the noise."""
    half = CHANNEL_HALF_WIDTH_HZ
    return max(float(excess[(side * offset_hz > half) & (side * offset_hz <= 3 * half)].sum()) for side in (-1, 1))
