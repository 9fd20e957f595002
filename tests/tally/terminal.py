"""A terminal in which a command runs, as a person would see it: a pseudo-terminal, and a screen that its output is drawn on."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pexpect
import pyte

PATIENCE_S = 60.0


class Terminal:
    """One command in a terminal of 80 by 24. `raw` is every byte that it has written."""

    def __init__(self, folder: Path, *arguments: str, code: str = "", **environ: str) -> None:
        line = ["-c", code, *arguments] if code else ["-m", "bandscan", *arguments]
        environment = {**os.environ, "TERM": "xterm-256color", **environ}
        for name in ("BANDSCAN_SHOP", "COLUMNS", "LINES"):
            environment.pop(name, None)
        self.child = pexpect.spawn(sys.executable, line, cwd=str(folder), dimensions=(24, 80), env=environment)
        self.child.delaybeforesend = None
        self.raw = b""
        self._screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self._screen)

    @property
    def lines(self) -> list[str]:
        """The screen, line by line."""
        return list(self._screen.display)

    @property
    def text(self) -> str:
        """The screen as one text."""
        return "\n".join(self.lines)

    def until(self, what: str | Callable[[], bool]) -> None:
        """Read until a text is on the screen, or something is so."""
        deadline = time.monotonic() + PATIENCE_S
        while not (what in self.text if isinstance(what, str) else what()):
            assert time.monotonic() < deadline, f"waited for {what!r}, the screen shows:\n{self.text}"
            self._read()

    def type(self, keys: str) -> None:
        """Send keys as they come from a keyboard."""
        self.child.send(keys)

    def resize(self, columns: int, rows: int) -> None:
        """The window gets another size."""
        self._screen.resize(rows, columns)
        self.child.setwinsize(rows, columns)

    def kill(self) -> None:
        """`kill -9`: nothing can be caught, nothing put right."""
        self.child.kill(signal.SIGKILL)
        self.end()

    def end(self, meanwhile: Callable[[], object] = lambda: None) -> int:
        """Wait for the end; gives the exit status, or less than zero for the signal that ended it.

        `meanwhile` is called as long as there is a terminal to look at.
        """
        while self._read():
            meanwhile()
        self.child.wait()
        return self.child.exitstatus if self.child.exitstatus is not None else -self.child.signalstatus

    def _read(self) -> bool:
        try:
            came = self.child.read_nonblocking(65536, timeout=0.05)
        except pexpect.TIMEOUT:
            return True
        except pexpect.EOF:
            return False
        self.raw += came
        self._stream.feed(came)
        return True
