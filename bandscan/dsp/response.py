"""The receiver's response over a recording's width, as the noise between the stations shows it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numpy.polynomial import Polynomial
from numpy.polynomial.legendre import leg2poly, legvander

from bandscan.units import db, from_db

RealArray = npt.NDArray[np.float64]

FLAT = Polynomial([0.0])
_SURE_SLOPE = 3.0  # a slope is believed from so many of its standard uncertainties on
_SURE_BEND = 2.5  # a bend too, which only places that show the floor themselves tell
_MOST_BENDS = 6  # a filter droops with the fourth power and more of the distance from its middle (common practice)
_DOUBTFUL_DB = 0.1  # places agree on a slope no better than that, and where they show the floor itself, than this
_SEEN_DB = 0.01
_APART_DB = 0.3  # what is seen near a place is not its floor where it lies further from it


def response(at_hz: RealArray, level_db: RealArray, sd_db: RealArray, seen_db: RealArray, seen_sd_db: RealArray) -> Polynomial:
    """The receiver's response [dB] but for a constant, as a polynomial of the frequency [Hz]; of degree 0 where none is sure.

    at_hz: ascending places; level_db, sd_db: the noise there and its standard uncertainty. seen_db, seen_sd_db: the same by
    what is next to each place alone, NaN where it does not show the floor.

    Where few windows see the floor a line through them is drawn level, which on a slope is wrong by decibels, and a straight
    line cuts across a droop; the whole band's response is better known.
    """
    found = FLAT
    if len(at_hz) < 3:
        return found
    middle, half = (at_hz[-1] + at_hz[0]) / 2.0, (at_hz[-1] - at_hz[0]) / 2.0
    seen = np.abs(seen_db - level_db) <= np.maximum(3.0 * sd_db, _APART_DB)
    value, weight, sure = level_db, 1.0 / (sd_db**2 + _DOUBTFUL_DB**2), _SURE_SLOPE
    for degree in range(1, min(_MOST_BENDS, len(at_hz) - 2) + 1):
        if degree == 2:
            value, sure = np.where(seen, seen_db, level_db), _SURE_BEND
            weight = 1.0 / np.where(seen, seen_sd_db**2 + _SEEN_DB**2, (2.0 * sd_db) ** 2 + _DOUBTFUL_DB**2)
        if degree > 1 and seen.sum() < degree + 2:
            break
        basis = legvander((at_hz - middle) / half, degree)
        inverse = np.linalg.inv((basis * weight[:, None]).T @ basis)
        bends = inverse @ (basis * weight[:, None]).T @ value
        scatter = float(weight @ (value - basis @ bends) ** 2) / (len(at_hz) - degree - 1)
        if abs(bends[-1]) > sure * float(np.sqrt(inverse[-1, -1] * max(scatter, 1.0))):
            bends[0] = 0.0
            found = Polynomial(leg2poly(bends), domain=[middle - half, middle + half])
    return found


def beyond(shape: Polynomial, frequency_hz: RealArray) -> RealArray:
    """A response at any frequency [dB]: outside the places that show it, along its slope at the last of them."""
    inside = np.clip(frequency_hz, *shape.domain) if shape.degree() else frequency_hz
    return np.asarray(shape(inside) + shape.deriv()(inside) * (frequency_hz - inside), dtype=np.float64)


def curve(density: RealArray, at_hz: RealArray, frequency_hz: RealArray, shape: Polynomial) -> RealArray:
    """Noise density at every frequency [1/Hz]: between the places as they are, beyond them along the receiver's response."""
    level = db(np.maximum(density, 1e-30)) - shape(at_hz)
    return np.asarray(from_db(np.interp(frequency_hz, at_hz, level) + beyond(shape, frequency_hz)), dtype=np.float64)
