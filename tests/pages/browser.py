"""A headless browser on two pipes: the debugging protocol's messages end in a zero byte, so no library is needed.

Source of the protocol: the browser's own published "remote debugging protocol", domains Page, Runtime, Network, Emulation.
"""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
PATIENCE_S = 60.0

# the browser reads descriptor 3 and writes descriptor 4; our ends of the pipes may have any number, even 3 or 4
_MOVE_PIPES = """
import fcntl, os, sys
ours = [fcntl.fcntl(int(number), fcntl.F_DUPFD, 10) for number in sys.argv[1:3]]
for end, number in zip(ours, (3, 4)):
    os.dup2(end, number)
os.execv(sys.argv[3], sys.argv[3:])
"""


def found() -> str | None:
    """The browser's path, or None where there is none that can be driven this way."""
    if os.name != "posix":
        return None
    return next((path for name in NAMES if (path := shutil.which(name))), None)


class Browser:
    """One browser with one page in it."""

    def __init__(self, program: str, profile: Path) -> None:
        flags = [
            "--headless=new", "--remote-debugging-pipe", "--no-sandbox", "--disable-gpu", "--no-first-run",
            "--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars",
            f"--user-data-dir={profile}", "about:blank",
        ]  # fmt: skip
        to_browser, self._to = os.pipe()
        self._from, from_browser = os.pipe()
        self._process = subprocess.Popen(
            [sys.executable, "-c", _MOVE_PIPES, str(to_browser), str(from_browser), program, *flags],
            pass_fds=(to_browser, from_browser),
            env={**os.environ, "TMPDIR": str(profile)},  # what it leaves behind goes with the profile
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_browser)
        os.close(from_browser)
        self._rest = b""
        self._count = 0
        self._session = ""
        self.events: list[dict[str, Any]] = []

    def __enter__(self) -> Browser:
        try:
            pages = [one for one in self.call("Target.getTargets")["targetInfos"] if one["type"] == "page"]
            self._session = self.call("Target.attachToTarget", targetId=pages[0]["targetId"], flatten=True)["sessionId"]
            for domain in ("Page", "Runtime", "Network", "Log"):
                self.call(f"{domain}.enable")
        except BaseException:
            self._stop()
            raise
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._stop()

    def _stop(self) -> None:
        self._process.terminate()
        self._process.wait(20)
        os.close(self._to)
        os.close(self._from)

    def _next(self, until: float) -> dict[str, Any]:
        while b"\0" not in self._rest:
            ready, _, _ = select.select([self._from], [], [], max(0.0, until - time.monotonic()))
            chunk = os.read(self._from, 1 << 20) if ready else b""
            if not chunk:
                raise TimeoutError("the browser does not answer")
            self._rest += chunk
        message, self._rest = self._rest.split(b"\0", 1)
        answer: dict[str, Any] = json.loads(message)
        return answer

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """One command and its result; events that arrive meanwhile are kept in `events`."""
        self._count += 1
        message: dict[str, Any] = {"id": self._count, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        until = time.monotonic() + PATIENCE_S
        while (answer := self._next(until)).get("id") != self._count:
            self.events.append(answer)
        if "error" in answer:
            raise RuntimeError(f"{method}: {answer['error']}")
        result: dict[str, Any] = answer["result"]
        return result

    def window(self, width: int, height: int) -> None:
        """Size of the window. [px]"""
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def open(self, page: Path) -> None:
        """Load a page and wait until its scripts have run."""
        self.events.clear()
        self.call("Page.navigate", url=page.resolve().as_uri())
        until = time.monotonic() + PATIENCE_S
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            self.events.append(self._next(until))

    def run(self, script: str) -> Any:
        """Value of an expression, a promise awaited."""
        answer = self.call("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in answer:
            raise RuntimeError(str(answer["exceptionDetails"]))
        return answer["result"].get("value")

    def complaints(self) -> list[str]:
        """What the page wrote to its console, threw, or was refused."""
        kinds = ("Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded")
        return [json.dumps(event["params"])[:500] for event in self.events if event.get("method") in kinds]

    def requests(self) -> list[str]:
        """Addresses the page asked for, but its own and data in it."""
        sent = [event["params"] for event in self.events if event.get("method") == "Network.requestWillBeSent"]
        return [one["request"]["url"] for one in sent if not one["request"]["url"].startswith(("file:", "data:", "blob:"))]

    def picture(self, whole: bool = True) -> bytes:
        """Screenshot, of the whole page or of the first screen, PNG."""
        return base64.b64decode(self.call("Page.captureScreenshot", captureBeyondViewport=whole, format="png")["data"])

    def paper(self, width_in: float = 8.27, height_in: float = 11.69) -> bytes:
        """The page as it prints on A4 or another paper, PDF. [inch]"""
        return base64.b64decode(self.call("Page.printToPDF", paperWidth=width_in, paperHeight=height_in)["data"])
