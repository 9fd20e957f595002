"""Processes that work side by side, started while the program itself still loads its libraries.

Nothing heavy is imported here: a worker needs as long as the program to load them, and both can do so at once.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from importlib import import_module
from multiprocessing import get_context, parent_process
from threading import Thread, current_thread, main_thread


def worker_pool(workers: int) -> ProcessPoolExecutor:
    """Processes to work side by side: spawned, not forked, so that it is the same on every system."""
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_mind_the_parent)


@contextmanager
def measuring_pool(workers: int) -> Iterator[ProcessPoolExecutor | None]:
    """All workers but this process, which load what measuring needs at once; None for a single one. Leaving drops what they
    have not begun."""
    if workers <= 1:
        yield None
        return
    pool = worker_pool(workers - 1)
    try:
        with undisturbed():
            for _ in range(workers - 1):
                pool.submit(_load)
        yield pool
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _load() -> None:
    import_module("bandscan.pipeline.measuring")


@contextmanager
def undisturbed() -> Iterator[None]:
    """Workers that start in here are born deaf to an interrupt, until they can take it without a traceback."""
    if current_thread() is not main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _mind_the_parent() -> None:
    """A worker ends quietly when the user stops the program, and does not outlive a program that was killed."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    Thread(target=_end_with_the_parent, daemon=True).start()


def _end_with_the_parent() -> None:
    if (parent := parent_process()) is not None:
        parent.join()
        os._exit(1)
