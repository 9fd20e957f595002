"""The tables of bandscan as DEVELOPERS.md shows them. `python tests/house/columns.py` prints them anew."""

from __future__ import annotations

from bandscan.tables import ALL, Table


def markdown(table: Table) -> str:
    """A table's heading and columns in Markdown."""
    rows = [f"### {table.name}", "", "| column | type | unit | may be empty | meaning |", "|---|---|---|---|---|"]
    for column in table.columns:
        meaning = column.meaning
        if any(word not in meaning for word in column.words):
            meaning = f"{meaning}; one of {', '.join(f'`{word}`' for word in column.words)}"
        rows.append(f"| {column.name} | {column.dtype} | {column.unit} | {'yes' if column.may_be_empty else ''} | {meaning} |")
    return "\n".join(rows) + "\n"


def all_tables() -> str:
    """Every table, one after the other."""
    return "\n".join(markdown(table) for table in ALL)


if __name__ == "__main__":
    print(all_tables(), end="")
