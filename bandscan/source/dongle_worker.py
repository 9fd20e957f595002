"""The process that drives the dongle: asked over its standard input, answers on its standard output.

A message is a line of JSON, in an answer followed by as many bytes as its `bytes` says. A driver that crashes or hangs takes
this process and not the survey. It ends when its standard input does, also while the driver hangs: whoever asked is gone then.
"""

from __future__ import annotations

import json
import os
import queue
import signal
import sys
import threading
import time
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any, BinaryIO

from bandscan.source import dongle
from bandscan.source.dongle_faults import DriverError

MARK = "bandscan-answered"
GRACE_S = 3.0


class Worker:
    """Answers what it is asked, one thing after the other."""

    def __init__(self, here: Path) -> None:
        self._here = here
        self._binding: Any = None
        self._receiver: dongle.Receiver | None = None

    def answer(self, asked: dict[str, Any]) -> tuple[dict[str, Any], bytes | bytearray]:
        """The answer to one question, and its bytes.

        Raises:
            DriverError: it cannot be done.
        """
        do = asked.pop("do")
        if do == "look":
            return {"serials": self._serials()}, b""
        if do == "open":
            return self._open(**asked), b""
        if self._receiver is None:
            raise ValueError(f"asked to {do} before open")
        if do == "tune":
            return {"gain_db": self._receiver.tune(asked["centre_hz"], asked["gain_db"])}, b""
        skip, want, begun = asked["skip_bytes"], asked["want_bytes"], time.monotonic()
        taken, arrivals, short = self._receiver.read(skip, want)
        # the clock's time of the first byte that was kept: a stream that comes in time took as long as it lasts
        ago_s = min(time.monotonic() - begun, want / 2 / self._receiver.rate_hz)
        return {"arrivals": arrivals, "short": short, "started_s": time.time() - ago_s}, taken

    def _serials(self) -> list[str]:
        if self._binding is None:
            self._binding = dongle.load(self._here)
        return dongle.attached(self._binding)

    def _open(self, index: int, rate_hz: int, ppm: int, direct: str) -> dict[str, Any]:
        if self._binding is None:
            self._binding = dongle.load(self._here)
        one = self._receiver = dongle.Receiver(self._binding, index, rate_hz, ppm, direct)
        return {"rate_hz": one.rate_hz, "gains_db": one.gains_db, "tuner": one.tuner}

    def stop(self) -> None:
        """Nobody waits any more."""
        if self._receiver is not None:
            self._receiver.stop()

    def close(self) -> None:
        """Let the dongle go."""
        if self._receiver is not None:
            self._receiver.close()


def serve(questions: BinaryIO, answers: BinaryIO, here: Path) -> None:
    """Answer until the questions end."""
    worker = Worker(here)
    waiting: queue.Queue[dict[str, Any] | None] = queue.Queue()

    def listen() -> None:
        for line in questions:
            waiting.put(json.loads(line))
        waiting.put(None)
        worker.stop()
        time.sleep(GRACE_S)
        os._exit(1)  # the driver hangs

    threading.Thread(target=listen, daemon=True).start()
    try:
        while (asked := waiting.get()) is not None:
            content: bytes | bytearray = b""
            try:
                told, content = worker.answer(asked)
                failed = False
            except DriverError as fault:
                told, failed = {"fault": asdict(fault)}, True
            # what the driver wrote to its error output by now belongs to this answer
            os.write(2, f"\n{MARK}\n".encode())
            answers.write(json.dumps({**told, "bytes": len(content)}).encode() + b"\n")
            answers.write(content)
            answers.flush()
            told, content = {}, b""  # not to be held while the next samples come
            if failed:
                break  # the binding's object may point to freed memory
    finally:
        worker.close()


def main() -> None:
    """Answers leave by a channel of their own, so that whatever a driver prints cannot get between them."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the one who asks is told, and ends this process in order
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    with suppress(BrokenPipeError):  # nobody listens any more; the dongle was let go
        serve(sys.stdin.buffer, answers, Path(sys.argv[1]))
    # not the interpreter's own end: its other thread still waits for questions, which holds that up
    os._exit(0)


if __name__ == "__main__":
    main()
