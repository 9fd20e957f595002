"""The sheet's file: read once, replaced as a whole at every key, and never over what somebody else wrote meanwhile."""

from __future__ import annotations

import glob
import os
import re
import shutil
import tempfile
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import IO

from bandscan.errors import InputError

_Stamp = tuple[int, int]
_WRITABLE = 0o222


class Kept:
    """A sheet in a file. `path` changes where another program wrote into the file in the meantime: see `save`.

    A link stays one: `path` is then the file that it leads to.

    Raises:
        InputError: the file is read-only.
    """

    def __init__(self, path: Path) -> None:
        self.path = Path(os.path.realpath(path)) if path.is_symlink() else path
        _refuse_read_only(self.path)
        _clear_drafts(self.path)
        self._stamp = self._looked()

    def save(self, text: str) -> bool:
        """Put the text in the file's place, on the disk before this returns; a kill leaves the old text or the new one whole.

        Where the file is not as this program last left it, it stays so and the text goes into a new file beside it.

        Returns:
            Whether the file is still the one it was.

        Raises:
            InputError: it cannot be written, or was made read-only.
        """
        stamp = self._looked()
        same = stamp is None or stamp == self._stamp
        path = self.path
        if same:
            _refuse_read_only(path)
        else:
            names = (path.with_name(f"{path.stem}-{number}{path.suffix}") for number in count(2))
            path = next(one for one in names if not one.exists())
        draft = path.with_name(f".{path.name}.{os.getpid()}.new")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            with draft.open("w", encoding="utf-8", newline="\n") as file:
                _write(file, text)
            with suppress(OSError):  # a new file has no mode to keep, and some file systems have none at all
                shutil.copymode(self.path, draft)
            draft.replace(path)
        except OSError as error:
            with suppress(OSError):  # where the folder itself is the fault there is no draft either
                draft.unlink(missing_ok=True)
            what = f"cannot be written: {error.strerror or error}"
            raise InputError(what, where=path, do="make room, or close it in the other program") from error
        self.path = path
        self._stamp = self._looked()
        return same

    def _looked(self) -> _Stamp | None:
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size


def rescued(text: str) -> Path:
    """Put a sheet that cannot be saved in its place into a new file of the temp folder, and say which.

    Raises:
        OSError: there neither.
    """
    with tempfile.NamedTemporaryFile(
        "w", prefix="bandscan-tally-", suffix=".csv", delete=False, encoding="utf-8", newline="\n"
    ) as file:
        path = Path(file.name)
        try:
            _write(file, text)
        except OSError:
            path.unlink()  # half a sheet would be taken for one
            raise
    return path


def _write(file: IO[str], text: str) -> None:
    file.write(text)
    file.flush()
    os.fsync(file.fileno())


def _refuse_read_only(path: Path) -> None:
    """The folder's rights would allow to replace such a file, and root may do anything: what the file says counts."""
    try:
        mode = path.stat().st_mode
    except OSError:
        return
    if not (mode & _WRITABLE and os.access(path, os.W_OK)):
        raise InputError("the sheet is read-only", where=path, do="make it writable")


def _clear_drafts(path: Path) -> None:
    """Remove what killed tallies of this sheet left in the middle of a save; nothing of it was shown as saved."""
    if os.name != "posix":
        return  # there is no harmless signal to ask with
    mine = re.compile(re.escape(f".{path.name}.") + r"([1-9][0-9]{0,8})\.new")
    for draft in path.parent.glob(f".{glob.escape(path.name)}.*.new"):
        found = mine.fullmatch(draft.name)
        if found is not None and not _alive(int(found[1])):
            with suppress(OSError):  # litter, and no reason not to begin
                draft.unlink()


def _alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True  # somebody else's
    return True
