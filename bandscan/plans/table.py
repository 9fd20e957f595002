"""The band plans as rows of data, each citing its rule.

Channels are integer hertz: of 206 FM channels stepped as floats by 0.1 MHz only 2 equal their decimal literal.
"""

from __future__ import annotations

from dataclasses import dataclass

from bandscan.errors import UsageError

BANDS = ("fm", "am")


@dataclass(frozen=True)
class BandPlan:
    """One broadcast band of one region.

    `first_hz`, `last_hz` and `step_hz` span the raster; `extra_hz` are channels outside it. `half_width_hz` is half of
    the channel width in which level and noise are meant, `carrier_tolerance_hz` the legal error of a carrier and
    `deemphasis_s` the receiver's time constant (0 for AM).
    """

    region: str
    band: str
    first_hz: int
    last_hz: int
    step_hz: int
    extra_hz: tuple[int, ...]
    half_width_hz: int
    carrier_tolerance_hz: float
    deemphasis_s: float
    rule: str

    @property
    def channels_hz(self) -> tuple[int, ...]:
        """All channels, ascending. [Hz]"""
        raster = range(self.first_hz, self.last_hz + 1, self.step_hz)
        return tuple(sorted({*raster, *self.extra_hz}))

    @property
    def guard_half_width_hz(self) -> int:
        """How far to either side of its carrier a channel must lie within a recording to be measured. [Hz]"""
        return 100_000 if self.band == "fm" else 5_000


_FM_US = "47 CFR 73.201 and 73.501: 200 kHz channels, 87.9 MHz extra; 73.1545 carrier within 2 kHz; 73.317 75 us"
_FM_EU = "ITU Geneva 1984 band 87.5-108 MHz, 100 kHz multiples (common practice); ITU-R BS.450-3 50 us"
_FM_JP = "Japan 76-95 MHz in 100 kHz steps (second-hand notice; 95-99 MHz opened in 2025, not yet listed); BS.450-3 50 us"
_AM_US = "47 CFR 73.14: 540-1700 kHz, 117 carriers of 10 kHz; 73.1545 carrier within 20 Hz"
_AM_NINE = "ITU Geneva 1975: carriers are multiples of 9 kHz, 531-1602 kHz; 20 Hz taken from 47 CFR 73.1545"

_PLANS = (
    BandPlan("us", "fm", 88_100_000, 107_900_000, 200_000, (87_900_000,), 100_000, 2000.0, 75e-6, _FM_US),
    BandPlan("us", "am", 540_000, 1_700_000, 10_000, (), 5_000, 20.0, 0.0, _AM_US),
    BandPlan("eu", "fm", 87_500_000, 108_000_000, 100_000, (), 100_000, 2000.0, 50e-6, _FM_EU),
    BandPlan("eu", "am", 531_000, 1_602_000, 9_000, (), 4_500, 20.0, 0.0, _AM_NINE),
    BandPlan("jp", "fm", 76_100_000, 95_000_000, 100_000, (), 100_000, 2000.0, 50e-6, _FM_JP),
    BandPlan("jp", "am", 531_000, 1_602_000, 9_000, (), 4_500, 20.0, 0.0, _AM_NINE),
)

REGIONS = tuple(dict.fromkeys(plan.region for plan in _PLANS))


def plan_for(region: str, band: str) -> BandPlan:
    """The plan of a region and band.

    Raises:
        UsageError: there is no such region or band.
    """
    for plan in _PLANS:
        if (plan.region, plan.band) == (region, band):
            return plan
    raise UsageError(f"no band plan {region!r} {band!r}", accepted=f"regions {', '.join(REGIONS)}; bands fm, am")
