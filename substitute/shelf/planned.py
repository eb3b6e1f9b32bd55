"""The records of a plan: accords as made, purchases, swaps leaned on, and the whole answer."""

from __future__ import annotations

from dataclasses import field
from typing import Any, ClassVar

from ..accords.adjusted import Adjusted
from ..frozen import frozen
from ..records import Shelf, Tables
from ..shown import Shown


@frozen
class Made:
    """An accord on the shelf: match reached (0 to 1, ``None`` if it could not be adjusted), what it lacks
    and what takes its place."""

    accord: str
    match: float
    stages: tuple[float | None, ...]
    surrogate: float
    lacks: tuple[str, ...]
    stand_ins: tuple[str, ...]
    left_out: tuple[str, ...]
    adjusted: Adjusted | None
    command: str | None = None
    match_after: float | None = None
    surrogate_after: float | None = None

    def to_dict(self) -> dict[str, Any]:
        made = self.adjusted
        lines = [line.to_dict(made.tables) for line in made.lines] if made else []
        keys = ("id", "strength_pct", "parts_before", "parts_after", "why")
        row: dict[str, Any] = {
            "accord": self.accord,
            "match": self.match,
            "surrogate": self.surrogate,
            "lacks": list(self.lacks),
            "stand_ins": list(self.stand_ins),
            "left_out": list(self.left_out),
            "within_known": made.within_known if made else None,
            "adjusted": {
                "command": self.command,
                "lines": [{key: line[key] for key in keys} for line in lines],
            },
        }
        if self.match_after is not None:
            row |= {"match_after": self.match_after, "surrogate_after": self.surrogate_after}
        return row


@frozen
class Purchase:
    """One purchase: the coverage it adds after those before it, the accords it brings nearer, its price,
    and why in words.

    ``form`` is neat, 10 or 1 (percent; '' if it serves no line), ``grams`` what 10 g of each accord it
    serves take, ``price_word`` a rough price in words ('' if none is on file).
    """

    id: str
    gain: float
    helps: tuple[str, ...]
    price: float | None
    why: str
    law: tuple[str, ...] = ()
    form: str = ""
    grams: float | None = None
    price_word: str = ""

    def to_dict(self, tables: Tables) -> dict[str, Any]:
        return {
            **tables.materials[self.id].brief(),
            "helps": list(self.helps),
            "gain": self.gain,
            "price": self.price,
            "price_word": self.price_word,
            "form": self.form,
            "grams": self.grams,
            "why": self.why,
            "law": list(self.law),
        }


@frozen
class Lean:
    """A swap that the covered accords lean on, and how much of the line's loss it makes good, 0 to 1."""

    missing: str
    stand_in: str
    accord: str
    value: float


@frozen
class Plan(Shown):
    """All that ``plan`` answers; coverages are means over the accords, 0 to 1.

    ``coverage`` and ``verified`` are (before, after) by the model and by real adjustment; ``bound`` what
    no choice can pass.
    """

    asked_by: ClassVar[str] = "plan"

    makes: tuple[Made, ...]
    buy: tuple[Purchase, ...]
    greedy: tuple[str, ...]
    gap: float | None
    proved: bool | None
    bound: float | None
    curve: tuple[tuple[int, float, str], ...]
    leans_on: tuple[Lean, ...]
    coverage: tuple[float, float]
    verified: tuple[float, float]
    spent: float | None
    rejected: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    shelf: Shelf
    tables: Tables = field(repr=False)
    cautions: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        return {
            "makes": [made.to_dict() for made in self.makes],
            "buy": [one.to_dict(self.tables) for one in self.buy],
            "greedy": list(self.greedy),
            "gap": self.gap,
            "proved": self.proved,
            "bound": self.bound,
            "coverage": {
                "before": self.coverage[0],
                "after": self.coverage[1],
                "verified_before": self.verified[0],
                "verified_after": self.verified[1],
            },
            "curve": [{"n": n, "coverage": value, "add": name} for n, value, name in self.curve],
            "leans_on": [
                {
                    "missing": lean.missing,
                    "stand_in": lean.stand_in,
                    "accord": lean.accord,
                    "value": lean.value,
                }
                for lean in self.leans_on
            ],
            "spent": self.spent,
            "rejected": [{"accord": name, "message": message} for name, message in self.rejected],
            "notes": list(self.notes),
            "cautions": list(self.cautions),
        }
