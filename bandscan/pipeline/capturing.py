"""`bandscan capture`: the dongle stepped over a band, each dwell measured as it comes, and a survey of it in the log.

One thing after the other: tune, read, measure, keep. Measuring takes a tenth of the time or so; in return whatever stops the
program loses the step in hand and nothing else.
"""

from __future__ import annotations

from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path

from bandscan.errors import RecordingError, UsageError
from bandscan.pipeline.capturing_journal import Begun, Journal
from bandscan.pipeline.capturing_keep import drop_oldest, refuse_full_disk, sweep
from bandscan.pipeline.capturing_order import Order, feed_notes, feed_of, gain_of, refuse_out_of_reach, rig_of_capture
from bandscan.pipeline.capturing_run import Progress, Run, Say
from bandscan.pipeline.surveying import REGION, Keeper, Surveyed, hand_on, own_names, rig_gains
from bandscan.plans import plan_for
from bandscan.shop import Shop
from bandscan.source.dongle_link import ANSWER_S
from bandscan.source.dongle_plan import route, second_gain
from bandscan.source.dongle_take import Dongle, Setting
from bandscan.survey import gather

_STALE_S = 600.0  # half written for this long: whoever wrote it is gone
_MOMENT = "%Y%m%dT%H%M%SZ"


def capture(
    order: Order,
    *,
    shop: Shop | None = None,
    out: Path | None = None,
    resume: bool = False,
    say: Say = lambda line: None,
    progress: Progress = lambda step: None,
) -> Surveyed:
    """Step the dongle over a band and survey it.

    Args:
        order: what is asked for; with `resume` the plan of the capture that was stopped counts instead.
        shop: the shop; None means that nothing is logged.
        out: where to write survey.csv, stations.csv, survey.json and occupancy.html; without a shop also the kept IQ.
        resume: take up the newest capture of this band, or with none named of any, that was not ended.
        say: called with lines for the user as things happen.
        progress: called after each dwell.

    Raises:
        UsageError: it cannot be done as asked.
        DeviceError: the dongle cannot be opened or set up; later failures are among the errors.
        RecordingError: there is no room for what is to be kept, or no capture to take up.
        LogError: the log cannot be opened.
    """
    _refuse(order, shop, out, resume)
    done = Surveyed()
    with ExitStack() as stack:
        names = own_names(shop)
        keeper = Keeper(shop, done)
        stack.callback(keeper.close)
        if done.errors:
            raise done.errors[0]
        journal = _taken_up(order, shop) if resume else None
        if journal is not None:
            dongle = stack.enter_context(Dongle(journal.begun.setting, say))
            dongle.open()
            say(f"going on with {journal.begun.name}")
        else:
            dongle, journal = _begin(order, shop, out, keeper, stack, say)
        run = Run(journal, dongle, shop, _folder(shop, out), keeper, done, say, progress)
        run.go()
        dongle.close()  # somebody else may want it while the survey is gathered
        surveys = keeper.settle(run.digests, rig_gains(shop))
        if surveys is None:
            surveys = gather(run.measured, rig_gains(shop))
        done.logged = keeper.log is not None
        hand_on(surveys, names, shop, out, done)
    return done


def _refuse(order: Order, shop: Shop | None, out: Path | None, resume: bool) -> None:
    if shop is not None and shop.demo:
        raise UsageError("this is the demo's shop, which takes forged recordings only", do="make one: `bandscan setup DIR`")
    if resume and shop is None:
        raise UsageError("a capture is taken up in a shop, and there is no shop here", do="name it with --shop DIR")
    if order.keep == "iq" and shop is None and out is None:
        raise UsageError("--keep iq has nowhere to keep it", do="name a folder with --out DIR, or a shop with --shop DIR")


def _folder(shop: Shop | None, out: Path | None) -> Path | None:
    return shop.captures if shop is not None else out


def _taken_up(order: Order, shop: Shop | None) -> Journal:
    folder = shop.captures if shop is not None else Path()
    journal = Journal.newest(folder, order.band)
    if journal is None:
        raise RecordingError("there is no capture that was stopped", where=folder, do="begin one: bandscan capture --band fm")
    sweep(folder / journal.begun.name, 0.0)
    return journal


def _begin(
    order: Order, shop: Shop | None, out: Path | None, keeper: Keeper, stack: ExitStack, say: Say
) -> tuple[Dongle, Journal]:
    """Open the dongle, find the gain, plan, and say what is going to happen."""
    plan = plan_for(order.region or (shop.region if shop is not None else REGION), order.band)
    rig = rig_of_capture(order, shop)
    feed = feed_of(order, rig)
    route(plan, [None], rate_hz=order.rate_hz)  # a wrong rate is told before anything else
    setting = Setting(
        order.rate_hz,
        order.serial or rig.receiver,
        order.ppm,
        feed.direct,
        feed.offset_hz,
        order.settle_s,
        ANSWER_S,
    )
    dongle = stack.enter_context(Dongle(setting, say))
    dongle.open()
    refuse_out_of_reach(dongle, feed, plan)
    for note in feed_notes(feed):
        say(note)
    gain_db = gain_of(order, rig, feed, plan, dongle, keeper.log, say)
    second_db = second_gain(dongle.gains_db, gain_db) if gain_db is not None and not order.quick else None
    if gain_db is not None and second_db is None and not order.quick:
        say(f"the tuner has no gain well under {gain_db:.1f} dB: what the receiver makes itself is not told by a second gain")
    way = route(
        plan,
        [gain_db] if second_db is None else [gain_db, second_db],
        turns=order.passes,
        quick=order.quick,
        rate_hz=order.rate_hz,
        settle_s=order.settle_s,
        dwell_s=order.dwell_s,
        pause_s=order.pause_s,
    )
    folder = _folder(shop, out)
    if order.keep == "iq" and folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        for path in folder.iterdir():
            if path.is_dir():
                sweep(path, _STALE_S)
        if shop is not None and keeper.log is not None:
            for note in drop_oldest(shop, keeper.log, way.bytes):
                say(note)
        refuse_full_disk(folder, way.bytes)
    begun = Begun(_own_moment(keeper, plan.band), plan.band, plan.region, rig.name, order.keep, feed, setting, way)
    say(_announcement(begun))
    # without a shop nothing could be taken up again
    return dongle, Journal.start(begun, shop.captures if shop is not None else None)


def _own_moment(keeper: Keeper, band: str) -> str:
    """The survey's id: the second in which it begins, or the next one that no survey in the log has taken."""
    begins = datetime.now(UTC)
    while keeper.log is not None and keeper.log.has_survey_id(band, begins.strftime(_MOMENT)):
        begins += timedelta(seconds=1)
    return begins.strftime(_MOMENT)


def _count(number: int, noun: str) -> str:
    several = f"{noun}es" if noun.endswith("s") else f"{noun}s"
    return f"{number} {noun if number == 1 else several}"


def _announcement(begun: Begun) -> str:
    way = begun.route
    gains = [f"{one.gain_db:.1f} dB" for one in way.dwells[:2] if one.gain_db is not None]
    at = f" at {' and '.join(dict.fromkeys(gains))}" if gains else ""
    minutes, seconds = divmod(round(way.seconds), 60)
    takes = f"{minutes} min {seconds} s" if minutes else f"{seconds} s"
    kept = f"{way.bytes / 1e9:.2f} GB of IQ are kept" if begun.keep == "iq" else "nothing but figures is kept"
    words = f", {begun.feed.words}" if begun.feed.words else ""
    return (
        f"{begun.band.upper()} from rig {begun.rig}{words}: {_count(way.dwells[0].of, 'step')},"
        f" {_count(way.turns, 'pass')}{at}: about {takes}; {kept}"
    )
