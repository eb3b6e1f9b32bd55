"""Amounts: what shares and strengths say of how much takes the place of one gram, neat for neat."""

from __future__ import annotations

import math

from ..frozen import frozen
from ..odour.staging import natural_mix
from ..records import Constituent, Tables

MOST_OF_ODOUR = 0.70  # a constituent that holds this part of the potency-weighted mass stands for the natural
EXPLAINED = 0.5  # the listed constituents must make up this part of the natural's potency before shares count
ORDER_OF_MAGNITUDE = 30.0  # a ratio beyond this is a starting point for trials, not an amount
# how far a potency or a documented amount may be off, by its basis
SPREAD = {"published": 1.25, "practice": 1.5, "memory": 1.5, "estimate": 2.0}
USE_SPREAD = 4.0  # how far a ratio of use levels may be off
LEAST_SHARE = 0.25  # a constituent's unknown or zero low is taken as this part of its typical
SERIES = (0.1, 0.3, 1.0, 3.0, 10.0)  # a trial series around a starting amount


@frozen
class Amount:
    """Grams for one gram, with low and high, and the ground: share, potency, use, evidence, or tried by the
    person.
    """

    grams: float
    low: float
    high: float
    ground: str

    @property
    def is_order_of_magnitude(self) -> bool:
        return self.ground != "share" and not 1 / ORDER_OF_MAGNITUDE <= self.grams <= ORDER_OF_MAGNITUDE

    def trial_series(self) -> tuple[float, ...]:
        """Five starting amounts around the figure, each about three times the one before."""
        return tuple(self.grams * factor for factor in SERIES)


def constituent_of(tables: Tables, natural: str, part: str) -> Constituent | None:
    """The row of ``part`` inside ``natural``."""
    return next(
        (row for row in tables.constituents.get(natural, ()) if row.id == part and row.typical > 0), None
    )


def odour_parts(tables: Tables, natural: str) -> dict[str, float]:
    """Part of the natural's potency-weighted mass (listed constituents) that each holds, 0 to 1."""
    mix = natural_mix(tables, natural)
    total = sum(mix.weights)
    return {name: weight / total for name, weight in zip(mix.ids, mix.weights)} if total > 0 else {}


def odour_part(tables: Tables, natural: str, part: str) -> float:
    """Part of the natural's potency-weighted mass (listed constituents) that ``part`` holds, 0 to 1."""
    return odour_parts(tables, natural).get(part, 0.0)


def rules_by_share(tables: Tables, natural: str, part: str) -> bool:
    """Whether ``part`` holds most of the natural's odour: 70 % of the listed potency-weighted mass, and
    the list explains the natural.

    A list that explains less than half of the natural's own potency leaves out what it smells of (vanilla
    is more than its 2 % of vanillin); then shares are the wrong guide.
    """
    mix = natural_mix(tables, natural)
    return sum(mix.weights) >= EXPLAINED * mix.potency and odour_part(tables, natural, part) >= MOST_OF_ODOUR


def supply(row: Constituent) -> Amount:
    """Grams of a natural that bring one gram of the constituent ``row``."""
    least = max(row.low, LEAST_SHARE * row.typical)
    return Amount(100.0 / row.typical, 100.0 / max(row.high, row.typical), 100.0 / least, "share")


def by_share(tables: Tables, missing: str, stand_in: str) -> Amount | None:
    """By the share of the one in the other, where that constituent holds most of the natural's odour;
    else ``None``.
    """
    inside = constituent_of(tables, stand_in, missing)
    if inside and rules_by_share(tables, stand_in, missing):
        return supply(inside)
    inside = constituent_of(tables, missing, stand_in)
    if inside and rules_by_share(tables, missing, stand_in):
        least = max(inside.low, LEAST_SHARE * inside.typical)
        most = max(inside.high, inside.typical)
        return Amount(inside.typical / 100.0, least / 100.0, most / 100.0, "share")
    return None


def by_potency(tables: Tables, missing: str, stand_in: str) -> Amount | None:
    """potency(missing) / potency(stand-in); ``None`` where one is unknown."""
    old, new = (tables.properties.get(name, {}).get("potency") for name in (missing, stand_in))
    if not old or not new or old.value <= 0 or new.value <= 0:
        return None
    ratio = old.value / new.value
    spread = max(SPREAD[old.basis], SPREAD[new.basis])
    return Amount(ratio, ratio / spread, ratio * spread, "potency")


def by_use(tables: Tables, missing: str, stand_in: str) -> Amount | None:
    """By how much of each is commonly used (middle of the range); rough, where no potency is on file."""
    old, new = _use(tables, missing), _use(tables, stand_in)
    if not old or not new:
        return None
    ratio = new / old * tables.louder(missing, stand_in)
    return Amount(ratio, ratio / USE_SPREAD, ratio * USE_SPREAD, "use")


def _use(tables: Tables, name: str) -> float | None:
    """Middle of the use levels [%], on a ratio scale."""
    low, high = tables.value(name, "use_low_pct"), tables.value(name, "use_high_pct")
    return math.sqrt(low * high) if low and high else None


def by_tables(tables: Tables, missing: str, stand_in: str) -> Amount | None:
    """The amount by the tables' own figures: the share if it rules, else strengths, else use levels."""
    return (
        by_share(tables, missing, stand_in)
        or by_potency(tables, missing, stand_in)
        or by_use(tables, missing, stand_in)
    )
