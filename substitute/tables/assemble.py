"""Typed columns joined into the frozen records of :class:`~substitute.records.Tables`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
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

T = TypeVar("T")

OWN_ROW = "_own"  # beside a table's columns: whether the row is a person's own

Table = Mapping[str, list[Any]]
"""A table column by column."""

Columns = Mapping[str, Table]
"""Tables by name; all have the columns the data package describes, and ``OWN_ROW``."""


def _split(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


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


def assemble(columns: Columns, labels: Mapping[str, str], digest: str) -> Tables:
    """Typed columns joined into :class:`~substitute.records.Tables`."""
    properties, profiles, groups = columns["properties"], columns["profiles"], columns["groups"]
    releases, products, prices = columns["releases"], columns["products"], columns["prices"]
    return Tables(
        materials=_materials(columns["materials"]),
        properties=_nested(properties["material"], properties["property"], _records(Figure, properties)),
        descriptors=_by_id(Descriptor, columns["descriptors"]),
        profiles=_nested(profiles["material"], profiles["descriptor"], profiles["weight"]),
        constituents=_constituents(columns["constituents"]),
        releases=_grouped(
            releases["material"],
            _records(Release, releases, id=releases["releases"], share=releases["share_pct"]),
        ),
        limit_sets=_by_id(LimitSet, columns["limit_sets"]),
        products=tuple(
            _records(Product, products, leave_on=_flags(products["leave_on"]), skin=_flags(products["skin"]))
        ),
        groups=_nested(groups["group"], groups["material"], groups["weight"]),
        limits=tuple(_records(Limit, columns["limits"], own=columns["limits"][OWN_ROW])),
        controls=tuple(_records(Control, columns["controls"])),
        swaps=tuple(_records(Swap, columns["swaps"])),
        sources=_by_id(Source, columns["sources"]),
        prices=dict(zip(prices["material"], _records(Price, prices, word=prices["price"]))),
        lifts=_grouped(columns["lifts"]["descriptor"], _records(Lifting, columns["lifts"])),
        impressions=_impressions(columns["impressions"]),
        hazards=_grouped(columns["hazards"]["material"], _records(Hazard, columns["hazards"])),
        labels=labels,
        digest=digest,
        aliases=tuple(_records(Alias, columns["aliases"], rank=map(int, columns["aliases"]["rank"]))),
        name_words=tuple(_records(NameWord, columns["name_words"])),
        verdict_words=tuple(_records(VerdictWord, columns["verdict_words"])),
    )


def _by_id(kind: type[T], table: Table) -> dict[str, T]:
    return dict(zip(table["id"], _records(kind, table)))
