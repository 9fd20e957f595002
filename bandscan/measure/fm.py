"""The FM band in one pass: spectrum, discriminator and pilot of every channel that the recording covers."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from bandscan.dsp import digital, emission, noise, pilot
from bandscan.dsp.audio import AudioSum
from bandscan.dsp.channeliser import Channeliser, channel_filter
from bandscan.dsp.deviation import LOW_PASS_HZ, DeviationCount, taken_hz
from bandscan.dsp.discriminator import Discriminator
from bandscan.dsp.grid import Grid, make_grid
from bandscan.dsp.hum import only_hum
from bandscan.dsp.products import ProductSum
from bandscan.dsp.programme import ProgrammeSum
from bandscan.dsp.rds import RdsSum
from bandscan.dsp.response import curve
from bandscan.dsp.spectrum import HANN_NOISE_BINS, HANN_SHARE, SpectrumSum, bridge
from bandscan.dsp.steady import SteadySum
from bandscan.measure.fm_image import Images
from bandscan.measure.fm_noise import CHANNEL_HALF_WIDTH_HZ, ChannelNoise, beside, shaken
from bandscan.measure.fm_pilots import give_back
from bandscan.measure.fm_raster import OffRaster, off_raster
from bandscan.measure.fm_strange import envelopes, strange
from bandscan.measure.fm_times import mark_intermittent
from bandscan.measure.frames import USABLE, Pass, transforms
from bandscan.measure.holes import leave_out
from bandscan.measure.notes import comb_note, find_off_raster, gain_note, joined, overload_note, rate_notes
from bandscan.model import Capture, ComplexArray
from bandscan.plans import BY_AUDIO, BandPlan, relay_word
from bandscan.units import channel_text, db

BATCH = 8  # frames of about 10 ms: the transform is fastest on 8 rows
SHAKEN = (0.12, 0.5)  # scatter of the envelope of a station 12 to 4 dB over the noise
MOST_BATCHES = 4096  # five minutes whose gain is watched: memory does not grow
SPARSE = 4  # one frame in so many shows the envelope
CORE_HZ = 50e3
TURNED_CARRIER, TURNED_PILOT = 0.5, 5.0  # doubt for turns by something else, of a channel's width and of the pilot's deviation
BRIDGED_SHARE = 0.03  # of a station's power may stand so near its carrier where the receiver's own offset wanders there
BRIDGED_BEATS, BRIDGED_OWN = 0.3, 0.1  # of the lesser part of two that beat; doubt of what is given back to a station
DC_HALF_WIDTH_HZ = 200.0  # a wandering offset of the receiver reaches so far
LEAST_LEVEL_SD_DB = 0.0035  # the channel's ends and the steps of eight bits leave this much at any level
PILOT_DEVIATION_SNR_DB = 6.0  # below this the discriminator's clicks swallow part of the pilot: not measured
DIGITAL_CENTRE_HZ, DIGITAL_DOUBT = 36.5e3, 0.3  # 200 kHz less the middle of a block of 129-198 kHz; what is unsure of it
SLOPE_DOUBT = 1.5  # of the noise's own centre: on a slope a wide swing turns over more often to one side than to the other
NOISE_READ = 0.5  # of the noise's own centre: at 240 kS/s the rest wraps (checked by simulation, 0.4-0.6 from -6 to 3 dB)
LEAST_POWER = 1e-14  # -140 dBFS: less than this is the arithmetic's own
LONG_S = 3.0  # from this length on every second batch tells spectrum and peak deviation, from three times this every fourth
STRAY_SNR_DB = 15.0  # pilots of stations this strong tell whether the recording's rate is right
PILOT_SHARE = 0.0008  # of the pilot's deviation: what the channel's filter and the arctangent's approximation leave
# the same in a recording hardly wider than its channel, whose edges cut the widest swings as well (checked by simulation)
NARROW_HZ, NARROW_PILOT_SHARE = 300e3, 0.002
ECHOED_PILOT, SPILT_SHARE = 0.5, 0.02  # of the root of what shakes the envelope, if it is more than a neighbour's spill
UNSHAKEN_SHARE = 2e-4  # of a station's power: what the channel's filter shakes of a clean one's envelope (made ones)
SWAYED_PILOT_HZ = 2.5e3  # beside one 6 dB stronger: its own 19 kHz sways a weak one by up to 2.2 kHz (made ones, 38 dB)
PILOT_CLICKS = 0.05  # of the pilot's deviation at the threshold, from made stations
PEAK_SHARE = 0.009  # of the peak deviation: what the channel's filter takes from swings of any width; taken_hz from wide ones
CARRIER_UNKNOWN_HZ = 2000.0  # of a mean over less than a fifth of a second of programme
LEAST_CARRIER_SD_HZ = 1.0  # the arctangent's approximation leaves this of a station without noise
PEAK_DEVIATION_SNR_DB, SILENT_HZ = 25.0, 15e3  # the latter: a pilot and little else
# a pilot's values crowd at its peak, and noise lifts that by twice its deviation; a programme's thin out over a tenth of it
LIFTED = (1.4, 10.0)
PEAK_COUNTED = 0.9  # of the time must tell it
PROGRAMME_SNR_DB = 6.0  # weaker stations' sound is mostly clicks, and not compared with others'
NOISE_SCATTERS = 0.9  # of the power over its mean squared: 1 for noise, less for a carrier from -3 dB up (Rice)
STEADY_ENVELOPE = 0.05  # scatter of the envelope of an emission about 16 dB over everything else in its channel


def fm_grid(rate_hz: float) -> Grid:
    """Frames of about 10 ms (100 Hz bins); channels leave at about 240 kS/s."""
    return make_grid(rate_hz, bin_hz=100.0, out_size=2400, out_trim=30, step=40)


class FmPass:
    """Sums of one pass; `rows` gives the figures at the end.

    Level: power over the noise within 100 kHz of the channel, less a stronger neighbour's spill as the envelope shows it
    (fm_strange); a digital sideband is taken off where the channel is judged (survey.holds_fm). Carrier: the frequency's mean
    (dsp.steady), what noise swallows of it given back. Pilot: the line's peak deviation (dsp.pilot). Peak deviation:
    dsp.deviation, from 25 dB.
    """

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
        self._pilots = pilot.PilotSum(count, grid.out_rate_hz, samples, grid.out_hop)
        self._services = RdsSum(count, grid.out_rate_hz)
        self._audio = AudioSum(count, grid.out_rate_hz, plan.deemphasis_s)
        self._programmes = ProgrammeSum(count, grid.out_rate_hz, samples)
        self._peaks = [DeviationCount(grid.out_rate_hz) for _ in channels_hz]
        # in a longer recording a part of the time, spread over it, tells means and a percentile as well
        self._every = 1 + min(int(capture.duration_s / LONG_S), 3)
        self._cut = np.empty((BATCH, grid.out_size), np.complex64)
        self._last = np.zeros(count, np.complex64)
        # of weak stations, whose turns are read over half a sample: the last sample between, and the turn to it
        self._fine = np.zeros(count, bool)
        self._finer = Discriminator(BATCH, 2 * grid.out_hop, 2 * grid.out_rate_hz)
        self._cut_twice = np.empty((BATCH, 2 * grid.out_size), np.complex64)
        self._halves = np.empty((BATCH, 2 * grid.out_hop), np.float32)
        self._between, self._before = np.zeros(count, np.complex64), np.zeros(count, np.float32)
        self._images = Images(capture, grid)
        residues = [cutter.residue_hz for cutter in self._cutters]
        self._products = ProductSum(channels_hz, residues, grid.out_rate_hz, grid.out_hop)
        self._steady_hz = SteadySum(count, grid.full_frames(len(capture.samples)))
        self._batches = 0
        self._strong: list[int] = []
        self._strays: list[tuple[float, float]] = []  # where their pilots stand, and how much of each in one line
        self._density = np.zeros(grid.size)
        self._off = OffRaster()
        self._bridged = 0.0  # power taken off at the receiver's centre
        self._scatter = np.zeros((count, 2))  # sum over frames of the envelope's scatter, frames
        self._powers: list[npt.NDArray[np.float32]] = []  # of each batch, by channel
        self._counted = np.zeros((count, 2), np.int64)  # batches that tell the peak deviation, and all that were looked at

    def run(self) -> None:
        """Reads the capture once."""
        grid, count = self.grid, len(self.channels_hz)
        multiplex = np.empty((count, BATCH, grid.out_hop), np.float32)
        sparse = np.empty((count, -(-BATCH // SPARSE), grid.out_hop), np.complex64)
        for first, spectra in transforms(self.capture, grid, BATCH, self.seen):
            rows, whole = len(spectra), self.seen.whole
            chosen = self._batches % self._every == 0
            few = len(shown := np.flatnonzero(whole)[::SPARSE])
            if chosen and few:
                self.seen.bursts += self._spectrum.add(spectra if whole.all() else spectra[whole])
            if few:
                self._images.add(spectra[shown[0]])
            for index, cutter in enumerate(self._cutters):
                if self._fine[index]:
                    samples = self._finely(index, spectra, first, multiplex[index, :rows])
                else:
                    samples = cutter.cut(spectra, first, self._cut[:rows])
                    frequency = self._discriminator.run(samples, self._last[index], multiplex[index, :rows])
                    if first == 0:
                        frequency[0, 0] = frequency[0, 1]
                self._last[index] = samples[-1, -1]
                sparse[index, :few] = samples[shown]
            if not whole.all():
                leave_out(multiplex[:, :rows], whole)
            demodulated = multiplex[:, :rows].reshape(count, rows * grid.out_hop)
            self._steady_hz.add(multiplex[:, :rows].mean(axis=2), whole)
            if few:
                self._look_at(sparse[:, :few], multiplex[:, :rows], chosen=chosen)
            self._batches += 1
            self._pilots.add(demodulated, whole)
            self._services.add(demodulated)
            self._audio.add(demodulated, whole)
            # what is lost in all channels at once is no programme of two
            self._programmes.add(demodulated if whole.all() else multiplex[:, :rows][:, whole].reshape(count, -1))

    def _look_at(self, sparse: ComplexArray, multiplex: npt.NDArray[np.float32], *, chosen: bool) -> None:
        """Envelopes and peaks of a batch, whose frames of one in so many are given by channel."""
        count, few = sparse.shape[:2]
        scatter, power = envelopes(sparse)
        if self._batches < MOST_BATCHES:
            self._powers.append(power)
        self._scatter += np.stack([scatter.sum(axis=1), np.full(count, few)], axis=1)
        if self._batches == 0:
            shakes = scatter.mean(axis=1)
            self._fine[:] = (shakes > SHAKEN[0]) & (shakes < SHAKEN[1])
        if chosen:
            steady = scatter.mean(axis=1) < STEADY_ENVELOPE
            self._counted += np.stack([steady, np.ones(count, bool)], axis=1)
            for one in np.flatnonzero(steady):
                self._peaks[one].add(multiplex[one] if self.seen.whole.all() else multiplex[one, self.seen.whole])
        if self._batches % 2 == 0:
            self._products.add(sparse[:, 0])

    def _finely(self, index: int, spectra: ComplexArray, first: int, out: npt.NDArray[np.float32]) -> ComplexArray:
        """Fills `out` with a weak station's frequencies from turns over half a sample, and returns its samples.

        At a wide swing the turn from sample to sample is beyond a quarter of a circle, and noise takes it past half of one,
        where it wraps; over half a sample it hardly does. So the pilot of a loud station at 8 dB is read 3 % higher.
        """
        rows = len(spectra)
        samples = self._cutters[index].cut_twice(spectra, first, self._cut_twice[:rows])
        halves = self._finer.run(samples, self._between[index], self._halves[:rows])
        # two turns make that from a sample to the next; the first of the pair lies before the sample's own
        earlier = halves.reshape(-1)[1::2]
        later = halves.reshape(-1)[0::2]
        frequency = out.reshape(-1)
        np.add(earlier[:-1], later[1:], out=frequency[1:])
        # the batch before the first was of whole samples and knows no half
        frequency[0] = frequency[1] if self._batches == 1 else self._before[index] + later[0]
        frequency *= np.float32(0.5)
        self._before[index], self._between[index] = earlier[-1], samples[-1, -1]
        return samples[:, ::2]

    def notes(self) -> list[str]:
        """Lines for the user about the recording as a whole; after `rows`."""
        usable = USABLE * self.capture.rate_hz
        found = find_off_raster(self._density, self._spectrum.frequencies(), self.capture.centre_hz, self.plan, usable)
        # a steady envelope's power is the receiver's gain
        scatter = self._scatter[:, 0] / np.maximum(self._scatter[:, 1], 1.0)
        steady = [index for index in self._strong if scatter[index] < STEADY_ENVELOPE]
        powers = np.array(self._powers)[:, steady]
        gain = gain_note(list((powers / np.maximum(powers.mean(axis=0), 1e-30)).T))
        rate = rate_notes(self._strays)
        # pilots at 19 kHz prove the rate, but a channel that holds the half of a station smears them
        if not rate or any(abs(offset_hz) <= 2 * pilot.LEGAL_ERROR_HZ for offset_hz, _ in self._strays):
            rate = self._off.note() or rate
        images = self._images.note(self.channels_hz, self._strong)
        return [*overload_note(self.seen), *gain, *comb_note(found, self.plan), *rate, *images]

    def rows(self) -> list[dict[str, Any]]:
        """One row of READINGS for each channel, without what is the same for the whole capture."""
        offsets = self._spectrum.frequencies()
        whole = self._spectrum.density()
        density = bridge(whole, offsets, 0.0, DC_HALF_WIDTH_HZ)
        # what is bridged over may be the station's own: its carrier in a pause, or one beside it that the bridge has copied in
        self._bridged = float((whole - density)[np.abs(offsets) <= DC_HALF_WIDTH_HZ].sum()) * self.grid.bin_hz
        self._density = density
        averages = self._spectrum.frames / HANN_NOISE_BINS
        centres = np.array(self.channels_hz, float) - self.capture.centre_hz
        # the floor is read no further out than the channels reach, since the edges droop, which would pass for a lower floor;
        # a recording of one channel shows it nowhere else
        reach = float(np.abs(centres).max()) + CHANNEL_HALF_WIDTH_HZ + (15e3 if len(centres) == 1 else 0.0)
        reach = min(USABLE * self.capture.rate_hz, reach)
        scatter = self._scatter[:, 0] / np.maximum(self._scatter[:, 1], 1.0)
        ratio = np.array([self._audio.result(index).noise_over_carrier for index in range(len(centres))])
        told = ChannelNoise(density, offsets, averages, centres, scatter, ratio, reach)
        floor, unseen, shape = told.found()
        noise_density = curve(floor.density, centres, offsets, shape)
        slopes = shape.deriv()(centres)
        over_noise = density / noise_density
        usable = np.abs(offsets) <= USABLE * self.capture.rate_hz
        excess, at_hz = (density - noise_density)[usable], offsets[usable] + self.capture.centre_hz
        floor_here, tuned_hz = noise_density[usable], self.capture.centre_hz
        self._off = off_raster(excess, floor_here, at_hz, tuned_hz, self.plan.first_hz, self.plan.step_hz)
        self._images.look()
        rows = []
        for index, centre in enumerate(centres):
            digital, leans = self._digital(index, over_noise, offsets - centre)
            digital_power = digital * float(floor.density[index])
            row = self._row(index, density, offsets - centre, noise_density, floor, float(slopes[index]), digital_power, leans)
            row["remarks"] = joined("noise-upper-bound" if unseen[index] else "", self._off.doubt(centre))
            row["digital_dbfs"] = db(digital_power)
            rows.append(row)
        # a channel between two stations holds parts of two pilots, so the wholest tells
        strays = (self._pilots.stray(index) for index in self._strong)
        self._strays = [stray for stray in strays if stray is not None]
        give_back(rows, self._strays)
        mark_intermittent(rows, np.array(self._powers).reshape(-1, len(rows)))
        for index, row in enumerate(rows):
            if not row.get("pilot", True) and not row["rds_pi"] and self._only_hum(index):
                row["remarks"] = joined(row["remarks"], "hum-only")
        heard = [index for index, row in enumerate(rows) if row.get("snr_db", -np.inf) >= PROGRAMME_SNR_DB]
        for match in self._programmes.matches(heard):
            for one, other in ((match.first, match.second), (match.second, match.first)):
                rows[one]["remarks"] = joined(rows[one]["remarks"], relay_word("fm", self.channels_hz[other], BY_AUDIO))
        return [{key: value for key, value in row.items() if value != -np.inf} for row in rows]

    def _row(
        self,
        index: int,
        density: npt.NDArray[np.float64],
        offset_hz: npt.NDArray[np.float64],
        noise_density: npt.NDArray[np.float64],
        floor: noise.Floor,
        slope_db_hz: float,
        digital_power: float,
        digital_leans: float,
    ) -> dict[str, Any]:
        form = emission.shape(density, offset_hz, noise_density, CHANNEL_HALF_WIDTH_HZ, CORE_HZ)
        floor_sd_db = float(floor.sd_db[index])
        noise_power = max(float(floor.density[index]) * 2 * CHANNEL_HALF_WIDTH_HZ, LEAST_POWER)
        row: dict[str, Any] = {"channel_hz": self.channels_hz[index], "noise_dbfs": db(noise_power), "noise_sd_db": floor_sd_db}
        row |= {"width_hz": form.width_hz, "centroid_hz": form.centroid_hz, "line_share": form.line_share}
        row["core_dbfs"] = db(form.core) if form.core > 0 else np.nan
        row["envelope_scatter"] = float(self._scatter[index, 0] / max(self._scatter[index, 1], 1.0))
        # noise and its beat with the signal scatter; the signal's own power does not, since its envelope is steady
        samples = max(
            self._spectrum.frames * self.grid.hop * 2 * CHANNEL_HALF_WIDTH_HZ / self.capture.rate_hz * HANN_SHARE, 1.0
        )
        power = max(form.power, 0.0)
        at_centre = abs(self.channels_hz[index] - self.capture.centre_hz) <= CHANNEL_HALF_WIDTH_HZ
        bridged = self._bridged if at_centre else 0.0
        excess = (density - noise_density) * self.grid.bin_hz
        other = strange(row["envelope_scatter"], power, noise_power, digital_power + abs(bridged), excess, offset_hz)
        power -= other.spill
        scatter = np.sqrt((2 * power * noise_power + noise_power**2) / samples)
        doubt = float(np.hypot(scatter, noise_power * floor_sd_db / 4.343))
        if power <= max(2 * doubt, LEAST_POWER):
            return row  # nothing stands over the noise by more than its own doubt
        # two parts of one station leave its envelope steady; an offset of the receiver that wanders beats with it
        beats = shaken(row["envelope_scatter"]) * (power + bridged + noise_power) - noise_power - digital_power
        own = beats < BRIDGED_BEATS * min(power, abs(bridged)) and power + bridged > 2 * doubt
        unsure = BRIDGED_OWN * abs(bridged) if own else min(abs(bridged), BRIDGED_SHARE * power)
        power += bridged if own else 0.0
        snr_db = db(power / noise_power)
        doubts = [doubt, other.doubt, unsure]
        # a digital sideband turns the phase as noise does, as far as the envelope shows it
        digital_power = min(digital_power, max(shaken(row["envelope_scatter"]) * (power + noise_power) - noise_power, 0.0))
        ratio = max((power - digital_power) / (noise_power + digital_power), 0.1)
        # noise that turns the phase about swallows this much of the frequency on average: 1 - exp(-ratio) (S. O. Rice 1963);
        # in its place the noise's own centre is read, which a receiver's slope moves: that of exp(slope f) over a channel
        heard = 1.0 - float(np.exp(-ratio))
        noise_hz = NOISE_READ * slope_db_hz / 4.343 * CHANNEL_HALF_WIDTH_HZ**2 / 3.0
        # a digital sideband is noise of one side, and as noise it is read
        digital_hz = NOISE_READ * DIGITAL_CENTRE_HZ * digital_leans * digital_power / (noise_power + digital_power)
        # near the threshold clicks move it by more than that with some programmes (checked by simulation)
        clicks = float(np.exp(-ratio / 2.0))
        mean_hz, mean_sd_hz = self._steady_hz.mean(index)
        found = self._pilots.line(index)
        cutter = self._cutters[index]
        least_hz = SWAYED_PILOT_HZ if beside(excess, offset_hz) >= 4.0 * power else 0.0
        row |= {
            "level_dbfs": db(power),
            "level_sd_db": float(np.hypot(4.343 * np.linalg.norm(doubts) / power, LEAST_LEVEL_SD_DB)),
            "snr_db": snr_db,
            "carrier_error_hz": (mean_hz - (1.0 - heard) * (noise_hz + digital_hz)) / heard - cutter.residue_hz,
            "pilot": self._pilots.is_pilot(found) and np.sqrt(found.power) / heard >= least_hz,
            "pilot_line_db": db(max(found.ratio, 1e-3)),
        }
        row |= self._made_in_receiver(index) | self._heard_as(index, row)
        if snr_db >= STRAY_SNR_DB and form.line_share < 0.5:
            self._strong.append(index)
        # where the noise is doubtful so is its slope over the channel
        noise_sd_hz = NOISE_READ * floor_sd_db / 4.343 * CHANNEL_HALF_WIDTH_HZ / 6.0 + SLOPE_DOUBT * abs(noise_hz)
        noise_sd_hz += DIGITAL_DOUBT * abs(digital_hz)
        own_sd_hz = min(float(np.hypot(mean_sd_hz, LEAST_CARRIER_SD_HZ)), CARRIER_UNKNOWN_HZ) * (1.0 + 2.0 * clicks)
        turned_hz = TURNED_CARRIER * other.turned * 2 * CHANNEL_HALF_WIDTH_HZ
        row["carrier_sd_hz"] = float(np.linalg.norm([own_sd_hz, (1.0 - heard) * noise_sd_hz, turned_hz])) / heard
        if row["pilot"] and db(ratio) >= PILOT_DEVIATION_SNR_DB:
            deviation_hz = float(np.sqrt(found.power)) / heard
            row["pilot_dev_hz"] = deviation_hz
            share = NARROW_PILOT_SHARE if self.capture.rate_hz < NARROW_HZ else PILOT_SHARE
            # echoes move a pilot (made ones: by up to half, where their power is a tenth)
            spilt = other.doubt <= SPILT_SHARE * power and beside(excess, offset_hz) > power
            share += 0.0 if spilt else ECHOED_PILOT * float(np.sqrt(max(other.doubt / power - UNSHAKEN_SHARE, 0.0)))
            share += PILOT_CLICKS * clicks + TURNED_PILOT * other.turned
            row["pilot_dev_sd_hz"] = float(np.hypot(found.amplitude_sd / heard, share * deviation_hz))
        # echoes shake the envelope where a station is loudest: the rest would tell too little
        told, looked_at = self._counted[index]
        if db(ratio) >= PEAK_DEVIATION_SNR_DB and told >= PEAK_COUNTED * looked_at:
            peak_hz = self._peaks[index].peak_hz()
            taken, taken_sd_hz = taken_hz(peak_hz)
            # noise of density f^2 / (2 ratio B) up to the low-pass lifts a percentile, by far the most where a pilot is alone
            noise_hz = float(np.sqrt(LOW_PASS_HZ**3 / (6.0 * ratio * CHANNEL_HALF_WIDTH_HZ)))
            lifted_hz = LIFTED[0] * noise_hz if peak_hz < SILENT_HZ else LIFTED[1] * noise_hz**2 / peak_hz
            row["peak_dev_hz"] = peak_hz + taken
            row["peak_dev_sd_hz"] = float(np.linalg.norm([PEAK_SHARE * peak_hz, lifted_hz, taken_sd_hz]))
        return row

    def _digital(
        self, index: int, over_noise: npt.NDArray[np.float64], offset_hz: npt.NDArray[np.float64]
    ) -> tuple[float, float]:
        """What dsp.digital tells of a channel's neighbours, from the spectrum over noise: a receiver's slope makes no block."""
        apart_hz = 2 * CHANNEL_HALF_WIDTH_HZ
        usable = np.abs(offset_hz - offset_hz[len(offset_hz) // 2]) <= USABLE * self.capture.rate_hz
        # the mirror block would lie under a weak station, whose spectrum can be as flat
        sides = [side for side in (-1, 1) if not self._steady(self.channels_hz[index] + side * 2 * apart_hz)]
        return digital.of_neighbours(over_noise[usable], offset_hz[usable], apart_hz, sides)

    def _steady(self, channel_hz: float) -> bool:
        """Whether the envelope of a covered channel is steadier than noise's, a digital sideband's included."""
        where = np.flatnonzero(np.equal(self.channels_hz, channel_hz))
        scatter, frames = self._scatter[where].sum(axis=0)
        return bool(scatter < NOISE_SCATTERS * frames)

    def _heard_as(self, index: int, row: dict[str, Any]) -> dict[str, Any]:
        """Who the channel claims to be and how it sounds."""
        service, audio = self._services.result(index), self._audio.result(index)
        return {
            "rds_pi": "" if service.pi is None else f"{service.pi:04X}",
            "rds_ps": service.ps,
            "audio_snr_db": audio.mono_snr_db,
            "audio_sd_db": audio.snr_sd_db,
            "stereo_snr_db": audio.stereo_snr_db if row["pilot"] else np.nan,
            "level_30db_dbfs": row["noise_dbfs"] + audio.snr_30db,
        }

    def _only_hum(self, index: int) -> bool:
        audio = self._audio.result(index)
        return only_hum(self._programmes.audio(index), self._programmes.rate_hz, audio.noise_over_carrier, audio.clicks)

    def _made_in_receiver(self, index: int) -> dict[str, Any]:
        """Shares of the channel's power that the mirror channel and the likeliest third-order product explain."""
        figures: dict[str, Any] = {"image_share": self._images.share(self.channels_hz[index] - self.capture.centre_hz)}
        product = self._products.product(index)
        if product is not None:
            first, second, third = (self.channels_hz[maker] for maker in (product.first, product.second, product.third))
            figures["product_share"] = product.share
            figures["product_of"] = "+".join(channel_text("fm", hz) for hz in (first, second)) + "-" + channel_text("fm", third)
        return figures
