"""A material's card: what it smells of, how strong and how long, what is in it or who holds it, rules, and what replaces it."""

from __future__ import annotations

from dataclasses import dataclass, field

from ..records import Material, Tables
from ..rules.book import words_of
from ..rules.situation import Situation

STRENGTHS = (
    (0.0, "no smell to speak of"),
    (0.02, "very weak"),
    (0.2, "weak"),
    (0.7, "middling"),
    (2.0, "strong"),
    (8.0, "very strong"),
    (40.0, "extremely strong: dilute before smelling"),
)
LASTING = (
    (0.0, "gone within the hour"),
    (1.0, "an hour or a few"),
    (6.0, "half a day"),
    (16.0, "about a day"),
    (40.0, "some days"),
    (150.0, "a week or two"),
    (400.0, "some weeks"),
    (1000.0, "a month or two"),
    (2000.0, "months"),
)


def in_words(value: float | None, scale) -> str:
    """The word of a scale of (least value, word) that ``value`` reaches."""
    if value is None:
        return "not on file"
    return [word for least, word in scale if value >= least][-1]


@dataclass(frozen=True)
class Card:
    """All that ``show`` answers."""

    material: Material
    holders: tuple[tuple[str, float, float, float], ...]
    replaced_by: tuple[str, ...]
    replaces: tuple[str, ...]
    limits: tuple[dict, ...]
    law: tuple[str, ...]
    controls: tuple[dict, ...]
    tables: Tables = field(repr=False)

    def to_dict(self) -> dict:
        tables, m = self.tables, self.material
        profile = sorted(tables.profiles.get(m.id, {}).items(), key=lambda item: -item[1])
        figures = tables.properties.get(m.id, {})
        potency, tenacity = tables.value(m.id, "potency"), tables.value(m.id, "tenacity_h")
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
            "strength": in_words(potency, STRENGTHS),
            "lasts": in_words(tenacity, LASTING),
            "figures": [
                {"property": name, "value": f.value, "at": f.at, "basis": f.basis, "source": f.source}
                for name, f in figures.items()
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
            "controls": list(self.controls),
            "replaced_by": list(self.replaced_by),
            "replaces": list(self.replaces),
            "sources": [
                {"id": key, "citation": tables.sources[key].citation, "kind": tables.sources[key].kind}
                for key in sorted(used)
                if key in tables.sources
            ],
        }


def card(tables: Tables, situation: Situation, evidence, material: str) -> Card:
    """The card of ``material``; ``evidence`` maps missing -> documented swaps; limits are those of the situation's sets."""
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
            "limit_set": row.limit_set,
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
        tuple(limits),
        situation.status(material),
        tuple(controls),
        tables,
    )
