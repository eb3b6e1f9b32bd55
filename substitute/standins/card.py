"""A material's card: what it smells of, how long it lasts, what is in it or who holds it, rules, and what
replaces it.

How loud it is is said only beside another material ("1 g is about as loud as …"), how long it lasts in
words; neither stands beside how much of it is commonly used.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from typing import Any, ClassVar

from ..frozen import frozen
from ..records import Constituent, Control, Figure, Hazard, Limit, Material, Release, Swap, Tables
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
        m = self.material
        return {
            **m.brief(),
            "all_cas": list(m.cas),
            "kind": m.kind,
            "synonyms": list(m.synonyms),
            **{name: getattr(m, name) for name in ("botanical", "part", "process", "family", "structure")},
            "smiles": m.smiles,
            "stocked": m.stocked,
            "description": m.description,
            "basis": m.basis,
            **self._smell(),
            **self._inside(),
            **self._rules(),
            "replaced_by": [_named(self.tables, id) for id in self.replaced_by],
            "replaces": [_named(self.tables, id) for id in self.replaces],
            "sources": self._sources(),
        }

    def _smell(self) -> dict[str, Any]:
        """What it smells of, how loud and how long, and other figures on file."""
        tables, id = self.tables, self.material.id
        lasting = tables.value(id, "tenacity_h")
        profile = sorted(tables.profiles.get(id, {}).items(), key=lambda item: -item[1])
        return {
            "profile": [
                {"descriptor": tables.descriptors[word].name, "weight": weight} for word, weight in profile
            ],
            "smell_first": smell_first(tables.value(id, "potency")),
            "lasts": "not on file" if lasting is None else hours(lasting),
            "hard_to_smell": bool(tables.value(id, "anosmia")),
            "beside": list(self.beside),
            "figures": [
                {"property": name, "value": one.value, "at": one.at, **_known(one)}
                for name, one in tables.properties.get(id, {}).items()
                if name not in KEPT_BACK
            ],
        }

    def _inside(self) -> dict[str, Any]:
        """What is in it, what it gives back, and what holds it."""
        tables, id = self.tables, self.material.id
        return {
            "constituents": [
                {**self._shares(row.id, row.low, row.typical, row.high), **_known(row)}
                for row in self._constituents()
            ],
            "assessed": sorted(self.material.assessed),
            "releases": [
                {"id": row.id, "name": tables.materials[row.id].name, "share_pct": row.share, **_known(row)}
                for row in tables.releases.get(id, ())
            ],
            "held_by": [self._shares(*holder) for holder in self.holders],
        }

    def _rules(self) -> dict[str, Any]:
        """What limits it, what the law says and whom it may hurt."""
        tables, m = self.tables, self.material
        return {
            "limits": list(self.limits),
            "law": list(self.law),
            "hazards": [
                {"hazard": one.hazard, "words": one.words, **_known(one)} for one in of_material(tables, m.id)
            ],
            "cautions": list(hazard_lines(tables, m.id)) or [NOTHING.format(names=m.name)],
            "controls": list(self.controls),
        }

    def _sources(self) -> list[dict[str, str]]:
        """The documents behind all of it."""
        known, m = self.tables.sources, self.material
        used = {
            m.source,
            *(one.source for one in self.tables.properties.get(m.id, {}).values()),
            *(row.source for row in self._constituents()),
            *(row["source"] for row in self.limits),
        }
        return [
            {"id": key, "citation": known[key].citation, "kind": known[key].kind}
            for key in sorted(used)
            if key in known
        ]

    def _constituents(self) -> list[Constituent]:
        """Most first."""
        return sorted(self.tables.constituents.get(self.material.id, ()), key=lambda row: -row.typical)

    def _shares(self, id: str, low: float, typical: float, high: float) -> dict[str, Any]:
        name = self.tables.materials[id].name
        return {"id": id, "name": name, "low_pct": low, "typical_pct": typical, "high_pct": high}


def _known(row: Figure | Constituent | Release | Hazard | Limit | Control) -> dict[str, str]:
    """How a row of the tables is known."""
    return {"basis": row.basis, "source": row.source}


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
    holders = [
        (natural, row.low, row.typical, row.high)
        for natural, rows in tables.constituents.items()
        for row in rows
        if row.id == material
    ]
    replaces = (row.missing for rows in evidence.values() for row in rows if row.stand_in == material)
    return Card(
        material=tables.materials[material],
        holders=tuple(sorted(holders, key=lambda holder: -holder[2])),
        replaced_by=tuple(dict.fromkeys(row.stand_in for row in evidence.get(material, ()))),
        replaces=tuple(dict.fromkeys(replaces)),
        beside=loud_beside(tables, evidence, material),
        limits=tuple(_limits(situation, material)),
        law=situation.status(material),
        controls=tuple(_controls(tables, material)),
        tables=tables,
    )


def _limits(situation: Situation, material: str) -> Iterator[dict[str, Any]]:
    """Rows of the situation's sets about the material itself or a group that it belongs to."""
    tables, exposure = situation.tables, situation.exposure
    substances = {material} | {name for name in tables.groups if material in exposure.members(name)}
    applied = {one.limit_set.id for one in situation.context.sets}
    for row in tables.limits:
        if row.substance in substances and row.limit_set in applied:
            yield {
                "substance": row.substance,
                "name": substance_name(tables, row.substance),
                "limit_set": row.limit_set,
                "limit_set_title": tables.limit_sets[row.limit_set].title,
                "category": row.category,
                "max_pct": row.max_pct,
                "limit_words": words_of(row),
                "rule": row.rule,
                "note": row.note,
                **_known(row),
                "check": "check against the official Standard" if row.basis == "memory" else "",
            }


def _controls(tables: Tables, material: str) -> Iterator[dict[str, Any]]:
    """Rules of trade or supply about it, in every market."""
    for row in tables.controls:
        if row.material == material:
            yield {
                "control": row.control,
                "market": row.market,
                "detail": row.detail,
                "in_force": row.in_force.isoformat() if row.in_force else None,
                **_known(row),
            }
