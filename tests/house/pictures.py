"""Pictures of the demo's pages for README.md: `python tests/house/pictures.py`, after `bandscan demo`, with a browser."""

from __future__ import annotations

import hashlib
import json
import re
import sys
import tempfile
from pathlib import Path

TESTS = Path(__file__).resolve().parent.parent
DEMO = TESTS.parent / "reports" / "demo"
RECORD = "pictures.json"
WIDTH_PX = 1000
# picture: its page and how much of that is shown [px]
PICTURES = {
    "occupancy.png": ("survey/occupancy.html", 800),
    "check-healthy.png": ("check-healthy/check.html", 905),
    "check-deaf.png": ("check-deaf/check.html", 905),
}


def fingerprint(page: str) -> str:
    """What a page looks like: its words and styles, figures apart, which the last digit of a sum may change."""
    from report.reader import Reader

    styles = " ".join(re.findall(r"<style>(.*?)</style>", page, flags=re.DOTALL))
    words = re.sub(r"[\d.,:−-]*\d", "#", f"{styles} {Reader(page).words}")
    return hashlib.sha256(" ".join(words.split()).encode()).hexdigest()[:16]


def stale(demo: Path) -> list[str]:
    """Pictures whose page, as the demo in `demo` has made it, is no longer the one that they were taken of."""
    taken = json.loads((DEMO / RECORD).read_text(encoding="utf-8"))
    return [
        picture
        for picture, (page, _) in PICTURES.items()
        if fingerprint((demo / page).read_text(encoding="utf-8")) != taken.get(picture)
    ]


def main(demo: Path) -> None:
    """The upper part of each page as PNG, and what the pages were."""
    sys.path.insert(0, str(TESTS))
    from pages.browser import Browser, found

    program = found()
    if program is None:
        sys.exit("no browser is installed: apt-get install chromium")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile, Browser(program, Path(profile)) as browser:
        for picture, (page, height_px) in PICTURES.items():
            browser.window(WIDTH_PX, height_px)
            browser.open(demo / page)
            (DEMO / picture).write_bytes(browser.picture(whole=False))
            print(DEMO / picture)
    taken = {picture: fingerprint((demo / page).read_text(encoding="utf-8")) for picture, (page, _) in PICTURES.items()}
    (DEMO / RECORD).write_text(json.dumps(taken, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else DEMO)
