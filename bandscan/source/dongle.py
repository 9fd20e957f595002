"""The dongle through pyrtlsdr: one open receiver, in a process of its own (`dongle_worker`). The only module that imports it.

The binding's traps, and how each is met:

- it looks for its library in folders under and over the current one, where anybody may have put one: the import is done in
  an empty private folder;
- a setter or read that fails closes the device and leaves a pointer to freed memory: after a fault nothing is touched again,
  and an open that fails may leak the device: the process is ended by whoever started it;
- setting the frequency correction that is set already is an error: it is left out;
- direct sampling resets the gain and must come before the frequency;
- a stream that was told to stop may report its cancelled transfers as an error: what counts is whether all samples came. The
  binding would close the device then, so the driver's own call is used;
- between single reads nothing is queued, so samples are lost: one stream gives all of a dwell;
- "PLL not locked" is only a line on the error output: whoever started this process reads that.
"""

from __future__ import annotations

import ctypes
import os
import tempfile
import threading
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from bandscan.source.dongle_faults import DriverError

BLOCK_BYTES = 262_144  # the driver's own size of a transfer: 55 ms at 2.4 MS/s
# where the binding would look in the current folder, by its source
_BESIDE = ("rtlsdr/librtlsdr.so", "../librtlsdr.so", "rtlsdr.dll", "../rtlsdr.dll", "rtlsdr/rtlsdr.dll", "librtlsdr.so")


def load(here: Path) -> Any:
    """The binding, imported where no library can lie about. `here` is the user's current folder.

    Raises:
        DriverError: it, or its driver library, is missing or too old.
    """
    os.environ.pop("RTLSDR_CLIENT_MODE", None)  # with it the binding would do without a driver
    try:
        with _empty_folder(), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import rtlsdr
    except (ImportError, AttributeError, OSError) as error:
        beside = next((name for name in _BESIDE if (here / name).exists()), "")
        raise DriverError("load", type(error).__name__, detail=str(error), beside=beside) from error
    return rtlsdr


@contextmanager
def _empty_folder() -> Iterator[None]:
    """Stand in an empty folder within an empty folder of nobody else's: the binding looks one level up too."""
    before = Path.cwd()
    with tempfile.TemporaryDirectory() as outer:
        inner = Path(outer, "inner")
        inner.mkdir()
        os.chdir(inner)
        try:
            yield
        finally:
            os.chdir(before)  # Windows removes no folder that somebody stands in


def attached(binding: Any) -> list[str]:
    """Serial numbers of the dongles that are plugged in, in the driver's order.

    Raises:
        DriverError: they cannot be read.
    """
    count = int(binding.librtlsdr.rtlsdr_get_device_count())
    try:
        return [str(serial) for serial in binding.RtlSdr.get_device_serial_addresses()]
    except OSError as error:
        # without permission to open them the driver cannot tell their serial numbers
        raise _fault("open", error, devices=count) from error


class Receiver:
    """One open dongle. After a DriverError it must not be used again."""

    def __init__(self, binding: Any, index: int, rate_hz: int, ppm: int, direct: str) -> None:
        """Open and set up; `direct` is `i`, `q` or empty for the tuner. Feeding a voltage up the antenna lead is switched off.

        Raises:
            DriverError: a step of it failed.
        """
        self._library = binding.librtlsdr
        self._direct = direct
        self._stop = threading.Event()
        count = int(self._library.rtlsdr_get_device_count())
        try:
            self._device = binding.RtlSdr(index)
        except OSError as error:
            raise _fault("open", error, devices=count) from error
        with self._asking("bias"):
            self._device.set_bias_tee(False)
        if direct:
            with self._asking("direct"):
                self._device.set_direct_sampling(direct)
        with self._asking("rate"):
            self._device.set_agc_mode(False)
            self._device.set_sample_rate(rate_hz)
        if ppm != self._device.get_freq_correction():
            with self._asking("ppm"):
                self._device.set_freq_correction(ppm)
        self.rate_hz = float(self._device.get_sample_rate())
        self.gains_db = [float(gain) for gain in self._device.valid_gains_db]
        self.tuner = int(self._device.get_tuner_type())

    @contextmanager
    def _asking(self, phase: str) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise _fault(phase, error, devices=int(self._library.rtlsdr_get_device_count())) from error

    def tune(self, centre_hz: int, gain_db: float | None) -> float | None:
        """Tune, and fix the gain; gives the gain that the tuner says it has. [dB]

        Raises:
            DriverError: the driver refused.
        """
        with self._asking("tune"):
            self._device.set_center_freq(centre_hz)
        if gain_db is None or self._direct:
            return None
        with self._asking("gain"):
            self._device.set_gain(gain_db)  # also switches the tuner's automatic gain off
            return float(self._device.get_gain())

    def read(self, skip_bytes: int, want_bytes: int) -> tuple[bytearray, list[tuple[int, float]], bool]:
        """A stream's `want_bytes` after the first `skip_bytes`, without a gap.

        Returns:
            The bytes; (bytes so far, seconds on a steady clock) at each arrival; whether a transfer was short.

        Raises:
            DriverError: the stream ended before.
        """
        taken = bytearray(want_bytes)
        arrivals: list[tuple[int, float]] = []
        seen = kept = 0
        short = False

        def arrived(buffer: Any, length: int, _context: object) -> None:
            nonlocal seen, kept, short
            short = short or length != BLOCK_BYTES
            begin = min(max(skip_bytes - seen, 0), length)
            end = min(length, begin + want_bytes - kept)
            if end > begin:
                taken[kept : kept + end - begin] = ctypes.string_at(buffer, length)[begin:end]
                kept += end - begin
            seen += length
            if kept < want_bytes:
                arrivals.append((seen, time.monotonic()))
            if kept == want_bytes or self._stop.is_set():
                self._library.rtlsdr_cancel_async(self._device.dev_p)

        callback = _callback_type(self._library)(arrived)
        self._library.rtlsdr_reset_buffer(self._device.dev_p)
        code = int(self._library.rtlsdr_read_async(self._device.dev_p, callback, None, 0, BLOCK_BYTES))
        if kept < want_bytes:
            count = int(self._library.rtlsdr_get_device_count())
            raise DriverError("read", code=code or -5, detail=f"{kept} of {want_bytes} bytes came", devices=count)
        return taken, arrivals, short

    def stop(self) -> None:
        """End a stream at its next arrival; from any thread."""
        self._stop.set()

    def close(self) -> None:
        """No voltage up the antenna lead, whatever was; then let go."""
        if self._device.device_opened:
            with suppress(OSError):  # it may be unplugged by now: then there is no voltage either
                self._device.set_bias_tee(False)
            self._device.close()


def _callback_type(library: Any) -> Any:
    """The binding's own type of callback, as it set it for the driver's call."""
    return library.rtlsdr_read_async.argtypes[1]


def _fault(phase: str, error: OSError, devices: int) -> DriverError:
    code = error.errno if isinstance(error.errno, int) else None
    return DriverError(phase, code=code, detail=str(error), devices=devices)
