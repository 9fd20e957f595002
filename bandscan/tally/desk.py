"""The terminal: keys in, the screen out. Its library is imported when a tally begins, and no other module knows of it."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from types import FrameType, TracebackType
from typing import TYPE_CHECKING

from bandscan.errors import InputError
from bandscan.tally import view
from bandscan.tally.entries import LONGEST
from bandscan.tally.kept import Kept, rescued
from bandscan.tally.keys import press
from bandscan.tally.state import Known, State
from bandscan.tally.text import sheet_text

if TYPE_CHECKING:
    from prompt_toolkit.application import Application
    from prompt_toolkit.formatted_text import StyleAndTextTuples
    from prompt_toolkit.input import Input
    from prompt_toolkit.key_binding import KeyPressEvent
    from prompt_toolkit.output import Output

_ENDING = ("SIGTERM", "SIGHUP")
_ESCAPE_S = 0.1  # an escape with nothing behind it for so long is the key itself, not the start of an arrow's code

# the library's name of a key -> ours; None is a key that means nothing here
_NAMES = {
    "c-m": "enter",
    "c-j": "enter",
    "c-h": "backspace",
    "c-i": "tab",
    "escape": "escape",
    **{arrow: arrow for arrow in ("up", "down", "left", "right")},
}


class Desk:
    """One tally at one terminal."""

    def __init__(self, state: State, known: Known, kept: Kept, now: Callable[[], str]) -> None:
        self.state, self._known, self._kept, self._now = state, known, kept, now
        self._saved = "not saved yet: nothing is noted" if not state.stops else f"as it was left, in {kept.path}"
        self._text, self._stops = "", state.stops
        self._failure: InputError | None = None

    def run(self, keys: Input | None = None, screen: Output | None = None) -> State:
        """Until it is finished. `keys` and `screen` stand in for the terminal of the process.

        Raises:
            InputError: it was left, by a signal or not, and the sheet could not be saved to the end.
            KeyboardInterrupt: it was left by CTRL-C, or its terminal is gone; all is saved.
            SystemExit: it was left by a signal; all is saved.
        """
        app = self._application(keys, screen)
        lost = None
        try:
            try:
                with _ended_by_signal(app):
                    app.run(handle_sigint=False)
            finally:
                with _signals(("SIGINT", *_ENDING), signal.SIG_IGN):  # keys are pressed twice, and hang-ups told twice
                    lost = self._last_try()
                defect = sys.exception()
                if lost is not None and defect is not None:
                    defect.add_note(str(lost))
        except (KeyboardInterrupt, EOFError, SystemExit) as left:
            if lost is not None:
                raise lost from None
            if isinstance(left, SystemExit):
                raise
            raise KeyboardInterrupt from left
        return self.state

    def _last_try(self) -> InputError | None:
        """What is not saved is saved after all, else put into the temp folder; gives what is to be said of it."""
        if self._failure is not None:
            self._save()
        if self._failure is None:
            return None
        pairs = zip(self.state.stops, self._stops, strict=False)
        same = next((place for place, (one, other) in enumerate(pairs) if one != other), len(self._stops))
        rows = max(len(self.state.stops) - same, 0)
        missing = {0: "the last keys are", 1: "1 row is"}.get(rows, f"{rows} rows are")
        try:
            do = f"the whole sheet is in {rescued(sheet_text(self.state))}: put that in its place"
        except OSError as error:
            do = f"nor could it be put into the temp folder ({error.strerror or error}): that is lost"
        return InputError(f"{self._failure.what}; {missing} not in it", where=self._failure.where, do=do)

    def _application(self, keys: Input | None, screen: Output | None) -> Application[None]:
        from prompt_toolkit.application import Application
        from prompt_toolkit.key_binding import KeyBindings
        from prompt_toolkit.keys import Keys
        from prompt_toolkit.layout import Layout, Window
        from prompt_toolkit.layout.controls import FormattedTextControl

        bound = KeyBindings()
        control = FormattedTextControl(lambda: self._shown(app.output), show_cursor=False)
        app: Application[None] = Application(
            Layout(Window(control, always_hide_cursor=True)), key_bindings=bound, full_screen=True, input=keys, output=screen
        )
        app.ttimeoutlen = _ESCAPE_S

        @bound.add(Keys.Any)
        def _any(event: KeyPressEvent) -> None:
            with _Handed(app):
                self._key(app, event)

        @bound.add("c-c")
        def _leave(event: KeyPressEvent) -> None:
            app.exit(exception=KeyboardInterrupt())

        return app

    def _key(self, app: Application[None], event: KeyPressEvent) -> None:
        from prompt_toolkit.keys import Keys

        pressed = event.key_sequence[0]
        if not _screen(app.output).large_enough:
            self.state = replace(self.state, said="that key was not taken")
            if self._failure is not None:  # what is asked for is a key
                self._save()
            return
        if pressed.key == Keys.BracketedPaste:
            # what is pasted is text for what is being typed, and no keys
            for sign in pressed.data[:LONGEST] if self.state.entry is not None else "":
                self._pressed(sign)
        else:
            key = pressed.key.value if isinstance(pressed.key, Keys) else pressed.key
            name = _NAMES.get(key, key if len(key) == 1 and key.isprintable() else None)
            if name is not None:
                self._pressed(name)
        if self.state.over:
            app.exit()

    def _pressed(self, key: str) -> None:
        """One key, saved before it is shown."""
        self.state = press(self.state, key, self._known, self._now())
        self._save()

    def _save(self) -> None:
        """What the sheet has not yet goes there, or is said not to."""
        text = sheet_text(self.state)
        if text == self._text and self._failure is None:
            return
        try:
            same = self._kept.save(text)
        except InputError as error:
            self._failure = error
            self._saved = f"{view.NOT_SAVED} {error.what}; {error.do}, then press a key"
            self.state = replace(self.state, over=False)
            return
        self._text, self._stops, self._failure = text, self.state.stops, None
        self._saved = f"saved {self._now()} in {self._kept.path}"
        if not same:
            said = f"the sheet was changed by another program: that one is left alone, this goes on in {self._kept.path.name}"
            self.state = replace(self.state, said=said)

    def _shown(self, output: Output) -> StyleAndTextTuples:
        found = view.lines(self.state, self._known, _screen(output), self._kept.path.name, self._saved)
        return [*((style, f"{text}\n") for style, text in found[:-1]), *found[-1:]]


def _screen(output: Output) -> view.Screen:
    size = output.get_size()
    return view.Screen(size.columns, size.rows, output.encoding())


class _Handed:
    """Whatever goes wrong inside ends the application, which puts the terminal right before it is told."""

    def __init__(self, app: Application[None]) -> None:
        self._app = app

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> bool:
        if error is not None:
            self._app.exit(exception=error)
        return error is not None


@contextmanager
def _ended_by_signal(app: Application[None]) -> Iterator[None]:
    """A request to end, or a line that was hung up, ends the application in order: the terminal is put right."""

    def end(number: int, frame: FrameType | None) -> None:
        left = SystemExit(128 + number)
        if app.loop is None or not app.is_running:
            raise left
        # raised here it would tear the loop in the middle of whatever it does, the putting right included
        app.loop.call_soon_threadsafe(_leave, app, left)

    with _signals(_ENDING, end):
        yield


@contextmanager
def _signals(names: tuple[str, ...], handler: Callable[[int, FrameType | None], None] | signal.Handlers) -> Iterator[None]:
    """What signals do for the while, those of them that the system has."""
    numbers = [getattr(signal, name) for name in names if hasattr(signal, name)]
    before = {number: signal.signal(number, handler) for number in numbers}
    try:
        yield
    finally:
        for number, usual in before.items():
            signal.signal(number, usual)


def _leave(app: Application[None], left: BaseException) -> None:
    """End the application, unless it is at its end already."""
    if app.is_running and not app.is_done:
        app.exit(exception=left)
