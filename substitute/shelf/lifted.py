"""The records of a lift answer, and what they say as JSON."""

from __future__ import annotations

from dataclasses import field
from typing import Any, ClassVar

from ..frozen import frozen
from ..records import STAGES, Lifting, Tables
from ..shown import Shown
from .voices import Voice


@frozen
class Amount:
    """One amount to try: parts, the match with the accord as it was, and the line's words at the stage
    that needs it (after / before)."""

    parts: float
    match: float
    gain: float

    def to_dict(self) -> dict[str, float]:
        return {"parts": self.parts, "match": self.match, "line_strength": self.gain}


@frozen
class Lift:
    """A suggestion for the line ``of``; ``amounts`` from the least to the most worth a strip,
    ``practice`` the row that names it."""

    material: str
    of: str
    parts: float
    match: float
    stages: tuple[float | None, ...]
    line: tuple[float | None, ...]
    total: tuple[float | None, ...]
    amounts: tuple[Amount, ...]
    practice: Lifting | None
    strip_pct: float
    why: str
    law: tuple[str, ...]

    def to_dict(self, tables: Tables) -> dict[str, Any]:
        return {
            **tables.materials[self.material].brief(),
            "lifts": tables.materials[self.of].brief(),
            "parts": self.parts,
            "match": self.match,
            "match_by_stage": dict(zip(STAGES, self.stages)),
            "line_strength": dict(zip(STAGES, self.line)),
            "total_strength": dict(zip(STAGES, self.total)),
            "amounts": [one.to_dict() for one in self.amounts],
            "practice": self.practice.note if self.practice else None,
            "basis": self.practice.basis if self.practice else "estimate",
            "source": self.practice.source if self.practice else "",
            "strip_pct": self.strip_pct,
            "why": self.why,
            "law": list(self.law),
        }


@frozen
class LiftAnswer(Shown):
    """All that ``lift`` answers; ``lines`` are the core lines, the weakest voice first: that one is
    lifted."""

    asked_by: ClassVar[str] = "lift"

    accord: str
    lines: tuple[Voice, ...]
    suggestions: tuple[Lift, ...]
    strips: tuple[str, ...]
    notes: tuple[str, ...]
    tables: Tables = field(repr=False)
    cautions: tuple[str, ...] = ()

    @property
    def weak(self) -> Voice:
        """The line that carries most weakly."""
        return self.lines[0]

    def to_dict(self) -> dict[str, Any]:
        return {
            "accord": self.accord,
            "lines": [one.to_dict(self.tables) for one in self.lines],
            "suggestions": [found.to_dict(self.tables) for found in self.suggestions],
            "strips": list(self.strips),
            "notes": list(self.notes),
            "cautions": list(self.cautions),
        }
