"""How much of a substance each material of an accord brings into the product, per unit of dose."""

from __future__ import annotations

import math
from collections.abc import Mapping

from ..errors import InputError
from ..records import Tables
from .book import Rule
from .exposure import Exposure

SLACK = 1.0 + 1e-12  # equal figures may differ in the last bits of a float
WHOLE = 100.0

Amounts = list[tuple[str, float]]  # material, its contribution


def over(amount: float, limit: float) -> bool:
    """Whether ``amount`` exceeds ``limit``; equal does not."""
    return amount > limit * SLACK


def fractions_of(tables: Tables, active: Mapping[str, float], total_parts: float) -> dict[str, float]:
    """Each present material's share of the accord's mass.

    Raises :class:`~substitute.errors.InputError` for parts that are negative, not finite, more than the whole, or of a material
    that is not in the tables.
    """
    if not (math.isfinite(total_parts) and total_parts > 0):
        raise InputError(f"the accord's parts sum to {total_parts:g}: allowed is above 0")
    for material, parts in active.items():
        if material not in tables.materials:
            raise InputError(f"'{material}' is not a material of the tables")
        if not (math.isfinite(parts) and parts >= 0):
            raise InputError(f"'{material}' has {parts:g} parts: allowed is 0 or more")
    if math.fsum(active.values()) > total_parts * (1 + 1e-9):
        raise InputError(
            f"the materials sum to {math.fsum(active.values()):g} parts, more than the accord's {total_parts:g}"
        )
    return {material: parts / total_parts for material, parts in active.items() if parts > 0}


class Finder:
    """Contributions to a substance per unit of dose, by material, high and typical."""

    def __init__(self, exposure: Exposure, fractions: Mapping[str, float]):
        self.exposure, self.fractions = exposure, fractions

    def amounts(self, substance: str) -> tuple[Amounts, Amounts]:
        high, typical = [], []
        for material, fraction in self.fractions.items():
            share = self.exposure.share(material, substance)
            if share.high > 0:
                high.append((material, fraction * share.high))
                typical.append((material, fraction * share.typical))
        return high, typical

    def as_such(self, substance: str, amounts: Amounts) -> Amounts:
        """Those added themselves, or released by something added: not from a natural's own content."""
        members = self.exposure.members(substance)
        return [
            (name, part)
            for name, part in amounts
            if name in members or self.exposure.share(name, substance).via == "release"
        ]

    def fractions_of_limits(self, rule: Rule) -> tuple[Amounts, Amounts, bool]:
        """Contributions in percent of the members' own limits, and whether a present member has no figure."""
        sums: tuple[dict[str, float], dict[str, float]] = {}, {}
        open_ = False
        for part in rule.parts:
            both = self.amounts(part.substance)
            if part.max_pct is None:
                open_ = open_ or bool(both[0])
            elif part.max_pct > 0:  # a member with limit 0 breaks by itself
                for total, amounts in zip(sums, both):
                    for material, amount in amounts:
                        total[material] = total.get(material, 0.0) + WHOLE * amount / part.max_pct
        return list(sums[0].items()), list(sums[1].items()), open_
