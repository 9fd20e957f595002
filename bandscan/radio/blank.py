"""An empty count sheet: blind, or with the reference list's stations in dial order."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence

from bandscan.model import Baseline
from bandscan.plans import BANDS
from bandscan.radio.bench import bench_of
from bandscan.radio.header import KEYS
from bandscan.radio.sheet import COLUMNS
from bandscan.units import channel_text

# a blind sheet has room for this many stops more than the list has stations
_MORE_ROWS = 12
_CARD = (
    "one row a stop, in the order heard; rows left empty are not heard",
    "grade 3 clean, 2 every word follows, 1 a trace, M two at once, W a whistle, R a repeat; lamp on, off or flicker",
    "bands names what was swept, so that a silent band counts",
)


def blank_sheet(baselines: Sequence[Baseline], *, blind: bool, header: Mapping[str, str] | None = None) -> str:
    """A count sheet to fill in, as CSV that `read_sheet` takes.

    Blind it names no station, since seeing the list makes people hear it (from memory). Else every station of the lists has its
    row, in dial order, with its name or channel as a remark: what stands under `name` alone was known by ear: an anchor.
    `header` fills in header lines.
    """
    known = dict(header or {})
    rigs = {baseline.rig for baseline in baselines}
    if len(rigs) == 1:
        known.setdefault("rig", rigs.pop())
    if not blind:
        known.setdefault("seen_list", "yes")
    lines = io.StringIO(newline="")
    for key in KEYS:
        lines.write(f"# {key}: {known.get(key, '')}".rstrip() + "\n")
    for words in _CARD:
        lines.write(f"# {words}\n")
    writer = csv.DictWriter(lines, COLUMNS, restval="", lineterminator="\n")
    writer.writeheader()
    for baseline in sorted(baselines, key=lambda one: BANDS.index(one.band)):
        bench = bench_of(baseline)
        names = [shown or channel_text(bench.band, hz) for shown, hz in zip(bench.shown, bench.channel_hz, strict=True)]
        for name in [""] * (len(names) + _MORE_ROWS) if blind else names:
            # the word before it also keeps a spreadsheet from running a name
            writer.writerow({"band": bench.band, "remark": f"expected {name}" if name else ""})
    return lines.getvalue()
