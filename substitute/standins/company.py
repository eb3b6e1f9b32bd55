"""What the product and the rest of the accord say of each candidate: the two stated features."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from .amounts import by_tables
from .ask import Ask
from .bench import Bench

LEAST_PCT = 1e-6  # stands for zero where a ceiling is divided by


def headroom(bench: Bench, ask: Ask, found: Iterable[str]) -> dict[str, float]:
    """Minus the decades by which each candidate, at the amount it would need, oversteps its ceiling in
    the product.
    """
    dose = ask.situation.dose
    if not ask.situation.judged or not dose:
        return {}
    part = 1.0
    if ask.accord and ask.missing in ask.accord.active():
        part = ask.accord.active()[ask.missing] / ask.accord.total
    over = {}
    for name in found:
        most = ask.situation.most_pct(name)
        amount = by_tables(bench.tables, ask.missing, name) if most is not None and most < 100 else None
        if amount and most is not None:
            needed = dose * part * amount.grams
            over[name] = -math.log10(max(needed / max(most, LEAST_PCT), 1.0))
    return over


def company(bench: Bench, ask: Ask) -> np.ndarray | None:
    """Minus the part of each profile that neither the missing material nor the rest of the accord has (N)."""
    if ask.accord is None:
        return None
    space = bench.space
    allowed = space.shares[space.row[ask.missing]].copy()
    for name in ask.accord.active():
        if name in space.row:
            allowed = np.maximum(allowed, space.shares[space.row[name]])
    beyond: np.ndarray = -np.maximum(space.shares - allowed, 0.0).sum(axis=1)
    return beyond
