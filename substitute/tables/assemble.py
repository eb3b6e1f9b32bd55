"""Typed columns joined into the frozen records of :class:`~substitute.records.Tables`, each table when first
asked for."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import fields
from functools import cached_property, partial
from typing import Any, TypeVar

from ..records import (
    Alias,
    Constituent,
    Control,
    Descriptor,
    Figure,
    Hazard,
    Lifting,
    Limit,
    LimitSet,
    Material,
    NameWord,
    Price,
    Product,
    Release,
    Source,
    Swap,
    Tables,
    VerdictWord,
)
from .columns import OWN_ROW, Columns, Table

T = TypeVar("T")
FIGURE = tuple(one.name for one in fields(Figure))
NONE: Mapping[str, float] = {}


def _split(text: str) -> tuple[str, ...]:
    return tuple(filter(None, map(str.strip, text.split(";")))) if text else ()


def _records(kind: type[T], table: Table, **changes: Iterable[Any]) -> Iterable[T]:
    """Each row as a record whose fields are named as the columns; ``changes`` in place of a column."""
    names = kind.__dataclass_fields__  # type: ignore[attr-defined]
    return map(kind, *(changes[name] if name in changes else table[name] for name in names))


def _flags(column: Iterable[str]) -> list[bool]:
    return [text == "yes" for text in column]


def _grouped(keys: Iterable[str], records: Iterable[T]) -> dict[str, tuple[T, ...]]:
    found: dict[str, list[T]] = {}
    for key, record in zip(keys, records):
        found.setdefault(key, []).append(record)
    return {key: tuple(items) for key, items in found.items()}


def _nested(outer: Iterable[str], inner: Iterable[str], values: Iterable[T]) -> dict[str, dict[str, T]]:
    found: dict[str, dict[str, T]] = {}
    for one, other, value in zip(outer, inner, values):
        found.setdefault(one, {})[other] = value
    return found


def _materials(table: Table) -> dict[str, Material]:
    records = _records(
        Material,
        table,
        cas=map(_split, table["cas"]),
        owns_cas=(not text.startswith(";") for text in table["cas"]),
        synonyms=map(_split, table["synonyms"]),
        stocked=_flags(table["stocked"]),
        assessed=(frozenset(_split(text)) for text in table["assessed"]),
    )
    return dict(zip(table["id"], records))


def _constituents(table: Table) -> dict[str, tuple[Constituent, ...]]:
    low, typical, high, own = table["low_pct"], table["typical_pct"], table["high_pct"], table[OWN_ROW]
    # of a single measured figure nothing is known of the spread
    least = (
        a if a is not None else (b if mine or c is None else 0.0)
        for a, b, c, mine in zip(low, typical, high, own)
    )
    most = (c if c is not None else b for b, c in zip(typical, high))
    records = map(
        Constituent, table["constituent"], least, typical, most, table["basis"], table["source"], own
    )
    return _grouped(table["natural"], records)


def _impressions(table: Table) -> dict[str, dict[str, tuple[float, ...]]]:
    """Panel -> descriptor -> weights on the panel's axes; an empty cell is no weight."""
    axes = zip(*([value or 0.0 for value in table[name]] for name in table if name.startswith("axis_")))
    return _nested(table["panel"], table["descriptor"], axes)


class Figures(Mapping[str, Mapping[str, Figure]]):
    """Figures by material and property; a material's are made when first asked for."""

    def __init__(self, table: Table) -> None:
        self._table = table
        self._rows: dict[str, list[int]] = {}
        for row, name in enumerate(table["material"]):
            self._rows.setdefault(name, []).append(row)
        self._made: dict[str, dict[str, Figure]] = {}

    def __getitem__(self, name: str) -> dict[str, Figure]:
        if name not in self._made:
            rows, names = self._rows[name], self._table["property"]
            fields_ = [self._table[one] for one in FIGURE]
            self._made[name] = {names[row]: Figure(*(column[row] for column in fields_)) for row in rows}
        return self._made[name]

    def __contains__(self, name: object) -> bool:
        return name in self._rows

    def __iter__(self) -> Iterator[str]:
        return iter(self._rows)

    def __len__(self) -> int:
        return len(self._rows)

    def values_of(self) -> dict[str, dict[str, float]]:
        """The numbers alone."""
        return _nested(self._table["material"], self._table["property"], self._table["value"])


def _profiles(table: Table) -> dict[str, dict[str, float]]:
    return _nested(table["material"], table["descriptor"], table["weight"])


def _releases(table: Table) -> dict[str, tuple[Release, ...]]:
    records = _records(Release, table, id=table["releases"], share=table["share_pct"])
    return _grouped(table["material"], records)


def _products(table: Table) -> tuple[Product, ...]:
    return tuple(_records(Product, table, leave_on=_flags(table["leave_on"]), skin=_flags(table["skin"])))


def _groups(table: Table) -> dict[str, dict[str, float]]:
    return _nested(table["group"], table["material"], table["weight"])


def _by_id(kind: type[T], table: Table) -> dict[str, T]:
    return dict(zip(table["id"], _records(kind, table)))


def _all(kind: type[T], table: Table) -> tuple[T, ...]:
    return tuple(_records(kind, table))


MAKERS: Mapping[str, Callable[[Table], Any]] = {
    "materials": _materials,
    "properties": Figures,
    "descriptors": partial(_by_id, Descriptor),
    "profiles": _profiles,
    "constituents": _constituents,
    "releases": _releases,
    "limit_sets": partial(_by_id, LimitSet),
    "products": _products,
    "groups": _groups,
    "limits": lambda table: tuple(_records(Limit, table, own=table[OWN_ROW])),
    "controls": partial(_all, Control),
    "swaps": partial(_all, Swap),
    "sources": partial(_by_id, Source),
    "prices": lambda table: dict(zip(table["material"], _records(Price, table, word=table["price"]))),
    "lifts": lambda table: _grouped(table["descriptor"], _records(Lifting, table)),
    "impressions": _impressions,
    "hazards": lambda table: _grouped(table["material"], _records(Hazard, table)),
    "aliases": lambda table: tuple(_records(Alias, table, rank=map(int, table["rank"]))),
    "name_words": partial(_all, NameWord),
    "verdict_words": partial(_all, VerdictWord),
}
"""How each table is made of its columns; the table's name is the field's."""


class LateTables(Tables):
    """Tables of which each is made when first asked for: a question needs half of them."""

    _columns: Columns

    def value(self, material: str, name: str) -> float | None:
        """A property's value, ``None`` where none is on file; no record is made for it."""
        return self._values.get(material, NONE).get(name)

    @cached_property
    def _values(self) -> Mapping[str, Mapping[str, float]]:
        held = self.properties
        if isinstance(held, Figures):
            return held.values_of()
        return {name: {one: figure.value for one, figure in some.items()} for name, some in held.items()}

    def __getattr__(self, name: str) -> Any:
        """A table that is not there yet; called only for what the record does not hold."""
        if name not in MAKERS:
            raise AttributeError(f"'{type(self).__name__}' has no attribute '{name}'")
        with without_collection():
            return self.__dict__.setdefault(name, MAKERS[name](self._columns[name]))

    def __reduce__(self) -> tuple[Any, ...]:
        return Tables, tuple(getattr(self, one.name) for one in fields(self))


def assemble(columns: Columns, labels: Mapping[str, str], digest: str) -> Tables:
    """Typed columns joined into :class:`~substitute.records.Tables`."""
    made = object.__new__(LateTables)
    made.__dict__.update(labels=labels, digest=digest, tried={}, blends={}, nose={}, _columns=columns)
    return made


def as_loaded(tables: Tables) -> bool:
    """Whether ``digest`` says all about these tables: nothing was put in place of one of them."""
    return isinstance(tables, LateTables) and "_columns" in tables.__dict__


@contextmanager
def without_collection() -> Iterator[None]:
    """The collector of circles looks again and again through a hundred thousand cells that hold none: a
    third of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
