"""What an adjustment answers: lines before and after, plain ways, rivals, limits, and the formula that comes
out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import ClassVar

from ..frozen import frozen
from ..odour.perception import Match
from ..records import STAGES, Accord, Line, Tables
from ..rules.kinds import FIGURE
from ..shown import Shown
from .written import WrittenLine

GOOD, FAIR, POOR = 0.95, 0.85, 0.70


def verdict_of(match: float) -> str:
    """good, fair, poor or none: under 0.70 nothing here takes the place of what went."""
    return "good" if match >= GOOD else "fair" if match >= FAIR else "poor" if match >= POOR else "none"


@frozen
class AdjustedLine:
    """A line before and after; ``cause`` is kept, asked, shelf, prohibited, limit, moved or new, ``why`` says
    it in words.
    """

    material: str
    strength: float
    before: float
    after: float
    cause: str
    why: str
    role: str = "support"
    optional: bool = False

    @property
    def is_new(self) -> bool:
        return self.cause == "new"

    def to_dict(self, tables: Tables) -> dict[str, object]:
        return {
            **tables.materials[self.material].brief(),
            "strength_pct": self.strength,
            "parts_before": self.before,
            "parts_after": self.after,
            "cause": self.cause,
            "why": self.why,
            "role": self.role,
            "optional": self.optional,
        }


@frozen
class Option:
    """A plain way out: its match, whether it obeys every known limit, its active parts by id, and the dose,
    percent of the product.
    """

    name: str
    match: float
    within_known: bool
    active: Mapping[str, float] = field(default_factory=dict, repr=False)
    dose_pct: float | None = None

    def to_dict(self) -> dict[str, object]:
        return {
            "name": self.name,
            "match": self.match,
            "within_known": self.within_known,
            "dose_pct": self.dose_pct,
        }


@frozen
class Rival:
    """Another formula for the same question: ``name`` is least_changed, nearest or one_bottle; costs in the
    shelf's money per gram.
    """

    name: str
    match: Match
    moved: tuple[str, ...]
    new: tuple[str, ...]
    lines: tuple[WrittenLine, ...]
    cost: float | None
    note: str = ""

    def to_dict(self, tables: Tables) -> dict[str, object]:
        lines = [
            {
                **tables.materials[line.material].brief(),
                "strength_pct": line.strength,
                "parts_before": line.before,
                "parts_after": line.after,
            }
            for line in self.lines
        ]
        return {
            "name": self.name,
            "verdict": verdict_of(self.match.overall),
            "match": self.match.to_dict(STAGES),
            "moved": list(self.moved),
            "new": list(self.new),
            "lines": lines,
            "cost_per_gram": self.cost,
            "note": self.note,
        }


@frozen
class LimitChange:
    """A limit before and after."""

    substance: str
    limit_set: str
    limit_pct: float | None
    before_pct: float
    after_pct: float
    ok_before: bool | None
    ok_after: bool | None
    basis: str
    name: str = ""
    rule: str = FIGURE
    limit_words: str = ""

    def to_dict(self) -> dict[str, object]:
        return {name: getattr(self, name) for name in self.__dataclass_fields__}


@frozen
class Bottle:
    """The one bottle that would help most: its id and the match reached with it."""

    material: str
    match: float


@frozen
class Adjusted(Shown):
    """All that ``adjust`` answers.

    ``dose`` is percent of the product before and after (``None`` where none was given), ``within_known``
    whether the formula obeys
    every known limit and smells of anything, ``wall`` the limit in the way of the old accord and
    ``dose_within_known`` its highest dose.
    """

    asked_by: ClassVar[str] = "adjust"

    accord: str
    lines: tuple[AdjustedLine, ...]
    match: Match
    match_range: tuple[float, float]
    options: tuple[Option, ...]
    rivals: tuple[Rival, ...]
    limits: tuple[LimitChange, ...]
    lost: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    cost: tuple[float | None, float | None]
    dose: tuple[float | None, float | None]
    wall: Mapping[str, object] | None
    dose_within_known: float | None
    within_known: bool
    bottle: Bottle | None
    tables: Tables = field(repr=False)
    product: str = ""
    category: str = ""
    likeness: float | None = None  # of the old and the new as people would rate it, see odour/likeness.py

    @property
    def verdict(self) -> str:
        return verdict_of(self.match.overall)

    @property
    def total(self) -> tuple[float, float]:
        """Parts before and after."""
        return sum(line.before for line in self.lines), sum(line.after for line in self.lines)

    @property
    def changed(self) -> tuple[AdjustedLine, ...]:
        return tuple(line for line in self.lines if line.after != line.before)

    def formula(self) -> Accord:
        """The new accord, ready to be written or weighed."""
        lines = tuple(
            Line(line.material, line.after, line.strength, line.role, line.optional)
            for line in self.lines
            if line.after > 0
        )
        return Accord(f"{self.accord}-adjusted", lines)

    def to_dict(self) -> dict[str, object]:
        before, after = self.total
        bottle = self.bottle
        return {
            "accord": self.accord,
            "verdict": self.verdict,
            "lines": [line.to_dict(self.tables) for line in self.lines],
            "match": self.match.to_dict(STAGES),
            "match_range": list(self.match_range),
            "likeness": self.likeness,
            "total_before": before,
            "total_after": after,
            "dose_pct": self.dose[0],
            "dose_after_pct": self.dose[1],
            "product": self.product or None,
            "category": self.category or None,
            "options": [option.to_dict() for option in self.options],
            "rivals": [rival.to_dict(self.tables) for rival in self.rivals],
            "limits": [change.to_dict() for change in self.limits],
            "lost_for_good": list(self.lost),
            "bottle": None
            if bottle is None
            else {**self.tables.materials[bottle.material].brief(), "match": bottle.match},
            "cost_per_gram": {"before": self.cost[0], "after": self.cost[1]},
            "notes": list(self.notes),
            "cautions": list(self.cautions),
            "within_known": self.within_known,
            "wall": None if self.wall is None else dict(self.wall),
            "dose_within_known_pct": self.dose_within_known,
        }
