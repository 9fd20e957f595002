"""The check page: verdict, reason and next test first; then what they rest on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bandscan.model import BandCheck, Baseline, RadioCheck, StationHeard
from bandscan.report import page
from bandscan.report.curve import heard_plot, lamp_plot, lamp_words, pointer_plot, pointer_words
from bandscan.report.dial import Dial, dial_for
from bandscan.report.grid import Grid, Head, filled
from bandscan.report.strip import strip_plot, telling_misses, telling_words
from bandscan.report.words import (
    BAND_NAMES,
    VERDICT_LIMIT,
    am_through_pad,
    answer,
    chance,
    channels,
    counted,
    day_words,
    denied,
    expected,
    instant,
    interval,
    name,
    number,
    only_counted,
    partly,
    plain,
    reference,
    sensitivity,
    speaking,
    through,
    unit_words,
    weighed,
)
from bandscan.units import channel_text

NO_ERROR = "no error seen"  # a dial's model without any error: what its places show is said of them
UNFITTED = "not fitted"  # the same of a band without a list
MISSED_SHOWN = 12  # nobody reads a longer table at the bench
_SLUG = {"in line": "in-line", "look closer": "look-closer", "falls short": "falls-short", "cannot tell": "cannot-tell"}


def check_page(check: RadioCheck, baselines: Mapping[str, Baseline], *, library: str = "") -> str:
    """The check page of one radio, HTML. `baselines` are those it was judged against, by band.

    A band without a baseline is drawn on the dial of region `us` and says that no list was given. `library` is the address,
    from the page, of a file that holds `plot_library()`; empty puts the library into the page.
    """
    return page.render(
        "check.html",
        plots=True,
        library=library,
        form="Radio check",
        tab=f"Job {name(check.job)}: "
        + ", ".join(f"{BAND_NAMES[band]} {name(one.verdict)}" for band, one in check.bands.items()),
        heading=f"Job {name(check.job) or 'unnamed'}",
        forged=check.forged,
        slip=[
            ("radio", name(check.radio)),
            ("family", name(check.family)),
            ("swept", name(check.swept)),
            ("by", name(check.by)),
        ],
        bands=[_band(one, baselines.get(band)) for band, one in check.bands.items()],
        cautions=[plain(caution) for caution in check.cautions],
        rests=_rests(check, baselines),
        made=instant(check.made_utc),
        version=name(check.version),
    )


def facts(check: BandCheck) -> list[tuple[str, str]]:
    """The figures behind a verdict, in words, the same on the page and in the terminal."""
    if check.dial_model == UNFITTED:  # without a list there is nothing but the count
        return [("heard", f"{check.counted} counted{through(check.pad_db)}")]
    unit = unit_words(check.unit)
    rows = [
        ("heard", _heard_words(check)),
        ("sensitivity", sensitivity(check)),
        ("half heard at", interval(check.threshold_db, unit)),
        ("reference", reference(check.reference)),
        ("dial", _dial_words(check)),
        ("lamp", lamp_words(check)),
    ]
    return [(term, words) for term, words in rows if words]


def _heard_words(check: BandCheck) -> str:
    told = "how many a good set follows so is not known" if am_through_pad(check) else expected(check.expected)
    return f"{check.counted} counted{through(check.pad_db)}; {told}"


def _dial_words(check: BandCheck) -> str:
    """Where the pointer is off, and by which kinds of error where the sweeps support any."""
    kinds = "" if not check.dial_points or check.dial_model in ("", NO_ERROR) else f"; model: {name(check.dial_model)}"
    return f"{pointer_words(check)}{kinds}"


def _band(check: BandCheck, baseline: Baseline | None) -> dict[str, Any]:
    dial = _dial(check, baseline)
    side = (heard_plot(check), pointer_plot(check, dial), lamp_plot(check))
    return {
        "code": check.band,
        "name": BAND_NAMES[check.band],
        "verdict": name(check.verdict),
        "slug": _SLUG.get(check.verdict, "cannot-tell"),
        "why": plain(check.why, VERDICT_LIMIT),
        "do_next": plain(check.do_next, VERDICT_LIMIT),
        "brief": facts(check)[:2],
        "facts": facts(check)[2:],
        "strip": strip_plot(check, dial),
        "side": [plot for plot in side if plot is not None],
        "findings": [
            {
                "fault": name(finding.fault),
                "text": plain(finding.text),
                "evidence": channels(check.band, sorted(finding.evidence)),
                "next_test": plain(finding.next_test),
                "weight": weighed(finding),
            }
            for finding in speaking(check)
        ],
        "no_finding": _no_finding(check),
        "denied": denied(check),
        "missed": _missed(check, baseline),
        "extras": extras_grid(check),
        "stations": stations_grid(check, baseline),
    }


def _no_finding(check: BandCheck) -> str:
    if only_counted(check):
        return "which stations were heard is not known, so there is no pattern that could point at a fault"
    if am_through_pad(check):
        return "the attenuator's doing cannot be told from a fault's, so none was looked for in what was heard and missed"
    return "the pattern of what was heard and missed points at no fault"


def _dial(check: BandCheck, baseline: Baseline | None) -> Dial:
    region = baseline.region if baseline is not None else "us"
    return dial_for(region, check.band)


def _channel_head(band: str) -> Head:
    return Head("channel", "MHz" if band == "fm" else "kHz", figures=True)


def _missed(check: BandCheck, baseline: Baseline | None) -> Grid:
    some, listed = telling_misses(check), _listed(baseline)
    heads = (
        _channel_head(check.band),
        Head("level", unit_words(check.unit), figures=True),
        Head("spread", "dB", figures=True),
        Head("chance it was heard", "%", figures=True),
        Head("heard"),
        Head("name"),
    )
    rows = tuple(
        (
            channel_text(check.band, one.channel_hz),
            number(one.level_db),
            number(listed.get(one.channel_hz, {}).get("spread_db")),
            chance(one.probability),
            partly(one),
            name(one.name),
        )
        for one in some[:MISSED_SHOWN]
    )
    what = " or ".join(sorted({"not followed" if partly(one) else "missed" for one in some})) or "missed"
    caption = f"{BAND_NAMES[check.band]}: {telling_words(check, what)}"
    caption += f", the strongest {MISSED_SHOWN} of {len(some)}." if len(some) > MISSED_SHOWN else "."
    return filled(Grid(caption, heads, rows))


def extras_grid(check: BandCheck) -> Grid:
    """The ticks that the list does not explain, numbered as in the strip."""
    heads = (Head("no.", figures=True), Head("dial as read"), Head("near", _channel_head(check.band).unit, True), Head("why"))
    rows = tuple(
        (
            str(order),
            name(extra.dial),
            channel_text(check.band, extra.channel_hz) if extra.channel_hz is not None else "",
            plain(extra.explained_by) or "unexplained",
        )
        for order, extra in enumerate(check.extras, 1)
    )
    return Grid(f"{BAND_NAMES[check.band]}: heard, but not on the list.", heads, rows)


def _listed(baseline: Baseline | None) -> dict[int, dict[Any, Any]]:
    """Rows of the list by channel. [Hz]"""
    return {} if baseline is None else {int(row["channel_hz"]): row for row in baseline.stations.to_dict("records")}


def stations_grid(check: BandCheck, baseline: Baseline | None) -> Grid:
    """Every station of the list as this radio had it."""
    listed = _listed(baseline)
    heads = (
        _channel_head(check.band),
        Head("level", unit_words(check.unit), figures=True),
        Head("spread", "dB", figures=True),
        Head("this radio"),
        Head("chance it was heard", "%", figures=True),
        Head("dial as read", figures=True),
        Head("grade", figures=True),
        Head("lamp"),
        Head("pilot", "% of surveys", figures=True),
        Head("steadiness"),
        Head("name"),
    )
    rows = tuple(_station(one, listed.get(one.channel_hz, {}), check.band) for one in check.stations)
    caption = (
        f"{BAND_NAMES[check.band]}: the {counted(len(rows), 'station')} of the reference list"
        f"{f', as heard{through(check.pad_db)}' if check.pad_db else ''}. Spread: from survey to survey."
    )
    return filled(Grid(caption, heads, rows))


def _station(station: StationHeard, listed: Mapping[Any, Any], band: str) -> tuple[str, ...]:
    stereo = listed.get("stereo")
    return (
        channel_text(band, station.channel_hz),
        number(station.level_db),
        number(listed.get("spread_db")),
        answer(station),
        chance(station.probability),
        name(station.dial),
        name(station.grade),
        name(station.lamp),
        number(100 * stereo, 0) if isinstance(stereo, float) else "",
        name(listed.get("steadiness")),
        name(station.name),
    )


def _rests(check: RadioCheck, baselines: Mapping[str, Baseline]) -> list[tuple[str, str]]:
    rows = []
    for band in check.bands:
        baseline = baselines.get(band)
        words = "no reference list was given"
        if baseline is not None:
            words = (
                f"{counted(len(baseline.stations), 'station')} from {counted(baseline.surveys, 'survey')}, "
                f"{instant(baseline.first_utc) or 'undated'} to {instant(baseline.last_utc) or 'undated'}, rig "
                f"{name(baseline.rig) or 'unnamed'}; grade {name(baseline.grade)}: {plain(baseline.grade_reason)}"
            )
        rows.append((f"{BAND_NAMES[band]} list", words))
        today = day_words(band, (check.today or {}).get(band, {}))
        if today:
            rows.append((f"{BAND_NAMES[band]} that day", today))
    return rows
