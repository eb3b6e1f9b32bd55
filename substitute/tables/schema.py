"""The data package's own description, read once and held against rows.

``data/datapackage.json`` is the single statement of columns, types, ranges, keys and references; this
module turns it into typed cells and complaints. frictionless checks the same file in the tests.
"""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import field
from functools import cached_property, partial
from pathlib import Path
from typing import Any

from ..errors import Complaint, TableError
from ..frozen import frozen
from .figures import Fault, parse_number
from .near import nearest as nearest
from .rows import Row, shorten

Cells = dict[str, Any]
"""A row by column: text, float, date or ``None``."""

TypedRows = dict[str, dict[tuple[Any, ...], Cells]]
"""Rows by table and primary key."""


@frozen
class Field:
    """A column: its type and what its cells may hold."""

    name: str
    type: str = "string"
    description: str = ""
    constraints: Mapping[str, Any] = field(default_factory=dict)

    @cached_property
    def pattern(self) -> re.Pattern[str] | None:
        text = self.constraints.get("pattern")
        return re.compile(text) if text else None

    def read(self, text: str, fault: Fault) -> str | float | dt.date | None:
        """The typed cell; ``fault(message)`` makes the error to raise.

        Empty cells are ``None`` (numbers, dates) or ''.
        """
        text = text.strip()
        rules = self.constraints
        if not text:
            if rules.get("required"):
                raise fault("is empty and must not be")
            return "" if self.type == "string" else None
        if self.type == "number":
            low, high = rules.get("minimum", float("-inf")), rules.get("maximum", float("inf"))
            return parse_number(text, fault, low=low, high=high)
        if self.type == "date":
            return read_date(text, fault)
        if "enum" in rules and text not in rules["enum"]:
            raise fault(
                f"'{shorten(text)}' is not allowed: "
                f"one of {', '.join(rules['enum'])}{nearest(text, rules['enum'])}"
            )
        if self.pattern and not self.pattern.fullmatch(text):
            raise fault(f"'{shorten(text)}' has not the form {rules['pattern']}")
        return text


@frozen
class Resource:
    """A table of the package."""

    name: str
    path: str
    fields: tuple[Field, ...]
    primary_key: tuple[str, ...]
    foreign_keys: tuple[tuple[str, str, str], ...]  # column, table, column there

    @cached_property
    def columns(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.fields)

    @cached_property
    def required(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.fields if column.constraints.get("required"))

    @cached_property
    def dates(self) -> tuple[int, ...]:
        """Places of the columns that hold dates."""
        return tuple(place for place, column in enumerate(self.fields) if column.type == "date")

    def type_rows(
        self, rows: Iterable[Row], own: bool = False
    ) -> tuple[dict[tuple[Any, ...], Cells], list[Complaint]]:
        """Rows as typed dictionaries by primary key, and everything wrong with single cells or doubled
        keys.

        A person's ``own`` rows may leave out ``basis`` and ``source``.
        """
        typed: dict[tuple[Any, ...], Cells] = {}
        complaints: list[Complaint] = []
        at: dict[tuple[Any, ...], int] = {}
        columns = [(column.name, column, OWN.get(column.name, "") if own else "") for column in self.fields]
        known: dict[str, dict[str, Any]] = {name: {} for name, _, _ in columns}  # most cells stand many times
        for row in rows:
            cells: Cells = {}
            try:
                for name, column, instead in columns:
                    text = row.cells.get(name) or instead
                    if text not in known[name]:
                        known[name][text] = column.read(text, partial(row.fault, name))
                    cells[name] = known[name][text]
            except TableError as error:
                complaints.extend(error.complaints)
                continue
            key = tuple(cells[name] for name in self.primary_key)
            if key in typed:
                shown = ", ".join(str(part) for part in key if part)
                complaints.append(
                    Complaint(
                        row.file,
                        row.number,
                        self.primary_key[0],
                        f"'{shown}' stands already in row {at[key]}; one row a key",
                    )
                )
                continue
            at[key] = row.number
            typed[key] = {**cells, "_row": row}
        return typed, complaints


OWN = {"basis": "practice", "source": "own"}


def read_date(text: str, fault: Fault) -> dt.date:
    """An ISO date."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise fault(f"'{shorten(text)}' is not a date: allowed is YYYY-MM-DD") from None


def read_package(folder: Path) -> dict[str, Resource]:
    """The tables that ``datapackage.json`` in ``folder`` describes, by name."""
    package = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    resources = {}
    for entry in package["resources"]:
        schema = entry["schema"]
        resources[entry["name"]] = Resource(
            entry["name"],
            entry["path"],
            tuple(
                Field(f["name"], f["type"], f.get("description", ""), f.get("constraints", {}))
                for f in schema["fields"]
            ),
            tuple(schema["primaryKey"]),
            tuple(
                (key["fields"][0], key["reference"]["resource"], key["reference"]["fields"][0])
                for key in schema.get("foreignKeys", ())
            ),
        )
    return resources
