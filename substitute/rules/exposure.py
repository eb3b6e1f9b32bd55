"""What one gram of a material puts of each substance into a product.

A material brings itself, a natural its constituents, a Schiff base or acetal what it gives back. A group's
share is what its
members bring together. ``high`` uses the highest constituents on file (the law's side), ``typical`` the
usual ones.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import cached_property
from types import MappingProxyType

import numpy as np

from ..errors import InputError, NotFound
from ..frozen import frozen
from ..records import Constituent, Limit, Tables
from ..tables.columns import OWN_SOURCE
from ..tables.near import nearest

COMPOSED = ("natural", "mixture")  # what holds things nobody may have looked for


@frozen
class Share:
    """Grams of a substance per gram of a material (0–1, a group's weights aside)."""

    high: float
    typical: float
    via: str  # itself, constituent, release


NOTHING = Share(0.0, 0.0, "")
WHOLE = Share(1.0, 1.0, "itself")
NONE = (0.0, 0.0)
Pairs = Mapping[str, tuple[float, float]]
"""Substance -> share, high and typical."""

TOLD_PCT = 98.0  # of a mixture: from here on its make counts as told
COMMON_IN_NATURALS = 12  # a constituent met this often may be in any natural


class Exposure:
    """Shares of every substance in every material, worked out when first asked for and kept."""

    def __init__(self, tables: Tables):
        self.tables = tables
        self.compiled: dict[object, object] = {}  # rules by context, see `compiled.compiled_for`
        self._members: dict[str, Mapping[str, float]] = {}
        self._shares: dict[str, Mapping[str, Share]] = {}
        self._assessed: dict[tuple[str, str], bool] = {}
        self._inside: dict[str, dict[str, Constituent]] = {}
        self._told: dict[str, frozenset[str] | None] = {}
        self._asked_for: dict[str, tuple[frozenset[str], frozenset[str], float]] = {}
        self._likely: dict[str, tuple[bool, frozenset[str], frozenset[str]]] = {}
        self._unknown_make: dict[str, bool] = {}

    def members(self, substance: str) -> Mapping[str, float]:
        """The materials a substance stands for, with their weights: itself, or a group expanded to any depth.

        A member reached on two ways counts once, with the larger weight. Raises
        :class:`~substitute.errors.InputError` if a group
        contains itself.
        """
        if substance not in self._members:
            self._members[substance] = MappingProxyType(self._expand(substance, ()))
        return self._members[substance]

    def _expand(self, substance: str, above: tuple[str, ...]) -> dict[str, float]:
        if substance not in self.tables.groups:
            return {substance: 1.0}
        if substance in above:
            raise InputError(f"the group '{substance}' contains itself: {' > '.join((*above, substance))}")
        found: dict[str, float] = {}
        for member, weight in self.tables.groups[substance].items():
            for material, inner in self._expand(member, (*above, substance)).items():
                if weight * inner > 0:
                    found[material] = max(found.get(material, 0.0), weight * inner)
        return found

    @cached_property
    def limits_by_set(self) -> dict[str, dict[str, list[Limit]]]:
        """Rows of the limit tables by set and substance."""
        found: dict[str, dict[str, list[Limit]]] = {}
        for row in self.tables.limits:
            found.setdefault(row.limit_set, {}).setdefault(row.substance, []).append(row)
        return found

    @cached_property
    def _groups_of(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        for group in self.tables.groups:
            for member in self.members(group):
                found.setdefault(member, []).append(group)
        return found

    def shares(self, material: str) -> Mapping[str, Share]:
        """Every substance (materials, then groups) that one gram of ``material`` brings, as fractions of
        its mass.

        Raises :class:`~substitute.errors.NotFound` for an id that is not in the tables.
        """
        if material not in self._shares:
            self._shares[material] = MappingProxyType(self._work_out(material))
        return self._shares[material]

    def share(self, material: str, substance: str) -> Share:
        """One share; zero where the tables name none (see :meth:`assessed` for what that is worth)."""
        return self.shares(material).get(substance, NOTHING)

    def _constituents(self, material: str) -> dict[str, Constituent]:
        if material not in self._inside:
            rows: dict[str, Constituent] = {}
            for row in self.tables.constituents.get(material, ()):
                if row.id not in rows or row.own:  # a lot's own figure beats a general one
                    rows[row.id] = row
            self._inside[material] = rows
        return self._inside[material]

    def _work_out(self, material: str) -> dict[str, Share]:
        if material not in self.tables.materials:
            raise NotFound(
                f"'{material}' is not a material of the tables{nearest(material, self.tables.materials)}"
            )
        held = {
            row.id: (row.high / 100.0, row.typical / 100.0)
            for row in self._constituents(material).values()
            if row.high > 0
        }
        given = self._given(material, held)
        if not held and not given:  # most materials: themselves, and a member of groups
            groups = self._groups_of.get(material, ())
            own = {group: self.members(group)[material] for group in groups}
            return {material: WHOLE, **{group: Share(part, part, "itself") for group, part in own.items()}}
        direct = {release.id for release in self.tables.releases.get(material, ()) if release.share > 0}
        shares = {material: Share(1.0, 1.0, "itself")}
        for name in dict.fromkeys((*held, *given)):
            if name != material:
                (high, typical), (more, usual) = held.get(name, NONE), given.get(name, NONE)
                via = "release" if name in direct and name not in held else "constituent"
                shares[name] = Share(high + more, typical + usual, via)
        for group in dict.fromkeys(group for name in shares for group in self._groups_of.get(name, ())):
            shares[group] = self._group_share(self.members(group), material, held, given, direct)
        return shares

    def _given(self, material: str, held: Pairs) -> dict[str, tuple[float, float]]:
        """What ``material`` and its constituents give back, high and typical."""
        given: dict[str, tuple[float, float]] = {}
        for name, (high, typical) in ((material, (1.0, 1.0)), *held.items()):
            for release in self.tables.releases.get(name, ()):
                if release.share > 0:
                    part, (more, usual) = release.share / 100.0, given.get(release.id, NONE)
                    given[release.id] = more + part * high, usual + part * typical
        return given

    @staticmethod
    def _group_share(
        members: Mapping[str, float], material: str, held: Pairs, given: Pairs, direct: Collection[str]
    ) -> Share:
        """A material counts once: as a member itself or by what it holds and gives back: the larger."""
        own = members.get(material, 0.0)
        inside = [
            (members[name], *figures)
            for name, figures in held.items()
            if name in members and name != material
        ]
        back = [name for name in given if name in members and name != material]
        high = _at_most_whole((weight, high) for weight, high, _ in inside)
        high += sum(members[name] * given[name][0] for name in back)
        typical = _at_most_whole((weight, typical) for weight, _, typical in inside)
        typical += sum(members[name] * given[name][1] for name in back)
        released = not inside and any(name in direct for name in back)
        via = "itself" if own >= high else "release" if released else "constituent"
        return Share(max(own, high), max(own, typical), via)

    def assessed(self, material: str, substance: str) -> bool:
        """Whether the tables say how much of ``substance`` one gram of ``material`` brings at most (0
        included).

        Molecules and solvents are what they are. A natural or mixture is known for ``substance`` (of a
        group: for each member) if
        that has a row, stands in the material's ``assessed`` list (or the list says ``all``), or cannot be
        inside (a natural). A
        lot's own analysis speaks only for what it lists: the general list goes with the general figures it
        replaced.
        """
        key = material, substance
        if key not in self._assessed:
            self._assessed[key] = self._is_assessed(material, substance)
        return self._assessed[key]

    def _is_assessed(self, material: str, substance: str) -> bool:
        if self.tables.materials[material].kind not in COMPOSED:
            return True
        members = self.members(substance)
        every, single, top = self._members_of(substance)
        if members.get(material, -1.0) >= top:
            return True
        told = self._looked_for(material)
        if told is None:
            return True
        apart = not self.of_unknown_make(material)  # a natural holds no other natural, a base may
        return (single if apart else every) <= told

    def _looked_for(self, material: str) -> frozenset[str] | None:
        """What the tables tell of a natural or mixture; ``None`` if that is everything."""
        if material not in self._told:
            record, rows = self.tables.materials[material], self._constituents(material)
            listed = record.assessed
            if rows and all(row.own for row in rows.values()) and record.source != OWN_SOURCE["id"]:
                listed = frozenset()
            self._told[material] = None if "all" in listed else listed | rows.keys() | {material}
        return self._told[material]

    def _members_of(self, substance: str) -> tuple[frozenset[str], frozenset[str], float]:
        """All members of a substance, those that are single molecules, and the largest weight."""
        if substance not in self._asked_for:
            members = self.members(substance)
            single = frozenset(name for name in members if not self.composed(name))
            self._asked_for[substance] = frozenset(members), single, max(members.values(), default=0.0)
        return self._asked_for[substance]

    def composed(self, name: str) -> bool:
        """Whether ``name`` is a natural or mixture: something that may hold what nobody looked for."""
        record = self.tables.materials.get(name)
        return record is not None and record.kind in COMPOSED

    @cached_property
    def _in_naturals(self) -> frozenset[str]:
        composed = [record for record in self.tables.materials.values() if record.kind in COMPOSED]
        rows = (row.id for record in composed for row in self.tables.constituents.get(record.id, ()))
        return frozenset(
            (
                *rows,
                *(record.id for record in composed),
                *(name for record in composed for name in record.assessed),
            )
        )

    def met_in_naturals(self, substance: str) -> bool:
        """Whether any natural on file holds ``substance`` (or a member), was looked at for it, or is it."""
        return any(name in self._in_naturals for name in self.members(substance))

    @cached_property
    def _holders(self) -> dict[str, tuple[str, ...]]:
        """Constituent -> naturals on file that hold it."""
        found: dict[str, list[str]] = {}
        for natural, rows in self.tables.constituents.items():
            for row in rows:
                if row.high > 0:
                    found.setdefault(row.id, []).append(natural)
        return {name: tuple(naturals) for name, naturals in found.items()}

    def plausible(self, material: str, substance: str) -> bool:
        """Whether it makes sense to ask a natural for ``substance``, or one that nothing is known of for
        anything naturals hold.

        Asked of a natural with known contents: what many naturals hold, or one of its own botanical genus
        or odour family does. Moss
        phenols are asked of mosses and not of citrus oils; a synthetic is asked of none.
        """
        if self.of_unknown_make(material):
            return True
        if not self._constituents(material) and not self.tables.materials[material].assessed:
            return self.met_in_naturals(substance)
        common, families, genera = self._holders_of(substance)
        mine = self.tables.materials[material]
        return common or mine.family in families or mine.botanical.split(" ")[0] in genera

    def _holders_of(self, substance: str) -> tuple[bool, frozenset[str], frozenset[str]]:
        """Whether many naturals hold a substance (or a member), and families and genera of those that do."""
        if substance not in self._likely:
            held = [self._holders.get(member, ()) for member in self.members(substance)]
            naturals = [self.tables.materials[name] for some in held for name in some]
            self._likely[substance] = (
                any(len(some) >= COMMON_IN_NATURALS for some in held),
                frozenset(one.family for one in naturals),
                frozenset(one.botanical.split(" ")[0] for one in naturals) - {""},
            )
        return self._likely[substance]

    def of_unknown_make(self, material: str) -> bool:
        """Whether ``material`` is a base or mixture of which too little is told to say what else it holds:
        anything may be inside.

        One whose typical constituents fill all but a fiftieth of it is known.
        """
        if material not in self._unknown_make:
            record = self.tables.materials[material]
            self._unknown_make[material] = (
                record.kind == "mixture"
                and "all" not in record.assessed
                and sum(row.typical for row in self._constituents(material).values()) < TOLD_PCT
            )
        return self._unknown_make[material]

    def measured(self, material: str, substance: str) -> bool:
        """Whether a lot's own analysis gives ``substance`` (of a group: each member) in ``material``."""
        rows = self._constituents(material)
        return all(name in rows and rows[name].own for name in self.members(substance))

    def unassessed(self, materials: Iterable[str], substance: str) -> tuple[str, ...]:
        """Those of ``materials`` that were not assessed for ``substance`` though it makes sense to ask, in
        their order.
        """
        return tuple(
            name
            for name in materials
            if not self.assessed(name, substance) and self.plausible(name, substance)
        )

    def matrix(self, substances: Sequence[str], materials: Sequence[str]) -> tuple[np.ndarray, np.ndarray]:
        """Shares as arrays.

        Returns ``(high, typical)``, each of shape (substances, materials), grams per gram. Raises
        :class:`~substitute.errors.NotFound` for an id that is neither a material nor a group.
        """
        for name in substances:
            if name not in self.tables.materials and name not in self.tables.groups:
                near = nearest(name, (*self.tables.materials, *self.tables.groups))
                raise NotFound(f"'{name}' is neither a material nor a group of the tables{near}")
        found = np.zeros((2, len(substances), len(materials)))
        for column, material in enumerate(materials):
            shares = self.shares(material)
            for row, substance in enumerate(substances):
                share = shares.get(substance)
                if share is not None:
                    found[:, row, column] = share.high, share.typical
        return found[0], found[1]


def _at_most_whole(pairs: Iterable[tuple[float, float]]) -> float:
    """The most that shares can weigh together when they fill one gram at most: the heaviest weights first."""
    total, room = 0.0, 1.0
    for weight, share in sorted(pairs, reverse=True):
        taken = min(share, room)
        total, room = total + weight * taken, room - taken
    return total
