"""Typed rows joined into the frozen records of :class:`~substitute.records.Tables`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
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
)
from .schema import Cells, TypedRows

T = TypeVar("T")


def _split(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


def _grouped(rows: Iterable[Cells], by: str, make: Callable[[Cells], T]) -> dict[str, tuple[T, ...]]:
    found: dict[str, list[T]] = {}
    for row in rows:
        found.setdefault(row[by], []).append(make(row))
    return {key: tuple(items) for key, items in found.items()}


def _material(row: Cells) -> Material:
    texts = {
        name: row[name]
        for name in (
            "id",
            "name",
            "kind",
            "smiles",
            "structure",
            "botanical",
            "part",
            "process",
            "family",
            "description",
            "basis",
            "source",
        )
    }
    return Material(
        cas=_split(row["cas"]),
        owns_cas=not row["cas"].startswith(";"),
        synonyms=_split(row["synonyms"]),
        stocked=row["stocked"] == "yes",
        assessed=frozenset(_split(row["assessed"])),
        **texts,
    )


def _constituent(row: Cells) -> Constituent:
    typical, own = row["typical_pct"], row.get("_own", False)
    alone = row["high_pct"] is None  # a single measured figure: nothing is known of its spread
    low = row["low_pct"] if row["low_pct"] is not None else (typical if own or alone else 0.0)
    high = row["high_pct"] if row["high_pct"] is not None else typical
    return Constituent(row["constituent"], low, typical, high, row["basis"], row["source"], own)


def _impressions(rows: Iterable[Cells]) -> dict[str, dict[str, tuple[float, ...]]]:
    """Panel -> descriptor -> weights on the panel's axes; an empty cell is no weight."""
    found: dict[str, dict[str, tuple[float, ...]]] = {}
    for row in rows:
        axes = tuple(row[name] or 0.0 for name in row if name.startswith("axis_"))
        found.setdefault(row["panel"], {})[row["descriptor"]] = axes
    return found


def _record(kind: type[T], row: Cells, **changes: Any) -> T:
    if changes:
        row = {**row, **changes}
    return kind(*map(row.get, kind.__dataclass_fields__))  # type: ignore[attr-defined]


def assemble(rows: TypedRows, labels: Mapping[str, str], digest: str) -> Tables:
    """Typed rows joined into :class:`~substitute.records.Tables`."""
    properties: dict[str, dict[str, Figure]] = {}
    for row in rows["properties"].values():
        properties.setdefault(row["material"], {})[row["property"]] = Figure(
            row["value"], row["at"], row["basis"], row["source"]
        )
    profiles: dict[str, dict[str, float]] = {}
    for row in rows["profiles"].values():
        profiles.setdefault(row["material"], {})[row["descriptor"]] = row["weight"]
    groups: dict[str, dict[str, float]] = {}
    for row in rows["groups"].values():
        groups.setdefault(row["group"], {})[row["material"]] = row["weight"]
    return Tables(
        materials={row["id"]: _material(row) for row in rows["materials"].values()},
        properties=properties,
        descriptors={row["id"]: _record(Descriptor, row) for row in rows["descriptors"].values()},
        profiles=profiles,
        constituents=_grouped(rows["constituents"].values(), "natural", _constituent),
        releases=_grouped(
            rows["releases"].values(),
            "material",
            lambda row: Release(row["releases"], row["share_pct"], row["basis"], row["source"]),
        ),
        limit_sets={row["id"]: _record(LimitSet, row) for row in rows["limit_sets"].values()},
        products=tuple(
            _record(Product, row, leave_on=row["leave_on"] == "yes", skin=row["skin"] == "yes")
            for row in rows["products"].values()
        ),
        groups=groups,
        limits=tuple(_record(Limit, row, own=row.get("_own", False)) for row in rows["limits"].values()),
        controls=tuple(_record(Control, row) for row in rows["controls"].values()),
        swaps=tuple(_record(Swap, row) for row in rows["swaps"].values()),
        sources={row["id"]: _record(Source, row) for row in rows["sources"].values()},
        prices={
            row["material"]: Price(row["price"], row["basis"], row["source"])
            for row in rows["prices"].values()
        },
        lifts=_grouped(rows["lifts"].values(), "descriptor", lambda row: _record(Lifting, row)),
        impressions=_impressions(rows["impressions"].values()),
        hazards=_grouped(rows["hazards"].values(), "material", lambda row: _record(Hazard, row)),
        labels=labels,
        digest=digest,
        aliases=tuple(_record(Alias, row, rank=int(row["rank"])) for row in rows["aliases"].values()),
        name_words=tuple(_record(NameWord, row) for row in rows["name_words"].values()),
    )
