"""Tables and records <-> what SQLite keeps: text, integers, floats and nothing."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import fields
from typing import Any, TypeVar

import numpy as np
import pandas as pd

from bandscan import tables
from bandscan.tables import Table

Record = TypeVar("Record")


def to_rows(frame: pd.DataFrame, table: Table, owner: int) -> Iterable[tuple[object, ...]]:
    """Rows to bind: the owner's id first, then the table's columns as plain Python values, None where empty."""
    frame = tables.check(frame, table)
    columns = [series.astype(object).where(series.notna(), None).tolist() for _, series in frame.items()]
    return ((owner, *row) for row in zip(*columns, strict=True))


def to_frame(rows: Sequence[tuple[object, ...]], table: Table) -> pd.DataFrame:
    """The table that `to_rows` took apart, without the owner."""
    return tables.check(pd.DataFrame(rows, columns=table.names, dtype=object), table)


def to_frames(rows: Sequence[tuple[object, ...]], table: Table) -> dict[int, pd.DataFrame]:
    """The tables of many owners, whose ids come first in each row: checked together, which is much quicker than one by one."""
    whole = to_frame([row[1:] for row in rows], table)
    owners = pd.Series([row[0] for row in rows], dtype="int64")  # a list of one would be taken for a list of keys
    return {int(owner): frame.reset_index(drop=True) for owner, frame in whole.groupby(owners, sort=False)}


def about(record: Any) -> str:
    """A record's fields besides its tables, as JSON. NaN is written as such."""
    facts = {field.name: getattr(record, field.name) for field in fields(record)}
    return json.dumps({name: value for name, value in facts.items() if not isinstance(value, pd.DataFrame)}, default=_plain)


def record(kind: type[Record], text: str, **frames: pd.DataFrame) -> Record:
    """The record that `about` took apart, with its tables. A field that the text lacks has its default."""
    known = {field.name for field in fields(kind)}  # type: ignore[arg-type]
    kept = {name: value for name, value in json.loads(text).items() if name in known}
    facts = {name: tuple(value) if isinstance(value, list) else value for name, value in kept.items()}
    return kind(**facts, **frames)


def _plain(value: object) -> object:
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"{type(value).__name__} cannot be kept in the log")
