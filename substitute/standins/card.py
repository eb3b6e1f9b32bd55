"""A material's card: what it smells of, how long it lasts, what is in it or who holds it, rules, and what
replaces it.

How loud it is is said only beside another material ("1 g is about as loud as …"), how long it lasts in
words; neither stands beside how much of it is commonly used.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import Any, ClassVar

from ..frozen import frozen
from ..records import Material, Swap, Tables
from ..rules.book import words_of
from ..rules.cautions import NOTHING, hazard_lines, of_material
from ..rules.rule import substance_name
from ..rules.situation import Situation
from ..shown import Shown
from .evidence import Ground
from .pair import make_pair
from .words import hours, strength_reason

SMELL_FIRST = (
    (40.0, "smell it at 1 % first"),
    (8.0, "smell it at 10 % first"),
)  # by strength, strongest first
KEPT_BACK = (
    "potency",
    "tenacity_h",
    "use_low_pct",
    "use_high_pct",
    "anosmia",
)  # said in words, or where amounts are
BESIDE = 3  # this many of what replaces it are named with their loudness


@frozen
class Card(Shown):
    """All that ``show`` answers."""

    asked_by: ClassVar[str] = "show"

    material: Material
    holders: tuple[tuple[str, float, float, float], ...]
    replaced_by: tuple[str, ...]
    replaces: tuple[str, ...]
    beside: tuple[dict[str, str], ...]
    limits: tuple[dict[str, Any], ...]
    law: tuple[str, ...]
    controls: tuple[dict[str, Any], ...]
    tables: Tables = field(repr=False)

    def to_dict(self) -> dict[str, Any]:
        tables, m = self.tables, self.material
        profile = sorted(tables.profiles.get(m.id, {}).items(), key=lambda item: -item[1])
        figures = tables.properties.get(m.id, {})
        lasting = tables.value(m.id, "tenacity_h")
        inside = sorted(tables.constituents.get(m.id, ()), key=lambda row: -row.typical)
        used = {
            m.source,
            *(f.source for f in figures.values()),
            *(row.source for row in inside),
            *(row["source"] for row in self.limits),
        } - {""}
        return {
            **m.brief(),
            "all_cas": list(m.cas),
            "kind": m.kind,
            "synonyms": list(m.synonyms),
            "botanical": m.botanical,
            "part": m.part,
            "process": m.process,
            "family": m.family,
            "structure": m.structure,
            "smiles": m.smiles,
            "stocked": m.stocked,
            "description": m.description,
            "basis": m.basis,
            "profile": [
                {"descriptor": tables.descriptors[word].name, "weight": weight} for word, weight in profile
            ],
            "smell_first": smell_first(tables.value(m.id, "potency")),
            "lasts": "not on file" if lasting is None else hours(lasting),
            "hard_to_smell": bool(tables.value(m.id, "anosmia")),
            "beside": list(self.beside),
            "figures": [
                {"property": name, "value": f.value, "at": f.at, "basis": f.basis, "source": f.source}
                for name, f in figures.items()
                if name not in KEPT_BACK
            ],
            "constituents": [
                {
                    "id": r.id,
                    "name": tables.materials[r.id].name,
                    "low_pct": r.low,
                    "typical_pct": r.typical,
                    "high_pct": r.high,
                    "basis": r.basis,
                    "source": r.source,
                }
                for r in inside
            ],
            "assessed": sorted(m.assessed),
            "releases": [
                {
                    "id": r.id,
                    "name": tables.materials[r.id].name,
                    "share_pct": r.share,
                    "basis": r.basis,
                    "source": r.source,
                }
                for r in tables.releases.get(m.id, ())
            ],
            "held_by": [
                {
                    "id": name,
                    "name": tables.materials[name].name,
                    "low_pct": low,
                    "typical_pct": typical,
                    "high_pct": high,
                }
                for name, low, typical, high in self.holders
            ],
            "limits": list(self.limits),
            "law": list(self.law),
            "hazards": [
                {"hazard": one.hazard, "words": one.words, "basis": one.basis, "source": one.source}
                for one in of_material(tables, m.id)
            ],
            "cautions": list(hazard_lines(tables, m.id)) or [NOTHING.format(names=m.name)],
            "controls": list(self.controls),
            "replaced_by": [_named(tables, id) for id in self.replaced_by],
            "replaces": [_named(tables, id) for id in self.replaces],
            "sources": [
                {"id": key, "citation": tables.sources[key].citation, "kind": tables.sources[key].kind}
                for key in sorted(used)
                if key in tables.sources
            ],
        }


def _named(tables: Tables, id: str) -> dict[str, str]:
    return {"id": id, "name": tables.materials[id].name}


def smell_first(potency: float | None) -> str:
    """How thin to smell it the first time; '' where it may be smelled as it is."""
    return next((word for least, word in SMELL_FIRST if potency is not None and potency >= least), "")


def loud_beside(
    tables: Tables, evidence: Mapping[str, Sequence[Swap]], material: str
) -> tuple[dict[str, str], ...]:
    """How loud the first of what replaces ``material`` are beside it."""
    found = []
    for name in list(dict.fromkeys(row.stand_in for row in evidence.get(material, ())))[:BESIDE]:
        rows = tuple(row for row in evidence[material] if row.stand_in == name)
        pair = make_pair(tables, material, name, Ground(1.0, "documented", rows))
        told = {"id": name, "name": tables.materials[name].name, "loud": strength_reason(tables, pair)}
        found.append(told)
    return tuple(found)


def card(tables: Tables, situation: Situation, evidence: Mapping[str, Sequence[Swap]], material: str) -> Card:
    """The card of ``material``; ``evidence`` maps missing -> documented swaps; limits are those of the
    situation's sets.
    """
    exposure, context = situation.exposure, situation.context
    holders = sorted(
        (
            (natural, row.low, row.typical, row.high)
            for natural, rows in tables.constituents.items()
            for row in rows
            if row.id == material
        ),
        key=lambda h: -h[2],
    )
    groups = {material} | {name for name in tables.groups if material in exposure.members(name)}
    applied = {s.limit_set.id for s in context.sets}
    limits = [
        {
            "substance": row.substance,
            "name": substance_name(tables, row.substance),
            "limit_set": row.limit_set,
            "limit_set_title": tables.limit_sets[row.limit_set].title,
            "category": row.category,
            "max_pct": row.max_pct,
            "limit_words": words_of(row),
            "rule": row.rule,
            "note": row.note,
            "basis": row.basis,
            "source": row.source,
            "check": "check against the official Standard" if row.basis == "memory" else "",
        }
        for row in tables.limits
        if row.substance in groups and row.limit_set in applied
    ]
    controls = [
        {
            "control": c.control,
            "market": c.market,
            "detail": c.detail,
            "in_force": c.in_force.isoformat() if c.in_force else None,
            "basis": c.basis,
            "source": c.source,
        }
        for c in tables.controls
        if c.material == material
    ]
    return Card(
        tables.materials[material],
        tuple(holders),
        tuple(dict.fromkeys(row.stand_in for row in evidence.get(material, ()))),
        tuple(
            dict.fromkeys(
                row.missing for rows in evidence.values() for row in rows if row.stand_in == material
            )
        ),
        loud_beside(tables, evidence, material),
        tuple(limits),
        situation.status(material),
        tuple(controls),
        tables,
    )
