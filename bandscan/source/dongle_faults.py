"""What a failure of the dongle or its driver means here, and what to do: one sentence for each.

The driver gives libusb's codes (libusb's `libusb_error`); what they mean for such a dongle is common practice, gathered from
the driver's and its binding's sources and their users' reports.
"""

from __future__ import annotations

from dataclasses import dataclass

from bandscan.errors import DeviceError, DriverMissingError

INSTALL = 'install the driver with: pip install "pyrtlsdr[lib]"'
RATES = "225001-300000 and 900001-3200000 S/s"

# code -> what it means, what to do
_OPEN = {
    -2: ("the driver was asked for a device that it does not have", "unplug the dongle and plug it in again"),
    -3: (
        "no permission to open it",
        "on Linux let your user open it (the driver's udev rule, group plugdev), then unplug it and plug it in again",
    ),
    -4: ("it was unplugged while it was opened", "plug it in and run the command again"),
    -5: (
        "it is there, but with a wrong driver or none",
        "on Windows install the WinUSB driver for it; elsewhere unplug it and plug it in again",
    ),
    -6: (
        "it is in use by another program or by the system's television driver",
        "close the other program; on Linux run: sudo modprobe -r dvb_usb_rtl28xxu (and blacklist that module for good)",
    ),
    -12: ("the system's driver for it is not WinUSB", "on Windows install the WinUSB driver for it"),
}
_LATER = {
    -4: ("it was unplugged", "plug it in"),
    -5: ("the stream of samples was cut off", "unplug it and plug it in again, without a hub"),
    -7: ("it does not answer", "unplug it and plug it in again, without a hub"),
    -8: ("a read of a length that the driver does not take", "report this: it is a defect of bandscan"),
    -9: ("its endpoint is halted", "unplug it and plug it in again; some need the computer switched off"),
    -22: ("the driver refuses the sample rate", f"choose another with --rate: {RATES}"),
}

_PHASES = {
    "bias": "switch the voltage on its antenna lead off",
    "direct": "switch to direct sampling",
    "rate": "set its sample rate",
    "ppm": "set the correction of its clock",
    "tune": "tune",
    "gain": "set its gain",
    "read": "give samples",
    "open": "open",
    "look": "say what is plugged in",
}


@dataclass(eq=False)
class DriverError(Exception):
    """One failed call of the driver.

    `phase` says what was asked for (load, look, open, serial, bias, rate, direct, ppm, tune, gain, read), `kind` how it failed:
    `code` for an error of the driver's, `silence` for a call that did not come back, `crash` for a process that ended.
    """

    phase: str
    kind: str = "code"
    code: int | None = None
    detail: str = ""
    devices: int = -1  # attached when it failed; -1 where nobody looked
    accepted: str = ""
    beside: str = ""  # a driver library that lies in the current folder and was not loaded

    @property
    def absent(self) -> bool:
        """Whether there is no dongle any more."""
        return self.devices == 0 or (self.kind == "code" and self.code == -4)

    @property
    def passing(self) -> bool:
        """Whether it may go by when the dongle is opened anew."""
        return self.phase not in ("load", "serial", "rate", "direct")


def explain(fault: DriverError, where: str = "dongle") -> DeviceError:
    """The fault as one line: what, likely cause, what to do. `where` names the place in the survey."""
    if fault.phase == "load":
        return _load(fault, where)
    if fault.phase == "serial":
        return DeviceError(
            fault.detail, where=where, accepted=fault.accepted, do="name one with --serial, or as `receiver` in shop.toml"
        )
    if fault.kind == "crash":
        return DeviceError(
            f"the driver's process ended by itself ({fault.detail})",
            where=where,
            do="unplug it and plug it in again; if it happens twice, install another version of the driver",
        )
    if fault.kind == "silence":
        what, do = _LATER[-7]
        return DeviceError(f"{what} (asked to {_PHASES[fault.phase]}: {fault.detail})", where=where, do=do)
    if fault.devices == 0:
        return DeviceError(
            "no RTL2832U dongle found",
            where=where,
            do="plug it in; Linux's `lsusb` then shows 0bda:2832 or 0bda:2838; a virtual machine or container must be given it",
        )
    known = {**_LATER, **_OPEN} if fault.phase == "open" else _LATER
    code = fault.code if fault.code is not None else 0
    if code in known:
        what, do = known[code]
        return DeviceError(f"{what} (driver's code {code})", where=where, do=do)
    if fault.phase == "open":
        return DeviceError(
            f"it is there and cannot be opened (driver's code {code})",
            where=where,
            do="unplug it and plug it in again at another port, without a hub or with one that has its own supply",
        )
    return DeviceError(
        f"it does not {_PHASES[fault.phase]} (driver's code {code})", where=where, do="unplug it and plug it in again"
    )


def _load(fault: DriverError, where: str) -> DriverMissingError:
    beside = f"; {fault.beside} in this folder is not loaded: anybody could have put it there" if fault.beside else ""
    if fault.kind == "AttributeError":
        what = f"the driver library is older than its Python binding ({fault.detail})"
        return DriverMissingError(what + beside, where=where, do=f"{INSTALL}; a distribution's own librtlsdr is often too old")
    if fault.kind == "ModuleNotFoundError":
        return DriverMissingError(f"pyrtlsdr, the driver's Python binding, is not installed{beside}", where=where, do=INSTALL)
    return DriverMissingError(
        f"no driver library, or the libusb that it needs is missing ({fault.detail}){beside}",
        where=where,
        do=f"{INSTALL}; on macOS also: brew install libusb; recordings can be surveyed without it",
    )
