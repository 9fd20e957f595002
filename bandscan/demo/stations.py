"""What can be put on an invented air, and the receiver that records it: plain records, all levels in dBFS."""

from __future__ import annotations

from dataclasses import dataclass

PROGRAMMES = ("speech", "music", "tone", "silence")


@dataclass(frozen=True)
class FmStation:
    """One FM station.

    `level_dbfs` is the power of its emission without digital sidebands. `deviation_hz` is the peak that the whole multiplex
    never exceeds; `pilot_dev_hz` (0: mono) and `rds_dev_hz` are the peak deviations of pilot and data subcarrier, the latter
    sent where `pi` is given. `pilot_error_hz` also moves the data subcarrier (threefold), which is locked to the pilot.
    `digital_db` is the total power of each digital sideband relative to the station (-20: 20 dB below).
    """

    channel_hz: int
    level_dbfs: float
    programme: str = "speech"
    pilot_dev_hz: float = 6750.0
    deviation_hz: float = 75_000.0
    carrier_error_hz: float = 0.0
    pilot_error_hz: float = 0.0
    pi: int | None = None
    ps: str = ""
    rds_dev_hz: float = 2000.0
    preemphasis_s: float = 75e-6
    tone_hz: float = 1000.0
    digital_db: float | None = None
    name: str = ""


@dataclass(frozen=True)
class AmStation:
    """One AM station; a second one on the same channel is simply another record.

    `level_dbfs` is the power of its carrier alone. `depth` is the peak of modulation, reached downwards and upwards;
    `audio_hz` is where its programme ends. `stereo` sends C-QUAM with its 25 Hz pilot.
    """

    channel_hz: int
    level_dbfs: float
    programme: str = "speech"
    depth: float = 0.85
    carrier_error_hz: float = 0.0
    audio_hz: float = 5000.0
    stereo: bool = False
    tone_hz: float = 400.0
    name: str = ""


@dataclass(frozen=True)
class Spur:
    """An unmodulated line at `at_hz` on the air."""

    at_hz: float
    level_dbfs: float


Source = FmStation | AmStation | Spur


@dataclass(frozen=True)
class Receiver:
    """The receiver that records.

    Levels of stations, spurs and noise are meant at gain `levels_at_gain_db`; a recording at `gain_db` holds them higher by
    the difference (None for either: no difference). `slope_db` tilts signals and noise over the whole rate (half of it up
    at the upper edge), `droop_db` is the loss at both edges. `compression` is a in y = x - a x |x|^2, before the
    noise, as a front end does. `image_db` is the mirror image's level relative to the signal (-40: 40 dB below).
    `ppm` is the error of its clock: a fast one (positive) shows every carrier too low.
    """

    noise_dbfs_hz: float = -106.0
    dc_dbfs: float | None = None
    slope_db: float = 0.0
    droop_db: float = 0.0
    gain_db: float | None = None
    levels_at_gain_db: float | None = None
    compression: float = 0.0
    image_db: float | None = None
    ppm: float = 0.0

    @property
    def gain_change_db(self) -> float:
        """What this recording's gain adds to the levels as they are stated. [dB]"""
        if self.gain_db is None or self.levels_at_gain_db is None:
            return 0.0
        return self.gain_db - self.levels_at_gain_db


@dataclass(frozen=True)
class Truth:
    """What was put into a recording for one station or spur, as it was recorded.

    `level_dbfs` includes the receiver's gain and its response at the carrier; `snr_db` is it over the forged noise in
    200 kHz (AM 10 kHz), without the noise that quantising adds. `carrier_error_hz` is the transmitter's own, without the
    receiver's clock. `peak_dev_hz` is the 99.9th percentile of abs(f - median f), `am_depth` the 99.5th percentile of
    abs(in-phase envelope / carrier - 1), both over the recording; None where they do not apply.
    """

    kind: str  # fm, am or spur
    channel_hz: int
    level_dbfs: float
    snr_db: float
    carrier_error_hz: float = 0.0
    pilot_dev_hz: float = 0.0
    pilot_error_hz: float = 0.0
    peak_dev_hz: float | None = None
    am_depth: float | None = None
    am_stereo: bool = False
    rds_pi: str = ""
    rds_ps: str = ""
    digital_db: float | None = None
    programme: str = ""
    name: str = ""
