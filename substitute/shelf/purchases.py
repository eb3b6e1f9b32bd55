"""What a purchase is for: what it brings nearer, in which form it is wanted, how much of it, and what it
costs in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from ..accords.solutions import VERY_STRONG
from ..records import Accord, Tables
from .coverage import Coverage
from .planned import Purchase

NEARER = 0.02  # of an accord's value: from here on a purchase brings it nearer
BATCH = 10.0  # grams of each accord that the amounts are worked out for
NEAT_FROM, TENTH_FROM = (
    1.0,
    0.1,
)  # percent of the accord: 0.1 g of 10 g weighed neat; below, as 10 %, then 1 %


def purchases(
    tables: Tables,
    model: Coverage,
    accords: Sequence[Accord],
    held: Sequence[str],
    names: Sequence[str],
    known: Mapping[str, float],
    words: Callable[[str], tuple[str, ...]],
) -> tuple[Purchase, ...]:
    """The purchases ``names`` in their order beside what is ``held``; ``known`` are prices, ``words``
    what law says of each."""
    serves: dict[str, list[tuple[str, int]]] = {name: [] for name in names}
    for line, by, _ in model.assigned([*held, *names]):
        if by in serves:
            serves[by].append((line.material, line.accord))
    found, before = [], model.by_accord(held)
    for place, name in enumerate(names):
        after = model.by_accord([*held, *names[: place + 1]])
        rise = after - before
        order = [int(i) for i in sorted(np.flatnonzero(rise > 0), key=lambda i: (-rise[i], i))]
        helps = [i for place, i in enumerate(order) if rise[i] >= NEARER or place == 0]
        form, grams = _form(tables, accords, name, serves[name])
        price = tables.prices.get(name)
        found.append(
            Purchase(
                name,
                float(rise.mean()) if len(rise) else 0.0,
                tuple(model.accords[i] for i in helps),
                known.get(name),
                _why(name, [(missing, model.accords[owner]) for missing, owner in serves[name]]),
                words(name),
                form,
                grams,
                price.word if price else "",
            )
        )
        before = after
    return tuple(found)


def _form(
    tables: Tables, accords: Sequence[Accord], name: str, serves: Sequence[tuple[str, int]]
) -> tuple[str, float | None]:
    """In which form it is wanted (neat, 10 or 1; '' if it serves nothing), and grams of itself for 10 g
    of each accord it serves."""
    potency = tables.value(name, "potency")
    shares = []
    for missing, place in serves:
        loud = tables.value(missing, "potency")
        ratio = 1.0 if missing == name else loud / potency if loud and potency else None
        if ratio is not None:
            shares.append(100.0 * accords[place].active()[missing] * ratio / accords[place].total)
    if not shares:
        return "", None
    most = max(shares)
    form = "neat" if most >= NEAT_FROM else "10" if most >= TENTH_FROM else "1"
    if form == "neat" and potency is not None and potency > VERY_STRONG:
        form = "10"
    return form, sum(shares) * BATCH / 100.0


def _why(name: str, serves: Sequence[tuple[str, str]]) -> str:
    """What a purchase is for: its own lines, and what it stands in for most."""
    own = len({accord for missing, accord in serves if missing == name})
    others: dict[str, int] = {}
    for missing, _ in serves:
        if missing != name:
            others[missing] = others.get(missing, 0) + 1
    parts = [f"itself a line of {own} accord{'s' if own != 1 else ''}"] if own else []
    if others:
        best = sorted(others, key=lambda other: (-others[other], other))[:3]
        lines = sum(others.values())
        parts.append(f"stands in on {lines} line{'s' if lines != 1 else ''}, most for {', '.join(best)}")
    return "; ".join(parts) or "asked for; serves no line of these accords better than what is there"
