"""Pictures of the demo's pages for README.md: `python tests/house/pictures.py`, after `bandscan demo`, with a browser."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

TESTS = Path(__file__).resolve().parent.parent
DEMO = TESTS.parent / "reports" / "demo"
WIDTH_PX = 1000
# picture: its page and how much of that is shown [px]
PICTURES = {
    "occupancy.png": ("survey/occupancy.html", 800),
    "check-healthy.png": ("check-healthy/check.html", 1040),
    "check-deaf.png": ("check-deaf/check.html", 1145),
}


def main() -> None:
    """The upper part of each page as PNG."""
    sys.path.insert(0, str(TESTS))
    from pages.browser import Browser, found

    program = found()
    if program is None:
        sys.exit("no browser is installed: apt-get install chromium")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile, Browser(program, Path(profile)) as browser:
        for picture, (page, height_px) in PICTURES.items():
            browser.window(WIDTH_PX, height_px)
            browser.open(DEMO / page)
            (DEMO / picture).write_bytes(browser.picture(whole=False))
            print(DEMO / picture)


if __name__ == "__main__":
    main()
