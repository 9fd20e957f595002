"""The pages in a real browser: quiet, drawn, within the width, verdict on the first screen, whole on paper."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from pages.browser import Browser
from report import records

from bandscan import report
from bandscan.model import Finding

WIDE, PHONE, PAPER_PX = (1280, 800), (390, 844), 703  # 186 mm between the margins of A4 at 96 px to the inch


def occupancy() -> str:
    both = pd.concat([records.stations("fm", 60, records.HOSTILE), records.stations("am", 45)])
    facts = {"title": records.HOSTILE[0], "region": "us", "rig": records.HOSTILE[8], "started_utc": "2031-05-03T10:00:00Z"}
    return report.occupancy_page(both, **facts, cautions=records.HOSTILE, forged=True)  # type: ignore[arg-type]


def baseline() -> str:
    return report.baseline_page(records.baseline(names=records.HOSTILE), hours=records.hours(), zone=records.HOSTILE[1])


def check(hostile: bool = True) -> str:
    lists = {"fm": records.baseline(names=records.HOSTILE), "am": records.baseline("am", 45, levels=False)}
    return report.check_page(records.radio_check(hostile=hostile), lists)


def change() -> str:
    return report.change_page(records.change(hostile=True))


def customer() -> str:
    """Every list of the page as long as it gets: three places of the dial, a finding of each kind, hostile cautions."""
    lists = {"fm": records.baseline(names=records.HOSTILE), "am": records.baseline("am", 45, names=records.HOSTILE)}
    check = records.radio_check(hostile=True)
    point = check.bands["fm"].dial_points[0]
    findings = tuple(Finding(fault, "", (), "", 9.0) for fault in ("other-antenna", "pointer-stretch", "lamp-late"))
    full = {
        band: replace(one, verdict="falls short", findings=findings, dial_points=(point, *check.bands[band].dial_points))
        for band, one in check.bands.items()
    }
    cautions = ("word of caution " * 21, "another caution " * 4, *check.cautions)
    return report.customer_page(replace(check, bands=full, forged=True, cautions=cautions), lists)


def record() -> str:
    lists = {"fm": records.baseline(names=records.HOSTILE), "am": records.baseline("am", 45, levels=False)}
    return report.record_page(records.radio_check(hostile=True), lists, "\n".join(records.HOSTILE))


def sheet(blind: bool = False) -> str:
    lists = [records.baseline(names=records.HOSTILE), records.baseline("am", 45, names=records.HOSTILE)]
    return report.sheet_page(lists, blind=blind, header={"antenna": records.HOSTILE[9]}, shop=records.HOSTILE[0])


def show(browser: Browser, page: str, folder: Path, size: tuple[int, int]) -> None:
    file = folder / "page.html"
    file.write_text(page, encoding="utf-8")
    browser.window(*size)
    browser.open(file)


def sides(pdf: bytes) -> int:
    """Pages of a PDF: its page objects, which the browser leaves uncompressed (ISO 32000-1, 7.7.3.3: /Type /Page)."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def wait_for(browser: Browser, condition: str) -> None:
    until = time.monotonic() + 10
    while not browser.run(condition):
        assert time.monotonic() < until, condition
        time.sleep(0.05)


# plots shown at this width, each with the library's drawing in it as wide as its place
DRAWN = """(() => {
  const shown = [...document.querySelectorAll('.plot')].filter(plot => plot.offsetParent !== null);
  return shown.length > 0 && shown.every(plot => {
    const drawing = plot.querySelector('.main-svg');
    return drawing && plot.querySelector('.scatterlayer path, .scatterlayer text, .barlayer path')
      && Math.abs(drawing.getBoundingClientRect().width - plot.clientWidth) < 2;
  });
})()"""

# pairs of labels or numerals of one plot whose boxes cover each other by more than a hair
OVERLAPS = """[...document.querySelectorAll('.plot')].filter(plot => plot.offsetParent !== null).flatMap(plot => {
  const boxes = [...plot.querySelectorAll('.annotation-text, .xtick text, .ytick text, .y2tick text')]
    .map(one => [one.textContent, one.getBoundingClientRect()]);
  return boxes.flatMap(([name, a], index) => boxes.slice(index + 1)
    .filter(([, b]) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
      && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1)
    .map(([other]) => `${name} on ${other}`));
})"""


# labels of one plot that cover a head of it
COVERED = """[...document.querySelectorAll('.plot')].filter(plot => plot.offsetParent !== null).flatMap(plot => {
  const heads = [...plot.querySelectorAll('.scatterlayer .points path')].map(one => one.getBoundingClientRect());
  return [...plot.querySelectorAll('.annotation-text')].filter(label => {
    const a = label.getBoundingClientRect();
    return heads.some(b => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
      && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1);
  }).map(label => `${label.textContent} on a head`);
})"""


@pytest.mark.parametrize("page", [occupancy, baseline, change, check], ids=lambda page: page.__name__)
def test_a_page_full_of_hostile_text_is_quiet_drawn_and_within_its_width(browser: Browser, page, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """At 1280 and at 390 px: no console error, no request, every plot drawn, no label on another, no sideways scrolling."""
    show(browser, page(), tmp_path, WIDE)
    title = browser.run("document.title")
    for size in (WIDE, PHONE):
        browser.window(*size)
        wait_for(browser, DRAWN)
        assert browser.run("document.documentElement.scrollWidth") <= size[0]
        assert browser.run(OVERLAPS) == []
        assert browser.run(COVERED) == []
    assert browser.complaints() == []
    assert browser.requests() == []
    assert browser.run("document.title") == title != "run"


@pytest.mark.parametrize("page", [customer, record, sheet], ids=lambda page: page.__name__)
def test_a_page_for_paper_is_quiet_and_within_its_width(browser: Browser, page, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """Pages without plots run no script, ask for nothing, and need no sideways scrolling at 1280 and at 390 px."""
    show(browser, page(), tmp_path, WIDE)
    for size in (WIDE, PHONE):
        browser.window(*size)
        assert browser.run("document.documentElement.scrollWidth") <= size[0]
    assert browser.complaints() == []
    assert browser.requests() == []
    assert browser.run("document.scripts.length") == 0


@pytest.mark.parametrize("paper", [(8.27, 11.69), (8.5, 11.0)], ids=["A4", "Letter"])
def test_the_owner_s_page_is_one_side_of_paper(browser: Browser, tmp_path: Path, paper: tuple[float, float]) -> None:
    """Two bands, ten stations each, every name and caution as long as the page lets it be: one sheet, A4 or Letter."""
    show(browser, customer(), tmp_path, WIDE)
    assert sides(browser.paper(*paper)) == 1


def test_the_blind_sheet_of_a_band_begins_on_a_sheet_of_its_own(browser: Browser, tmp_path: Path) -> None:
    """60 FM and 45 AM stations, blind: FM's 72 lines on two sides at most, AM's 57 on one more, so that each can be filed."""
    show(browser, sheet(blind=True), tmp_path, WIDE)
    assert sides(browser.paper()) == 3
    assert sides(browser.paper(8.5, 11.0)) == 3
    short = report.sheet_page([records.baseline("fm", 8), records.baseline("am", 8)], blind=True)
    show(browser, short, tmp_path, WIDE)
    assert sides(browser.paper()) == 2


@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["wide", "phone"])
def test_the_first_screen_of_a_check_tells_verdict_reason_and_next_test(
    browser: Browser, tmp_path: Path, size: tuple[int, int]
) -> None:
    """Without scrolling a reader sees the verdict of both bands, why, and what to do next, in letters of 15 px or more."""
    show(browser, check(hostile=False), tmp_path, size)
    seen = browser.run(
        """[...document.querySelectorAll('.verdict')].map(box => ({
          bottom: box.getBoundingClientRect().bottom, words: box.innerText,
          letters: Math.min(...[...box.querySelectorAll('h2, dd')].map(one => parseFloat(getComputedStyle(one).fontSize)))}))"""
    )
    assert [box["words"].split()[0] for box in seen] == ["FM", "AM"]
    for box in seen:
        assert box["bottom"] <= size[1]
        assert box["letters"] >= 15
        for part in ("why", "next", "swap the antenna lead and the whip"):
            assert part in box["words"]


def test_the_dial_strip_begins_on_the_first_screen(browser: Browser, tmp_path: Path) -> None:
    """At 1280 by 800 the first band's dial, the labels of its missed stations and the axis of levels are in sight."""
    show(browser, check(hostile=False), tmp_path, WIDE)
    wait_for(browser, DRAWN)
    fold = browser.run(
        """(() => { const plot = document.querySelector('.plot.wide');
          return Math.max(...[...plot.querySelectorAll('.annotation-text, .g-ytitle, .ygrid')]
            .map(one => one.getBoundingClientRect().bottom)); })()"""
    )
    assert 300 < fold <= WIDE[1]


@pytest.mark.parametrize("page", [check, record, sheet], ids=lambda page: page.__name__)
def test_the_keyboard_reaches_every_link_and_every_table_that_scrolls(browser: Browser, page, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """On a phone's width the tab key goes to each of them in the page's order, and shows where it is."""
    show(browser, page(), tmp_path, PHONE)
    scrolling = browser.run(
        """[...document.querySelectorAll('body *')].filter(one => one.scrollWidth > one.clientWidth + 1
          && ['auto', 'scroll'].includes(getComputedStyle(one).overflowX)).every(one => one.tabIndex === 0)"""
    )
    assert scrolling
    wanted = browser.run("document.querySelectorAll('a[href], [tabindex=\"0\"]').length")
    assert wanted > 2
    shown = []
    for _ in range(wanted):
        for kind in ("keyDown", "keyUp"):
            browser.call("Input.dispatchKeyEvent", type=kind, key="Tab", code="Tab", windowsVirtualKeyCode=9)
        shown.append(
            browser.run(
                """(() => { const here = document.activeElement;
                  return [[...document.querySelectorAll('a[href], [tabindex="0"]')].indexOf(here),
                    getComputedStyle(here).outlineStyle]; })()"""
            )
        )
    assert [place for place, _ in shown] == list(range(wanted))
    assert {outline for _, outline in shown} == {"solid"}


def test_a_hostile_name_stays_text_in_a_hover_box(browser: Browser, tmp_path: Path) -> None:
    """plotly's own small markup is not to be had for a name: the box shows the tags as they were typed."""
    show(browser, occupancy(), tmp_path, WIDE)
    words = browser.run(
        """(() => {
          const place = document.querySelector('.plot.wide');
          return place.data.flatMap((trace, curve) => trace.type !== 'scatter' ? [] : trace.x.map((_, point) => {
            Plotly.Fx.hover(place, [{curveNumber: curve, pointNumber: point}]);
            const box = place.querySelector('.hoverlayer');
            return box.querySelector('a') ? 'a link!' : box.textContent;
          }));
        })()"""
    )
    assert any("<b>bold</b><a href=" in word for word in words)
    assert not any("a link!" in word for word in words)
    assert browser.complaints() == []


@pytest.mark.parametrize("page", [occupancy, baseline, change, check], ids=lambda page: page.__name__)
def test_a_printed_page_has_its_dial_in_two_rows_and_fits_the_paper(browser: Browser, page, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """Printing redraws the plots for the paper's width, shows the two-row dial; nothing sticks out or lies on another."""
    show(browser, page(), tmp_path, WIDE)
    browser.call("Emulation.setEmulatedMedia", media="print")
    try:
        browser.window(PAPER_PX, 1000)
        browser.run("dispatchEvent(new Event('beforeprint'))")
        shown = browser.run(
            """[...document.querySelectorAll('.plot')].filter(plot => plot.offsetParent !== null)
              .map(plot => [plot.className.replace(/js-plotly-plot/, '').trim(),
                            plot.querySelector('.main-svg').getBoundingClientRect().width])"""
        )
        assert {"plot middle"} <= {name for name, _ in shown} <= {"plot", "plot middle"}
        assert all(width <= PAPER_PX for _, width in shown)
        assert browser.run("document.documentElement.scrollWidth") <= PAPER_PX
        assert browser.run(OVERLAPS) == []
        assert browser.run(COVERED) == []
    finally:
        browser.call("Emulation.setEmulatedMedia", media="")
    assert browser.paper().startswith(b"%PDF")


@pytest.mark.parametrize("blind", [False, True])
def test_the_lines_of_a_printed_sheet_stay_on_the_paper(browser: Browser, blind: bool, tmp_path: Path) -> None:
    """Between the margins of A4, with names as long as they may be: both halves stand beside each other, no box is cut off."""
    show(browser, sheet(blind=blind), tmp_path, WIDE)
    browser.call("Emulation.setEmulatedMedia", media="print")
    try:
        browser.window(PAPER_PX, 1000)
        reach = browser.run(
            """[...document.querySelectorAll('.sides > .scroll')].map(side =>
                [side.getBoundingClientRect().right, side.querySelector('table').getBoundingClientRect().right])"""
        )
        assert len(reach) == 4
        assert all(table <= side + 0.5 for side, table in reach), reach
    finally:
        browser.call("Emulation.setEmulatedMedia", media="")


def test_pages_of_a_folder_share_the_library_and_miss_it_in_words(browser: Browser, tmp_path: Path) -> None:
    """With the library in the folder above every plot is drawn; without it the page says so and throws nothing."""
    lists = {"fm": records.baseline()}
    page = report.check_page(records.radio_check(), lists, library="../plots.js")
    (tmp_path / "plots.js").write_text(report.plot_library(), encoding="utf-8")
    (tmp_path / "job").mkdir()
    show(browser, page, tmp_path / "job", WIDE)
    wait_for(browser, DRAWN)
    assert browser.complaints() == []
    assert "is not where it was" not in browser.run("document.body.innerText")
    (tmp_path / "plots.js").unlink()
    show(browser, page, tmp_path / "job", WIDE)
    assert "is not where it was" in browser.run("document.body.innerText")
    assert not any("exception" in complaint for complaint in browser.complaints())


def test_facts_are_readable_with_scripts_off(browser: Browser, tmp_path: Path) -> None:
    """Without scripts there is no plot, but the verdict, the words of each plot and the tables are all there."""
    browser.call("Emulation.setScriptExecutionDisabled", value=True)
    try:
        show(browser, check(hostile=False), tmp_path, WIDE)
        document = browser.call("DOM.getDocument", depth=-1)["root"]["nodeId"]
        words = browser.call("DOM.getOuterHTML", nodeId=document)["outerHTML"]
        drawn = browser.call("DOM.querySelectorAll", nodeId=document, selector=".main-svg")["nodeIds"]
        rows = browser.call("DOM.querySelectorAll", nodeId=document, selector="tbody tr")["nodeIds"]
    finally:
        browser.call("Emulation.setScriptExecutionDisabled", value=False)
    assert drawn == []
    assert len(rows) > 100
    assert "Of 60 stations on the list 35 heard, 22 missed" in words
