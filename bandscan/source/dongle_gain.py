"""The receiver's gain, found by one look over the band and then held: levels at different gains cannot be compared.

The highest gain whose peaks stay 8 to 10 dB under full scale (common practice: what is strong today is stronger tomorrow).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bandscan.source.dongle_checks import noise_over_steps_db
from bandscan.source.dongle_take import Dongle, Taken

HEADROOM_DB = 8.0
LOOK_S = 0.1
FIRST_LOOK_DB = 15.0  # most tuners are at neither end here, so the loudest step can be told
LIFTED_DB = 3.0  # noise less than this over that of rounding to 8 bits is not lifted over the steps


@dataclass(frozen=True)
class Chosen:
    """The gain [dB], the strongest peak there [dBFS], where it is [Hz], and what else to say."""

    gain_db: float
    peak_dbfs: float
    loudest_hz: int
    notes: tuple[str, ...]


def choose_gain(dongle: Dongle, centres_hz: Sequence[int]) -> Chosen:
    """Look over the centres once.

    Raises:
        DeviceError: the dongle is gone, or does not work.
    """
    gains = sorted(dongle.gains_db)

    def look(centre_hz: int, index: int) -> Taken:
        return dongle.take(centre_hz, gains[index], LOOK_S, "choosing the gain")

    start = min(range(len(gains)), key=lambda index: abs(gains[index] - FIRST_LOOK_DB))
    loudest = max(centres_hz, key=lambda centre: look(centre, start).swing.peak_dbfs)
    low, high = 0, len(gains) - 1
    while low < high:
        middle = (low + high + 1) // 2
        if look(loudest, middle).swing.peak_dbfs <= -HEADROOM_DB:
            low = middle
        else:
            high = middle - 1
    peak_dbfs, quietest_db = -200.0, 200.0
    for centre in (loudest, *(one for one in centres_hz if one != loudest)):
        taken = look(centre, low)
        while low > 0 and taken.swing.peak_dbfs > -HEADROOM_DB:
            low -= 1
            taken = look(centre, low)
            loudest, peak_dbfs = centre, -200.0
        if taken.swing.peak_dbfs > peak_dbfs:
            loudest, peak_dbfs = centre, taken.swing.peak_dbfs
        quietest_db = min(quietest_db, noise_over_steps_db(taken.stored))
    return Chosen(gains[low], peak_dbfs, loudest, tuple(_notes(peak_dbfs, quietest_db)))


def _notes(peak_dbfs: float, quietest_db: float) -> list[str]:
    notes = []
    if peak_dbfs > -HEADROOM_DB:
        notes.append(f"peaks reach {peak_dbfs:.1f} dBFS at the lowest gain: put a pad or a band-stop filter in the lead")
    if quietest_db < LIFTED_DB:
        notes.append(
            f"the noise stands {quietest_db:+.1f} dB to that of the 8-bit steps: strong stations keep the gain low, so the"
            " weakest are lost in the steps; a filter that holds the strongest back helps"
        )
    return notes
