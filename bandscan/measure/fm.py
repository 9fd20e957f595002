"""The FM band in one pass: spectrum, discriminator and pilot of every channel that the recording covers."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from bandscan.dsp import emission, noise, pilot
from bandscan.dsp.channeliser import Channeliser, channel_filter
from bandscan.dsp.deviation import DeviationCount
from bandscan.dsp.discriminator import Discriminator
from bandscan.dsp.grid import Grid, make_grid
from bandscan.dsp.spectrum import HANN_NOISE_BINS, SpectrumSum, bridge
from bandscan.measure.frames import Pass, steady, transforms
from bandscan.model import Capture, ComplexArray
from bandscan.plans import BandPlan
from bandscan.units import db

BATCH = 8  # frames of about 10 ms: the transform is fastest on 8 rows
CHANNEL_HALF_WIDTH_HZ = 100e3
CORE_HZ = 50e3
DC_HALF_WIDTH_HZ = 400.0
USABLE = 0.45  # of the rate to either side: beyond it the receiver's filter droops and folds
PILOT_DEVIATION_SNR_DB = 6.0  # below this the discriminator's clicks swallow part of the pilot: not measured
PEAK_DEVIATION_SNR_DB = 25.0
STEADY_ENVELOPE = 0.05  # scatter of the envelope of an emission about 16 dB over everything else in its channel


def fm_grid(rate_hz: float) -> Grid:
    """Frames of about 10 ms (100 Hz bins); channels leave at about 240 kS/s."""
    return make_grid(rate_hz, bin_hz=100.0, out_size=2400, out_trim=30, step=40)


class FmPass:
    """Sums of one pass; `rows` gives the figures at the end."""

    def __init__(self, capture: Capture, plan: BandPlan, channels_hz: tuple[int, ...]) -> None:
        self.capture, self.plan, self.channels_hz = capture, plan, channels_hz
        self.grid = fm_grid(capture.rate_hz)
        self.seen = Pass()
        grid, count = self.grid, len(channels_hz)
        response = channel_filter(grid, CHANNEL_HALF_WIDTH_HZ)
        self._cutters = [Channeliser(grid, response, channel - capture.centre_hz) for channel in channels_hz]
        self._spectrum = SpectrumSum(grid.size, capture.rate_hz)
        self._discriminator = Discriminator(BATCH, grid.out_hop, grid.out_rate_hz)
        samples = grid.full_frames(len(capture.samples)) * grid.out_hop
        self._pilots = pilot.PilotSum(count, grid.out_rate_hz, samples)
        self._peaks = [DeviationCount(grid.out_rate_hz) for _ in channels_hz]
        self._cut = np.empty((BATCH, grid.out_size), np.complex64)
        self._last = np.zeros(count, np.complex64)
        self._sum_hz = np.zeros(count)
        self._scatter = np.zeros((count, 2))  # sum over frames of the envelope's scatter, frames

    def run(self) -> None:
        """Reads the capture once."""
        grid, count = self.grid, len(self.channels_hz)
        multiplex = np.empty((count, BATCH, grid.out_hop), np.float32)
        for first, spectra in transforms(self.capture, grid, BATCH, self.seen):
            rows = len(spectra)
            self._spectrum.add(steady(spectra, self.seen))
            for index, cutter in enumerate(self._cutters):
                samples = cutter.cut(spectra, first, self._cut[:rows])
                frequency = self._discriminator.run(samples, self._last[index], multiplex[index, :rows])
                if first == 0:
                    frequency[0, 0] = frequency[0, 1]
                self._last[index] = samples[-1, -1]
                self._sum_hz[index] += float(frequency.sum(dtype=np.float64))
                scatter = _envelope_scatter(samples[::2])
                self._scatter[index] += float(scatter.sum()), len(scatter)
                if scatter.mean() < STEADY_ENVELOPE:
                    self._peaks[index].add(frequency)
            self._pilots.add(multiplex[:, :rows].reshape(count, rows * grid.out_hop))

    def rows(self) -> list[dict[str, Any]]:
        """One row of READINGS for each channel, without what is the same for the whole capture."""
        offsets = self._spectrum.frequencies()
        density = bridge(self._spectrum.density(), offsets, 0.0, DC_HALF_WIDTH_HZ)
        averages = self._spectrum.frames / HANN_NOISE_BINS
        centres = np.array(self.channels_hz, float) - self.capture.centre_hz
        # the floor is read no further out than the channels reach: the edges droop, which would pass for a lower floor
        reach = min(USABLE * self.capture.rate_hz, float(np.abs(centres).max()) + CHANNEL_HALF_WIDTH_HZ)
        floor = noise.noise_floor(density, offsets, averages, centres, reach, noise.FM_FLOOR)
        return [
            self._row(index, density, offsets - centre, float(floor.density[index]), float(floor.sd_db[index]))
            | {"remarks": "noise-upper-bound" if floor.witnesses[index] < 3 else ""}
            for index, centre in enumerate(centres)
        ]

    def _row(
        self, index: int, density: npt.NDArray[np.float64], offset_hz: npt.NDArray[np.float64], floor: float, floor_sd_db: float
    ) -> dict[str, Any]:
        form = emission.shape(density, offset_hz, floor, CHANNEL_HALF_WIDTH_HZ, CORE_HZ)
        noise_power = floor * 2 * CHANNEL_HALF_WIDTH_HZ
        row: dict[str, Any] = {"channel_hz": self.channels_hz[index], "noise_dbfs": db(noise_power)}
        row |= {"width_hz": form.width_hz, "centroid_hz": form.centroid_hz, "line_share": form.line_share}
        row["core_dbfs"] = db(form.core) if form.core > 0 else np.nan
        row["envelope_scatter"] = float(self._scatter[index, 0] / max(self._scatter[index, 1], 1.0))
        averages = max(self._spectrum.frames * 2 * CHANNEL_HALF_WIDTH_HZ / self.grid.bin_hz / HANN_NOISE_BINS, 1.0)
        total = max(form.power, 0.0) + noise_power
        doubt = np.hypot(total / np.sqrt(averages), noise_power * floor_sd_db / 4.343)
        if form.power <= 2 * doubt:
            return row  # nothing stands over the noise by more than its own doubt
        snr_db = db(form.power / noise_power)
        found = self._pilots.line(index)
        cutter = self._cutters[index]
        samples = max(self._spectrum.frames * self.grid.out_hop, 1)
        row |= {
            "level_dbfs": db(form.power),
            "level_sd_db": 4.343 * doubt / form.power,
            "snr_db": snr_db,
            "carrier_error_hz": float(self._sum_hz[index]) / samples - cutter.residue_hz,
            "pilot": self._pilots.is_pilot(found),
            "pilot_line_db": db(max(found.ratio, 1e-3)),
        }
        if row["pilot"] and snr_db >= PILOT_DEVIATION_SNR_DB:
            row["pilot_dev_hz"] = float(np.sqrt(found.power))
        if snr_db >= PEAK_DEVIATION_SNR_DB:
            row["peak_dev_hz"] = self._peaks[index].peak_hz()
        return row


def _envelope_scatter(samples: ComplexArray) -> npt.NDArray[np.float32]:
    """Variance of the power over its mean squared, frame by frame: 0 for a steady carrier, 1 for noise; shape (frames,).

    Each frame by itself, so that fading does not count; at most 3, so that a click in one frame does not outweigh the rest.
    """
    power = np.square(samples.real) + np.square(samples.imag)
    mean = np.maximum(power.mean(axis=1), np.float32(1e-30))
    scatter = np.einsum("ij,ij->i", power, power) / (power.shape[1] * mean * mean) - np.float32(1.0)
    return np.asarray(np.minimum(scatter, np.float32(3.0)))
