"""The known limits as linear constraints on the materials' shares of the product, for optimisers and for headroom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..records import Tables
from .book import Rule, book_of
from .context import Context
from .exposure import Exposure
from .found import SLACK, WHOLE


@dataclass(frozen=True, eq=False)
class Linear:
    """``A @ x <= limit`` with x the percent of each material in the product (dose × active / total parts).

    ``A`` has shape (rows, materials), ``limit`` (rows,); ``rows`` are the rules in the same order; ``forbidden`` (materials,) marks
    what no amount of is legal. Unknown limits and unassessed naturals are not in it, and the alternative for measured lots never is.
    """

    A: np.ndarray
    limit: np.ndarray
    rows: tuple[Rule, ...]
    forbidden: np.ndarray
    materials: tuple[str, ...]

    def found_pct(self, percent: np.ndarray) -> np.ndarray:
        """What each row finds for ``percent`` (materials,) of the product."""
        return self.A @ percent


def linear(tables: Tables, exposure: Exposure, context: Context, materials: Sequence[str]) -> Linear:
    """The known limits over ``materials``; rows that none of them touches are left out.

    Raises :class:`~substitute.errors.NotFound` for an id that is not in the tables.
    """
    materials = tuple(materials)
    book = book_of(exposure, context)
    wanted = dict.fromkeys(
        name for rule in book.rules for name in (rule.substance, *(part.substance for part in rule.parts))
    )
    place = {name: row for row, name in enumerate(wanted)}
    high, _ = exposure.matrix(list(wanted), materials)
    forbidden = np.zeros(len(materials), bool)
    coefficients, limits, rows = [], [], []
    for rule in book.rules:
        share = high[place[rule.substance]]
        limit = rule.max_pct
        if rule.rule == "grade":
            if limit is not None:
                members = exposure.members(rule.substance)
                inside = np.array([name not in members for name in materials], bool)
                forbidden |= inside & (share * WHOLE > limit * SLACK)
            continue
        if rule.rule == "prohibited_as_such":
            added = np.array([_added(exposure, name, rule.substance) for name in materials], bool)
            forbidden |= added
            share, limit = np.where(added, 0.0, share), rule.tolerated_pct
        elif rule.rule == "sum_of_fractions":
            parts = [part for part in rule.parts if part.max_pct]
            share = sum(
                (high[place[part.substance]] * (WHOLE / part.max_pct) for part in parts),
                np.zeros(len(materials)),
            )
            limit = WHOLE if limit is None else limit
        elif rule.rule not in ("max", "prohibited"):
            continue
        if limit is None or not share.any() or (rule.rule == "max" and limit >= WHOLE):
            continue
        if limit == 0:
            forbidden |= share > 0
        coefficients.append(share)
        limits.append(limit)
        rows.append(rule)
    matrix = np.array(coefficients) if coefficients else np.zeros((0, len(materials)))
    return Linear(matrix, np.array(limits, float), tuple(rows), forbidden, materials)


def _added(exposure: Exposure, material: str, substance: str) -> bool:
    return material in exposure.members(substance) or exposure.share(material, substance).via == "release"


def headroom(tables: Tables, exposure: Exposure, context: Context, materials: Sequence[str]) -> np.ndarray:
    """The highest percent of the product each material may be, alone, by the known limits: shape (materials,), 0 to 100."""
    known = linear(tables, exposure, context, materials)
    most = np.full(len(known.materials), WHOLE)
    for share, limit in zip(known.A, known.limit):
        touched = share > 0
        most[touched] = np.minimum(most[touched], limit / share[touched])
    most[known.forbidden] = 0.0
    return most
