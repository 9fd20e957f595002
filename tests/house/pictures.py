"""Pictures of the demo's pages for README.md: `python tests/house/pictures.py`, after `bandscan demo`, with a browser."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

TESTS = Path(__file__).resolve().parent.parent
DEMO = TESTS.parent / "reports" / "demo"
WIDTH_PX = 1000
# page -> how much of it is shown
PICTURES = {"occupancy": 780, "check-healthy": 1010, "check-deaf": 1010}


def main() -> None:
    """One PNG beside each page, its upper part."""
    sys.path.insert(0, str(TESTS))
    from pages.browser import Browser, found

    program = found()
    if program is None:
        sys.exit("no browser is installed: apt-get install chromium")
    with tempfile.TemporaryDirectory() as profile, Browser(program, Path(profile)) as browser:
        for name, height_px in PICTURES.items():
            browser.window(WIDTH_PX, height_px)
            browser.open(DEMO / f"{name}.html")
            browser.picture(DEMO / f"{name}.png", whole=False)
            print(DEMO / f"{name}.png")


if __name__ == "__main__":
    main()
