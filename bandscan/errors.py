"""What can go wrong, as a tree with one parent.

BandscanError
├── UsageError          a wrong command line                                  exit 2
├── InputError          a file that cannot be used as asked                   exit 3
│   ├── RecordingError      a recording of IQ samples
│   ├── SheetError          a count sheet
│   ├── ShopError           shop.toml, names.csv or the shop's folder
│   └── BaselineError       a reference station list
├── DeviceError         the dongle or its driver                              exit 3
├── LogError            the shop's log                                        exit 3
└── TableError          a room handed on a table that breaks its own promise: our defect

Every message is one line that says what, where, what is accepted and what to do.
"""

from __future__ import annotations


class BandscanError(Exception):
    """Parent of all errors raised on purpose. `str(error)` is one clear line."""

    exit_status = 3

    def __init__(self, what: str, *, where: object = "", accepted: str = "", do: str = "") -> None:
        self.what, self.where, self.accepted, self.do = what, str(where), accepted, do
        parts = [f"{self.where}: {what}" if self.where else what]
        if accepted:
            parts.append(f"accepted: {accepted}")
        if do:
            parts.append(do)
        line = "; ".join(" ".join(part.split()) for part in parts)
        # names of files may hold anything: codes that steer a terminal, halves of a code that no file can be written with
        super().__init__("".join(sign if sign.isprintable() else "?" for sign in line))


class UsageError(BandscanError):
    """The command line asks for something that does not exist."""

    exit_status = 2


class InputError(BandscanError):
    """A file cannot be used as asked."""


class RecordingError(InputError):
    """A recording of IQ samples cannot be read or measured."""


class SheetError(InputError):
    """A count sheet has cells that cannot be understood."""


class ShopError(InputError):
    """The shop's folder or its settings are wrong."""


class BaselineError(InputError):
    """There is no reference station list that fits, or it cannot be read."""


class DeviceError(BandscanError):
    """The dongle or its driver failed."""


class DriverMissingError(DeviceError):
    """The dongle's driver cannot be loaded: no waiting brings it."""


class LogError(BandscanError):
    """The shop's log cannot be read or written."""


class TableError(BandscanError):
    """A table breaks the columns declared in `tables`: a defect of bandscan itself."""
