"""The data service (RDS, RBDS) of several channels at once, as their instantaneous frequency arrives.

57 kHz is turned down to zero and slowed to about 9.5 kS/s for all channels by one matrix product; a second at a time is then
matched-filtered, its subcarrier looked for, and only where that stands out are symbols and blocks made of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.fft

from bandscan.dsp.rds_service import Service
from bandscan.dsp.rds_symbols import BIT_HZ, SUBCARRIER_HZ, Subcarrier, find_subcarrier, matched_response, symbols_of

RealArray = npt.NDArray[np.float32]
ComplexArray = npt.NDArray[np.complex64]

_SLOW_HZ = 9_500.0  # eight samples to a bit
_TAPER_FRAMES = 8  # with this Kaiser window: 60 dB against what the slower rate folds onto the subcarrier
_KAISER_BETA = 5.7
_SEGMENT_S = 1.0
_MARGIN_BITS = 12  # on either side of a segment: the matched filter reaches about two


@dataclass(frozen=True)
class Identity:
    """What one channel's data service claims.

    pi: programme identification, agreed as `rds_service` says; None without agreement.
    pi_blocks: clean blocks A that held it, of `a_blocks` seen; few or none on a weak station, which agrees by averages.
    ps: programme service name, eight characters as sent; empty where none came complete. names: how many different ones came,
        since some stations run text through it; the one with most evidence is given.
    blocks, bad_share: blocks seen, and the share of them that failed their check; NaN where none was seen.
    subcarrier_s: seconds in which a modulated 57 kHz subcarrier stood out; 0 means that there is no data service. [s]
    """

    pi: int | None
    pi_blocks: int
    a_blocks: int
    ps: str
    names: int
    blocks: int
    bad_share: float
    subcarrier_s: float


class RdsSum:
    """Data services of several channels; what is kept does not grow with the recording."""

    def __init__(self, channels: int, rate_hz: float) -> None:
        self.frame = max(1, round(rate_hz / _SLOW_HZ))
        self.slow_rate_hz = rate_hz / self.frame
        taps = _TAPER_FRAMES * self.frame
        time = np.arange(taps) - (taps - 1) / 2
        shape = np.sinc(time / self.frame) * np.kaiser(taps, _KAISER_BETA)
        shape *= 2.0 / shape.sum()  # a line of peak deviation d gives a slow signal of amplitude d
        angle = 2 * np.pi * SUBCARRIER_HZ / rate_hz * np.arange(taps)
        # one product gives each frame's part in all the sums that it belongs to, real and imaginary
        weights = np.stack([np.cos(angle) * shape, -np.sin(angle) * shape]).reshape(2, _TAPER_FRAMES, self.frame)
        self._weights = weights.astype(np.float32)
        self._turn = (SUBCARRIER_HZ * self.frame / rate_hz) % 1.0
        self._buffer = np.empty((channels, 0), np.float32)
        self._held = 0  # samples in the buffer that do not fill a frame
        self._open = np.zeros((channels, 2, _TAPER_FRAMES - 1), np.float32)  # sums whose last frames are to come
        self._frames = 0
        self._margin = round(_MARGIN_BITS * self.slow_rate_hz / BIT_HZ)
        self._size = scipy.fft.next_fast_len(round(_SEGMENT_S * self.slow_rate_hz) + 2 * self._margin)
        # two segments and a batch; a copy for each batch would cost more than the decoding
        self._slow = np.zeros((channels, 2 * self._size + round(self.slow_rate_hz)), np.complex64)
        self._filled = self._margin
        self._channels = [_Channel() for _ in range(channels)]
        self._closed = False

    def add(self, frequency_hz: RealArray) -> None:
        """Adds instantaneous frequencies; shape (channels, samples). [Hz]"""
        if self._closed:
            raise ValueError("the result has been read: what comes after it would not join")
        channels, count = frequency_hz.shape
        if self._buffer.shape[1] < self._held + count:
            self._buffer = np.concatenate([self._buffer[:, : self._held], np.empty((channels, count), np.float32)], axis=1)
        self._buffer[:, self._held : self._held + count] = frequency_hz
        frames, held = divmod(self._held + count, self.frame)
        used = frames * self.frame
        whole = self._buffer[:, :used].reshape(channels, frames, self.frame)
        # real and imaginary apart, shape (channels, 2, taper frames, frames): products this small stay on one thread
        parts = np.matmul(self._weights, whole.transpose(0, 2, 1)[:, None])
        self._buffer[:, :held] = self._buffer[:, used : used + held].copy()
        self._held = held
        sums = np.concatenate([self._open, np.zeros((channels, 2, frames), np.float32)], axis=2)
        for late in range(_TAPER_FRAMES):
            first = _TAPER_FRAMES - 1 - late
            sums[:, :, first : first + frames] += parts[:, :, late]
        self._open = sums[:, :, frames:].copy()
        if self._filled + frames > self._slow.shape[1]:
            self._slow = np.concatenate([self._slow[:, : self._filled], np.empty((channels, frames), np.complex64)], axis=1)
        slow = self._slow[:, self._filled : self._filled + frames]
        slow.real, slow.imag = sums[:, 0, :frames], sums[:, 1, :frames]
        # a sum's phase against a steady 57 kHz is that of its first sample
        slow *= np.exp(-2j * np.pi * ((self._turn * (self._frames + np.arange(frames))) % 1.0)).astype(np.complex64)
        self._frames += frames
        self._filled += frames
        step = self._size - 2 * self._margin
        # a whole segment stays in hand, so that the last one is never too short to find its subcarrier
        done = 0
        while self._filled - done >= self._size + step:
            self._decode(self._slow[:, done : done + self._size], step)
            done += step
        if done:
            self._slow[:, : self._filled - done] = self._slow[:, done : self._filled].copy()
            self._filled -= done

    def result(self, channel: int) -> Identity:
        """What a channel's data service claims, from all that was added; no more can be added afterwards."""
        if not self._closed:
            self._closed = True
            length = self._filled - self._margin
            size = scipy.fft.next_fast_len(length + 2 * self._margin)
            last = np.zeros((len(self._slow), size), np.complex64)
            last[:, : self._filled] = self._slow[:, : self._filled]
            if length > 4 * self._margin:
                self._decode(last, length)
        return self._channels[channel].identity()

    def _decode(self, slow: ComplexArray, length: int) -> None:
        """Decodes `length` samples that begin a margin within `slow`."""
        response = matched_response(slow.shape[1], self.slow_rate_hz)
        filtered = scipy.fft.ifft(scipy.fft.fft(slow, axis=1) * response, axis=1, overwrite_x=True)
        for channel, row in zip(self._channels, filtered, strict=True):
            channel.add(row, self.slow_rate_hz, self._margin, length)


class _Channel:
    """From segments to symbols that join, and on to the service."""

    def __init__(self) -> None:
        self._service = Service()
        self._subcarrier_s = 0.0
        self._next: float | None = None  # when the next symbol is due, counted from the end of the last segment [samples]
        self._phase = 0.0  # of the subcarrier at that end [cycles]

    def add(self, filtered: ComplexArray, rate_hz: float, margin: int, length: int) -> None:
        """Adds a matched-filtered segment of `length` samples with a margin on either side."""
        carrier = find_subcarrier(filtered, rate_hz)
        if carrier is None:
            self._next = None
            self._service.gap()
            return
        self._subcarrier_s += length / rate_hz
        begin = float(margin) if self._next is None else margin + self._next - 0.5 * rate_hz / BIT_HZ
        found = symbols_of(filtered, rate_hz, carrier, begin, margin + length)
        values = found.values
        turns_at_begin = carrier.phase + carrier.offset_hz / rate_hz * margin
        if self._next is not None and round(2 * (turns_at_begin - self._phase)) % 2:
            # the squared line leaves half a turn open: the subcarrier runs on in phase
            carrier = Subcarrier(carrier.offset_hz, carrier.phase + 0.5)
            values = -values
        self._next = found.first + found.period * len(values) - margin - length
        self._phase = carrier.phase + carrier.offset_hz / rate_hz * (margin + length)
        self._service.add(values)

    def identity(self) -> Identity:
        """The channel's claims so far."""
        service = self._service
        pi, pi_blocks = max(service.codes.items(), key=lambda item: item[1], default=(None, 0))
        seen = service.name.seen
        ps = max(seen, key=seen.__getitem__, default="")
        bad = 1.0 - service.clean / service.blocks if service.blocks else float("nan")
        return Identity(pi, pi_blocks, service.a_blocks, ps, len(seen), service.blocks, bad, self._subcarrier_s)
