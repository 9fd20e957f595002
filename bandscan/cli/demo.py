"""`bandscan demo`: an invented workshop's bands are forged, then the pipeline goes its whole way on them."""

from __future__ import annotations

import os
import shutil
from argparse import Namespace
from datetime import timedelta
from pathlib import Path

from bandscan import pipeline
from bandscan.cli import words
from bandscan.demo import Scene, forge_survey, load_scene, names_csv, sheets
from bandscan.errors import BandscanError, UsageError
from bandscan.model import utc_text

_WORKERS = 2  # more would take more memory than a demo should
# lists and checks are made so long after the last survey began, when its radios are swept: the scene's time, as all else in it,
# so that the same scene gives the same files on any day
_AFTER = timedelta(hours=3)
_TIME_ZONE = "Etc/GMT+5"  # the sheets of the scene tell local time, five hours behind UTC: the sign is that way round


def demo(told: Namespace) -> int:
    """Forge the scene, survey it, list its stations, judge its radios; pages, CSV and JSON go into `told.to`."""
    scene = load_scene()
    to: Path = told.to
    shop = _fresh_shop(scene, to / "shop")
    pipeline.share_plots(to)
    workers = min(os.cpu_count() or 1, _WORKERS)
    words.say(f"forging {len(scene.days)} days of FM and AM in {scene.place}, an invented town")
    days: list[list[Path]] = []
    with pipeline.worker_pool(workers) as pool:
        for day in range(1, len(scene.days) + 1):
            with words.progress(f"forging day {day}", plain=True) as step:
                days.append(forge_survey(scene, day, shop.captures, step, pool))
    words.say("measuring")
    with words.progress("measuring", plain=True) as step:
        every = pipeline.survey([], shop=shop, workers=workers, progress=step)
    errors: list[BandscanError] = list(every.errors)
    surveyed = pipeline.survey(days[-1], shop=shop, out=to / "survey")
    words.say("listing the stations")
    made_utc = utc_text(scene.days[-1] + _AFTER)
    listed = pipeline.baseline(shop, out=to / "baseline", made_utc=made_utc)
    words.say("judging the radios")
    pages: dict[str, Path] = {}
    shown: dict[str, str] = {}
    written = pipeline.write_files(to / "sheets", {f"{key}.csv": text for key, text in sheets(scene).items()})
    # the known-good radio comes first: the others are measured by it
    for radio, sheet in sorted(zip(scene.radios, written, strict=True), key=lambda pair: not pair[0].known_good):
        done = pipeline.check([sheet], shop=shop, known_good=radio.known_good, out=to / f"check-{radio.key}", made_utc=made_utc)
        errors += done.errors
        for one in done.checks:
            verdicts = "; ".join(f"{band.upper()} {judged.verdict}, {judged.why}" for band, judged in one.bands.items())
            words.result(f"{radio.key}: {one.radio}, job {one.job}: {verdicts}")
            shown[radio.key] = f"{one.radio}: {', '.join(f'{band.upper()} {it.verdict}' for band, it in one.bands.items())}"
        pages.update((radio.key, path) for path in done.files if path.name == "check.html")
    status = words.failures([*errors, *surveyed.errors, *listed.errors], told)
    judged = [radio.key for radio in scene.radios if not radio.known_good and radio.key in pages]
    occupancy = [path for path in (*surveyed.files, *listed.files) if path.suffix == ".html"]
    _point_out(occupancy, [(pages[key], f"a radio held against it, {shown[key]}") for key in judged])
    words.say(
        f"next: for a bench of your own run: bandscan setup DIR;"
        f" to look at what the demo logged: bandscan --shop {words.shown(shop.folder)} log"
    )
    return status


def _fresh_shop(scene: Scene, folder: Path) -> pipeline.Shop:
    """The demo's own shop, made anew; a shop that is not the demo's is never touched."""
    if folder.exists():
        if not (folder / "shop.toml").is_file() or not pipeline.load_shop(folder).demo:
            raise UsageError(f"{folder} is there and not the demo's", do="choose another folder with --to")
        shutil.rmtree(folder)
    rig = pipeline.Rig(scene.rig, antenna=scene.rig)
    shop = pipeline.make_shop(
        folder, rig, name=scene.name, place=scene.place, time_zone=_TIME_ZONE, region=scene.region, demo=True
    )
    pipeline.write_files(folder, {"names.csv": names_csv(scene)})
    return shop


def _point_out(occupancy: list[Path], checks: list[tuple[Path, str]]) -> None:
    """Three files to open and what each shows."""
    shows = [(occupancy[0], "what is on the air, channel by channel"), *checks]
    words.result("\n".join(["open:", *(f"  {words.shown(page)}: {what}" for page, what in shows[:3])]))
