"""The sheet's file: read once, replaced as a whole at every key, and never over what somebody else wrote meanwhile."""

from __future__ import annotations

import os
from contextlib import suppress
from itertools import count
from pathlib import Path

from bandscan.errors import InputError

_Stamp = tuple[int, int]


class Kept:
    """A sheet in a file. `path` changes where another program wrote into the file in the meantime: see `save`."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._stamp = self._looked()

    def save(self, text: str) -> bool:
        """Put the text in the file's place, on the disk before this returns; a kill leaves the old text or the new one whole.

        Where the file is not as this program last left it, it stays so and the text goes into a new file beside it.

        Returns:
            Whether the file is still the one it was.

        Raises:
            InputError: it cannot be written.
        """
        stamp = self._looked()
        same = stamp is None or stamp == self._stamp
        if not same:
            names = (self.path.with_name(f"{self.path.stem}-{number}{self.path.suffix}") for number in count(2))
            self.path = next(path for path in names if not path.exists())
        draft = self.path.with_name(f".{self.path.name}.{os.getpid()}.new")
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with draft.open("w", encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            draft.replace(self.path)
        except OSError as error:
            with suppress(OSError):  # where the folder itself is the fault there is no draft either
                draft.unlink(missing_ok=True)
            what = f"cannot be written: {error.strerror or error}"
            raise InputError(what, where=self.path, do="make room, or close it in the other program") from error
        self._stamp = self._looked()
        return same

    def _looked(self) -> _Stamp | None:
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size
