"""Forged air for the stand-in to play: a few stations, once for each centre that the plan tunes to, at two gains."""

from __future__ import annotations

from pathlib import Path

from bandscan.demo import AmStation, FmStation, Receiver, Source, forge, quantise

RATE_HZ = 2_400_000
PPM = 57.0
GAIN_DB, SECOND_DB = 28.0, 19.7
FM_SECONDS, AM_SECONDS = 0.45, 2.2

# a small town: two strong stations whose products fall on 97.5 and 99.3, and two weaker ones
FM = (
    FmStation(98_100_000, -14.0, "speech", carrier_error_hz=300.0),
    FmStation(98_700_000, -16.0, "music", carrier_error_hz=-500.0),
    FmStation(99_700_000, -38.0, "music", carrier_error_hz=900.0),
    FmStation(100_300_000, -45.0, "speech", pilot_dev_hz=0.0, carrier_error_hz=-200.0),
)
FM_PHANTOMS_HZ = (97_500_000, 99_300_000)
# the centres of the two sets of 2.4 MS/s in region us from which anything of them can be seen
FM_CENTRES_HZ = (96_600_000, 98_200_000, 99_800_000, 101_400_000, 97_400_000, 99_000_000, 100_600_000)
AM = (
    AmStation(640_000, -30.0, "speech", carrier_error_hz=3.0),
    AmStation(910_000, -24.0, "music", carrier_error_hz=-7.0, stereo=True),
    AmStation(1_230_000, -44.0, "speech", carrier_error_hz=11.0),
    AmStation(1_560_000, -36.0, "music", carrier_error_hz=-2.0),
)
AM_CENTRES_HZ = (915_000, 1_335_000)


def lay(folder: Path, sources: tuple[Source, ...], centre_hz: int, seconds: float, receiver: Receiver, name: str) -> Path:
    """One recording of the stand-in's folder."""
    folder.mkdir(parents=True, exist_ok=True)
    made = forge(sources, receiver, centre_hz, RATE_HZ, seconds, seed=(6, 1))
    path = folder / f"{name}.ci16"
    path.write_bytes(quantise(made.samples, "ci16").tobytes())
    return path


def forge_fm(folder: Path) -> None:
    """The town's FM at both gains, through a front end that makes third-order products, with a clock that is 57 ppm fast."""
    for centre in FM_CENTRES_HZ:
        for gain in (GAIN_DB, SECOND_DB):
            receiver = Receiver(
                -112.0, dc_dbfs=-45.0, droop_db=1.5, ppm=PPM, compression=0.5, gain_db=gain, levels_at_gain_db=GAIN_DB
            )
            lay(folder, FM, centre, FM_SECONDS, receiver, f"{centre}_{round(gain * 10)}")


def forge_am(folder: Path, offset_hz: int = 0) -> None:
    """The town's AM as it comes by direct sampling, or through an upconverter of `offset_hz`."""
    for centre in AM_CENTRES_HZ:
        receiver = Receiver(-110.0, dc_dbfs=-50.0, ppm=20.0)
        lay(folder, AM, centre, AM_SECONDS, receiver, str(centre + offset_hz))
