"""Tables column by column, and how they are kept: a table a part, so that what nobody asks for is not read.

A column of texts is kept as one text, dates as texts, and whether a row is a person's own only where any is.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any

from .kept import as_json, of_json

OWN_ROW = "_own"  # beside a table's columns: whether the row is a person's own
OWN_SOURCE = {
    "id": "own",
    "citation": "The person's own figure, from the tables laid over ours",
    "kind": "practice",
}
BETWEEN = (
    "\x7f"  # between the cells of a kept column: a sign that no text holds and JSON need not write apart
)

Table = Mapping[str, list[Any]]
"""A table column by column."""

Columns = Mapping[str, Table]
"""Tables by name; all have the columns the data package describes, and ``OWN_ROW``."""


class KeptColumns(Columns):
    """Tables out of kept parts; each is read anew whenever it is asked for."""

    def __init__(self, parts: Mapping[str, memoryview]) -> None:
        self._parts = parts

    def __getitem__(self, name: str) -> Table:
        return _unpacked(of_json(self._parts[name]))

    def __iter__(self) -> Iterator[str]:
        return iter(self._parts)

    def __len__(self) -> int:
        return len(self._parts)


def packed(columns: Columns) -> dict[str, bytes]:
    """Every table as a part for keeping."""
    return {name: as_json(_packed(table)) for name, table in columns.items()}


def _packed(table: Table) -> dict[str, Any]:
    dates = [name for name, column in table.items() if any(isinstance(cell, dt.date) for cell in column)]
    kept: dict[str, Any] = {}
    for name, column in table.items():
        if name in dates:
            kept[name] = BETWEEN.join(date.isoformat() if date else "" for date in column)
        elif name == OWN_ROW:
            kept[name] = column if any(column) else None
        else:
            kept[name] = _joined(column)
    return {"dates": dates, "rows": len(table[OWN_ROW]), "columns": kept}


def _joined(column: list[Any]) -> str | list[Any]:
    """A column of texts as one text: reading that is several times faster than reading each."""
    if column and all(isinstance(cell, str) and BETWEEN not in cell for cell in column):
        return BETWEEN.join(column)
    return column


def _unpacked(kept: Mapping[str, Any]) -> Table:
    table = {
        name: column.split(BETWEEN) if isinstance(column, str) else column
        for name, column in kept["columns"].items()
    }
    for name in kept["dates"]:
        table[name] = [dt.date.fromisoformat(date) if date else None for date in table[name]]
    if table[OWN_ROW] is None:
        table[OWN_ROW] = [False] * kept["rows"]
    return table
