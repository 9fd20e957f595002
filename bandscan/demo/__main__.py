"""`python -m bandscan.demo` remakes the short recordings that are committed beside the scene."""

from bandscan.demo.make import forge_samples
from bandscan.demo.scene_file import SCENE_PATH, load_scene

if __name__ == "__main__":
    for path in forge_samples(load_scene(), SCENE_PATH.parent):
        print(path)
