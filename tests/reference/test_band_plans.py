"""The band plans against the published channel tables. The source stands beside each value."""

from __future__ import annotations

import pytest

from bandscan.plans import plan_for

# 47 CFR 73.201 and 73.501: channel number -> frequency in MHz. Read in the text: 200, 201, 206, 220, 221 and 244; the others
# follow from the rule's formula f = 87.9 + 0.2 (n - 200).
FM_US_EXAMPLES = [
    (200, "87.9"),
    (201, "88.1"),
    (206, "89.1"),
    (210, "89.9"),
    (211, "90.1"),
    (220, "91.9"),
    (221, "92.1"),
    (244, "96.7"),
    (248, "97.5"),
    (254, "98.7"),
    (260, "99.9"),
    (300, "107.9"),
]


@pytest.mark.parametrize(("number", "mhz"), FM_US_EXAMPLES)
def test_us_fm_channels_stand_where_the_rule_puts_them(number: int, mhz: str) -> None:
    """Channel n of 47 CFR 73.201 is the (n - 200)th of the plan, in whole hertz."""
    whole, tenths = mhz.split(".")
    assert plan_for("us", "fm").channels_hz[number - 200] == int(whole) * 1_000_000 + int(tenths) * 100_000


def test_us_fm_has_a_hundred_channels_and_one_extra() -> None:
    """47 CFR 73.201: channels 201 to 300; 73.501: channel 200, 87.9 MHz, besides. All are odd tenths of a megahertz."""
    channels = plan_for("us", "fm").channels_hz
    assert len(channels) == 101
    assert (channels[0], channels[1], channels[-1]) == (87_900_000, 88_100_000, 107_900_000)
    assert {channel % 200_000 for channel in channels} == {100_000}


def test_us_am_has_117_carriers() -> None:
    """47 CFR 73.14 (editions 2007 to 2020): 540 to 1700 kHz in steps of 10 kHz; 117 is counted from those."""
    channels = plan_for("us", "am").channels_hz
    assert len(channels) == 117
    assert (channels[0], channels[1], channels[-1]) == (540_000, 550_000, 1_700_000)


@pytest.mark.parametrize("region", ["eu", "jp"])
def test_nine_kilohertz_am_has_120_carriers(region: str) -> None:
    """Geneva 1975 (in force 1978-11-23): carriers are multiples of 9 kHz; 531 = 59 x 9 to 1602 = 178 x 9 are 120."""
    channels = plan_for(region, "am").channels_hz
    assert len(channels) == 120
    assert (channels[0], channels[-1]) == (531_000, 1_602_000)
    assert all(channel % 9_000 == 0 for channel in channels)
    assert 522_000 not in channels  # the treaty moved a 520 kHz station there: a multiple of 9 kHz, below this plan


def test_the_two_am_rasters_share_only_multiples_of_90_khz() -> None:
    """Arithmetic: 10 and 9 kHz meet every 90 kHz; 540 to 1620 are 13, of which 1620 lies above the 9 kHz plan's end."""
    shared = sorted(set(plan_for("us", "am").channels_hz) & set(plan_for("eu", "am").channels_hz))
    assert [channel // 1000 for channel in shared] == [540, 630, 720, 810, 900, 990, 1080, 1170, 1260, 1350, 1440, 1530]


def test_european_fm_is_100_khz_from_87p5_to_108() -> None:
    """Geneva 1984 Agreement: 87.5-108 MHz; multiples of 100 kHz are common practice: 206 channels."""
    channels = plan_for("eu", "fm").channels_hz
    assert len(channels) == 206
    assert (channels[0], channels[1], channels[-1]) == (87_500_000, 87_600_000, 108_000_000)


def test_japanese_fm_is_100_khz_from_76p1_to_95() -> None:
    """Ministry's notice as relayed on a list, 2025 (second-hand): 76-95 MHz in 100 kHz steps; 95-99 opened in 2025."""
    channels = plan_for("jp", "fm").channels_hz
    assert (channels[0], channels[1], channels[-1]) == (76_100_000, 76_200_000, 95_000_000)
    assert len(channels) == 190


def test_carrier_tolerances_are_those_of_the_rule() -> None:
    """47 CFR 73.1545: FM over 10 W within 2000 Hz, AM within 20 Hz."""
    assert plan_for("us", "fm").carrier_tolerance_hz == 2000
    assert plan_for("us", "am").carrier_tolerance_hz == 20


@pytest.mark.parametrize(
    ("band", "channel_hz", "ppm"),
    [("fm", 87_900_000, 22.8), ("fm", 107_900_000, 18.5), ("am", 540_000, 37.0), ("am", 1_700_000, 11.8)],
)
def test_carrier_tolerance_in_parts_per_million(band: str, channel_hz: int, ppm: float) -> None:
    """47 CFR 73.1545 worked out: tighter than the 20 to 50 ppm of a cheap receiver's clock."""
    plan = plan_for("us", band)
    assert channel_hz in plan.channels_hz
    assert plan.carrier_tolerance_hz / channel_hz * 1e6 == pytest.approx(ppm, abs=0.05)


def test_deemphasis_time_constants() -> None:
    """47 CFR 73.317(e): 75 us in the US; ITU-R BS.450-3 section 1.2: 50 us elsewhere."""
    assert plan_for("us", "fm").deemphasis_s == 75e-6
    assert plan_for("eu", "fm").deemphasis_s == 50e-6
    assert plan_for("jp", "fm").deemphasis_s == 50e-6


@pytest.mark.parametrize("region", ["us", "eu", "jp"])
@pytest.mark.parametrize("band", ["fm", "am"])
def test_every_plan_cites_its_rule_and_counts_in_whole_hertz(region: str, band: str) -> None:
    """A plan is a row of data that says where it is from; a channel is an integer."""
    plan = plan_for(region, band)
    assert len(plan.rule) > 20
    assert all(type(channel) is int for channel in plan.channels_hz)
    assert list(plan.channels_hz) == sorted(set(plan.channels_hz))
