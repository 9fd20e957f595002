"""The FM meter on signals made of Bessel's lines (scipy.special), at the limits that the rules set."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
import scipy.special

from bandscan.dsp.discriminator import Discriminator
from bandscan.dsp.pilot import PilotSum

RATE_HZ = 240_000.0

# 20 log10 (J1/J0) of the pilot's peak deviation over 19 kHz, the programme silent; 6.0 and 7.5 kHz are the limits of
# 47 CFR 73.322(a)(2), 8 and 10 % of 75 kHz
PILOT_LINES = [(6_000.0, -15.92), (6_750.0, -14.87), (7_500.0, -13.92)]


def of_lines(deviation_hz: float, modulating_hz: float, samples: int) -> npt.NDArray[np.complex64]:
    """A tone's FM as the sum of its lines, J_k(deviation / modulating) at k times the modulating frequency: no modulator."""
    time_s = np.arange(samples) / RATE_HZ
    orders = np.arange(-110, 111)
    weights = scipy.special.jv(orders, deviation_hz / modulating_hz)
    wave = sum(w * np.exp(2j * np.pi * k * modulating_hz * time_s) for k, w in zip(orders, weights, strict=True))
    return np.asarray(wave, dtype=np.complex64)


def demodulated(samples: npt.NDArray[np.complex64]) -> npt.NDArray[np.float32]:
    """bandscan's discriminator over samples that come in two batches of frames."""
    frames = samples.reshape(2, 8, -1)
    discriminator = Discriminator(8, frames.shape[2], RATE_HZ)
    first = discriminator.run(frames[0], complex(frames[0, 0, 0]), np.empty(frames[0].shape, np.float32)).copy()
    second = discriminator.run(frames[1], complex(frames[0, -1, -1]), np.empty(frames[0].shape, np.float32))
    return np.concatenate([first.ravel(), second.ravel()])


@pytest.mark.parametrize(("deviation_hz", "modulating_hz"), [(75_000.0, 8_667.0), (22_500.0, 1_000.0), (75_000.0, 1_000.0)])
def test_the_discriminator_reads_the_deviation_of_a_signal_made_of_lines(deviation_hz: float, modulating_hz: float) -> None:
    """75 kHz with the carrier in its third null, and the test modulations of receiver sheets, within 12 Hz.

    The arctangent is off by 9.3 Hz at most, which projects on the tone as 4/pi of that. A difference of phases averages the
    frequency over one sample: sinc(f / rate) less, 0.2 % at 8.667 kHz.
    """
    frequency_hz = demodulated(of_lines(deviation_hz, modulating_hz, 24_000))
    time_s = np.arange(24_000) / RATE_HZ
    line_hz = 2 * np.abs(np.mean((frequency_hz * np.exp(-2j * np.pi * modulating_hz * time_s))[1:]))
    assert line_hz / np.sinc(modulating_hz / RATE_HZ) == pytest.approx(deviation_hz, abs=12)


@pytest.mark.parametrize(("deviation_hz", "line_dbc"), PILOT_LINES)
def test_the_pilots_deviation_is_read_from_its_published_lines(deviation_hz: float, line_dbc: float) -> None:
    """Lines of the printed level at +-19 kHz read as 6.0, 6.75 and 7.5 kHz of pilot, each decided a pilot."""
    ratio = 10 ** (line_dbc / 20)
    time_s = np.arange(240_000) / RATE_HZ
    # carrier and first lines as printed (odd: the lower one is turned over), second lines by Bessel's recurrence
    carrier = 1.0 + 0j
    turn = np.exp(2j * np.pi * 19_000 * time_s)
    second = float(scipy.special.jv(2, deviation_hz / 19_000) / scipy.special.j0(deviation_hz / 19_000))
    samples = (carrier + ratio * (turn - turn.conj()) + second * (turn**2 + turn.conj() ** 2)).astype(np.complex64)
    pilot = PilotSum(1, RATE_HZ, len(samples))
    pilot.add(demodulated(samples)[None, :])
    line = pilot.line(0)
    assert np.sqrt(line.power) == pytest.approx(deviation_hz, rel=0.003)  # 0.01 dB of the printed level is 0.12 %
    assert line.offset_hz == pytest.approx(0.0, abs=0.05)
    assert pilot.is_pilot(line)
