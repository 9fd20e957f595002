"""The demo's forge: recordings of invented stations with known truth.

Imports neither dsp nor measure, so forger and judge share no arithmetic.
"""

from bandscan.demo.forge_band import Forged, forge
from bandscan.demo.stations import AmStation, FmStation, Receiver, Source, Spur, Truth
from bandscan.demo.write import quantise, write

__all__ = ["AmStation", "FmStation", "Forged", "Receiver", "Source", "Spur", "Truth", "forge", "quantise", "write"]
