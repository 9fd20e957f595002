"""The command line's words. Imports nothing heavy, so that `--help` answers at once."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from bandscan._version import __version__
from bandscan.cli.key_card import KEY_CARD

_WHAT = "What is on the air at this bench, and what a radio on it should therefore receive."
_EXIT = "Exit status: 3 if an input or the log failed, else 1 if a radio fell short, else 0; 2 for a wrong command line."


def parser() -> argparse.ArgumentParser:
    """The parser of the whole command line."""
    top = argparse.ArgumentParser(prog="bandscan", description=_WHAT, epilog=_EXIT)
    top.add_argument("--version", action="version", version=f"bandscan {__version__}")
    top.add_argument(
        "--shop", type=Path, metavar="DIR", help="the shop's folder (else BANDSCAN_SHOP, else the nearest one upward)"
    )
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for add in (_demo, _setup, _survey, _capture, _baseline, _sheet, _tally, _check, _log):
        # the shop may be named after the command as well
        add(commands).add_argument("--shop", type=Path, metavar="DIR", default=argparse.SUPPRESS, help=argparse.SUPPRESS)
    return top


if TYPE_CHECKING:
    _Commands: TypeAlias = argparse._SubParsersAction[argparse.ArgumentParser]  # argparse has no public name for it


def _demo(commands: _Commands) -> argparse.ArgumentParser:
    one = commands.add_parser("demo", help="forge an invented workshop's bands and go the whole way on them")
    one.add_argument("--to", type=Path, metavar="DIR", default=Path("reports/demo"), help="where to (default reports/demo)")
    return one


def _setup(commands: _Commands) -> argparse.ArgumentParser:
    one = commands.add_parser("setup", help="make a shop's folder; asks in a terminal for what is not told")
    one.add_argument("folder", type=Path, metavar="DIR")
    one.add_argument("--name", help="the shop's name")
    one.add_argument("--place", help="where the bench is")
    one.add_argument("--latitude", type=float, metavar="DEG", help="of the bench, north positive: AM knows day and night by it")
    one.add_argument("--longitude", type=float, metavar="DEG", help="east positive")
    one.add_argument("--time-zone", metavar="ZONE", help='as "America/Denver"')
    one.add_argument("--region", choices=("us", "eu", "jp"))
    one.add_argument("--rig", metavar="NAME", help="name of the rig: antenna, lead, splitter, receiver and gain together")
    one.add_argument("--antenna")
    one.add_argument("--lead")
    one.add_argument("--splitter", help="splitter or buffer amplifier")
    one.add_argument("--receiver", help="its serial number")
    one.add_argument("--gain", metavar="DB", help="the receiver's gain")
    one.add_argument("--am-feed", choices=("none", "direct", "upconverter"), help="how AM gets to the receiver")
    return one


def _survey(commands: _Commands) -> argparse.ArgumentParser:
    one = commands.add_parser("survey", help="measure recordings: what is on the air")
    one.add_argument("paths", type=Path, nargs="*", metavar="PATH", help="recordings or folders (default: the shop's captures)")
    one.add_argument(
        "--out", type=Path, metavar="DIR", help="write survey.csv, stations.csv, survey.json and occupancy.html here"
    )
    one.add_argument("--region", choices=("us", "eu", "jp"), help="band plan (default: the shop's, else us)")
    one.add_argument("--band", choices=("fm", "am"), help="(default: by each recording's centre)")
    one.add_argument("--rig", metavar="NAME", help="(default: the recording's own, else the shop's)")
    one.add_argument("--workers", type=int, default=1, metavar="N", help="processes that measure side by side (default 1)")
    raw = one.add_argument_group("recordings that do not tell how they were made")
    raw.add_argument("--format", metavar="FORMAT", help="bare I/Q: cu8, ci8, ci16 or cf32")
    raw.add_argument("--rate", metavar="HZ", help="bare I/Q: samples a second, as 2.4M")
    raw.add_argument("--centre", metavar="HZ", help="bare I/Q and WAV: centre frequency, as 98.1M")
    raw.add_argument("--started", metavar="TIME", help="bare I/Q: as 2026-03-14T10:30:00Z")
    raw.add_argument("--gain", type=float, metavar="DB", help="receiver gain of those recordings that do not tell theirs")
    return one


def _capture(commands: _Commands) -> argparse.ArgumentParser:
    one = commands.add_parser("capture", help="step the dongle across a band and survey it")
    one.add_argument("--band", choices=("fm", "am"), action="append", default=[], help="give it twice for both")
    one.add_argument(
        "--gain", metavar="DB", help="or `choose`: one look, then held (default: the rig's, else its last survey's)"
    )
    one.add_argument("--passes", type=int, default=3, metavar="N", help="times over the band (default 3)")
    one.add_argument("--quick", action="store_true", help="one gain, one pass, in less than a minute")
    one.add_argument("--keep", choices=("none", "iq"), default="none", help="keep figures only (default), or the IQ as well")
    one.add_argument("--resume", action="store_true", help="go on with the newest capture that was stopped")
    one.add_argument("--every", metavar="SPAN", help="again and again, as 30m or 1h")
    one.add_argument("--until", metavar="TIME", help="with --every: last start, as 18:00")
    one.add_argument("--rig", metavar="NAME", help="(default: the shop's)")
    one.add_argument("--region", choices=("us", "eu", "jp"), help="band plan (default: the shop's, else us)")
    one.add_argument("--out", type=Path, metavar="DIR", help="write the survey's files here; without a shop also the kept IQ")
    feed = one.add_argument_group("how AM gets to the dongle")
    feed.add_argument(
        "--direct", choices=("i", "q"), help="direct sampling of this input (default: q where the rig says direct)"
    )
    feed.add_argument("--upconverter", metavar="HZ", help="what the upconverter adds, as 125M")
    fine = one.add_argument_group("the dongle")
    fine.add_argument("--serial", metavar="S", help="which one (default: the rig's receiver, else the only one)")
    fine.add_argument(
        "--ppm", type=int, default=0, metavar="N", help="correction of its clock (default 0; errors are found anyway)"
    )
    fine.add_argument("--rate", default="2.4M", metavar="HZ", help="samples a second (default 2.4M)")
    fine.add_argument(
        "--settle", type=float, default=100.0, metavar="MS", help="thrown away after each retune (default 100 ms)"
    )
    fine.add_argument("--dwell", type=float, metavar="S", help="stay at each centre (default: FM 3, AM 10 s; quick 2, 4)")
    fine.add_argument("--pause", type=float, metavar="S", help="least time from pass to pass (default: FM 0, AM 30 s)")
    return one


def _baseline(commands: _Commands) -> argparse.ArgumentParser:
    one = commands.add_parser("baseline", help="make the reference station list from the log's surveys")
    one.add_argument(
        "--from",
        dest="sheets",
        type=Path,
        nargs="+",
        default=[],
        metavar="SHEET",
        help="sweeps of known-good radios, to make a list without levels of in place of surveys",
    )
    one.add_argument("--band", choices=("fm", "am"), help="(default: both)")
    one.add_argument("--rig", metavar="NAME", help="(default: the shop's, else the only one)")
    one.add_argument("--out", type=Path, metavar="DIR", help="(default: reports/baseline in the shop)")
    return one


def _sheet(commands: _Commands) -> argparse.ArgumentParser:
    one = commands.add_parser("sheet", help="write an empty count sheet, blind and with the stations")
    one.add_argument(
        "--baseline", type=Path, action="append", default=[], metavar="FILE", help="a baseline.csv in place of the log's"
    )
    one.add_argument("--rig", metavar="NAME", help="(default: the shop's, else the only one)")
    one.add_argument("--out", type=Path, metavar="DIR", help="(default: reports in the shop)")
    return one


def _tally(commands: _Commands) -> argparse.ArgumentParser:
    one = commands.add_parser(
        "tally",
        help="fill in a count sheet with one hand, at a terminal of 80 by 24",
        epilog=KEY_CARD,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    one.add_argument("sheet", type=Path, nargs="?", metavar="SHEET", help="new or begun (default: new, in the shop's reports)")
    return one


def _check(commands: _Commands) -> argparse.ArgumentParser:
    one = commands.add_parser("check", help="judge count sheets against the reference list")
    one.add_argument("sheets", type=Path, nargs="*", metavar="SHEET", help="(default: the newest sheet in the shop's reports)")
    one.add_argument(
        "--baseline", type=Path, action="append", default=[], metavar="FILE", help="a baseline.csv in place of the log's"
    )
    one.add_argument("--count", action="append", default=[], metavar="BAND=N", help="bare totals in place of a sheet, as fm=31")
    one.add_argument("--rig", metavar="NAME", help="(default: the sheet's, else the shop's)")
    one.add_argument(
        "--known-good", action="store_true", help="the radio is known to be good: keep it as the measure of its family"
    )
    one.add_argument("--out", type=Path, metavar="DIR", help="(default: reports/JOB in the shop)")
    one.add_argument("--pdf", action="store_true", help="owner's page and record as PDF as well, where a browser is there")
    return one


def _log(commands: _Commands) -> argparse.ArgumentParser:
    one = commands.add_parser("log", help="what the shop's log holds; checks as issued; export, backup, forget")
    one.add_argument("--job", metavar="N", help="print this job's checks as issued")
    one.add_argument("--station", metavar="DIAL", help="one station through all surveys, as 97.5 (FM, MHz) or 1400 (AM, kHz)")
    one.add_argument("--rig", metavar="NAME", help="with --station: of this rig only")
    one.add_argument(
        "--out",
        type=Path,
        metavar="DIR",
        help="with --job: write its files as issued into DIR/JOB; with --station: station.csv",
    )
    one.add_argument(
        "--export", type=Path, metavar="DIR", help="write checks.csv, surveys.csv and stations.csv for a spreadsheet"
    )
    one.add_argument("--backup", type=Path, metavar="FILE", help="copy the whole log into one file")
    one.add_argument(
        "--forget",
        nargs=2,
        metavar=("WHAT", "WHICH"),
        help="`survey ID`, `before DATE` (all surveys before it) or `job N` (its checks); what a check rests on stays",
    )
    return one
