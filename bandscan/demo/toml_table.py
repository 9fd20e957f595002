"""One table of the scene's TOML, read key by key, so that a wrong value or a misspelt key is named with its place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NoReturn

from bandscan.errors import InputError


class TomlTable:
    """A TOML table and where it stands; each read key is taken out, `finish` refuses what is left.

    Every reader raises InputError when the value is missing (and there is no default), of another kind or out of range.
    """

    def __init__(self, values: object, where: str) -> None:
        if not isinstance(values, dict):
            raise InputError("a table is missing here", where=where, accepted="[table] with keys", do="add it to the scene")
        self.where = where
        self._left: dict[str, Any] = dict(values)
        self._known: list[str] = []

    def number(self, key: str, low: float, high: float, default: float | None = None) -> float:
        """A finite number from `low` to `high`."""
        value = self._take(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            self._refuse(key, value, f"a number from {low:g} to {high:g}")
        return float(value)

    def maybe_number(self, key: str, low: float, high: float) -> float | None:
        """A number from `low` to `high`, or None where the key is absent."""
        self._known.append(key)
        return self.number(key, low, high) if key in self._left else None

    def whole(self, key: str, low: int, high: int, default: int | None = None) -> int:
        """A whole number from `low` to `high`."""
        value = self._take(key, default)
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            self._refuse(key, value, f"a whole number from {low} to {high}")
        return int(value)

    def text(self, key: str, default: str | None = None, words: Sequence[str] = ()) -> str:
        """A text of one line, one of `words` where they are given."""
        value = self._take(key, default)
        if not isinstance(value, str) or "\n" in value or (words and value not in words):
            self._refuse(key, value, ", ".join(words) or "a text of one line")
        return str(value)

    def flag(self, key: str, default: bool | None = None) -> bool:
        """true or false."""
        value = self._take(key, default)
        if not isinstance(value, bool):
            self._refuse(key, value, "true or false")
        return bool(value)

    def whole_list(self, key: str, low: int, high: int) -> tuple[int, ...]:
        """A list of whole numbers from `low` to `high`; empty where the key is absent."""
        value = self._take(key, [])
        if not isinstance(value, list) or any(type(item) is not int or not low <= item <= high for item in value):
            self._refuse(key, value, f"a list of whole numbers from {low} to {high}")
        return tuple(value)

    def table(self, key: str) -> TomlTable:
        """A table within this one."""
        return TomlTable(self._take(key, {}), f"{self.where}: {key}")

    def tables(self, key: str) -> list[TomlTable]:
        """A list of tables, `[[key]]`; empty where the key is absent."""
        value = self._take(key, [])
        if not isinstance(value, list):
            self._refuse(key, value, f"tables written [[{key}]]")
        return [TomlTable(item, f"{self.where}: {key} {number}") for number, item in enumerate(value, 1)]

    def finish(self) -> None:
        """Refuse keys that nothing asked for."""
        for key in self._left:
            raise InputError(
                f"unknown key {key!r}", where=self.where, accepted=", ".join(self._known), do="correct or remove it"
            )

    def _take(self, key: str, default: object) -> Any:
        self._known.append(key)
        if key not in self._left and default is None:
            raise InputError(f"key {key!r} is missing", where=self.where, do=f"add {key} = ...")
        return self._left.pop(key, default)

    def _refuse(self, key: str, value: object, accepted: str) -> NoReturn:
        raise InputError(f"{key} = {value!r} cannot be used", where=self.where, accepted=accepted, do="correct it")
