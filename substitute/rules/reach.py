"""How far an accord reaches in every product: the highest dose by what is known, worst and unknown first.

A working page, nothing to show a customer: it certifies nothing, and a product that no figure on file bears
on stands among the unknown.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import ClassVar

from ..frozen import frozen
from ..records import Accord
from ..shown import Shown
from .cautions import of_accord
from .report import Report
from .situation import Situation

ASKED_AT = 1.0  # percent: the dose at which products are judged; the highest dose does not depend on it
NOTHING_PAPER = (
    "A working page of arithmetic on tables, for the one who makes the accord. It certifies nothing, "
    "replaces no supplier's document and "
    "no assessment, and is not to be handed on as if it did."
)
FORBIDDEN, UNKNOWN, LIMITED, SILENT = "none", "unknown", "limited", "nothing on file"
ORDER = (FORBIDDEN, UNKNOWN, LIMITED, SILENT)


@frozen
class Reached:
    """Products that share a category and an answer; ``most_pct`` by what is known, ``unknown`` what is not, a
    line each.
    """

    products: tuple[str, ...]
    category: str
    state: str
    most_pct: float | None
    words: str
    wall: str
    unknown: tuple[str, ...]

    def to_dict(self) -> dict[str, object]:
        return {
            "products": list(self.products),
            "category": self.category,
            "state": self.state,
            "most_known_pct": self.most_pct,
            "words": self.words,
            "wall": self.wall,
            "unknown": list(self.unknown),
        }


@frozen
class Reach(Shown):
    """All that ``reach`` answers."""

    asked_by: ClassVar[str] = "reach"

    accord: str
    market: str
    on: dt.date
    rows: tuple[Reached, ...]
    cautions: tuple[str, ...]

    def to_dict(self) -> dict[str, object]:
        return {
            "accord": self.accord,
            "market": self.market,
            "on": self.on.isoformat(),
            "products": [row.to_dict() for row in self.rows],
            "cautions": list(self.cautions),
        }


def reach(situation: Situation, accord: Accord, reports: Sequence[Report]) -> Reach:
    """The page of ``accord`` from ``reports``, one a product at 1 %; the situation names no product."""
    together: dict[tuple[object, ...], list[Report]] = {}
    for one in reports:
        together.setdefault((one.verdict.category, *_key(one)), []).append(one)
    rows = [_row(some) for some in together.values()]
    rows.sort(
        key=lambda row: (
            ORDER.index(row.state),
            math.inf if row.most_pct is None else row.most_pct,
            row.category,
        )
    )
    cautions = (NOTHING_PAPER, *of_accord(situation, accord.active()))
    return Reach(accord.name, situation.market, situation.on, tuple(rows), cautions)


def _key(one: Report) -> tuple[object, ...]:
    return one.verdict.max_dose_known_pct, one.unknown_lines(), _wall(one)


def _row(some: Sequence[Report]) -> Reached:
    one = some[0]
    known, unknown = one.verdict.max_dose_known_pct, one.unknown_lines()
    state = FORBIDDEN if known == 0 else UNKNOWN if unknown else LIMITED if known is not None else SILENT
    names = tuple(dict.fromkeys(report.product for report in some))
    return Reached(names, one.verdict.category, state, known, one.highest_in_words(), _wall(one), unknown)


def _wall(one: Report) -> str:
    wall = one.verdict.wall
    return f"{wall.name} ({wall.limit_set}), most of it from {wall.line}" if wall else ""
