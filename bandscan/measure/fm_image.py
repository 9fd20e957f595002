"""How much of an FM channel is the receiver's mirror image of another, about the centre or where else its axis has gone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bandscan.dsp.grid import Grid
from bandscan.dsp.mirror import MirrorSum, TurnedMirror, find_axis
from bandscan.measure.fm_noise import CHANNEL_HALF_WIDTH_HZ
from bandscan.model import Capture, ComplexArray
from bandscan.units import channel_text

IMAGE_SIGNIFICANCE = 5.0  # noise passes this once in exp(25)
PROVEN = 0.5  # of what stands in a channel
OWN_HALF_HZ = 75e3  # a channel whose middle is nearer to the axis, by a station's swing, is its own mirror
ON_CARRIER_HZ = 5e3  # 2 kHz of a station (47 CFR 73.1545), a receiver's clock, and room
LOOKED_AT = 16  # frames of about 10 ms in the recording's middle


class Images:
    """Sums of one pass about the centre, and a look at the recording's middle for another axis."""

    def __init__(self, capture: Capture, grid: Grid) -> None:
        self._capture, self._grid = capture, grid
        self._about_centre = MirrorSum(grid.size)
        self._proven = False  # that there are images about another axis
        self._mirrors: list[tuple[float, MirrorSum | TurnedMirror]] = [(0.0, self._about_centre)]

    def add(self, transform: ComplexArray) -> None:
        """Adds one unscaled transform of the recording; shape (size,)."""
        self._about_centre.add(transform)

    def look(self) -> None:
        """Looks for another axis."""
        size, count = self._grid.size, len(self._capture.samples)
        rows = min(LOOKED_AT, count // size)
        if not rows:
            return
        frames = self._capture.samples.frames((count - rows * size) // 2, rows, size, size)
        frames -= frames.mean()
        axis = find_axis(frames)
        if axis is not None:
            self._mirrors.append((axis * self._capture.rate_hz, TurnedMirror(frames, axis)))

    def note(self, channels_hz: Sequence[int], strong: Sequence[int]) -> list[str]:
        """Which channels may hold images of stations outside the recording, if its axis is not its centre; after `share`.

        Not where it lies on the carrier of one of the `strong` stations (indices): two others and their product mirror each
        other about it in an overloaded receiver.
        """
        rate_hz, lines = self._capture.rate_hz, []
        for axis_hz, _ in self._mirrors[1:] if self._proven else ():
            offsets_hz = np.array(channels_hz) - self._capture.centre_hz
            if (np.abs(offsets_hz[list(strong)] - axis_hz) <= ON_CARRIER_HZ).any():
                continue
            hidden = np.flatnonzero(np.abs(2.0 * axis_hz - offsets_hz) > rate_hz / 2.0)
            if len(hidden):
                places = dict.fromkeys(channel_text("fm", channels_hz[one]) for one in (hidden[0], hidden[-1]))
                lines.append(
                    f"mirror images: the receiver's turn about {(self._capture.centre_hz + axis_hz) / 1e6:.3f} MHz, not about "
                    "the recording's centre, as where it is shifted or cut out of a wider one; on "
                    f"{' to '.join(places)} MHz images of stations outside it cannot be told from stations: record all of the "
                    "receiver's width, or tune the receiver itself"
                )
        return lines

    def share(self, offset_hz: float) -> float:
        """Of what stands in the channel so far from the centre; NaN where most of it is its own mirror."""
        rate_hz, found = self._capture.rate_hz, []
        for axis_hz, mirror in self._mirrors:
            # an axis half the rate further is the same
            away_hz = abs((offset_hz - axis_hz + rate_hz / 4.0) % (rate_hz / 2.0) - rate_hz / 4.0)
            if away_hz >= OWN_HALF_HZ:
                half = int(min(away_hz, CHANNEL_HALF_WIDTH_HZ) / self._grid.bin_hz)
                share, significance = mirror.image(self._grid.bin_of(offset_hz), half)
                found.append(share if significance >= IMAGE_SIGNIFICANCE else 0.0)
                self._proven |= mirror is not self._about_centre and found[-1] >= PROVEN
        return max(found, default=float(np.nan))
