"""Dial readings in every way the contract lists."""

from __future__ import annotations

import pytest

from bandscan.radio.dial import read_dial


@pytest.mark.parametrize(
    ("text", "hz"),
    [
        ("96.5", 96_500_000.0),
        ("96,5", 96_500_000.0),
        ("965", 96_500_000.0),
        ("96 1/2", 96_500_000.0),
        ("96½", 96_500_000.0),
        ("96 ¼", 96_250_000.0),
        ("88", 88_000_000.0),
        ("108", 108_000_000.0),
        ("1005", 100_500_000.0),
        ("1080", 108_000_000.0),
        ("87.75", 87_750_000.0),
        ("76.1", 76_100_000.0),
        ("96.3", 96_300_000.0),
        ("96.5 MHz", 96_500_000.0),
        ("96500 kHz", 96_500_000.0),
    ],
)
def test_fm(text: str, hz: float) -> None:
    """Megahertz, the dial's tenth, fractions and units give the same hertz, exactly."""
    assert read_dial(text, "fm") == hz


@pytest.mark.parametrize(
    ("text", "hz"),
    [
        ("1400", 1_400_000.0),
        ("140", 1_400_000.0),
        ("55", 550_000.0),
        ("160", 1_600_000.0),
        ("531", 531_000.0),
        ("1602", 1_602_000.0),
        ("140 1/2", 1_405_000.0),
        ("1400 kHz", 1_400_000.0),
        ("1,4 MHz", 1_400_000.0),
    ],
)
def test_am(text: str, hz: float) -> None:
    """Kilohertz and the dial's tenth give the same hertz, exactly."""
    assert read_dial(text, "am") == hz


@pytest.mark.parametrize("scale", ["fm", "am"])
@pytest.mark.parametrize(
    "text", ["", "x", "-96.5", "96..5", "1e6", "96.5.1", "nan", "inf", "300", "96.5 1/2", "96 1/0", "0", "٩٦", "96 2/1"]
)
def test_no_reading(text: str, scale: str) -> None:
    """What is no reading of that scale gives None, never a guess."""
    assert read_dial(text, scale) is None
