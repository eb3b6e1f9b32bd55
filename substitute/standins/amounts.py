"""How much of a stand-in takes the place of one gram of what is missing, neat for neat."""

from __future__ import annotations

from dataclasses import dataclass

from ..odour.staging import natural_mix
from ..records import Constituent, Swap, Tables

MOST_OF_ODOUR = 0.70  # a constituent that holds this part of the potency-weighted mass stands for the natural
EXPLAINED = 0.5  # the listed constituents must make up this part of the natural's potency before shares count
ORDER_OF_MAGNITUDE = 30.0  # a potency ratio beyond this is a starting point for trials, not an amount
SPREAD = {
    "published": 1.25,
    "practice": 1.5,
    "memory": 1.5,
    "estimate": 2.0,
}  # how far a potency may be off, by its basis
LEAST_SHARE = 0.25  # a constituent's unknown or zero low is taken as this part of its typical


@dataclass(frozen=True)
class Amount:
    """Grams for one gram, with low and high, and the ground: share, potency or evidence."""

    grams: float
    low: float
    high: float
    ground: str

    @property
    def is_order_of_magnitude(self) -> bool:
        return self.ground == "potency" and not 1 / ORDER_OF_MAGNITUDE <= self.grams <= ORDER_OF_MAGNITUDE

    def trial_series(self) -> tuple[float, ...]:
        """Five starting amounts around the figure, each about three times the one before."""
        return tuple(self.grams * factor for factor in (0.1, 0.3, 1.0, 3.0, 10.0))


def constituent_of(tables: Tables, natural: str, part: str) -> Constituent | None:
    """The row of ``part`` inside ``natural``."""
    return next(
        (row for row in tables.constituents.get(natural, ()) if row.id == part and row.typical > 0), None
    )


def odour_part(tables: Tables, natural: str, part: str) -> float:
    """Part of the natural's potency-weighted mass (listed constituents) that ``part`` holds, 0 to 1."""
    mix = natural_mix(tables, natural)
    total = sum(mix.weights)
    return dict(zip(mix.ids, mix.weights)).get(part, 0.0) / total if total > 0 else 0.0


def rules_by_share(tables: Tables, natural: str, part: str) -> bool:
    """Whether ``part`` holds most of the natural's odour: 70 % of the listed potency-weighted mass, and the list explains the natural.

    A list that explains less than half of the natural's own potency leaves out what it smells of (vanilla is more than its 2 % of
    vanillin); then shares are the wrong guide.
    """
    mix = natural_mix(tables, natural)
    return sum(mix.weights) >= EXPLAINED * mix.potency and odour_part(tables, natural, part) >= MOST_OF_ODOUR


def supply(row: Constituent) -> Amount:
    """Grams of a natural that bring one gram of the constituent ``row``."""
    least = max(row.low, LEAST_SHARE * row.typical)
    return Amount(100.0 / row.typical, 100.0 / max(row.high, row.typical), 100.0 / least, "share")


def amount_for(tables: Tables, missing: str, stand_in: str, evidence: Swap | None = None) -> Amount | None:
    """Grams of ``stand_in`` for one gram of ``missing``; ``None`` where a potency is unknown.

    A ratio from the evidence comes first; then the share, if one is a constituent that holds at least 70 % of the other's
    potency-weighted mass; else potency(missing) / potency(stand_in).
    """
    if evidence is not None and evidence.grams_per_gram:
        grams, spread = evidence.grams_per_gram, SPREAD[evidence.basis]
        return Amount(grams, grams / spread, grams * spread, "evidence")
    inside = constituent_of(tables, stand_in, missing)
    if inside and rules_by_share(tables, stand_in, missing):
        return supply(inside)
    inside = constituent_of(tables, missing, stand_in)
    if inside and rules_by_share(tables, missing, stand_in):
        least = max(inside.low, LEAST_SHARE * inside.typical)
        return Amount(
            inside.typical / 100.0, least / 100.0, max(inside.high, inside.typical) / 100.0, "share"
        )
    old, new = tables.value(missing, "potency"), tables.value(stand_in, "potency")
    if not old or not new:
        return None
    spread = max(SPREAD[tables.properties[name]["potency"].basis] for name in (missing, stand_in))
    return Amount(old / new, old / new / spread, old / new * spread, "potency")
