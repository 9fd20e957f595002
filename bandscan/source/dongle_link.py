"""The other end of `dongle_worker`: asks, waits no longer than it may take, and ends the process when it fails or hangs."""

from __future__ import annotations

import json
import os
import queue
import subprocess
import sys
import threading
from collections import deque
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Self

from bandscan.source.dongle_faults import DriverError
from bandscan.source.dongle_worker import GRACE_S, MARK

ANSWER_S = 15.0  # opening a dongle takes a second or two, importing the driver on a slow machine some more
_SAID_LINES = 20


class Link:
    """One worker process; after a DriverError it is gone, and another Link must be made."""

    def __init__(self, answer_s: float = ANSWER_S) -> None:
        """Start the process. `answer_s` is how long an answer may take beyond what it takes to collect its samples. [s]"""
        self._answer_s = answer_s
        # -P: a module in the current folder is no part of the driver; the package itself is found where this one was
        package = str(Path(__file__).resolve().parents[2])
        python_path = os.pathsep.join(part for part in (os.environ.get("PYTHONPATH", ""), package) if part)
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "bandscan.source.dongle_worker", str(Path.cwd())],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": python_path},
        )
        self._answers: queue.Queue[tuple[dict[str, Any], bytearray] | None] = queue.Queue()
        self._lines: queue.Queue[str] = queue.Queue()
        self._last: deque[str] = deque(maxlen=_SAID_LINES)
        self._begin(self._take_answers, self._process.stdout)
        self._begin(self._take_lines, self._process.stderr)

    def _begin(self, work: Any, stream: IO[bytes] | None) -> None:
        threading.Thread(target=work, args=(stream,), daemon=True).start()

    def _take_answers(self, stream: IO[bytes]) -> None:
        with stream:
            while line := stream.readline():
                told = json.loads(line)
                content = bytearray(told["bytes"])
                if content and _filled(stream, content) < len(content):
                    break
                self._answers.put((told, content))
        self._answers.put(None)

    def _take_lines(self, stream: IO[bytes]) -> None:
        with stream:
            for line in stream:
                text = line.decode(errors="replace").strip()
                if text and text != MARK:
                    self._last.append(text)
                if text:
                    self._lines.put(text)
        self._lines.put(MARK)

    def ask(self, do: str, takes_s: float = 0.0, **values: object) -> tuple[dict[str, Any], bytearray, list[str]]:
        """The worker's answer, its bytes, and the lines that the driver wrote to its error output meanwhile.

        Raises:
            DriverError: it failed, did not come in time, or the process ended by itself. The process is gone then.
        """
        question = json.dumps({"do": do, **values}).encode() + b"\n"
        allowed_s = takes_s + self._answer_s
        try:
            if self._process.stdin is None:
                raise BrokenPipeError
            self._process.stdin.write(question)
            self._process.stdin.flush()
            answer = self._answers.get(timeout=allowed_s)
        except BrokenPipeError:
            answer = None
        except queue.Empty as error:
            self.kill()
            raise DriverError(do, "silence", detail=f"no answer in {allowed_s:.0f} s") from error
        if answer is None:
            raise DriverError(do, "crash", detail=self._ended())
        told, content = answer
        said = list(iter(self._next_line, MARK))
        if "fault" in told:
            self.close()
            raise DriverError(**told["fault"])
        return told, content, said

    def _next_line(self) -> str:
        try:
            return self._lines.get(timeout=self._answer_s)
        except queue.Empty:
            return MARK

    def _ended(self) -> str:
        """How the process ended, and the last line of its error output."""
        self.kill()
        status = self._process.returncode
        how = f"signal {-status}" if status < 0 else f"status {status}"
        return f"{how}; {self._last[-1]}" if self._last else how

    def close(self) -> None:
        """Let the worker end in order: it switches the voltage on the antenna lead off and lets the dongle go."""
        self._hang_up()
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(2 * GRACE_S)
        self.kill()

    def kill(self) -> None:
        """End the process now; harmless where it has ended."""
        self._process.kill()
        self._process.wait()
        self._hang_up()

    def _hang_up(self) -> None:
        if self._process.stdin is not None:
            with suppress(BrokenPipeError):  # it is ending already
                self._process.stdin.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()


def _filled(stream: IO[bytes], content: bytearray) -> int:
    """How much of the buffer the stream fills before it ends; straight into it, so that samples are not in memory twice."""
    view, at = memoryview(content), 0
    while at < len(content) and (count := stream.readinto(view[at:])):  # type: ignore[attr-defined]  # a pipe has it
        at += count
    return at
