"""The noise under every FM channel of a recording: by its spectrum, and by the stations' multiplexes and envelopes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandscan.dsp import noise
from bandscan.units import db, from_db

RealArray = npt.NDArray[np.float64]

CHANNEL_HALF_WIDTH_HZ = 100e3
MULTIPLEX_SNR_DB = (15.0, 45.0)  # weaker stations click, in stronger ones the programme's own distortion looks like noise
MULTIPLEX_CLEAN_SNR_DB = 25.0  # up to here the programme's own distortion lies well under the noise
MULTIPLEX_SD_DB = 0.3  # how well a multiplex tells its noise, from forged stations


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

    def found(self) -> tuple[noise.Floor, npt.NDArray[np.bool_], float]:
        """The noise in every channel, where it is only an upper bound, and the receiver's slope [dB/Hz]."""
        floor, unseen = self._about(0.0)
        slope = noise.slope(floor, self.centres_hz)
        if slope:
            floor, unseen = self._about(slope)
        return floor, unseen, slope

    def _about(self, slope_db_hz: float) -> tuple[noise.Floor, npt.NDArray[np.bool_]]:
        centres_hz = self.centres_hz
        floor = noise.noise_floor(
            self.density, self.offset_hz, self.averages, centres_hz, self.reach_hz, noise.FM_FLOOR, slope_db_hz
        )
        unseen = floor.witnesses < noise.LEAST_WITNESSES
        for index in np.flatnonzero(unseen):
            floor.density[index] = min(floor.density[index], self._envelope_bound(int(index)))
        if len(centres_hz) == 1:
            floor, unseen[0] = self._alone(floor)
            return floor, unseen
        # a discriminator turns noise under a station into noise that rises with f^2 beside its programme, whatever stands
        # next to the station: that tells the floor of a full band, whose lowest places hold skirts
        told = [self._by_multiplex(index, float(floor.density[index]))[0] for index in range(len(centres_hz))]
        held = noise.held_against(floor, centres_hz, np.array(told), MULTIPLEX_SD_DB, noise.FM_FLOOR)
        # what stations told is no bound any more, but a figure with its uncertainty
        return held, unseen & ((held is floor) | (held.sd_db >= noise.UNSEEN_SD_DB))

    def _in_channel(self, index: int) -> RealArray:
        inside = np.abs(self.offset_hz - self.centres_hz[index]) <= CHANNEL_HALF_WIDTH_HZ
        return np.asarray(self.density[inside], dtype=np.float64)

    def _by_multiplex(self, index: int, floor: float) -> tuple[float, float]:
        """By how much the noise that a station's multiplex shows differs from `floor`, and its ratio by that [dB].

        NaN where there is no station or it tells nothing: too weak or too strong.
        """
        bin_hz = float(self.offset_hz[1] - self.offset_hz[0])
        carrier = float((self._in_channel(index) - floor).sum()) * bin_hz
        ratio = float(self.noise_over_carrier[index])
        if not (carrier > 0 and ratio > 0):
            return np.nan, np.nan
        snr_db = db(1.0 / (ratio * 2 * CHANNEL_HALF_WIDTH_HZ))
        told = MULTIPLEX_SNR_DB[0] <= snr_db <= MULTIPLEX_SNR_DB[1]
        return (db(ratio * carrier / floor) if told else np.nan), snr_db

    def _alone(self, floor: noise.Floor) -> tuple[noise.Floor, bool]:
        """The floor of a recording of one channel, and whether it is only an upper bound.

        Within one channel a station's skirts cannot be told from a floor; its multiplex shows the noise under it, but takes the
        programme's own distortion for noise. Both only ever add: the lower is nearer, and where they agree it is the noise.
        """
        # what few windows witness is an estimate: a bound lies over it by its doubt
        seen = floor.witnesses[0] >= noise.LEAST_WITNESSES
        over_db = 2 * float(floor.sd_db[0]) if seen else 0.0
        unsure = np.maximum(floor.sd_db, noise.UNSEEN_SD_DB)
        change_db, snr_db = self._by_multiplex(0, float(floor.density[0]))
        if np.isnan(change_db):
            return noise.Floor(floor.density * from_db(over_db), unsure, floor.witnesses), True
        doubt_db = float(np.hypot(MULTIPLEX_SD_DB, floor.sd_db[0]))
        # a little more is the programme's, which stays in the multiplex of weak stations too
        agree = -2 * doubt_db <= change_db <= 3 * doubt_db and snr_db <= MULTIPLEX_CLEAN_SNR_DB
        # a bound must not be broken by the multiplex' own doubt
        lower_db = min(change_db, 0.0) if agree else min(change_db + 2 * MULTIPLEX_SD_DB, over_db)
        sd_db = np.maximum(floor.sd_db, MULTIPLEX_SD_DB) if agree else unsure
        return noise.Floor(floor.density * from_db(lower_db), sd_db, floor.witnesses), not agree

    def _envelope_bound(self, index: int) -> float:
        """Noise density of a channel that its station fills, from the scatter of the envelope: at most this much. [1/Hz]

        A carrier with a share s of noise in its power has a scatter of 2 s - s^2 (Rice distribution, textbook); the channel's
        filter and neighbours only add to it.
        """
        scatter = min(max(float(self.scatter[index]), 0.0), 1.0)
        return float(self._in_channel(index).mean()) * (1.0 - float(np.sqrt(1.0 - scatter)))
