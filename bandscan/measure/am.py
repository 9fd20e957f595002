"""The AM band in one pass: spectrum, and each channel at 12.5 kS/s for its carrier, depth and stereo pilot."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from bandscan.dsp import am, comb, noise
from bandscan.dsp.audio import am_audio_snr_db
from bandscan.dsp.channeliser import Channeliser, channel_filter, cut_all
from bandscan.dsp.fold import FoldSum
from bandscan.dsp.grid import Grid, make_grid
from bandscan.dsp.line import Line
from bandscan.dsp.spectrum import HANN_NOISE_BINS, SpectrumSum, bridge
from bandscan.measure.frames import USABLE, Pass, transforms
from bandscan.measure.notes import (
    FoundComb,
    comb_note,
    find_off_raster,
    fold_note,
    gain_note,
    joined,
    overload_note,
    smeared_note,
)
from bandscan.model import Capture, ComplexArray
from bandscan.plans import BandPlan
from bandscan.units import db, from_db

BATCH = 8  # frames of about 40 ms
SEGMENT_S = 2.0
LONG_S = 4.0  # from this length on every second batch is enough for the noise, from three times this every fourth
DC_HALF_WIDTH_HZ = 60.0
SKIRTS_SD_DB = 0.02  # what stations leave between them, where the floor is read (checked by simulation)
TOLD_SD_DB, TOLD_MOST_DB = 0.1, 1.0  # of the noise across a carrier (checked by simulation); more over the floor is no noise
FULL, FULL_SD_DB = 0.8, 0.1  # of a band, and the doubt of its floor besides, which stands between sidebands (by simulation)
DEPTH_SNR_DB = 15.0
LEAST_LEVEL_SD_DB = 0.003  # programme near the carrier leaves this much at any level
SMEARED_SNR_DB, SMEARED = 3.0, 1.01  # from here up a carrier's amplitude by short parts tells a smear of its whole
FADES = 0.03  # scatter of a carrier's power over parts of the time, besides what noise makes of it in a part's bandwidth
PART_HZ, LAST_PARTS = 8.0, 4
FADES_DOUBT, UNHEARD_DOUBT = 0.04, 0.8  # of that scatter: in any recording, and by its share not followed (by simulation)
SMEARED_DOUBT = 0.5  # of what the smear took: short parts lose some of it too
LEAST_CARRIER_SD_HZ = 0.0001  # the parabola through three bins leaves this at any level
AUDIO_SD_DB = 1.0  # of a programme of a second or two, from forged stations
RASTER_LINE_OVER = 30.0  # a carrier over the median of its 1 kHz
RASTER_LEAST = 4
RASTER_AGREES = 0.6  # of the lines stand as far off as stations of one receiver do; programme's and combs do not
RASTER_NEAR_HZ = 250.0  # clock and all, over the band
RASTER_SMALL_HZ = 120.0
AT_CENTRE_HZ = 3.0
AT_CENTRE_SD_DB = 3.0  # of a station's level where the receiver's own line stands on its carrier: from memory
SECOND_SD_DB = 1.0  # of a carrier's beside that line
# of what stands beside the receiver's line, in one phase: all of a station's, whose sidebands are alike, but of a spur and its
# image, an amplitude r of it, 2 r / (1 + r^2), 0.345 at IMAGE_DB; so much of the noise, too, which has an image as well
EVEN_AT_CENTRE, MIRRORED = 0.6, 0.345
OUT_OF_PHASE = 2.0  # times its noise stands in the channel of a carrier whose sidebands are not seen: it may be no bare carrier
IMAGE_DB = 15.0  # a mirror image is weaker by so much at the least (common practice: 25 dB and more)
IMAGE_HZ = 0.02  # an image's offset from the centre agrees with its maker's so well
IMAGE_SIGMAS = 4.0
IMAGE_HEARD = 0.1  # of an envelope's power must be programme, or it tells nothing: a third of the correlation
IMAGE_UNKNOWN = 0.3
OVER_COMB_DB = 10.0  # a comb's neighbouring lines differ by less (from memory)
LEAST_POWER = 1e-16  # -160 dBFS: less than this is the arithmetic's own
# of an FM emission's middle: half of Carson's bandwidth for 75 kHz of deviation and a programme of 35 kHz
FOLD_REACH_HZ = 110e3
FOLD_COVERS = 2.0  # a carrier of less than twice the emission's power may be its own
LIVELY = 5.0  # strongest bin near a carrier's place over the channel's quarter: noise of four frames reaches 4 at most


def am_grid(rate_hz: float) -> Grid:
    """Frames of about 40 ms (25 Hz bins), so that a filter can part channels 9 kHz apart; channels leave at about 12.5 kS/s."""
    return make_grid(rate_hz, bin_hz=25.0, out_size=512, out_trim=25, step=256, primes=(2, 3))


def raster_error_hz(capture: Capture, plan: BandPlan) -> float:
    """How far the carriers as a whole stand off the raster, from a quick look at the first frames; 0 where they do not. [Hz]

    An upconverter's oscillator may be off by more than a channel's half: only what is left over a whole number of channels can
    be seen. Small errors are left to each carrier's own search.
    """
    grid = am_grid(capture.rate_hz)
    spectrum = SpectrumSum(grid.size, capture.rate_hz)
    seen = Pass()
    for _, spectra in transforms(capture, grid, BATCH, seen):
        if seen.whole.any():
            spectrum.add(spectra[seen.whole])
            break
    offsets = spectrum.frequencies()
    density = bridge(spectrum.density(), offsets, 0.0, DC_HALF_WIDTH_HZ)
    inside = np.abs(offsets) <= USABLE * capture.rate_hz
    lines, over = comb.lone_lines(density[inside], offsets[inside] + capture.centre_hz, 1e3, RASTER_LINE_OVER)
    error, share, carriers = comb.raster_offset(lines, over, float(plan.step_hz), RASTER_NEAR_HZ)
    clear = carriers >= RASTER_LEAST and share >= RASTER_AGREES and abs(error) > RASTER_SMALL_HZ
    return error if clear else 0.0


class AmPass:
    """Sums of one pass; `rows` gives the figures at the end."""

    def __init__(self, capture: Capture, plan: BandPlan, channels_hz: tuple[int, ...]) -> None:
        self.capture, self.plan, self.channels_hz = capture, plan, channels_hz
        self.grid = am_grid(capture.rate_hz)
        self.seen = Pass()
        grid = self.grid
        response = channel_filter(grid, plan.half_width_hz)
        self._noise_width_hz = float(np.square(response).sum()) * grid.out_rate_hz / grid.out_size
        self._cutters = [Channeliser(grid, response, channel - capture.centre_hz) for channel in channels_hz]
        self._spectrum = SpectrumSum(grid.size, capture.rate_hz)
        # in a longer recording a part of the time tells the noise as well
        self._spectrum_every = 1 + min(int(capture.duration_s / LONG_S), 3)
        self._batches = 0
        raster_hz = np.array(plan.channels_hz, dtype=np.float64) - capture.centre_hz
        self._folds = FoldSum(self._spectrum.frequencies(), raster_hz, USABLE * capture.rate_hz)
        bins = np.array([cutter.centre_bin for cutter in self._cutters])
        # a quarter of a channel's bins tells where its quiet quarter lies
        near, wide = (
            (bins[:, None] + np.arange(-round(reach / grid.bin_hz), round(reach / grid.bin_hz) + 1, every)) % grid.size
            for reach, every in ((am.SEARCH_HZ + grid.bin_hz, 1), (plan.half_width_hz, 4))
        )
        self._looked_at, places = np.unique(np.hstack([near, wide]), return_inverse=True)
        self._near, self._wide = np.hsplit(places.reshape(len(bins), -1), [near.shape[1]])
        frames = grid.full_frames(len(capture.samples))
        segments = max(1, round(frames * grid.out_hop / grid.out_rate_hz / SEGMENT_S))
        # several segments of whole batches, so that a channel that livens up starts with a fresh one
        in_segment = frames if segments == 1 else max(frames // segments // BATCH, 1) * BATCH
        self._length = in_segment * grid.out_hop
        # `_holed`: no segment is whole, and one with lost samples has to serve
        self._segments_left, self._holed = frames // in_segment, False
        self._comb: FoundComb | None = None
        # powers in parts of the time of carriers strong enough to tell a smear; of those that have one, what it took [dB]
        self._strong, self._smeared = list[npt.NDArray[np.float64]](), dict[int, float]()
        self._second: dict[int, tuple[float, float]] = {}  # distance from the first carrier [Hz], power over it
        self._kept, self._kept_of = np.zeros((0, 0), np.complex64), list[int]()
        work = am.Workspace(self._length)
        self._carriers = [am.CarrierSum(self._length, grid.out_rate_hz, work) for _ in channels_hz]
        self._lines: list[tuple[Line, bool]] = []

    def run(self) -> None:
        """Reads the capture once."""
        grid, count = self.grid, len(self.channels_hz)
        cut = np.empty((count, BATCH, grid.out_size), np.complex64)
        kept = np.zeros((count, self._length), np.complex64)
        filled, holed, any_whole = 0, False, False
        lively: list[int] = []
        # the receiver's own line spoils the sidebands of a station in whose channel it falls, but it may be a station's carrier
        apart = min(abs(channel - self.capture.centre_hz) for channel in self.channels_hz) > am.SEARCH_HZ
        for first, spectra in transforms(self.capture, grid, BATCH, self.seen, without_dc=apart):
            rows = len(spectra)
            whole = self.seen.whole
            if self._batches % self._spectrum_every == 0 and whole.any():
                self._folds.add(spectra[int(np.argmax(whole))])
                self.seen.bursts += self._spectrum.add(spectra if whole.all() else spectra[whole])
            self._batches += 1
            if not filled:
                lively, holed = self._lively(spectra) if whole.all() else list(range(count)), False
            holed |= not whole.all()
            brought = rows * grid.out_hop
            if lively:
                cutters = [self._cutters[index] for index in lively]
                samples = cut_all(cutters, spectra, first, cut[: len(lively), :rows])
                kept[: len(lively), filled : filled + brought].reshape(samples.shape)[...] = samples
            filled += brought
            if filled == self._length:
                self._segments_left -= 1
                self._holed = holed and not any_whole and not self._segments_left
                if not holed or self._holed:
                    for index, segment in zip(lively, kept, strict=False):
                        self._carriers[index].add(segment)
                any_whole |= not holed
                # what all lack at once would sound alike
                filled, self._kept_of = 0, [] if holed else list(lively)
        # what is left of the last whole segment tells who sounds alike
        self._kept = kept[: len(self._kept_of), filled:]

    def _lively(self, spectra: ComplexArray) -> list[int]:
        """Channels in which this batch shows something like a carrier: only these are worth the rest of the work.

        A carrier 10 dB under its channel's noise still stands 16 dB over a bin of 25 Hz.
        """
        parts = np.take(spectra, self._looked_at, axis=1).view(np.float32)
        power = np.einsum("ij,ij->j", parts, parts).reshape(-1, 2).sum(axis=1)
        peak, wide = power[self._near].max(axis=1), power[self._wide]
        quiet = np.partition(wide, wide.shape[1] // 4, axis=1)[:, wide.shape[1] // 4]
        return [int(index) for index in np.flatnonzero(peak >= LIVELY * quiet)]

    def _smear(self, index: int, row: dict[str, Any], beating: float) -> None:
        """A carrier whose phase jumps or wanders, or that fades, is measured by short parts, and the less sure.

        `beating`: power over it of another station's carrier, which is no doubt of its own level.
        """
        carrier = self._carriers[index]
        power, smear = carrier.part_powers(), carrier.smear()
        if row["snr_db"] < SMEARED_SNR_DB or not len(power):
            return
        self._strong.append(power / power.mean())
        change_db = db(float(power.mean())) - row["level_dbfs"]
        if smear > SMEARED:
            self._smeared[index] = change_db
        # a carrier of s of its power moves its power by 2 sqrt(s) cos(...), and its mean amplitude by s / 4 (Taylor's series)
        scatter = float(np.sqrt(max(np.var(power) / power.mean() ** 2 - 2.0 * beating, 0.0)))
        jumps = smear > SMEARED + beating / 4.0
        if jumps or scatter > FADES + 3.0 * np.sqrt(PART_HZ / self.plan.half_width_hz / from_db(row["snr_db"])):
            unheard = 1.0 - min(carrier.followed_s / self.capture.duration_s, 1.0)
            # mostly the recording's end, which is most like what was followed last
            change_db += db(1.0 + unheard * (float(power[-LAST_PARTS:].mean() / power.mean()) - 1.0))
            fades_db = 4.343 * scatter * (FADES_DOUBT + UNHEARD_DOUBT * unheard)
            doubt_db = float(np.hypot(2.0 * SMEARED_DOUBT * db(smear), fades_db)) if jumps else fades_db
            self._less_sure(index, row, change_db - db(1.0 + beating), doubt_db, 1.0 if jumps else scatter)

    def _smear_all(self, rows: list[dict[str, Any]]) -> None:
        """What smears most of the strong carriers smears those as well that are too weak to show it, and beats with none."""
        taken_db = list(self._smeared.values())
        change_db, doubt_db = float(np.median(taken_db)), float(np.hypot(np.std(taken_db), np.median(taken_db)))
        for index, row in enumerate(rows):
            if "carrier_sd_hz" in row and row["snr_db"] < SMEARED_SNR_DB:
                self._less_sure(index, row, change_db, doubt_db)
            words = row["remarks"].split(";")
            if index in self._smeared and any(word.startswith("second-carrier") for word in words):
                row["remarks"] = ";".join(word for word in words if not word.startswith("second-carrier"))
                parts_db = db(float(self._carriers[index].part_powers().mean()))
                self._less_sure(index, row, parts_db - row["level_dbfs"], doubt_db)

    def _less_sure(self, index: int, row: dict[str, Any], change_db: float, doubt_db: float, turned: float = 1.0) -> None:
        resolution_hz = self._carriers[index].resolution_hz
        row["level_dbfs"] += change_db
        row["snr_db"] += change_db
        row["level_sd_db"] = float(np.hypot(row["level_sd_db"], doubt_db))
        row["carrier_sd_hz"] = float(np.hypot(row["carrier_sd_hz"], SMEARED_DOUBT * min(turned, 1.0) * resolution_hz))

    def notes(self) -> list[str]:
        """Lines for the user about the recording as a whole; after `rows`."""
        return [
            *overload_note(self.seen),
            *fold_note(self._folds.found(), self.capture.centre_hz),
            *comb_note(self._comb, self.plan),
            *smeared_note(len(self._smeared), len(self._strong)),
            *gain_note(self._strong),
        ]

    def rows(self) -> list[dict[str, Any]]:
        """One row of READINGS for each channel, without what is the same for the whole capture."""
        offsets = self._spectrum.frequencies()
        density = bridge(self._spectrum.density(), offsets, 0.0, DC_HALF_WIDTH_HZ)
        usable_hz = USABLE * self.capture.rate_hz
        self._comb = find_off_raster(density, offsets, self.capture.centre_hz, self.plan, usable_hz)
        averages = self._spectrum.frames / HANN_NOISE_BINS
        centres = np.array(self.channels_hz, float) - self.capture.centre_hz
        line = noise.noise_floor(density, offsets, averages, centres, usable_hz, noise.AM_FLOOR)
        floor = noise.with_seen(line)
        self._lines = [carrier.line() for carrier in self._carriers]
        told_db = np.array([self._told_db(index, float(floor.density[index])) for index in range(len(centres))])
        # where nearly nowhere most of what is near is floor, the line may hold sidebands
        unseen = np.isnan(floor.seen_db)
        full_db = np.where(unseen & (unseen.mean() >= FULL), FULL_SD_DB, 0.0)
        floor = noise.held_against(floor, centres, told_db, TOLD_SD_DB, noise.AM_FLOOR, full_db)
        rows = [
            self._row(index, float(floor.density[index]), float(floor.sd_db[index]), int(floor.witnesses[index]))
            for index in range(len(centres))
        ]
        if smeared_note(len(self._smeared), len(self._strong)):
            self._smear_all(rows)
        self._mark_images(rows)
        if self._comb is not None:
            self._mark_comb(rows, self._comb)
        for fold in self._folds.found():
            for centre, row in zip(centres, rows, strict=True):
                covered = row.get("level_dbfs", -np.inf) <= db(FOLD_COVERS * fold.power)
                if abs(centre - fold.offset_hz) <= FOLD_REACH_HZ and covered:
                    row["remarks"] = joined(row["remarks"], "fm-fold-over")
        return rows

    def _told_db(self, index: int, floor: float) -> float:
        """By how much the noise across a carrier's phase differs from `floor` [dB]; NaN where it tells nothing.

        In a full band the lowest windows hold some of the stations' sidebands; across the carriers stands only noise, and what
        neighbours, fading and stereo add.
        """
        carrier, (line, is_carrier) = self._carriers[index], self._lines[index]
        if not is_carrier or line.power <= LEAST_POWER or carrier.smear() > SMEARED or carrier.stereo():
            return float("nan")
        change_db = db(max(carrier.across() * line.power / self._noise_width_hz, LEAST_POWER * 1e-9) / floor)
        return change_db if change_db <= TOLD_MOST_DB else float("nan")

    def _mark_comb(self, rows: list[dict[str, Any]], found: FoundComb) -> None:
        """A carrier on a comb's place may be the comb's, whatever it carries, unless it is far stronger than its lines."""
        most_db = db(max(found.strongest, LEAST_POWER)) + OVER_COMB_DB
        for row in rows:
            at_hz = row["channel_hz"] + row.get("carrier_error_hz", np.nan)
            if row.get("level_dbfs", np.inf) <= most_db and found.covers(at_hz, self.plan):
                row["remarks"] = joined(row["remarks"], "comb")

    def _mark_images(self, rows: list[dict[str, Any]]) -> None:
        """Gives its `image_share` to a carrier as far below the centre as a far stronger one is above, or above as below.

        Stations and receiver may all be exact to a few hundredths of a hertz, so that the carriers' places alone prove nothing:
        an image has the other's programme as well. Where noise hides the programme both may be. A second carrier's programme
        cannot be told from the first one's, so that the place alone says what it may be.
        """
        seen = [index for index, row in enumerate(rows) if row.get("carrier_sd_hz") is not None]
        offset_hz = np.array([rows[one]["channel_hz"] - self.capture.centre_hz + rows[one]["carrier_error_hz"] for one in seen])
        level_db, sd_hz = (np.array([rows[one][name] for one in seen]) for name in ("level_dbfs", "carrier_sd_hz"))
        for place, own in enumerate(seen):
            alike = np.abs(offset_hz[place] + offset_hz) <= np.maximum(IMAGE_SIGMAS * np.hypot(sd_hz[place], sd_hz), IMAGE_HZ)
            for other in np.flatnonzero(alike & (level_db >= level_db[place] + IMAGE_DB)):
                rows[own]["image_share"] = self._heard_of(own, seen[other], -rows[own]["snr_db"])
            if own in self._second:
                away_hz, share = self._second[own]
                # its place is known to the bins of the padded spectrum
                there = np.abs(offset_hz[place] + away_hz + offset_hz) <= self._carriers[own].resolution_hz / 2.0
                if (there & (level_db >= level_db[place] + db(share) + IMAGE_DB)).any():
                    rows[own]["remarks"] = rows[own]["remarks"].replace("second-carrier", "perhaps-image")

    def _heard_of(self, own: int, other: int, noise_over_carrier_db: float) -> float:
        """Share of a channel's modulation that is a far stronger one's, 0 to 1; `IMAGE_UNKNOWN` where noise hides it."""
        if own not in self._kept_of or other not in self._kept_of:
            return IMAGE_UNKNOWN
        here, there = (np.abs(self._kept[self._kept_of.index(one)]).astype(np.float64) for one in (own, other))
        here, there = here / here.mean() - 1.0, there / there.mean() - 1.0
        sound = float(there @ there) / len(there)
        # half of the noise is in the envelope; the other's modulation would be this share of it
        most = sound / (sound + 0.5 * from_db(noise_over_carrier_db) + am.LEAST_SIDEBANDS)
        if most < IMAGE_HEARD:
            return IMAGE_UNKNOWN
        alike = max(float(here @ there), 0.0) ** 2 / max(float(here @ here) * float(there @ there), 1e-30)
        return min(alike / most, 1.0)

    def _row(self, index: int, floor: float, floor_sd_db: float, witnesses: int) -> dict[str, Any]:
        carrier, cutter = self._carriers[index], self._cutters[index]
        noise_power = max(floor * 2 * self.plan.half_width_hz, LEAST_POWER)
        row: dict[str, Any] = {
            "channel_hz": self.channels_hz[index],
            "noise_dbfs": db(noise_power),
            "noise_sd_db": float(np.hypot(floor_sd_db, SKIRTS_SD_DB)),
        }
        remarks = ["noise-upper-bound"] if witnesses < noise.LEAST_WITNESSES else []
        line, is_carrier = self._lines[index]
        offset_hz = line.offset_hz - cutter.residue_hz
        beside = carrier.sidebands()
        sidebands = beside if carrier.programme() else 0.0
        at_centre = is_carrier and abs(self.channels_hz[index] + offset_hz - self.capture.centre_hz) < AT_CENTRE_HZ
        second = carrier.second() if is_carrier else None
        if at_centre:
            # the receiver's own offset makes a line there: only modulation tells that a station stands on it
            remarks.append("receiver-centre")
            noise_beside = noise_power / max(line.power, LEAST_POWER)
            uneven = sidebands < max(EVEN_AT_CENTRE * (carrier.beside() - noise_beside), MIRRORED * noise_beside)
            if uneven and second is not None:
                power = line.power * second[1]
                row |= {
                    "level_dbfs": db(power),
                    "level_sd_db": SECOND_SD_DB,
                    "snr_db": db(power / noise_power),
                    "carrier_error_hz": offset_hz + second[0],
                    "carrier_sd_hz": carrier.resolution_hz,
                }
            is_carrier = sidebands > 0 and not (uneven and second is not None)
        elif sidebands == 0:
            second = None  # what wanders leaves lines of its own
        if is_carrier and line.power > LEAST_POWER:
            snr_db = db(line.power / noise_power)
            row |= {
                "level_dbfs": db(line.power),
                "level_sd_db": float(np.hypot(8.686 * line.amplitude_sd / np.sqrt(line.power), LEAST_LEVEL_SD_DB)),
                "snr_db": snr_db,
                "carrier_error_hz": offset_hz,
                "carrier_sd_hz": float(np.hypot(carrier.resolution_hz * line.offset_sd, LEAST_CARRIER_SD_HZ)),
                "am_stereo": carrier.stereo(),
                "sideband_db": db(sidebands) if sidebands > 0 else np.nan,
                "audio_snr_db": am_audio_snr_db(db(sidebands), snr_db) if sidebands > 0 else np.nan,
                "audio_sd_db": AUDIO_SD_DB if sidebands > 0 else np.nan,
                # the audio's signal-to-noise goes with the carrier's
                "level_30db_dbfs": db(noise_power) + 30.0 - am_audio_snr_db(db(sidebands), 0.0) if sidebands > 0 else np.nan,
            }
            if self._holed:
                # how much of this one segment, is not known; it leaves dips in every envelope
                remarks.append("samples-missing")
                lost_db = -2.0 * db(1.0 - min(self.seen.lost / self.seen.samples, 0.9))
                row["level_sd_db"] = float(np.hypot(row["level_sd_db"], lost_db))
            else:
                self._smear(index, row, second[1] if second is not None else 0.0)
            if at_centre:
                row["level_sd_db"] = AT_CENTRE_SD_DB
                if uneven:
                    remarks.append("uneven-sidebands")
            elif beside > sidebands:
                remarks.append("unsteady-carrier")
            elif sidebands == 0 and carrier.beside() > OUT_OF_PHASE * noise_power / line.power + am.LEAST_SIDEBANDS:
                remarks.append("sidebands-out-of-phase")
            if carrier.only_hum():
                remarks.append("hum-only")
            if second is not None:
                self._second[index] = second
                remarks.append(f"second-carrier:{second[0]:+.1f}Hz:{db(second[1]):.0f}dB")
            if snr_db >= DEPTH_SNR_DB and index not in self._smeared and not self._holed:
                row["am_depth"] = carrier.depth(noise_power / line.power)
        row["remarks"] = ";".join(remarks)
        return row
