"""The demo's forge: an invented workshop, recordings of its air with known truth, and radios on its bench.

Imports neither dsp nor measure, so forger and judge share no arithmetic. What the demo command needs:

    scene = load_scene()                               # captures_demo/scene.toml, InputError if it is not there
    for day in range(1, len(scene.days) + 1):
        paths = forge_survey(scene, day, folder, progress, pool)
    texts = sheets(scene)                              # {radio.key: count sheet as CSV text}, keys in scene.radios
    text = names_csv(scene)                            # the shop's names.csv
"""

from bandscan.demo.forge_band import Forged, forge
from bandscan.demo.make import forge_survey, on_air
from bandscan.demo.radio_model import names_csv, sheets
from bandscan.demo.scene import Radio, Scene
from bandscan.demo.scene_file import load_scene
from bandscan.demo.stations import AmStation, FmStation, Receiver, Source, Spur, Truth
from bandscan.demo.write import quantise, write

__all__ = [
    "AmStation",
    "FmStation",
    "Forged",
    "Radio",
    "Receiver",
    "Scene",
    "Source",
    "Spur",
    "Truth",
    "forge",
    "forge_survey",
    "load_scene",
    "names_csv",
    "on_air",
    "quantise",
    "sheets",
    "write",
]
