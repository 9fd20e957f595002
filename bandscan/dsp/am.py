"""AM carriers: level, frequency, modulation depth and the 25 Hz stereo pilot of one channel at 12 kS/s.

Definitions. Carrier level: power of the line nearest the nominal carrier, Hann-weighted over segments of about two seconds.
Depth: 99.5th percentile of abs(in-phase envelope / carrier - 1) of what the channel's filter passes (half amplitude 5 kHz from
the carrier, 4.5 kHz on a 9 kHz raster), less what the noise adds, whose size is read from the quadrature component. Sidebands:
power of one phase beyond that of the phase across it (see `CarrierSum.sidebands`).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from bandscan.dsp.hum import MAINS_DRIFT, MAINS_HZ
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
from bandscan.dsp.phasor import BLOCK, padded, phasor, turned_sums
from bandscan.dsp.spectrum import HANN_NOISE_BINS

ComplexArray = npt.NDArray[np.complex64]
RealArray = npt.NDArray[np.float64]

FALSE_RATE = 1e-6  # a channel of noise shows a "carrier" this often
SEARCH_HZ = 180.0  # 20 Hz legal error (47 CFR 73.1545) and 100 ppm of the receiver at 1.6 MHz
NOTES_HZ = 30.0  # programmes hold little lower than this (common practice)
FAR_HZ = 10.0  # nearer than this a note of 400 Hz folds onto its carrier by less than -40 dB
STEREO_PILOT_HZ = 25.0  # 47 CFR 73.128
STEREO_DEPTH = (0.01, 0.12)  # pilot's amplitude in the quadrature over the carrier: 5 % nominal (from memory), with room
STEREO_FALSE_RATE = 1e-4
STEREO_SEARCH_HZ = 0.6
STEREO_REACH_HZ = 20.0
SECOND_REACH_HZ = 60.0  # two stations each within 20 Hz (47 CFR 73.1545), with room
SECOND_CLEAR_HZ = 1.6  # nearer the first carrier's own line covers it
SECOND_LEAST = 10**-3.2  # weaker than this a line is as likely hum on one side
SECOND_OVER_PARTNER = 4.0
DEPTH_LINE_RATIO = 300.0  # a carrier 15 dB over its channel's noise and under a loud programme stands this far out of both
MODULATED_SIGMAS = 4.5
TURNED_SIGMAS = 5.5  # over any phase: as rare by Rayleigh's distribution
LEAST_SIDEBANDS = 1e-5  # 0.45 % of depth: less is the arithmetic's own, or hum
HUM_HZ = (*MAINS_HZ, *(2.0 * one for one in MAINS_HZ))  # of the mains, and of what rectifies both halves of it
HUM_RIPPLE = 0.08  # in further lines, over those: twice that of a sine rectified in both halves (Fourier series, textbook)
QUICK_BLOCK = 64  # samples at 12 kS/s: their means hold nearly all that is slower than 30 Hz, and little of a programme
# of what blocks of 256 leave, blocks of 64 leave 0.06 to 0.1 up to 30 Hz, 0.3 at 60 Hz and all from 200 Hz up (sinc, textbook)
QUICK_SHARE = 0.2
FADED = 0.3  # of a carrier's mean amplitude: its envelope is not held against less
_DEPTH_STEP = 0.002
_DEPTH_REACH = 2.0
_PARTS = 4  # of a segment, through whose means a carrier's phase is followed
_MOST_KEPT = 512  # segments, a quarter of an hour: memory does not grow
_SHORT_PARTS, _STEADY = 16, 0.15  # in which a smeared carrier is nearly whole; those of a steady one differ by less


class Workspace:
    """Memory for one segment of `length` samples, shared by the channels that are added one after the other."""

    def __init__(self, length: int) -> None:
        self.phasor = np.empty(padded(length), np.complex64)
        self.envelope = np.empty(length, np.complex64)
        self.phases, self.size = np.empty((2, length), np.float32), np.empty(length, np.float32)  # in phase, in quadrature
        self.place = np.empty(length, np.intp)
        # where blocks begin, short ones and of these long ones, and the roots of how many samples each holds
        self.short = np.arange(0, length, QUICK_BLOCK)
        self.long = np.arange(0, len(self.short), BLOCK // QUICK_BLOCK)
        self.short_root = np.sqrt(np.diff(np.append(self.short, length)))
        self.long_root = np.sqrt(np.diff(np.append(self.long * QUICK_BLOCK, length)))


class CarrierSum:
    """Running figures of one AM channel. Segments of `length` samples at `rate_hz`; memory does not grow."""

    def __init__(self, length: int, rate_hz: float, work: Workspace | None = None) -> None:
        self.length, self.rate_hz = length, rate_hz
        # to about 400 S/s through overlapping Hann frames; their response is known, so it is taken off the level
        self.frame = max(4, min(round(rate_hz / 400.0), length // 8))
        taper = np.hanning(2 * self.frame + 1)[:-1]
        self._taper = (taper / taper.sum()).astype(np.float32).reshape(2, self.frame).T.copy()
        slow_length = length // self.frame - 1
        self._carrier = LineSum(slow_length, rate_hz / self.frame)
        self._stereo = LineSum(slow_length, rate_hz / self.frame)
        self._depths = np.zeros(round(_DEPTH_REACH / _DEPTH_STEP), np.int64)
        # powers in phase and in quadrature, and their products: of what blocks leave of the envelope, and what short ones leave
        self._sums, self._quick = np.zeros((2, 2)), np.zeros((2, 2))
        self._samples = 0
        # sums of the carrier's amplitude over segments, and over short parts of them; the parts' powers
        self._whole = self._in_parts = 0.0
        self._part_powers: list[RealArray] = []
        self._centre_hz = 0.0  # where the slowed signal has its zero, from the nominal carrier
        self._work = work or Workspace(length)

    @property
    def segments(self) -> int:
        """Segments added so far."""
        return self._carrier.segments

    @property
    def followed_s(self) -> float:
        """Time over which a carrier was followed. [s]"""
        return self._samples / self.rate_hz

    @property
    def resolution_hz(self) -> float:
        """Width of one independent bin of the carrier's spectrum. [Hz]"""
        return self._carrier.resolution_hz

    def add(self, segment: ComplexArray) -> None:
        """Adds one segment of the channel; shape (length,)."""
        alone, line = self._looked_at(segment)
        if not self.segments and self._is_carrier(line, 1) and abs(line.offset_hz) > FAR_HZ:
            # the slowing folds a programme's notes of 400 Hz onto a carrier far from its middle: it is moved there first
            self._centre_hz = line.offset_hz
            alone, line = self._looked_at(segment)
        self._carrier.merge(alone)
        if not self._is_carrier(line, 1):
            return
        work = self._work
        whole, parts = _followed(segment, (self._centre_hz + line.offset_hz) / self.rate_hz, work)
        self._whole, self._in_parts = self._whole + whole, self._in_parts + float(parts.mean())
        if len(self._part_powers) < _MOST_KEPT:
            self._part_powers.append(parts**2)
        in_phase, quadrature = work.phases
        np.subtract(work.envelope.real, np.float32(1.0), out=in_phase)
        np.copyto(quadrature, work.envelope.imag)
        if line.ratio >= DEPTH_LINE_RATIO:
            np.abs(in_phase, out=work.size)
            np.multiply(work.size, np.float32(1.0 / _DEPTH_STEP), out=work.size)
            np.clip(work.size, np.float32(0.0), np.float32(len(self._depths) - 1), out=work.size)
            np.copyto(work.place, work.size, casting="unsafe")
            self._depths += np.bincount(work.place, minlength=len(self._depths))
        # what changes more slowly than a programme is the carrier's, or the receiver's
        slow, cross = np.add.reduceat(work.phases, work.short, axis=1), np.dot(in_phase, quadrature)
        all_of = np.array([[np.dot(in_phase, in_phase), cross], [cross, np.dot(quadrature, quadrature)]])
        self._quick += all_of - _squared(slow / work.short_root)
        self._sums += all_of - _squared(np.add.reduceat(slow, work.long, axis=1) / work.long_root)
        self._samples += len(segment)
        self._stereo.add(self._slowed(quadrature).astype(np.complex64))

    def _looked_at(self, segment: ComplexArray) -> tuple[LineSum, Line]:
        """The spectrum of one segment around `_centre_hz`, and its carrier's line there."""
        if self._centre_hz:
            turn = phasor(len(segment), -self._centre_hz / self.rate_hz, out=self._work.phasor)
            segment = np.multiply(segment, turn, out=self._work.envelope)
        alone = LineSum(self._carrier.length, self._carrier.rate_hz)
        alone.add(self._slowed(segment))
        return alone, self._nearest(alone)

    def _slowed(self, segment: npt.NDArray[np.inexact[Any]]) -> Any:
        frames = len(segment) // self.frame
        parts = segment[: frames * self.frame].reshape(frames, self.frame)
        halves = parts @ self._taper.astype(segment.dtype)
        return halves[:-1, 0] + halves[1:, 1]

    def _nearest(self, line_sum: LineSum) -> Line:
        frequency, power = line_sum.spectrum()
        # held against noise as the slowing leaves it; a line has lost a little more
        noise, response = slow_noise(len(power)), slow_response(self.frame, len(power))
        power = power / noise
        middle, step = len(power) // 2, line_sum.rate_hz / len(power)
        reach = int(min(SEARCH_HZ, 0.45 * line_sum.rate_hz) / step)
        offset, height = peak_among(frequency, power, middle - reach, middle + reach + 1)
        # a mean of the surroundings would hold the line's own skirts and the programme's lowest notes: the median is taken,
        # which in noise is ln 2 of the mean
        place, clear = middle + round(offset / step), math.ceil(4 * line_sum.resolution_hz / step)
        beside = np.concatenate([power[: max(place - clear, 0)], power[place + clear + 1 :]])
        if not len(beside):
            beside = power
        around = float(np.partition(beside, len(beside) // 2)[len(beside) // 2]) / math.log(2)
        gain = float(noise[place] / response[place])
        return Line(offset, max(height - around, 0.0) * gain, height / max(around, 1e-300), around * gain)

    def _is_carrier(self, line: Line, averages: int) -> bool:
        places = places_within(SEARCH_HZ, self._carrier.resolution_hz)
        return line.ratio >= threshold(averages, places, FALSE_RATE)

    def line(self) -> tuple[Line, bool]:
        """The carrier's line (power of the carrier, offset in Hz) and whether it is one."""
        if not self.segments:
            return Line(0.0, 0.0, 0.0, 0.0), False
        found = self._nearest(self._carrier)
        # what moves the line stands next to it; the notes of a programme further off do not
        frequency, power = self._carrier.spectrum()
        away = np.abs(frequency - found.offset_hz)
        near = power[(away > 4 * self.resolution_hz) & (away < NOTES_HZ)]
        around = min(float(np.median(near)) / math.log(2) if len(near) else np.inf, found.surroundings)
        here = replace(found, offset_hz=self._centre_hz + found.offset_hz, surroundings=around, averages=self.segments)
        return here, self._is_carrier(found, self.segments)

    def second(self) -> tuple[float, float] | None:
        """A second carrier on the channel: distance from the first [Hz] and power over the first's; None where there is none.

        Amplitude and phase modulation make pairs of lines; a line that has no partner at the other side of the carrier is a
        carrier of its own.
        """
        if not self.segments:
            return None
        frequency, power = self._carrier.spectrum()
        power = power / slow_response(self.frame, len(power))
        first = self._nearest(self._carrier)
        place = int(np.argmin(np.abs(frequency - first.offset_hz)))
        step = float(frequency[1] - frequency[0])
        reach = min(round(SECOND_REACH_HZ / step), place, len(power) - 1 - place)
        clear = max(round(SECOND_CLEAR_HZ / step), round(3 * self._carrier.padding))
        if reach <= clear:
            return None
        above, below = power[place + clear : place + reach + 1], power[place - reach : place - clear + 1][::-1]
        # the partner may lie a bin beside the mirrored place, since the first carrier lies between two bins
        partner_of_above, partner_of_below = (
            np.max([np.roll(side, shift) for shift in (-2, -1, 0, 1, 2)], axis=0) for side in (below, above)
        )
        alone_above, alone_below = (
            above - SECOND_OVER_PARTNER * partner_of_above,
            below - SECOND_OVER_PARTNER * partner_of_below,
        )
        side, alone = (1, alone_above) if alone_above.max() >= alone_below.max() else (-1, alone_below)
        peak = int(np.argmax(alone))
        height = float((above if side > 0 else below)[peak])
        places = places_within(SECOND_REACH_HZ, self._carrier.resolution_hz)
        least = threshold(self.segments, places, FALSE_RATE) * first.surroundings
        if alone[peak] <= 0 or height < max(least, SECOND_LEAST * first.power):
            return None
        return side * (clear + peak) * step, height / first.power

    def depth(self, noise_over_carrier: float | None = None) -> float:
        """Modulation depth by the definition above; NaN where no carrier was followed.

        A stereo station sends its difference in the quadrature: there the noise, half of which stands in phase, is
        `noise_over_carrier`, the channel's noise power over the carrier's, where that is known.
        """
        if not self._depths.any():
            return float("nan")
        place = (np.arange(len(self._depths)) + 0.5) * _DEPTH_STEP
        share = np.cumsum(self._depths) / self._depths.sum()
        high, below = (float(np.interp(level, share, place)) for level in (0.995, 0.98))
        # noise of variance v lifts a percentile by v/2 times the fall of the logarithm of the density there: an exponential
        # tail through the two percentiles gives that fall; noise alone cannot lift it by more than its own share
        variance = float(self._sums[1, 1]) / self._samples
        if noise_over_carrier is not None and self.stereo():
            variance = min(variance, 0.5 * noise_over_carrier)
        fall = math.log(0.02 / 0.005) / max(high - below, 1e-3)
        return max(high - min(0.5 * variance * fall, math.sqrt(variance)), 0.0)

    def sidebands(self) -> float:
        """Power of the sidebands over the carrier; 0 where that is within its own scatter.

        What one phase, whichever, holds more than the phase across it (the pseudo-variance): noise and a neighbour's splatter
        are in both alike. Mostly it is the carrier's own phase, but selective fading turns the carrier against its sidebands.
        """
        return self._modulation(self._sums)

    def programme(self) -> bool:
        """What the sidebands hold is no carrier's own unsteadiness, which stands within some 30 Hz of it."""
        return self._modulation(self._quick) > QUICK_SHARE * self._modulation(self._sums)

    def _modulation(self, sums: RealArray) -> float:
        """`sidebands` of one of the two sets of sums."""
        if not self._samples:
            return 0.0
        in_phase, cross, _, quadrature = (float(part) / self._samples for part in sums.flat)
        excess, scatter = in_phase - quadrature, self._scatter(quadrature)
        turned = math.hypot(excess, 2.0 * cross)
        if excess > max(MODULATED_SIGMAS * scatter, LEAST_SIDEBANDS):
            return turned
        scatter *= 0.5 * (1.0 + in_phase / max(quadrature, 1e-30))
        return turned if turned > max(TURNED_SIGMAS * scatter, LEAST_SIDEBANDS) else 0.0

    def _scatter(self, quadrature: float) -> float:
        """Standard deviation of what noise leaves of `sidebands`, from the power across them."""
        # each of about samples * bandwidth / rate independent values scatters by sqrt(2) of its variance
        return math.sqrt(4.0 / self._samples) * max(quadrature, 1e-12) * math.sqrt(1.2)

    def only_hum(self) -> bool:
        """The mains' lines at both sides of the carrier are all that its sidebands hold: the rest is noise or their ripple."""
        sidebands = self.sidebands()
        if not sidebands:
            return False
        frequency, power = self._carrier.spectrum()
        first = self._nearest(self._carrier)
        power = (power - first.surroundings * slow_noise(len(power))) / slow_response(self.frame, len(power))
        away = np.abs(frequency - first.offset_hz)
        lines = [np.abs(away - line) <= 1.5 * self.resolution_hz + MAINS_DRIFT * line for line in HUM_HZ]
        total = float(power[np.any(lines, axis=0)].sum()) / (HANN_NOISE_BINS * self._carrier.padding)
        hum = total / max(first.power, 1e-300)
        rest = sidebands - hum
        doubt = MODULATED_SIGMAS * self._scatter(float(self._sums[1, 1]) / self._samples)
        return hum > rest and rest <= HUM_RIPPLE * hum + doubt

    def beside(self) -> float:
        """Power over the carrier's of all that stands in the channel beside it, noise included; 0 where none was followed."""
        return float(np.trace(self._sums)) / self._samples if self._samples else 0.0

    def across(self) -> float:
        """Noise over the carrier's power by what stands across its phase, where no programme does; 0 if none was followed."""
        return 2.0 * float(self._sums[1, 1]) / self._samples if self._samples else 0.0

    def part_powers(self) -> RealArray:
        """The carrier's power in short parts of the first quarter of an hour, shape (parts,); empty if none was followed."""
        return np.concatenate(self._part_powers) if self._part_powers else np.zeros(0)

    def smear(self) -> float:
        """The carrier's amplitude by short parts over that by whole segments; 0 where none was followed.

        1 for an unbroken recording; more where its phase jumps (samples were lost) or wanders.
        """
        return self._in_parts / max(self._whole, 1e-30) if self._part_powers else 0.0

    def stereo(self) -> bool:
        """The 25 Hz pilot stands in the quadrature component as a line of a pilot's depth, and so at both sides of the carrier.

        Half of a second carrier 25 Hz away stands in the quadrature as well, but at one side only.
        """
        if not self._stereo.segments:
            return False
        frequency, power = self._stereo.spectrum()
        clear = 4 * self._stereo.resolution_hz
        beside = frequency - STEREO_PILOT_HZ
        found = strongest_line(beside, power, search_hz=STEREO_SEARCH_HZ, clear_hz=clear, reach_hz=STEREO_REACH_HZ)
        amplitude = 2 * math.sqrt(found.power)  # half of a real line lies at +25 Hz
        places = places_within(STEREO_SEARCH_HZ, self._stereo.resolution_hz)
        around = bins_around(clear, STEREO_REACH_HZ, self._stereo.resolution_hz)
        wanted = threshold(self._stereo.segments, places, STEREO_FALSE_RATE, around)
        if found.ratio < wanted or not STEREO_DEPTH[0] <= amplitude <= STEREO_DEPTH[1]:
            return False
        frequency, power = self._carrier.spectrum()
        first = self._nearest(self._carrier)
        away = frequency - first.offset_hz
        apart_hz, width_hz = STEREO_PILOT_HZ + found.offset_hz, 0.5 * self._carrier.resolution_hz
        sides = [float(power[np.abs(away - side * apart_hz) <= width_hz].max()) for side in (-1.0, 1.0)]
        # each holds twice the noise of the quadrature alone, which may make a weak station's uneven
        return max(sides) <= SECOND_OVER_PARTNER * min(sides) + 2.0 * wanted * found.surroundings * first.power


def _squared(rows: RealArray) -> RealArray:
    """Inner products of two rows with each other, (2, 2)."""
    return rows @ rows.T


def _followed(segment: ComplexArray, turns_per_sample: float, work: Workspace) -> tuple[float, RealArray]:
    """Fills `work.envelope` with the segment over its carrier, of which `turns_per_sample` is known to a part of a bin.

    Gives the carrier's amplitude over the whole segment, and in `_SHORT_PARTS` of it, each by itself. Where they differ by more
    than a steady carrier's, as in fading or where samples are lost, the envelope is taken over the carrier part by part.

    A line between two bins is known to a small part of a hertz; what is left over would turn the phase by some tenths. So the
    carrier is followed by a line of phase through the means of its quarters.
    """
    length = len(segment)
    sums, block = turned_sums(segment, -turns_per_sample), BLOCK
    if len(sums) < _PARTS:
        sums, block = segment * phasor(length, -turns_per_sample, out=work.phasor), 1
    edges = np.arange(_PARTS + 1) * len(sums) // _PARTS
    parts = np.add.reduceat(sums, edges[:-1])
    steps = np.angle(parts[1:] * np.conj(parts[:-1]))
    phase = np.angle(parts[0]) + np.concatenate([[0.0], np.cumsum(steps)])
    middles = 0.5 * block * (edges[:-1] + edges[1:])
    middle = float(middles.mean())
    away = middles - middle
    slope = float(away @ phase / (away @ away))
    start = float(phase.mean()) - slope * middle
    turn = phasor(length, -turns_per_sample - slope / (2 * np.pi), -start, out=work.phasor)
    amplitude = abs(complex(np.dot(segment, turn))) / length
    np.multiply(segment, turn, out=work.envelope)
    edges = np.arange(_SHORT_PARTS + 1) * len(sums) // _SHORT_PARTS if len(sums) >= _SHORT_PARTS else np.array([0, len(sums)])
    parts = np.abs(np.add.reduceat(sums, edges[:-1])) / (np.diff(edges) * block)
    mean = float(parts.mean())
    if parts.max() - parts.min() <= _STEADY * mean and mean <= (1.0 + _STEADY) * amplitude:
        work.envelope *= np.float32(1.0 / max(amplitude, 1e-30))
        return amplitude, parts
    # followed from block to block, turn and size apart: what moves it may take whole turns in a part
    middles, at = block * (np.arange(len(sums)) + 0.5), np.arange(length)
    turned = sums * np.exp(-1j * (start + slope * middles)) / block
    phase, size = (
        np.interp(at, middles, np.convolve(np.pad(part, 1, "edge"), (0.25, 0.5, 0.25), "valid"))
        for part in (np.unwrap(np.angle(turned)), np.abs(turned))
    )
    # where it fades to nothing what is left of the programme is not made large
    np.divide(work.envelope, np.maximum(size, FADED * mean) * np.exp(1j * phase), out=work.envelope)
    return amplitude, parts
