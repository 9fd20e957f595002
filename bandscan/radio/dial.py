"""A dial reading as people write it, understood in hertz.

FM: `96.5`, `96,5`, `96 1/2`, `96½` in MHz, or the dial's tenth `965`. AM: `1400` in kHz or the dial's tenth `140`, as the
numerals of a car dial (55, 60, 70 ... 160) are printed. A unit may stand behind: `96.5 MHz`, `1400 kHz`, `1.4 MHz`.

The accepted spans are wider than the bands, since a pointer may stand beside the numerals.
"""

from __future__ import annotations

import re
from fractions import Fraction

_MHZ = 1_000_000.0
_KHZ = 1_000.0

# (low, high, hertz per unit) of a number without a unit; the spans do not overlap, so a number has one meaning
_FM_SPANS = ((70.0, 115.0, _MHZ), (700.0, 1150.0, _MHZ / 10.0))
_AM_SPANS = ((44.0, 185.0, 10.0 * _KHZ), (440.0, 1850.0, _KHZ))
_LIMITS_HZ = {"fm": (70e6, 115e6), "am": (440e3, 1850e3)}
_UNITS_HZ = {"mhz": _MHZ, "khz": _KHZ, "m": _MHZ, "k": _KHZ}

ACCEPTED = {
    "fm": "70 to 115 MHz as 96.5, 96,5 or 96 1/2, or the dial's tenth as 965",
    "am": "440 to 1850 kHz as 1400, or the dial's tenth as 140",
}

_GLYPHS = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3"}
_NUMBER = re.compile(r"(?P<whole>[0-9]{1,9})(?:[.,](?P<part>[0-9]{1,6}))?(?:\s+(?P<top>[0-9])\s*/\s*(?P<bottom>[0-9]))?")
_READING = re.compile(rf"{_NUMBER.pattern}\s*(?P<unit>[kKmM](?:[hH][zZ])?)?")


def read_dial(text: str, scale: str) -> float | None:
    """What a reading says. [Hz]

    `scale` is `fm` or `am`: the numerals on the dial, which on a converted set need not be those of the band.
    None where the text is no reading of that scale.
    """
    for glyph, fraction in _GLYPHS.items():
        text = text.replace(glyph, fraction)
    found = _READING.fullmatch(text.strip())
    if found is None or (found["top"] and (found["part"] or found["bottom"] in "01" or found["top"] >= found["bottom"])):
        return None
    number = float(f"{found['whole']}.{found['part'] or 0}")
    if found["top"]:
        number += float(Fraction(int(found["top"]), int(found["bottom"])))
    low_hz, high_hz = _LIMITS_HZ[scale]
    if found["unit"]:
        reading_hz = round(number * _UNITS_HZ[found["unit"].lower()], 3)
        return reading_hz if low_hz <= reading_hz <= high_hz else None
    for low, high, unit_hz in _FM_SPANS if scale == "fm" else _AM_SPANS:
        if low <= number <= high:
            return round(number * unit_hz, 3)
    return None
