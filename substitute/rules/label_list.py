"""The list of ingredients on a label: what is printed, and in which order."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from ..errors import InputError
from ..figures import given, percent
from ..frozen import frozen
from .declare import Declarations
from .label_words import Kind

ANY_ORDER_UNDER = 1.0  # percent of the product


COMPOSITION = {"EU": "Parfum", "UK": "Parfum", "US": "Fragrance"}


MOST_BASE = 100.5  # percent: rounding of what a person gives is forgiven


@frozen
class LabelName:
    """A name of the list: percent by mass of the product, ``role`` composition, allergen or base; ``state``
    is declare or between.

    ``between``: only the high constituents of a natural call for it. ``threshold_pct`` is ``None`` but for
    allergens.
    """

    name: str
    pct: float
    role: str
    state: str = "declare"
    threshold_pct: float | None = None
    sources: tuple[str, ...] = ()
    limit_set: str = ""
    basis: str = ""

    @property
    def any_order(self) -> bool:
        """Whether the law leaves its place among the last free."""
        return self.pct < ANY_ORDER_UNDER

    def to_dict(self) -> dict[str, object]:
        return {
            "name": self.name,
            "pct": self.pct,
            "role": self.role,
            "any_order": self.any_order,
            "state": self.state,
            "threshold_pct": self.threshold_pct,
            "from": list(self.sources),
            "limit_set": self.limit_set,
            "basis": self.basis,
        }


def check_base(base: Mapping[str, float], dose: float) -> list[LabelName]:
    """The other ingredients as names; raises :class:`~substitute.errors.InputError` for one without name or
    amount, or over 100 % together.
    """
    names = []
    for name, pct in base.items():
        printed = " ".join(name.split())
        if not printed:
            raise InputError(f"`base` '{name}={pct:g}': an ingredient needs its label name, such as Aqua")
        if not (math.isfinite(pct) and 0.0 < pct <= 100.0):
            raise InputError(f"`base` {printed}: {given(pct)} is out of range: allowed is above 0 to 100")
        names.append(LabelName(printed, pct, "base"))
    whole = sum(one.pct for one in names) + dose
    if whole > MOST_BASE:
        raise InputError(
            f"`base`: with the dose of {given(dose)} the ingredients make {percent(whole, 4)}, more than "
            "the whole"
        )
    return names


def in_order(names: Iterable[LabelName]) -> tuple[LabelName, ...]:
    """Over 1 % by amount, largest first; what may stand in any order after it: the base and composition by
    amount, then allergens by name.
    """
    names = list(names)
    above = sorted((one for one in names if not one.any_order), key=lambda one: (-one.pct, one.name))
    below = sorted(
        (one for one in names if one.any_order),
        key=lambda one: (one.role == "allergen", 0.0 if one.role == "allergen" else -one.pct, one.name),
    )
    return (*above, *below)


def composition(market: str, dose: float, kind: Kind) -> list[LabelName]:
    if kind == "home" or kind == "other":
        return []
    return [
        LabelName(
            "Perfumes" if kind == "detergent" else COMPOSITION.get(market, "Parfum"), dose, "composition"
        )
    ]


def allergens(found: Declarations, kind: Kind) -> list[LabelName]:
    """Each printed name once, with the larger amount where two entries print the same."""
    best: dict[str, LabelName] = {}
    for row in found.rows if kind in ("cosmetic", "detergent") else ():
        one = LabelName(
            row.label,
            row.found_pct,
            "allergen",
            row.state,
            row.threshold_pct,
            tuple(name for name, _ in row.sources),
            row.limit_set,
            row.basis,
        )
        if row.label not in best or best[row.label].pct < one.pct:
            best[row.label] = one
    return list(best.values())
