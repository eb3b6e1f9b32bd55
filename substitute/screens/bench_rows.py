"""Rows of the editable tables: of an accord or a shelf, as edited, as text, and checked."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from ..errors import TableError
from ..records import Accord, Material, Shelf

Row = dict[str, Any]


ACCORD_COLUMNS = ("material", "parts", "strength_pct", "role", "optional")


SHELF_COLUMNS = ("material", "strength_pct", "grams", "price_per_gram")


def rows_of(accord: Accord, materials: Mapping[str, Material]) -> list[Row]:
    """An accord as rows of the table, materials by their names."""
    return [
        {
            "material": materials[line.material].name if line.material in materials else line.material,
            "parts": line.parts,
            "strength_pct": line.strength,
            "role": line.role,
            "optional": line.optional,
        }
        for line in accord.lines
    ]


def shelf_rows_of(shelf: Shelf, materials: Mapping[str, Material]) -> list[Row]:
    return [
        {
            "material": materials[item.material].name,
            "strength_pct": item.strength,
            "grams": item.grams,
            "price_per_gram": item.price,
        }
        for item in shelf.stock
    ]


def apply_edits(
    base: list[Row], delta: Mapping[str, Any], columns: Sequence[str], fresh_row: Mapping[str, Any]
) -> list[Row]:
    """Rows after what a person did in an editable table: cells edited, rows deleted, rows added; blank
    rows are dropped."""
    rows = [dict(row) for row in base]
    for number, cells in delta.get("edited_rows", {}).items():
        if int(number) < len(rows):
            rows[int(number)].update(cells)
    gone = {int(number) for number in delta.get("deleted_rows", ())}
    rows = [row for number, row in enumerate(rows) if number not in gone]
    for added in delta.get("added_rows", ()):
        rows.append({**fresh_row, **{name: value for name, value in added.items() if value is not None}})
    return [
        row
        for row in rows
        if row.get("material")
        or any(row.get(name) is not None for name in columns[1:3] if name not in fresh_row)
    ]


def cells_of(row: Mapping[str, Any]) -> dict[str, str]:
    """A row as text, the way a file would hold it."""
    found = {}
    for name, value in row.items():
        if value is None or (isinstance(value, float) and math.isnan(value)):
            found[name] = ""
        elif isinstance(value, bool):
            found[name] = "yes" if value else "no"
        else:
            found[name] = repr(value) if isinstance(value, float) else str(value).strip()
    return found


def checked(rows: Sequence[Mapping[str, Any]], make: Callable[..., Any], name: str) -> tuple[Any, list[str]]:
    """(record, complaints) of a table's rows: every row is looked at, so that all complaints are seen at
    once.

    ``make(rows, name)`` is :meth:`~substitute.Library.accord_of` or :meth:`~substitute.Library.shelf_of`.
    """
    cells = [cells_of(row) for row in rows]
    complaints = []
    for number, row in enumerate(cells, 1):
        try:
            make([row], name)
        except TableError as error:
            complaints += [
                f"row {number}, {c.column}: {c.message}" for c in error.complaints if c.row is not None
            ]
    if complaints or not cells:
        return None, complaints
    try:
        return make(cells, name), []
    except TableError as error:
        return None, [c.message for c in error.complaints]


def as_text(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> str:
    """Rows as they would be pasted from a spreadsheet, header first."""
    lines = ["\t".join(columns)]
    for row in rows:
        cells = cells_of(row)
        lines.append("\t".join(cells.get(name, "") for name in columns))
    return "\n".join(lines)
