"""The 19 kHz stereo pilot in a discriminated channel.

The multiplex is turned down by 19 kHz and slowed to about 400 samples a second through Hann-weighted frames that halve-overlap;
the line is looked for in one-second segments of that. Noise and programme have no line there: the pilot is decided by its line
over its surroundings, not by its amplitude, since discriminated noise holds 0.8 kHz of "pilot" in a narrow filter.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import scipy.special

from bandscan.dsp.line import (
    Line,
    LineSum,
    bins_around,
    peak_among,
    places_within,
    slow_noise,
    slow_response,
    strongest_line,
    threshold,
)
from bandscan.dsp.spectrum import HANN_NOISE_BINS

RealArray = npt.NDArray[np.float32]
ComplexArray = npt.NDArray[np.complex64]

PILOT_HZ = 19_000.0
FALSE_RATE = 1e-4  # a channel of noise is taken for stereo this often by the line test alone
LEGAL_ERROR_HZ = 3.0  # 47 CFR 73.322: 19 kHz within 2 Hz; one more for the measurement
CLOCK_ERROR = 100e-6  # of the receiver: a cheap crystal's worst
DEVIATION_RANGE_HZ = (1_000.0, 10_000.0)  # legal 6.0-7.5 kHz (47 CFR 73.322, BS.450 8-10 % of 75 kHz), with room for practice
SMEAR_HZ = 150.0  # blocks of 7 ms that were lost or came twice scatter nine tenths of it so far
_SLOW_HZ = 400.0
_SEARCH_HZ = LEGAL_ERROR_HZ + PILOT_HZ * CLOCK_ERROR


class PilotSum:
    """Pilot line of several channels at once. Samples arrive as they are demodulated; nothing but sums is kept."""

    def __init__(self, channels: int, rate_hz: float, samples: int, chunk: int = 1) -> None:
        """`samples` is how many samples each channel will bring in all: the segments are laid out by it.

        Where they come in multiples of `chunk`, frames that divide it spare a copy.
        """
        self.frame = max(8, round(rate_hz / _SLOW_HZ))
        near = [frame for frame in range(max(8, self.frame * 4 // 5), self.frame * 5 // 4) if chunk % frame == 0]
        self.frame = min(near, key=lambda frame: abs(frame - self.frame), default=self.frame)
        self.rate_hz = rate_hz
        slow_rate = rate_hz / self.frame
        slow_samples = max(1, samples // self.frame - 1)
        segments = max(1, round(slow_samples / slow_rate))
        self._length = max(1, slow_samples // segments)
        self._sums = [LineSum(self._length, slow_rate) for _ in range(channels)]
        self._kept = LineSum(self._length, slow_rate)  # what the parts left out make of an unbroken line
        angle = 2 * np.pi * PILOT_HZ / rate_hz * np.arange(2 * self.frame)
        taper = np.hanning(2 * self.frame + 1)[:-1]
        taper *= 2.0 / taper.sum()  # a line of peak deviation d gives a slow signal of amplitude d
        self._taper = (taper / 2.0).reshape(2, -1).T.astype(np.float32)
        # first and second half of the weights apart: each frame of samples serves both halves of the frames of weights
        weights = np.concatenate([(np.cos(angle) * taper).reshape(2, -1), (-np.sin(angle) * taper).reshape(2, -1)])
        self._weights = weights.astype(np.float32)
        self._turn = -2 * np.pi * ((PILOT_HZ * self.frame / rate_hz) % 1.0)
        self._rest = np.empty((channels, 0), np.float32)
        self._half = np.empty((channels, 0), np.complex64)  # first half of the frame whose second half is to come
        self._slow = np.empty((channels, 0), np.complex64)
        self._there_rest, self._there_half = np.empty(0, np.float32), np.empty(0, np.float32)
        self._there = np.empty(0, np.float32)
        self._frames = 0

    def add(self, frequency_hz: RealArray, whole: npt.NDArray[np.bool_] | None = None) -> None:
        """Adds instantaneous frequencies; shape (channels, samples). [Hz]

        whole: which of as many equal parts of these samples are there; the others are zero.
        """
        self._note_there(frequency_hz.shape[1], np.ones(1, bool) if whole is None else whole)
        joined = np.concatenate([self._rest, frequency_hz], axis=1) if self._rest.shape[1] else frequency_hz
        channels, frames = len(joined), joined.shape[1] // self.frame
        self._rest = joined[:, frames * self.frame :].copy()
        if not frames:
            return
        whole = np.ascontiguousarray(joined[:, : frames * self.frame]).reshape(channels * frames, self.frame)
        parts = (whole @ self._weights.T).reshape(channels, frames, 4)
        first, second = parts[..., 0] + 1j * parts[..., 2], parts[..., 1] + 1j * parts[..., 3]
        starts = np.concatenate([self._half, first], axis=1)
        # frame k starts at sample k * frame: its phase against a steady 19 kHz is taken out
        number = self._frames - self._half.shape[1] + np.arange(starts.shape[1] - 1)
        ready = (starts[:, :-1] + second[:, 1 - self._half.shape[1] :]) * np.exp(1j * self._turn * number)
        self._half = first[:, -1:].astype(np.complex64)
        self._frames += frames
        self._slow = np.concatenate([self._slow, ready.astype(np.complex64)], axis=1)
        while self._slow.shape[1] >= self._length:
            for line_sum, segment in zip(self._sums, self._slow[:, : self._length], strict=True):
                line_sum.add(segment)
            self._kept.add(self._there[: self._length].astype(np.complex64))
            self._slow, self._there = self._slow[:, self._length :], self._there[self._length :]

    def _note_there(self, samples: int, whole: npt.NDArray[np.bool_]) -> None:
        """How much of each slow sample is there."""
        joined = np.concatenate([self._there_rest, np.repeat(whole.astype(np.float32), samples // len(whole))])
        frames = len(joined) // self.frame
        self._there_rest = joined[frames * self.frame :]
        if frames:
            first, second = (joined[: frames * self.frame].reshape(frames, self.frame) @ self._taper).T
            first = np.concatenate([self._there_half, first])
            self._there = np.concatenate([self._there, first[:-1] + second[1 - self._there_half.size :]])
            self._there_half = first[-1:]

    def _kept_share(self) -> tuple[float, float]:
        """Of an unbroken line's power: what the parts left out leave of it, and that over what they leave around it."""
        frequency, power = self._kept.spectrum()
        power = power / slow_response(self.frame, len(power))
        line = float(power[len(power) // 2])
        around = float(power[np.abs(frequency) <= SMEAR_HZ].sum()) / (HANN_NOISE_BINS * self._kept.padding)
        return (line, line / around) if line > 0 else (1.0, 1.0)

    def line(self, channel: int) -> Line:
        """The strongest line near 19 kHz; its power is its peak deviation squared, less the discriminator's droop. [Hz^2]"""
        line_sum = self._sums[channel]
        frequency, power = line_sum.spectrum()
        bins = len(power)
        clear, reach = self._surroundings(line_sum)
        # held against noise as the slowing leaves it; the line itself has lost a little more
        found = strongest_line(frequency, power / slow_noise(bins), search_hz=_SEARCH_HZ, clear_hz=clear, reach_hz=reach)
        at = (slow_noise(bins), slow_response(self.frame, bins))
        noise, response = (float(np.interp(found.offset_hz, frequency, one)) for one in at)
        # a discriminator that subtracts neighbouring phases averages the frequency over one sample
        loss = float(np.sinc(PILOT_HZ / self.rate_hz)) ** 2 * response / noise
        loss *= self._kept_share()[0]
        return Line(found.offset_hz, found.power / loss, found.ratio, found.surroundings / loss, max(line_sum.segments, 1))

    def stray(self, channel: int) -> tuple[float, float] | None:
        """The strongest line near 19 kHz wherever it is: offset [Hz] and share of the power around it; None where none is.

        Pilots that agree on another frequency tell a wrong sample rate; shares below 1 tell lost samples, which turn all alike.
        """
        line_sum = self._sums[channel]
        frequency, power = line_sum.spectrum()
        power = power / slow_response(self.frame, len(power))
        # the quietest quarter is noise, where smear fills the rest; a mean of periodograms is a gamma variate (textbook)
        segments = max(line_sum.segments, 1)
        floor = float(np.quantile(power, 0.25)) * segments / float(scipy.special.gammaincinv(segments, 0.25))
        offset, height = peak_among(frequency, power, 0, len(power))
        near = np.abs(frequency - offset) <= SMEAR_HZ
        around = float((power[near] - floor).sum()) / (HANN_NOISE_BINS * line_sum.padding)
        deviation = np.sqrt(max(around, 0.0))
        if not DEVIATION_RANGE_HZ[0] * 3 <= deviation <= DEVIATION_RANGE_HZ[1]:
            return None
        return offset, min((height - floor) / around / min(self._kept_share()[1], 1.0), 1.0)

    def is_pilot(self, line: Line) -> bool:
        """Line over its surroundings by the stated false rate, and of a deviation that a pilot can have."""
        line_sum = self._sums[0]
        places = places_within(_SEARCH_HZ, line_sum.resolution_hz)
        around = bins_around(*self._surroundings(line_sum), line_sum.resolution_hz)
        low, high = DEVIATION_RANGE_HZ
        wanted = threshold(max(line_sum.segments, 1), places, FALSE_RATE, around)
        return line.ratio >= wanted and low**2 <= line.power <= high**2

    @staticmethod
    def _surroundings(line_sum: LineSum) -> tuple[float, float]:
        """Where the surroundings of the line are read. [Hz]"""
        return max(12.0, 3 * line_sum.resolution_hz), 0.45 * line_sum.rate_hz
