"""What a batch costs: known prices added up, a missing one as a range.

A material's price is per gram of the bottle it is drawn from. Where it has none, its rough word in
``prices.csv`` is turned into money by the person's own priced bottles: each says what "cheap" would cost at
:data:`STEP` times a word, and their middle is taken, with the distance between them, but at least x/÷
:data:`ROUGH`, as the range. With no priced bottle, or no word, the batch has a least cost and no greatest.
Solvents that the person has not priced are counted as unknown too.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from statistics import median, pstdev
from typing import Any

from ..figures import figure
from ..frozen import frozen
from ..records import Shelf, Tables

STEP = 4.0  # one word dearer is about this many times the price (sources.csv: four to six)
ROUGH = 3.0  # a rough word is no better than this factor either way
NEEDED = 2  # priced bottles from which their spread says something


@frozen
class Unpriced:
    """A material without a price: grams of it, and what they may cost (``None`` unknown)."""

    id: str
    name: str
    grams: float
    low: float | None
    high: float | None
    word: str


@frozen
class Cost:
    """``known`` is what priced bottles cost; ``low`` to ``high`` the whole, ``high`` ``None`` where a price
    is not even roughly known."""

    known: float
    low: float
    high: float | None
    unpriced: tuple[Unpriced, ...]

    @property
    def told(self) -> str:
        """'4.20', 'about 4 to 6', 'at least 4'; in the money of the person's own prices."""
        if not self.unpriced:
            return figure(self.known, 3)
        if self.high is None:
            if not self.low:
                return "not known: no price of yours to reckon from"
            return f"at least {figure(self.low, 2)}, how much more is not known"
        return f"about {figure(self.low, 2)} to {figure(self.high, 2)}"

    def to_dict(self) -> dict[str, Any]:
        rows = [
            {
                "id": u.id,
                "name": u.name,
                "grams": u.grams,
                "low": u.low,
                "high": u.high,
                "word": u.word or None,
            }
            for u in self.unpriced
        ]
        return {"known": self.known, "low": self.low, "high": self.high, "unpriced": rows, "told": self.told}


@frozen
class Scale:
    """What the word ``cheap`` costs per gram by the person's own bottles, and the factor either way;
    ``None`` without a priced bottle."""

    cheap: float
    off: float


def scale_of(tables: Tables, shelf: Shelf | None) -> Scale | None:
    """The person's own scale of the rough words."""
    logs = [
        math.log(item.price / (item.strength / 100.0) / STEP ** tables.prices[item.material].step)
        for item in (shelf.stock if shelf else ())
        if item.price and item.material in tables.prices
    ]
    if not logs:
        return None
    spread = math.exp(pstdev(logs)) if len(logs) >= NEEDED else ROUGH
    return Scale(math.exp(median(logs)), max(ROUGH, spread))


def price_per_gram(shelf: Shelf | None, material: str, strength: float) -> float | None:
    """Price of a gram at this strength: of a bottle of that strength, else by the material itself, its
    carrier counted as free."""
    stock = [item for item in (shelf.stock if shelf else ()) if item.material == material]
    same = [item.price for item in stock if item.strength == strength and item.price is not None]
    if same:
        return min(same)
    itself = shelf.price(material) if shelf else None
    return None if itself is None else itself * strength / 100.0


def cost_of(
    tables: Tables, shelf: Shelf | None, drawn: Iterable[tuple[str, float, float]], scale: Scale | None = None
) -> Cost:
    """The cost of ``drawn`` (material, strength [%], grams)."""
    scale = scale or scale_of(tables, shelf)
    known, unpriced = 0.0, []
    for material, strength, grams in drawn:
        price = price_per_gram(shelf, material, strength)
        if price is not None:
            known += price * grams
            continue
        unpriced.append(_unpriced(tables, scale, material, grams * strength / 100.0))
    merged = _merged(unpriced)
    low = known + sum(one.low or 0.0 for one in merged)
    high = None if any(one.high is None for one in merged) else known + sum(one.high or 0.0 for one in merged)
    return Cost(known, low, high, merged)


def _unpriced(tables: Tables, scale: Scale | None, material: str, grams: float) -> Unpriced:
    rough = tables.prices.get(material)
    name = tables.materials[material].name if material in tables.materials else material
    if scale is None or rough is None:
        return Unpriced(material, name, grams, None, None, rough.word if rough else "")
    middle = scale.cheap * STEP**rough.step * grams
    return Unpriced(material, name, grams, middle / scale.off, middle * scale.off, rough.word)


def _merged(rows: Sequence[Unpriced]) -> tuple[Unpriced, ...]:
    found: dict[str, Unpriced] = {}
    for one in rows:
        held = found.get(one.id)
        found[one.id] = one if held is None else _sum(held, one)
    return tuple(found.values())


def _sum(one: Unpriced, other: Unpriced) -> Unpriced:
    low = None if one.low is None or other.low is None else one.low + other.low
    high = None if one.high is None or other.high is None else one.high + other.high
    return Unpriced(one.id, one.name, one.grams + other.grams, low, high, one.word)


def total_of(costs: Mapping[str, Cost]) -> Cost:
    """Several costs as one."""
    rows = list(costs.values())
    known, low = sum(one.known for one in rows), sum(one.low for one in rows)
    highs = [one.high for one in rows]
    high = None if None in highs else sum(value for value in highs if value is not None)
    return Cost(known, low, high, _merged([part for one in rows for part in one.unpriced]))
