"""Notices that the clock was set, or that the computer slept: start times would be wrong, and the receiver may be gone."""

from __future__ import annotations

import time
from collections.abc import Callable

JUMP_S = 2.0


class Watch:
    """The computer's clock held against one that nobody sets."""

    def __init__(self, clock: Callable[[], float] = time.time, steady: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._steady = clock, steady
        self._ahead = clock() - steady()

    def jump(self) -> str | None:
        """What happened since the last look, in words; None where nothing did."""
        ahead = self._clock() - self._steady()
        jumped_s, self._ahead = ahead - self._ahead, ahead
        if abs(jumped_s) < JUMP_S:
            return None
        cause = "it was set, or the computer slept" if jumped_s > 0 else "it was set back"
        return f"the clock jumped by {jumped_s:+.0f} s ({cause}): start times before and after do not fit together"
